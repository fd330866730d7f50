"""Canaries of the slips: each kind dangerous, caught and harmless, and claims that are not so."""

import copy
import json
import pathlib
import subprocess
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import facts
from judge import judge_plan
from shape import read_plan
from slips import SLIP_KINDS, Slips, report_verdict, try_slips

CASES = HERE.parent / "cases" / "slips"
A, B, C = "quay-1", "quay-2", "quay-3"


def case(name):
    return json.loads((CASES / name / "plan.json").read_text(encoding="utf-8"))


def step(kind, phase="join", **do):
    return {"number": 0, "phase": phase, "do": {"kind": kind, **do}}


def put(plan, at, *steps):
    """The plan with these steps before the step of this number."""
    plan["steps"][at - 1:at - 1] = steps
    for number, entry in enumerate(plan["steps"], 1):
        entry["number"] = number
    return plan


def star():
    """A chain with the primary in its middle; the end quay-3 is restarted, and both ends may be."""
    plan = case("repeat-a-restart-before-it-is-back")
    plan["change"]["accept"] = ["restart:quay-2", "restart:quay-3"]
    plan["units"].append({**plan["units"][1], "key": C, "member": C, "role": "member", "stacking_ports": ["50"]})
    for unit in plan["units"]:
        unit.update(id=None, priority=None)
    for state in (plan["baseline"], plan["target"]):
        units = state["units"]
        units[B] = copy.deepcopy(plan["baseline"]["units"][B])
        units[C] = copy.deepcopy(units[A])
        units[C]["primary"] = False
        for what in ("running", "saved"):
            units[A][what]["ports"]["49"] = dict(units[B][what]["ports"]["49"])
            units[C][what].update(id=3, priority=80)
        state["cables"].append([f"{A}:49", f"{C}:50"])
    plan["steps"] = plan["steps"][2:4]
    for entry in plan["steps"]:
        entry["do"]["unit"] = C
    return put(plan, 1)


def third_leg():
    """One of three legs is dropped and unplugged."""
    plan = case("wrong-unit-pulls-the-last-leg")
    for state in (plan["baseline"], plan["target"]):
        for what in ("running", "saved"):
            state["units"][B][what]["ports"]["48"] = dict(state["units"][B][what]["ports"]["47"])
            state["shared"][what]["uplinks"]["border"].append(f"{B}:48")
        state["cables"].append(["far:border", f"{B}:48"])
    for entry in plan["steps"]:
        for fact in entry["do"].get("facts", ()):
            if fact["fact"] == "uplink":
                fact["legs"] = [*fact["legs"], f"{B}:48"]
                fact["carrying"] = list(fact["legs"])
    return plan


def set_twice():
    plan = case("leave-out-with-a-look")
    return put(plan, 2, step("set-priority", unit=B, priority=90))


def weak_look(phase, *more):
    return step("expect", phase, facts=[{"fact": "here", "id": 1}, {"fact": "ask", "text": "the label"}, *more])


def between(*steps):
    """The plan whose newcomer still has the primary's id, with more steps while it has."""
    wait = step("await", "stage", unit=B, until="up", limit=9)
    return put(case("misplace-where-only-a-label-tells"), 7, *steps, wait)


VERDICTS = [
    (lambda: case("leave-out-save-before-a-link"), "leave-out", 3, None, "dangerous", {"cold-start"}),
    (lambda: case("leave-out-save-before-a-link"), "leave-out", 2, None, "caught", set()),
    (lambda: case("leave-out-save-made-up-after-the-check"), "leave-out", 3, None, "harmless", set()),
    (lambda: case("repeat-a-restart-before-it-is-back"), "repeat", 3, None, "dangerous", {"settled"}),
    (lambda: case("leave-out-save-before-a-link"), "repeat", 4, None, "caught", set()),
    (lambda: case("leave-out-save-before-a-link"), "repeat", 3, None, "harmless", set()),
    (lambda: case("leave-out-save-before-a-link"), "swap", [2, 3], None, "dangerous", {"cold-start"}),
    (lambda: case("misplug-bridges-two-boxes"), "swap", [4, 5], None, "caught", set()),
    (lambda: case("misplug-bridges-two-boxes"), "swap", [7, 8], None, "harmless", set()),
    (lambda: case("misplug-bridges-two-boxes"), "misplug", 2, f"{B}:51", "dangerous", {"no-stray-link"}),
    (lambda: case("leave-out-save-before-a-link"), "misplug", 4, f"{A}:49", "caught", set()),
    (lambda: case("mistype-a-priority-into-a-tie"), "mistype", 2, "100", "dangerous", {"decided"}),
    (lambda: case("misplug-bridges-two-boxes"), "mistype", 4, "50", "dangerous", {"never-split", "one-brain"}),
    (lambda: case("misplug-bridges-two-boxes"), "mistype", 5, "east", "caught", set()),
    (lambda: case("mistype-a-priority-into-a-tie"), "mistype", 2, "98", "caught", set()),
    (set_twice, "mistype", 2, "91", "harmless", set()),
    (lambda: case("wrong-unit-pulls-the-last-leg"), "wrong-unit", 4, f"far:border {A}:47", "dangerous", {"uplinks-up"}),
    (third_leg, "wrong-unit", 4, f"far:border {A}:47", "caught", set()),
    (star, "wrong-unit", 1, B, "harmless", set()),
    (lambda: case("misplace-where-only-a-label-tells"), "misplace", [7, 9], "stack", "dangerous",
     {"no-live-restart", "never-split"}),
    (lambda: case("misplace-where-only-a-label-tells"), "misplace", [3, 5], "stack", "caught", set()),
    (lambda: between(weak_look("stage"), step("save", "stage", unit=B)), "misplace", [7, 8], "stack", "harmless", set()),
    (lambda: between(weak_look("settle", {"fact": "unit", "unit": A, "id": 1}), step("save", unit=A)),
     "misplace", [7, 8], B, "harmless", set()),
    (lambda: between(weak_look("settle", {"fact": "guard", "uplink": None}), step("save", unit=A)),
     "misplace", [7, 8], B, "caught", set()),
    (lambda: between(weak_look("settle"), step("drop-uplink", uplink="border")), "misplace", [7, 8], B, "caught", set()),
]


