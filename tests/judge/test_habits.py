"""Canaries of the wider habits: what no hand-made plan under `tests/cases/` can show by its verdict alone."""

import copy
import json
import pathlib
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from judge import judge_plan
from operations import Refused, perform
from replay import Replay
from rules import state_breaches
from settling import cold_start
from shape import read_plan
from slips import Slips
from state import View, best_of, mac_rank
from traits import read_traits

CASES = HERE.parent / "cases"


def case(name, folder="rehearse"):
    return json.loads((CASES / folder / name / "plan.json").read_text(encoding="utf-8"))


class Point:
    """A baseline on which one operation after the other is done."""

    def __init__(self, plan):
        self.plan = read_plan(plan)
        self.replay = Replay(self.plan)
        self.world, self.state, self.live = self.replay.world, self.replay.state, self.replay.live

    def view(self):
        return View(self.world, self.state, self.live, True)

    def do(self, kind, **arguments):
        return perform(self.world, self.state, self.view(), {"kind": kind, **arguments}, True)

    def leaders(self):
        return sorted(name for name, unit in self.state.units.items() if unit.primary)

    def seats(self):
        return sorted(name for name, unit in self.state.units.items() if unit.standby)


def traits(**changed):
    return read_traits({**case("good-add-at-chain-end")["traits"], **changed})


class Elections(unittest.TestCase):
    def test_addresses(self):
        low, high, none = "00-00-5E-00-53-01", "00:00:5e:00:53:0a", None
        self.assertEqual((low, True), best_of({mac: mac_rank(mac, False) for mac in (high, none, low)}))
        self.assertEqual((high, True), best_of({mac: mac_rank(mac, True) for mac in (low, none, high)}))
        self.assertEqual(mac_rank(none, True), mac_rank(None, False))

    def test_one_list_or_two(self):
        self.assertEqual(traits(election=["size"]).boot_order, traits(election=["size"]).merge_order)
        both = traits(election={"boot": ["acting"], "merge": ["size", "highest-mac"]})
        self.assertEqual((("acting",), ("size", "highest-mac")), (both.boot_order, both.merge_order))

    def test_a_takeover_makes_priorities_count(self):
        plan = case("good-preempts-primary-takes-the-lead-back")
        plan["traits"]["priority"]["takes_effect"] = "next-election"
        point = Point(plan)
        point.do("set-priority", unit="mill-c", priority=99)
        self.assertEqual(80, point.state.units["mill-c"].counts)
        point.do("restart", unit="mill-a")
        self.assertEqual((["mill-a"], 99), (point.leaders(), point.state.units["mill-c"].counts))


class Seats(unittest.TestCase):
    def test_the_seat_is_lost_with_its_unit_and_filled_again(self):
        point = Point(case("good-sticky-seat-inherits"))
        self.assertEqual(["mill-c"], point.seats())
        point.do("power-off", unit="mill-c")
        self.assertEqual(["mill-b"], point.seats())
        point.do("power-on", unit="mill-c")
        self.assertEqual(["mill-b"], point.seats())

    def test_a_piece_without_a_holder_elects(self):
        point = Point(case("good-sticky-seat-inherits"))
        for ends in (["mill-a:49", "mill-c:50"], ["mill-a:50", "mill-b:49"], ["mill-b:50", "mill-c:49"]):
            point.do("disconnect-cable", ends=ends)
        self.assertEqual((["mill-a", "mill-b", "mill-c"], []), (point.leaders(), point.seats()))

    def test_of_two_holders_the_winners_keeps_it(self):
        plan = case("good-sticky-seat-inherits")
        plan["traits"]["joining"] = {"loser": "absorbed"}
        plan["units"].append({**plan["units"][1], "key": "mill-d", "member": "mill-d", "id": 4, "priority": 90})
        plan["units"].append({**plan["units"][1], "key": "mill-e", "member": "mill-e", "id": 5, "priority": 95})
        state = plan["baseline"]
        for key, number, priority in (("mill-d", 4, 90), ("mill-e", 5, 95)):
            for one in (state, plan["target"]):
                one["units"][key] = copy.deepcopy(state["units"]["mill-b"])
                for what in ("running", "saved"):
                    one["units"][key][what].update(id=number, priority=priority)
        state["units"]["mill-d"].update(primary=True)
        state["units"]["mill-e"].update(standby=True)
        state["cables"] = [["mill-a:50", "mill-b:49"], ["mill-b:50", "mill-c:49"], ["mill-d:50", "mill-e:49"]]
        plan["target"]["units"]["mill-b"].pop("standby", None)
        point = Point(plan)
        outcome = point.do("connect-cable", ends=["mill-c:50", "mill-d:49"])
        self.assertEqual((["mill-a"], ["mill-c"], []), (point.leaders(), point.seats(), outcome.restarts))
        self.assertFalse(outcome.downs)

    def test_a_tie_for_the_seat_is_undecided(self):
        plan = case("good-sticky-seat-inherits")
        for key in ("mill-a", "mill-b"):
            for what in ("running", "saved"):
                plan["baseline"]["units"][key][what]["priority"] = 90
        plan["traits"]["election"] = ["priority"]
        point = Point(plan)
        self.assertTrue(point.do("restart", unit="mill-a").undecided)

    def test_after_a_cold_start_all_elect(self):
        point = Point(case("good-sticky-seat-inherits"))
        point.do("restart", unit="mill-a")
        self.assertEqual(["mill-c"], point.leaders())
        cold, _ = cold_start(point.world, point.state)
        self.assertEqual(["mill-a"], [name for name, unit in cold.units.items() if unit.primary])


