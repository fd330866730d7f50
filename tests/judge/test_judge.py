"""Canaries: the two example plans are accepted, and a small mutation of them is refused for each rule."""

import copy
import json
import pathlib
import subprocess
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from judge import judge_plan

EXAMPLES = next((folder for folder in (HERE / "examples", HERE.parents[1] / "examples", HERE.parents[2] / "examples",
                                       HERE.parents[2] / "shared" / "examples")
                 if (folder / "third-unit-joins.plan.json").exists()), None)
LEFT_OUT = ("moves", "cost", "ways_back", "slips")
CLAIMS = ("move", "at", "minutes", "predicts", "stop_here", "needs")


def example(name):
    return json.loads((EXAMPLES / f"{name}.plan.json").read_text(encoding="utf-8"))


def by_hand(plan):
    """The plan without what it says of itself, steps numbered anew."""
    for name in LEFT_OUT:
        plan.pop(name, None)
    for number, step in enumerate(plan["steps"], 1):
        for name in CLAIMS:
            step.pop(name, None)
        step["number"] = number
    return plan


def step(phase, **do):
    return {"number": 0, "phase": phase, "do": do}


def look(*facts, phase="settle"):
    return step(phase, kind="expect", facts=list(facts))


HERE_1 = {"fact": "here", "id": 1, "serial": "FT-0001"}


