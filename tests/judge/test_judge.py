"""Canaries: two plans are accepted, and a small mutation of them is refused for each rule."""

import copy
import dataclasses
import json
import pathlib
import subprocess
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from judge import judge_plan
from replay import Replay
from shape import read_plan
from state import View

CASES = HERE.parent / "cases" / "rehearse"
RING = CASES / "good-close-ring-typed" / "plan.json"
JOIN = CASES / "good-add-at-chain-end-every-claim" / "plan.json"
LEFT_OUT = ("moves", "cost", "ways_back", "slips")
CLAIMS = ("move", "at", "minutes", "predicts", "stop_here", "needs")


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


class Canaries(unittest.TestCase):
    def setUp(self):
        self.ring = json.loads(RING.read_text(encoding="utf-8"))
        self.join = json.loads(JOIN.read_text(encoding="utf-8"))

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

    def test_good_plans_are_accepted(self):
        for plan in (self.ring, self.join):
            self.accepted(plan)
            self.accepted(by_hand(copy.deepcopy(plan)))
        self.accepted(self.with_uplink(self.ring))

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
        plan = self.with_steps(self.join, 10, step("cable", kind="connect-cable", ends=["ramp-2:50", "ramp-3:50"]))
        self.refused(plan, "no-stray-link", 11)

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
        self.ring["target"]["cables"] = [["ramp-1:50", "ramp-2:49"]]
        cut = step("cable", kind="disconnect-cable", ends=["ramp-2:50", "ramp-3:49"])
        self.refused(self.with_steps(self.ring, 1, cut), "one-brain", 2)

    def test_decided(self):
        raised = [step("join", kind="set-priority", unit="ramp-2", priority=100), step("join", kind="save", unit="ramp-1")]
        self.refused(self.with_steps(self.ring, 1, *raised), "decided", 3)

    def test_cold_start(self):
        self.refused(self.without(self.join, 16), "cold-start", 17)

    def test_settled(self):
        self.refused(self.without(self.join, 19), "settled", 20)

    def test_loses_merge(self):
        for unit, last in zip(self.join["units"], (1, 2, 3)):
            unit["mac"] = f"00-00-5E-00-53-0{last}"
        self.join["steps"][3]["do"]["priority"] = 100
        self.refused(by_hand(self.join), "loses-merge", 18)

    def test_reaches_target(self):
        self.refused(self.without(self.join, 21, 22), "reaches-target", 20)

    def test_fresh_baseline(self):
        self.facts(self.join, 10).pop(1)
        self.refused(self.join, "fresh-baseline", 11)

    def test_factory_unit(self):
        for spoil in (lambda do: do["facts"].pop(), lambda do: do.pop("otherwise")):
            plan = copy.deepcopy(self.join)
            spoil(plan["steps"][1]["do"])
            self.refused(plan, "factory-unit", 3)

    def test_right_place(self):
        self.facts(self.join, 13)[0].clear()
        self.facts(self.join, 13)[0].update(fact="here", id=1)
        self.accepted(by_hand(copy.deepcopy(self.join)))
        self.refused(self.without(self.join, 20), "right-place", 20)

    def test_place_that_another_place_matches(self):
        self.facts(self.join, 2)[0] = {"fact": "here", "id": 1}
        self.refused(self.join, "right-place", 3)

    def test_right_cable(self):
        self.facts(self.join, 17).pop()
        self.refused(self.join, "right-cable", 18)

    def test_step_refused(self):
        self.refused(self.without(self.ring, 2), "step-refused", 2)

    def test_expect_fails(self):
        self.facts(self.join, 17)[2]["far"] = "ramp-3:50"
        self.refused(self.join, "expect-fails", 17)

    def test_await_fails(self):
        early = step("settle", kind="await", unit="ramp-3", until="joined", limit=20)
        self.refused(self.with_steps(self.join, 10, early), "await-fails", 11)

    def test_not_visible(self):
        self.facts(self.join, 13).append({"fact": "cable", "ends": ["ramp-2:50", "ramp-3:49"], "plugged": True})
        self.refused(self.join, "not-visible", 13)

    def test_claims(self):
        spoilers = {
            "at": lambda p: p["steps"][10].update(at={"console": "ramp-2"}),
            "minutes": lambda p: p["steps"][17]["minutes"].update(likely=1),
            "restarts": lambda p: p["steps"][17]["predicts"].update(restarts=[]),
            "islands": lambda p: p["steps"][17]["predicts"].update(islands=[["ramp-1", "ramp-2"], ["ramp-3"]]),
            "primary": lambda p: p["steps"][17]["predicts"].update(primary={"ramp-2": ["ramp-1", "ramp-2", "ramp-3"]}),
            "unprotected": lambda p: p["steps"][17]["predicts"].update(unprotected=False),
            "safe": lambda p: p["steps"][17]["stop_here"].update(safe=True),
            "needs": lambda p: p["steps"][17].update(needs=[16]),
            "number": lambda p: p["steps"][17].update(number=20),
            "phase": lambda p: p["steps"][11].update(phase="join"),
            "stage last": lambda p: p["steps"][18].update(phase="stage"),
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
            lambda p: p["target"]["units"]["ramp-3"].update(copy=False),
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

    def ways_back(self):
        """The ring plan's ways back: of ramp-1's port and the cable to step 6, and from there, of ramp-3's, to the
        baseline."""
        def undo(unit, port, *kinds):
            return [{"do": {"kind": f"{kind}-port", "unit": unit, "port": port}} for kind in kinds]

        save = [{"do": {"kind": "save", "unit": "ramp-1"}}]
        cut = [{"do": {"kind": "disconnect-cable", "ends": ["ramp-1:49", "ramp-3:50"]}}]
        whole = ("disable", "release", "enable")
        ways = [([1, 1], [], None), ([2, 2], undo("ramp-3", "50", "enable"), None),
                ([3, 4], undo("ramp-3", "50", "release", "enable"), None), ([5, 5], undo("ramp-3", "50", *whole), None),
                ([6, 6], undo("ramp-3", "50", *whole) + save, None), ([7, 8], cut, 6),
                ([9, 9], cut + undo("ramp-1", "49", "enable"), 6),
                ([10, 10], cut + undo("ramp-1", "49", "release", "enable"), 6),
                ([11, 11], cut + undo("ramp-1", "49", *whole), 6), ([12, 14], cut + undo("ramp-1", "49", *whole) + save, 6)]
        return [{"after": after, "steps": steps, "then": then} for after, steps, then in ways]

    def test_ways_back(self):
        self.ring["ways_back"] = self.ways_back()
        minutes = {1: 0, 5: 0.6, 7: 3.1, 14: 4.2}
        for number, likely in minutes.items():
            self.ring["steps"][number - 1]["stop_here"]["way_back_minutes"] = likely
        for entry in self.ring["steps"]:
            if entry["number"] not in minutes:
                entry["stop_here"].pop("way_back_minutes", None)
        self.accepted(self.ring)
        self.ring["steps"][13]["stop_here"]["way_back_minutes"] = 3.1
        self.refused(self.ring, "claims", 14)

    def test_ways_back_that_are_not_so(self):
        def ends_short(ways):
            ways[2]["steps"].pop()

        def goes_round(ways):
            ways[-1]["then"] = 14

        def leads_nowhere(ways):
            ways[-1].update(after=[13, 14])
            ways[-2]["then"] = 12

        def look_fails(ways):
            ways[5]["steps"].append(look(HERE_1, {"fact": "guard", "uplink": "border"}))

        def never_joins(ways):
            ways[1]["steps"].append(step("join", kind="await", unit="ramp-9", until="up", limit=9))

        def splits(ways):
            ways[0]["steps"].append(step("join", kind="disable-port", unit="ramp-2", port="49"))

        def switches_off(ways):
            ways[0]["steps"].append(step("join", kind="power-off", unit="ramp-3"))

        def uncovered(ways):
            ways.pop(1)

        def covered_twice(ways):
            ways[1]["after"] = [1, 2]

        def stands_twice(ways):
            ways.insert(2, {**ways[2], "after": [3, 3]})
            ways[3]["after"] = [4, 4]

        for spoil, rule in ((ends_short, "reaches-target"), (goes_round, "claims"), (leads_nowhere, "claims"),
                            (look_fails, "expect-fails"), (never_joins, "await-fails"), (splits, "never-split"),
                            (switches_off, "no-live-restart"), (uncovered, "claims"), (covered_twice, "claims"),
                            (stands_twice, "claims")):
            with self.subTest(spoil.__name__):
                plan = by_hand(copy.deepcopy(self.ring))
                plan["ways_back"] = self.ways_back()
                self.accepted(plan)
                spoil(plan["ways_back"])
                self.refused(plan, rule)

    def test_a_plan_may_own_up_to_a_step_without_a_way_back(self):
        plan = by_hand(copy.deepcopy(self.ring))
        plan["ways_back"] = self.ways_back()
        plan["ways_back"].pop(1)
        self.refused(copy.deepcopy(plan), "claims")
        for text, owns_up in (("none from step 2", True), ("none from steps 1 to 2, 4", True), ("none from step 1", False),
                              ("none from steps 3 to 12", False), ("none from some step", False)):
            with self.subTest(text):
                plan["warnings"] = [{"code": "no-way-back", "text": text}]
                self.accepted(plan) if owns_up else self.refused(copy.deepcopy(plan), "claims")

    def test_a_way_back_leaves_a_joining_unit_off_and_uncabled(self):
        cut = {"do": {"kind": "disconnect-cable", "ends": ["ramp-2:50", "ramp-3:49"]}}
        off = {"do": {"kind": "power-off", "unit": "ramp-3"}}
        port = [{"do": {"kind": f"{kind}-port", "unit": "ramp-2", "port": "50"}} for kind in ("disable", "release", "enable")]
        save = {"do": {"kind": "save", "unit": "ramp-1"}}
        ways = [([10, 10], [off]), ([11, 11], [off, port[2]]), ([12, 13], [off, cut, port[2]]), ([14, 14], [off, cut, *port[1:]]),
                ([15, 15], [off, cut, *port]), ([16, 22], [off, cut, *port, save])]
        plan = by_hand(self.join)
        plan["ways_back"] = [{"after": after, "steps": steps, "then": None} for after, steps in ways]
        self.accepted(plan)
        for missing in (off, cut):
            spoilt = copy.deepcopy(plan)
            spoilt["ways_back"][-1]["steps"].remove(missing)
            self.refused(spoilt, "reaches-target", 16)

    def test_baseline_breaches_are_warnings(self):
        saved = self.ring["baseline"]["units"]["ramp-3"]["saved"]["ports"]
        saved["49"]["side"] = "none"
        plan = by_hand(self.ring)
        self.facts(plan, 1).remove({"fact": "saved", "unit": "ramp-3", "saved": True})
        self.facts(plan, 1).append({"fact": "saved", "unit": "ramp-3", "saved": False})
        self.assertIn("cold-start", [warning["code"] for warning in self.accepted(plan)["warnings"]])

    def test_it_is_said_where_two_islands_may_be_the_stack(self):
        replay = Replay(read_plan(self.ring))
        state = replay.state.clone()
        for name, unit in state.units.items():
            unit.powered, unit.primary = name in ("ramp-1", "ramp-3"), name in ("ramp-1", "ramp-3")
        for first, is_open in (("ramp-1", False), ("ramp-2", True)):
            world = dataclasses.replace(replay.world, first_primary=first, may_lead=frozenset({"ramp-1", "ramp-3"}))
            view = View(world, state, frozenset({"ramp-1", "ramp-2", "ramp-3"}), True)
            self.assertEqual({"ramp-1"}, set(view.incumbent))
            self.assertEqual(is_open, view.is_open)

    def test_go_on_reports_later_breaches(self):
        plan = self.without(self.join, 19)
        self.facts(plan, 17).pop()
        self.assertLess(len(judge_plan(plan)["breaches"]), len(judge_plan(plan, go_on=True)["breaches"]))

    def test_command(self):
        def run(*paths):
            command = [sys.executable, str(HERE / "judge.py"), *map(str, paths)]
            return subprocess.run(command, capture_output=True, text=True, check=False)

        done = run(RING, JOIN)
        self.assertEqual(0, done.returncode)
        self.assertEqual(["accepted"] * 2, [json.loads(line)["verdict"] for line in done.stdout.splitlines()])
        self.assertEqual(2, run(RING, HERE / "no-such-file.json").returncode)


if __name__ == "__main__":
    unittest.main()