class Slipped(unittest.TestCase):
    def slips(self, plan):
        slips = Slips(read_plan(plan), frozenset())
        self.assertTrue(slips.sound)
        return slips

    def test_verdicts(self):
        seen = set()
        for plan, kind, at, shown, word, rules in VERDICTS:
            with self.subTest(kind=kind, step=at, shown=shown):
                found = [entry[3] for entry in self.slips(plan()).tries() if entry[:3] == (kind, at, shown)]
                self.assertEqual([(word, rules)], [(verdict.word, set(verdict.rules)) for verdict in found])
                seen.add((kind, word))
        # A misplugged cable stays: no later step takes it out, and the right one is missing at the end.
        missing = {(kind, word) for kind in SLIP_KINDS for word in ("dangerous", "caught", "harmless")} - seen
        self.assertEqual({("misplug", "harmless")}, missing)

    def test_cases_worked_out_by_hand(self):
        names = sorted(folder.name for folder in CASES.iterdir())
        self.assertGreaterEqual(len(names), 15)
        for name in names:
            with self.subTest(name):
                expected = json.loads((CASES / name / "expected.json").read_text(encoding="utf-8"))
                result = judge_plan(case(name), with_slips=True)
                self.assertEqual([], result["breaches"])
                self.assertEqual(expected, result["slips"])

    def test_short_cuts_change_nothing(self):
        class Whole(Slips):
            def follow(self, replay, index):
                for at in range(index, len(self.steps)):
                    place = facts.place_of(self.plan.stack, replay.view, self.steps, at)
                    report = replay.act(self.steps[at]["do"], place)
                    self.found(replay, at, report)
                    verdict = report_verdict(report)
                    if verdict is not None:
                        return verdict
                return self.end(replay)

        for folder in sorted(CASES.iterdir()):
            with self.subTest(folder.name):
                plan = read_plan(case(folder.name))
                self.assertEqual(list(Whole(plan, frozenset()).tries()), list(Slips(plan, frozenset()).tries()))

    def test_what_is_not_tried(self):
        plan = case("leave-out-the-founders-save")
        self.assertEqual(["99"], [shown for kind, _, shown, _ in self.slips(plan).tries() if kind == "mistype"])
        plan = case("leave-out-save-before-a-link")
        tried = [(kind, at, shown) for kind, at, shown, _ in self.slips(plan).tries()]
        self.assertEqual([("mistype", 2, "49"), ("mistype", 2, "west")], [entry for entry in tried if entry[0] == "mistype"])
        self.assertNotIn(6, [at for _, at, _ in tried])
        self.assertNotIn("misplace", [kind for kind, _, _ in tried])

    def test_which_ones_are_meant(self):
        slips = self.slips(case("misplace-where-only-a-label-tells"))
        self.assertEqual([], list(slips.wrong_units({"kind": "restart", "unit": A}, slips.points[0])))
        self.assertEqual([B], [name for name, _ in slips.wrong_units({"kind": "restart", "unit": A}, slips.points[1])])
        plan = case("misplug-bridges-two-boxes")
        for state in (plan["baseline"], plan["target"]):
            for what in ("running", "saved"):
                ports = state["units"][B][what]["ports"]
                ports.update({name: dict(ports["51"]) for name in ("9", "10")})
        plan["units"][1]["stacking_ports"] = ["10", "9", "49", "50", "51"]
        tried = [(kind, at, shown) for kind, at, shown, _ in self.slips(plan).tries()]
        self.assertEqual([("misplug", 2, f"{B}:9")], [entry for entry in tried if entry[0] == "misplug"])
        slips = self.slips(case("misplug-bridges-two-boxes"))
        for ends in (["far:border", f"{A}:47"], [f"{A}:49", f"{B}:49"]):
            slips.points[0].state.cables = {tuple(ends)}
            self.assertEqual([], list(slips.wrong_units({"kind": "disconnect-cable", "ends": ends}, slips.points[0])))

    def test_a_segment(self):
        def bounds(plan):
            return [(segment.first + 1, segment.last + 1) for segment in self.slips(plan).segments()]

        self.assertEqual([(3, 5), (7, 9), (14, 15)], bounds(case("misplace-where-only-a-label-tells")))
        self.assertEqual([(3, 8)], bounds(case("misplug-bridges-two-boxes")))
        again = put(case("misplace-where-only-a-label-tells"), 10, weak_look("stage"), step("save", "stage", unit=B))
        again["steps"][9]["do"]["facts"][0]["id"] = 2
        self.assertEqual([(3, 5), (7, 9), (10, 11), (16, 17)], bounds(again))
        middle = put(case("leave-out-with-a-look"), 3, step("expect", facts=[{"fact": "here", "id": 1}]))
        self.assertEqual([(1, 4)], bounds(middle))
        apart = put(case("leave-out-with-a-look"), 3, step("expect", facts=[{"fact": "unit", "unit": A, "powered": True}]))
        self.assertEqual([(1, 2), (4, 4)], bounds(apart))

    def test_a_plan_that_breaks_a_rule_has_no_slips(self):
        plan = case("leave-out-save-before-a-link")
        plan["steps"].pop(2)
        result = judge_plan(put(plan, 1), with_slips=True)
        self.assertEqual("refused", result["verdict"])
        self.assertIsNone(result["slips"])

    def test_claims(self):
        plan = case("wrong-unit-off-or-wrong-cable-out")
        true = try_slips(read_plan(plan), frozenset())[0]

        def other(which, **change):
            return lambda slips: slips["dangerous"][which].update(change)

        fine = [lambda slips: None, lambda slips: slips["dangerous"].reverse(),
                other(1, rule="no-live-restart"), other(4, **{"with": f"{B}:49 {A}:50"})]
        wrong = [lambda slips, name=name: slips.update({name: slips[name] + 1}) for name in ("tried", "caught", "harmless")]
        wrong += [lambda slips: slips["dangerous"].pop(), lambda slips: slips["dangerous"].append(slips["dangerous"][0]),
                  other(0, rule="cold-start"), other(0, slip="repeat"), other(0, step=3), other(1, **{"with": C}),
                  other(4, **{"with": f"{A}:50 {B}:50"}), other(3, step=[3, 4])]
        for spoils, accepted in ((fine, True), (wrong, False)):
            for number, spoil in enumerate(spoils):
                with self.subTest(accepted=accepted, number=number):
                    plan["slips"] = copy.deepcopy(true)
                    spoil(plan["slips"])
                    result = judge_plan(plan, with_slips=True)
                    self.assertEqual(set() if accepted else {"claims"}, {breach["rule"] for breach in result["breaches"]})
                    self.assertEqual(true, result["slips"])
                    self.assertEqual("accepted", judge_plan(plan)["verdict"])

    def test_shape(self):
        plan = case("wrong-unit-off-or-wrong-cable-out")
        good = {"slip": "leave-out", "step": 2, "with": None, "rule": "one-brain"}
        for slips in ([], {"tried": 1}, {"tried": 1, "caught": 0, "harmless": "1", "dangerous": []},
                      *({"tried": 1, "caught": 0, "harmless": 0, "dangerous": [{**good, **change}]}
                        for change in ({"slip": "dance"}, {"step": [2, 3]}, {"with": 3}, {"rule": None}))):
            plan["slips"] = slips
            self.assertEqual({"shape"}, {breach["rule"] for breach in judge_plan(plan)["breaches"]})

    def test_command(self):
        def run(*options):
            paths = [str(CASES / name / "plan.json") for name in ("leave-out-with-a-look", "leave-out-without-a-look")]
            done = subprocess.run([sys.executable, str(HERE / "judge.py"), *options, *paths],
                                  capture_output=True, text=True, check=False)
            self.assertEqual(0, done.returncode)
            return [json.loads(line) for line in done.stdout.splitlines()]

        self.assertEqual([7, 7], [answer["slips"]["tried"] for answer in run("--slips")])
        self.assertTrue(all("slips" not in answer for answer in run()))


if __name__ == "__main__":
    unittest.main()
