"""Canaries of what the rules remember: which leg is trusted."""

import copy
import unittest

import test_judge
from test_judge import HERE_1, look, step

FAR = ["far:border", "ramp-2:47"]


class Standing(unittest.TestCase):
    setUp, refused, accepted = test_judge.Canaries.setUp, test_judge.Canaries.refused, test_judge.Canaries.accepted
    with_steps, with_uplink = test_judge.Canaries.with_steps, test_judge.Canaries.with_uplink

    def test_a_leg_is_proven_anew_once_it_is_plugged_anew(self):
        again = [step("cable", kind="disconnect-cable", ends=FAR), step("cable", kind="connect-cable", ends=FAR)]
        rest = [step("join", kind="drop-leg", uplink="border", leg="ramp-1:47"),
                step("join", kind="add-leg", uplink="border", leg="ramp-1:47"),
                look(HERE_1, {"fact": "uplink", "uplink": "border", "carrying": ["ramp-1:47", "ramp-2:47"]})]
        plan = self.with_uplink(self.ring)
        seen = copy.deepcopy(rest[-1])
        self.accepted(self.with_steps(copy.deepcopy(plan), 1, *copy.deepcopy(again), seen, *copy.deepcopy(rest)))
        self.refused(self.with_steps(plan, 1, *again, *rest), "uplinks-up", 4)


if __name__ == "__main__":
    unittest.main()