class Lists(unittest.TestCase):
    def test_a_list_that_is_not_saved_is_lost_with_the_power(self):
        plan = case("good-admission-founder-admits-itself")
        plan["steps"].insert(4, {"number": 5, "phase": "stage", "do": {"kind": "restart", "unit": "ticket-1"}})
        replay = Replay(read_plan(plan))
        for index in range(4):
            replay.step(replay.plan.steps, index)
        self.assertEqual({1}, replay.state.shared_running.admitted)
        replay.step(replay.plan.steps, 4)
        self.assertEqual(frozenset(), replay.state.shared_running.admitted)

    def test_told_twice_changes_nothing(self):
        point = Point(case("good-admission-by-id"))
        for kind, number in (("admit", 2), ("forget", 9)):
            before = point.state.shared_running
            point.do(kind, unit="ramp-3", id=number)
            self.assertEqual(before, point.state.shared_running)
        self.assertRaises(Refused, point.do, "admit", unit="ramp-3", serial="FT-0003")
        self.assertRaises(Refused, point.do, "admit", unit="ramp-3", id=17)


class Keys(unittest.TestCase):
    def test_what_updates_has_done_so_after_a_cold_start(self):
        plan = case("good-same-keys-set-while-staged")
        for differs, broken in (("joins", {"same-keys"}), ("updates", set()), ("refused", {"same-keys", "cold-start"})):
            with self.subTest(differs):
                plan["traits"]["join_keys"][0]["differs"] = differs
                point = Point(plan)
                point.do("set-key", unit="ramp-2", key="firmware", value="4.3")
                found = state_breaches(point.plan, point.world, point.state, point.replay.standing(), point.view())
                self.assertEqual(broken, {rule for rule, _, _ in found} - {"uplinks-up", "no-stray-link"})

    def test_a_wipe_leaves_them(self):
        point = Point(case("good-same-keys-set-while-staged"))
        point.do("power-on", unit="ramp-3")
        point.do("set-key", unit="ramp-3", key="firmware", value="4.2")
        self.assertEqual("4.1", point.state.units["ramp-3"].running.keys["firmware"])
        point.do("save", unit="ramp-3")
        self.assertEqual("4.2", point.state.units["ramp-3"].saved.keys["firmware"])
        point.do("wipe", unit="ramp-3")
        self.assertEqual("4.2", point.state.units["ramp-3"].running.keys["firmware"])


class Modes(unittest.TestCase):
    def test_a_wipe_goes_back_to_lone(self):
        point = Point(case("good-stack-mode-switched"))
        point.do("power-on", unit="ramp-3")
        point.do("set-mode", unit="ramp-3", mode="stack")
        self.assertEqual("lone", point.state.units["ramp-3"].running.mode)
        point.do("save", unit="ramp-3")
        point.do("restart", unit="ramp-3")
        self.assertEqual("stack", point.state.units["ramp-3"].running.mode)
        point.do("wipe", unit="ramp-3")
        self.assertEqual("lone", point.state.units["ramp-3"].running.mode)
        self.assertRaises(Refused, point.do, "activate", unit="ramp-3")


class Slipped(unittest.TestCase):
    def tries(self, name, folder="rehearse"):
        return list(Slips(read_plan(case(name, folder)), frozenset()).tries())

    def test_ids_are_mistyped_and_serials_are_not(self):
        def mistyped(name):
            plan = case(name)
            told = next(step["number"] for step in plan["steps"] if step["do"]["kind"] in ("admit", "forget"))
            return [shown for kind, at, shown, _ in self.tries(name) if (kind, at) == ("mistype", told)]

        self.assertEqual(["4", "2"], mistyped("good-admission-by-id"))
        self.assertEqual([], mistyped("good-admission-by-serial"))

    def test_elsewhere_the_stack_cannot_be_told(self):
        slips = Slips(read_plan(case("good-admission-by-id")), frozenset())
        view, console = slips.points[9].view, {"console": "ramp-3"}
        for do in ({"kind": "admit", "unit": "ramp-3", "id": 3}, {"kind": "hand-over", "unit": "ramp-3"}):
            self.assertIsNone(slips.as_met(do, 9, view, console))


class Shapes(unittest.TestCase):
    def refused(self, spoil, name="good-add-at-chain-end"):
        plan = case(name)
        spoil(plan)
        self.assertEqual({"shape"}, {breach["rule"] for breach in judge_plan(plan)["breaches"]})

    def test_what_the_traits_do_not_have(self):
        def live(plan):
            return plan["baseline"]["units"]["ramp-2"]

        for spoil in (lambda p: live(p).update(standby=True), lambda p: live(p).update(counts=99),
                      lambda p: live(p)["running"].update(mode="lone"), lambda p: live(p)["saved"].update(keys={"a": "b"}),
                      lambda p: p["baseline"]["shared"]["running"].update(admitted=[1])):
            self.refused(spoil)

    def test_traits_and_arguments(self):
        for changed in ({"election": {"boot": ["priority"]}}, {"election": ["luck"]}, {"handover": "maybe"},
                        {"join_keys": [{"name": "a", "takes_effect": "at-once", "differs": "waits"}]},
                        {"joining": {"preempts": 1}}, {"console_after_join": "none"}):
            self.refused(lambda p, changed=changed: p["traits"].update(changed))
        for do in ({"kind": "admit", "unit": "ramp-3"}, {"kind": "forget", "unit": "ramp-3", "id": 1, "serial": "FT-0001"},
                   {"kind": "set-mode", "unit": "ramp-3", "mode": "off"}, {"kind": "set-key", "unit": "ramp-3", "key": "a"},
                   {"kind": "expect", "facts": [{"fact": "admitted"}]},
                   {"kind": "expect", "facts": [{"fact": "unit", "unit": "ramp-3", "keys": {"a": 1}}]}):
            self.refused(lambda p, do=do: p["steps"][0].update(do=do))


if __name__ == "__main__":
    unittest.main()