@unittest.skipIf(EXAMPLES is None, "the example plans are not here")
class Canaries(unittest.TestCase):
    def setUp(self):
        self.ring = example("chain-closed-into-a-ring")
        self.join = example("third-unit-joins")

    def refused(self, plan, rule, at=None):
        result = judge_plan(plan)
        self.assertEqual("refused", result["verdict"])
        self.assertIn(rule, {breach["rule"] for breach in result["breaches"]}, result["breaches"])
        if at is not None:
            self.assertEqual({at}, {breach["step"] for breach in result["breaches"]}, result["breaches"])
        return result

    def accepted(self, plan):
        result = judge_plan(plan)
        self.assertEqual([], result["breaches"])
        return result

    def without(self, plan, *numbers):
        plan["steps"] = [step for step in plan["steps"] if step["number"] not in numbers]
        return by_hand(plan)

    def with_steps(self, plan, after, *steps):
        plan["steps"][after:after] = steps
        return by_hand(plan)

    def facts(self, plan, number):
        return plan["steps"][number - 1]["do"]["facts"]

    def with_uplink(self, plan):
        """Gives the plan an uplink pair on port 47 of ramp-1 and ramp-2, as it was and as it stays."""
        for state in (plan["baseline"], plan["target"]):
            for name, unit in state["units"].items():
                for what in ("running", "saved"):
                    if unit[what]:
                        unit[what]["ports"]["47"] = {"enabled": True, "side": "none", "active": False}
            state["cables"] += [["far:border", "ramp-1:47"], ["far:border", "ramp-2:47"]]
            for shared in state["shared"].values():
                shared["uplinks"] = {"border": ["ramp-1:47", "ramp-2:47"]}
        baseline = next(step for step in plan["steps"] if any(f["fact"] == "guard" for f in step["do"].get("facts", ())))
        baseline["do"]["facts"].append({"fact": "uplink", "uplink": "border", "legs": ["ramp-1:47", "ramp-2:47"],
                                        "carrying": ["ramp-1:47", "ramp-2:47"]})
        return plan

    def test_examples_are_accepted(self):
        for plan in (self.ring, self.join):
            self.accepted(plan)
            self.accepted(by_hand(copy.deepcopy(plan)))
            self.accepted(self.with_uplink(plan))

    def test_primary_kept(self):
        self.ring["change"]["accept"] = ["restart:ramp-1"]
        self.refused(self.with_steps(self.ring, 1, step("join", kind="restart", unit="ramp-1")), "primary-kept", 2)

    def test_no_live_restart(self):
        self.refused(self.with_steps(self.ring, 1, step("join", kind="restart", unit="ramp-3")), "no-live-restart", 2)

    def test_consent_to_restart(self):
        self.ring["change"]["accept"] = ["restart:ramp-3"]
        plan = self.with_steps(self.ring, 1, step("join", kind="restart", unit="ramp-3"),
                               step("settle", kind="await", unit="ramp-3", until="ready", limit=20), look(HERE_1))
        self.accepted(plan)

    def test_restart_in_the_middle_takes_split(self):
        middle = [step("join", kind="restart", unit="ramp-2"),
                  step("settle", kind="await", unit="ramp-2", until="ready", limit=20),
                  step("settle", kind="await", unit="ramp-3", until="ready", limit=20), look(HERE_1)]
        plan = self.with_steps(self.ring, 1, *middle)
        plan["change"]["accept"] = ["restart:ramp-2"]
        self.refused(plan, "never-split", 2)
        plan["change"]["accept"] = ["restart:ramp-2", "split:ramp-3"]
        self.accepted(plan)

    def test_never_split(self):
        self.ring["change"]["accept"] = ["restart:ramp-3"]
        self.refused(self.with_steps(self.ring, 1, step("cable", kind="power-off", unit="ramp-3")), "never-split", 2)

    def test_no_id_clash(self):
        self.refused(self.without(self.join, 3), "no-id-clash")

    def test_no_stray_link(self):
        plan = self.with_steps(self.join, 11, step("cable", kind="connect-cable", ends=["ramp-2:49", "ramp-5:49"]))
        self.refused(plan, "no-stray-link", 12)

    def test_uplinks_up(self):
        drop = step("join", kind="drop-uplink", uplink="border")
        self.refused(self.with_steps(self.with_uplink(self.ring), 1, drop), "uplinks-up", 2)

    def test_a_leg_plugged_anew_counts_once_seen_carrying(self):
        plan = self.with_uplink(self.ring)
        ends = {n: ["far:border", f"ramp-{n}:47"] for n in (1, 2)}
        replug = [step("cable", kind=f"{kind}-cable", ends=ends[1]) for kind in ("disconnect", "connect")]
        seen = look(HERE_1, {"fact": "uplink", "uplink": "border", "carrying": ["ramp-1:47", "ramp-2:47"]})
        rest = [step("cable", kind=f"{kind}-cable", ends=ends[2]) for kind in ("disconnect", "connect")]
        back = look(HERE_1)
        self.refused(self.with_steps(copy.deepcopy(plan), 1, *replug, *rest, back), "uplinks-up", 4)
        self.accepted(self.with_steps(plan, 1, *replug, seen, *rest, back))

    def test_one_brain(self):
        self.ring["units"][2]["status"] = "leaving"
        self.ring["target"]["units"]["ramp-3"].update(powered=False, running=None)
        self.ring["target"]["cables"] = [["ramp-1:49", "ramp-2:50"]]
        cut = step("cable", kind="disconnect-cable", ends=["ramp-2:49", "ramp-3:50"])
        self.refused(self.with_steps(self.ring, 1, cut), "one-brain", 2)

    def test_decided(self):
        raised = [step("join", kind="set-priority", unit="ramp-2", priority=100), step("join", kind="save", unit="ramp-1")]
        self.refused(self.with_steps(self.ring, 1, *raised), "decided", 3)

    def test_cold_start(self):
        self.refused(self.without(self.join, 17), "cold-start", 18)

    def test_settled(self):
        self.refused(self.without(self.join, 21), "settled", 22)

    def test_loses_merge(self):
        for unit, last in zip(self.join["units"], (1, 2, 5)):
            unit["mac"] = f"00-00-5E-00-53-0{last}"
        self.join["steps"][3]["do"]["priority"] = 100
        self.refused(by_hand(self.join), "loses-merge", 19)

    def test_reaches_target(self):
        self.refused(self.without(self.join, 23), "reaches-target", 22)

    def test_fresh_baseline(self):
        self.facts(self.join, 11).pop(1)
        self.refused(self.join, "fresh-baseline", 12)

    def test_factory_unit(self):
        for spoil in (lambda do: do["facts"].pop(), lambda do: do.pop("otherwise")):
            plan = copy.deepcopy(self.join)
            spoil(plan["steps"][1]["do"])
            self.refused(plan, "factory-unit", 3)

    def test_right_place(self):
        self.facts(self.join, 14)[0].clear()
        self.facts(self.join, 14)[0].update(fact="here", id=1)
        self.accepted(by_hand(copy.deepcopy(self.join)))
        self.refused(self.without(self.join, 22), "right-place", 22)

    def test_place_that_another_place_matches(self):
        self.facts(self.join, 2)[0] = {"fact": "here", "id": 1}
        self.refused(self.join, "right-place", 3)

    def test_right_cable(self):
        self.facts(self.join, 18).pop()
        self.refused(self.join, "right-cable", 19)

    def test_step_refused(self):
        self.refused(self.without(self.ring, 2), "step-refused", 2)

    def test_expect_fails(self):
        self.facts(self.join, 18)[1]["far"] = "ramp-5:49"
        self.refused(self.join, "expect-fails", 18)

    def test_await_fails(self):
        early = step("settle", kind="await", unit="ramp-5", until="joined", limit=20)
        self.refused(self.with_steps(self.join, 11, early), "await-fails", 12)

    def test_not_visible(self):
        self.facts(self.join, 14).append({"fact": "cable", "ends": ["ramp-2:49", "ramp-5:50"], "plugged": True})
        self.refused(self.join, "not-visible", 14)

    def test_claims(self):
        spoilers = {
            "at": lambda p: p["steps"][11].update(at={"console": "ramp-2"}),
            "minutes": lambda p: p["steps"][18]["minutes"].update(likely=1),
            "restarts": lambda p: p["steps"][18]["predicts"].update(restarts=[]),
            "islands": lambda p: p["steps"][18]["predicts"].update(islands=[["ramp-1", "ramp-2"], ["ramp-5"]]),
            "primary": lambda p: p["steps"][18]["predicts"].update(primary={"ramp-2": ["ramp-1", "ramp-2", "ramp-5"]}),
            "unprotected": lambda p: p["steps"][18]["predicts"].update(unprotected=False),
            "safe": lambda p: p["steps"][18]["stop_here"].update(safe=True),
            "needs": lambda p: p["steps"][18].update(needs=[17]),
            "number": lambda p: p["steps"][18].update(number=20),
            "phase": lambda p: p["steps"][12].update(phase="join"),
            "stage last": lambda p: p["steps"][19].update(phase="stage"),
            "move": lambda p: p["moves"][0].update(phase="join"),
            "moves": lambda p: p["steps"][3].update(move=2),
        }
        for cost in ("member_minutes", "unprotected_minutes", "cables", "links_not_typed", "steps",
                     "half_protected_minutes", "likely_minutes", "worst_minutes"):
            spoilers[cost] = lambda p, cost=cost: p["cost"].update({cost: p["cost"][cost] + 1})
        for name, spoil in spoilers.items():
            with self.subTest(name):
                plan = copy.deepcopy(self.join)
                spoil(plan)
                self.refused(plan, "claims")

    def test_table_claims(self):
        spoilers = [
            lambda p: p["units"][2].update(id=6), lambda p: p["units"][2].update(status="leaving"),
            lambda p: p["units"][1].update(status="joining"), lambda p: p["units"][1].update(member="ramp-9"),
            lambda p: p["target"]["units"]["ramp-5"].update(copy=False),
        ]
        for spoil in spoilers:
            plan = copy.deepcopy(self.join)
            spoil(plan)
            self.refused(plan, "claims")

    def test_shape(self):
        spoilers = [
            lambda p: p.pop("units"), lambda p: p.update(format=2), lambda p: p["steps"][0].pop("do"),
            lambda p: p["steps"][0]["do"].update(kind="dance"), lambda p: p["baseline"]["units"].pop("ramp-1"),
            lambda p: p["target"].update(cables=[["ramp-1:49"]]), lambda p: p["traits"].update(minutes={}),
            lambda p: p["steps"][0].update(minutes={"likely": 0.125}), lambda p: p.update(steps=7),
        ]
        for spoil in spoilers:
            plan = copy.deepcopy(self.join)
            spoil(plan)
            self.refused(plan, "shape")
        for value in (None, 3, [], "plan", {}):
            self.refused(value, "shape")

    def way_back(self):
        """The ring example's way back after its last step."""
        undo = [step("cable", kind="disconnect-cable", ends=["ramp-1:50", "ramp-3:49"])]
        for unit, port in (("ramp-1", "50"), ("ramp-3", "49")):
            undo += [step("join", kind="disable-port", unit=unit, port=port),
                     step("join", kind="release-port", unit=unit, port=port),
                     step("join", kind="enable-port", unit=unit, port=port)]
        undo.append(step("close", kind="save", unit="ramp-1"))
        return [{"at": {}, "do": entry["do"]} for entry in undo]

    def test_ways_back(self):
        way = {"after": [10, 10], "steps": self.way_back(), "then": None}
        self.ring["ways_back"] = [way]
        self.assertEqual(["no-way-back"], [w["code"] for w in self.accepted(self.ring)["warnings"]])
        self.ring["ways_back"] = [{"after": [9, 9], "steps": self.way_back()[1:], "then": None},
                                  {"after": [10, 10], "steps": self.way_back()[:1], "then": 9}]
        self.accepted(self.ring)
        self.ring["ways_back"] = [{**way, "steps": self.way_back()[:-1]}]
        self.refused(self.ring, "reaches-target", 10)
        self.ring["ways_back"] = [{**way, "then": 10}]
        self.refused(self.ring, "claims", 10)

    def test_baseline_breaches_are_warnings(self):
        saved = self.ring["baseline"]["units"]["ramp-3"]["saved"]["ports"]
        saved["50"]["side"] = "none"
        plan = by_hand(self.ring)
        self.facts(plan, 1).remove({"fact": "saved", "unit": "ramp-3", "saved": True})
        self.facts(plan, 1).append({"fact": "saved", "unit": "ramp-3", "saved": False})
        self.assertIn("cold-start", [warning["code"] for warning in self.accepted(plan)["warnings"]])

    def test_go_on_reports_later_breaches(self):
        plan = self.without(self.join, 21)
        self.facts(plan, 18).pop()
        self.assertLess(len(judge_plan(plan)["breaches"]), len(judge_plan(plan, go_on=True)["breaches"]))

    def test_command(self):
        def run(*paths):
            command = [sys.executable, str(HERE / "judge.py"), *map(str, paths)]
            return subprocess.run(command, capture_output=True, text=True, check=False)

        good = sorted(EXAMPLES.glob("*.plan.json"))
        done = run(*good)
        self.assertEqual(0, done.returncode)
        self.assertEqual(["accepted"] * len(good), [json.loads(line)["verdict"] for line in done.stdout.splitlines()])
        self.assertEqual(2, run(good[0], HERE / "no-such-file.json").returncode)


if __name__ == "__main__":
    unittest.main()
