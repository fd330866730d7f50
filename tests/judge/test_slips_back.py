"""Canaries of the slips on ways back: true lists worked out by hand are accepted, false claims refused."""

import copy
import json
import pathlib
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import facts
from judge import judge_plan
from shape import read_plan
from slips import Slips, report_verdict
from slips_back import SlipsBack, slips_of_ways

CASES = HERE.parent / "cases" / "slips"
A, B = "quay-1", "quay-2"


def case(name, *ways, warnings=()):
    """A case's plan with these ways back: (range, operations, then)."""
    plan = json.loads((CASES / name / "plan.json").read_text(encoding="utf-8"))
    plan["ways_back"] = [{"after": after, "steps": [{"do": one} for one in dos], "then": then}
                         for after, dos, then in ways]
    plan["warnings"] = [{"code": "no-way-back", "text": text} for text in warnings]
    return plan


def do(kind, unit=None, **more):
    return {"kind": kind, **({"unit": unit} if unit else {}), **more}


def true(caught, harmless, *dangerous):
    listed = [dict(zip(("slip", "step", "with", "rule"), entry)) for entry in dangerous]
    return {"tried": caught + harmless + len(listed), "caught": caught, "harmless": harmless, "dangerous": listed}


def newcomer():
    """A unit that joins by its power, taken out again: each way goes on with that of the step before."""
    release = [do("release-port", A, port="50"), do("save", A)]
    cut = do("disconnect-cable", ends=[f"{A}:50", f"{B}:49"])
    plan = case("leave-out-save-before-a-link", ([1, 1], [], None), ([2, 3], release, None), ([4, 4], [cut], 3),
                ([5, 9], [do("power-off", B)], 4))
    return plan, [
        true(0, 0),
        # From step 3 the save left out matters; from step 2 it would not.
        true(2, 1, ("leave-out", 1, None, "reaches-target"), ("swap", [1, 2], None, "reaches-target"),
             ("leave-out", 2, None, "reaches-target")),
        true(1, 0, ("leave-out", 1, None, "reaches-target")),
        # The newcomer counts as leaving: still on, it leads an island of its own once the next way cuts it off.
        true(1, 0, ("leave-out", 1, None, "one-brain"), ("wrong-unit", 1, A, "no-live-restart"))]


def renumbered():
    """A unit gets its old number back: a second restart before it is ready does no harm on a way back."""
    back = do("assign-id", B, id=2)
    wait = do("await", B, until="ready", limit=20)
    plan = case("repeat-a-restart-before-it-is-back", ([1, 1], [], None), ([2, 2], [back], None),
                ([3, 5], [back, do("restart", B), wait], None))
    typed = [("mistype", 1, "1", "no-id-clash"), ("mistype", 1, "3", "reaches-target")]
    return plan, [
        true(0, 0), true(0, 1, ("leave-out", 1, None, "reaches-target"), *typed),
        true(0, 2, ("leave-out", 1, None, "reaches-target"), *typed, ("swap", [1, 2], None, "reaches-target"),
             ("leave-out", 2, None, "reaches-target"), ("wrong-unit", 2, A, "primary-kept"))]


def staged():
    """Two ways with one run of typing over both: what would reach into the second is not tried on the first."""
    release = [do("release-port", B, port="49"), do("power-off", B)]
    plan = case("misplace-where-only-a-label-tells", ([4, 4], release, None),
                ([5, 5], [do("set-priority", B, priority=1)], 4), warnings=["none from steps 11 to 16"])
    return plan, [
        true(3, 1, ("leave-out", 2, None, "reaches-target"), ("wrong-unit", 2, A, "no-live-restart")), true(0, 3)]


class SlippedBack(unittest.TestCase):
    def judged(self, plan):
        result = judge_plan(plan, go_on=True, with_slips=True)
        return {(breach["rule"], breach["step"]) for breach in result["breaches"]}, result["ways_back_slips"]

    def test_lists_worked_out_by_hand(self):
        for make in (newcomer, renumbered, staged):
            with self.subTest(make.__name__):
                plan, expected = make()
                self.assertEqual((set(), expected), self.judged(plan))
                plan["ways_back_slips"] = expected
                self.assertEqual((set(), expected), self.judged(plan))

    def test_claims(self):
        def count(which, name):
            return lambda ways: ways[which].update({name: ways[which][name] + 1})

        def entry(**change):
            return lambda ways: ways[3]["dangerous"][0].update(change)

        fine = [lambda ways: ways[1]["dangerous"].reverse(),
                lambda ways: ways[3]["dangerous"][1].update(rule="never-split")]
        wrong = [count(which, name) for which in (0, 2) for name in ("tried", "caught", "harmless")]
        wrong += [entry(rule="cold-start"), entry(slip="repeat"), entry(step=2),
                  lambda ways: ways[3]["dangerous"].pop(), lambda ways: ways[2]["dangerous"].extend(ways[2]["dangerous"]),
                  lambda ways: ways.pop(), lambda ways: ways.append(true(0, 0)), lambda ways: ways.reverse()]
        for spoils, breaches in ((fine, set()), (wrong, {("claims", None)})):
            for number, spoil in enumerate(spoils):
                with self.subTest(breaches=breaches, number=number):
                    plan, expected = newcomer()
                    plan["ways_back_slips"] = copy.deepcopy(expected)
                    spoil(plan["ways_back_slips"])
                    self.assertEqual((breaches, expected), self.judged(plan))

    def test_what_breaks_without_a_slip_has_none(self):
        refused = do("disconnect-cable", ends=[f"{A}:49", f"{B}:49"])
        for spoil in ({"then": 9}, {"then": None}, {"steps": [{"do": refused}]}):
            with self.subTest(spoil):
                plan, expected = newcomer()
                plan["ways_back_slips"] = copy.deepcopy(expected)
                plan["ways_back"][2].update(spoil)
                breaches, found = self.judged(plan)
                self.assertEqual([*expected[:2], None, None], found)
                self.assertEqual({4, 5}, {step for _, step in breaches})
        plan, expected = newcomer()
        plan["steps"][2]["do"] = do("await", A, until="up", limit=1)
        plan["ways_back_slips"] = expected
        breaches, found = self.judged(plan)
        self.assertIn(("cold-start", 5), breaches)
        self.assertNotIn(("claims", None), breaches)
        self.assertIsNone(found)

    def test_short_cuts_change_nothing(self):
        class Whole(SlipsBack):
            def follow(self, replay, index):
                for at in range(index, len(self.steps)):
                    verdict = report_verdict(replay.act(self.steps[at]["do"],
                                                        facts.place_of(self.plan.stack, replay.view, self.steps, at)))
                    if verdict is not None:
                        return verdict
                return self.end(replay)

        for make in (newcomer, renumbered, staged):
            plan = read_plan(make()[0])
            for short in slips_of_ways(plan, Slips(plan, frozenset())):
                whole = Whole(plan, short.start, short.steps, short.own)
                self.assertEqual(list(whole.tries()), list(short.tries()))

    def test_shape(self):
        plan, expected = newcomer()
        for said in ({}, 3, [[]], [None] * 4, [{**true(0, 0), "tried": "0"}, *expected[1:]],
                     [*expected[:3], true(0, 0, ("leave-out", [1, 2], None, "one-brain"))]):
            with self.subTest(said):
                plan["ways_back_slips"] = said
                self.assertEqual({"shape"}, {breach["rule"] for breach in judge_plan(plan)["breaches"]})


if __name__ == "__main__":
    unittest.main()
