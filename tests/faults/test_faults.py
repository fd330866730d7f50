"""Entries worked out by hand from the model's text, and lists with a mistake in them."""

import copy
import itertools
import json
import pathlib
import subprocess
import sys
import tempfile
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import cold_start
import effects
import faults
import graph_checks
import made
from shape import read_plan

A, B, C, D = "a-1", "a-2", "a-3", "a-4"


def stack(*shape, **more):
    return effects.finished(read_plan(made.plan(*shape, **more)))


def after(held, *names):
    """The entry of these faults."""
    return next(entry for entry in held.findings() if entry["faults"] == list(names))


def entry(names, islands, primary, serving, up, cut=(), brain=False, restarts=()):
    return {"faults": names, "islands": islands, "primary": primary, "in_service": serving, "uplinks_up": up,
            "cut_off": list(cut), "split_brain": brain, "restarts_on_heal": list(restarts)}


class ByHand(unittest.TestCase):
    def test_a_chain_without_a_guard(self):
        held = stack(3)
        link, other = "link a-1:11 a-2:1", "link a-2:11 a-3:1"
        self.assertEqual([(link,), (other,), ("unit a-1",), ("unit a-2",), ("unit a-3",), ("leg a-1:47",), ("leg a-3:47",)],
                         [faults.named(one) for one in held.findings(False)])
        self.assertEqual(7 * 6 // 2, len(list(held.pairs())))
        # both pieces hold a leg: two stacks with the same addresses
        self.assertEqual(entry([link], [[A], [B, C]], [A, B], [A, B, C], ["hall"], brain=True, restarts=[B, C]),
                         after(held, link))
        self.assertEqual(entry([link, "leg a-3:47"], [[A], [B, C]], [A, B], [A], ["hall"], [B, C], restarts=[B, C]),
                         after(held, link, "leg a-3:47"))
        # the primary comes back to a stack that has another: it joins, and nobody restarts
        self.assertEqual(entry(["unit a-1"], [[B, C]], [B], [B, C], ["hall"]), after(held, "unit a-1"))
        self.assertEqual(entry(["unit a-2"], [[A], [C]], [A, C], [A, C], ["hall"], brain=True, restarts=[C]),
                         after(held, "unit a-2"))
        self.assertEqual(entry(["leg a-1:47", "leg a-3:47"], [[A, B, C]], [A], [], [], [A, B, C]),
                         after(held, "leg a-1:47", "leg a-3:47"))
        self.assertEqual(entry(["unit a-1", "unit a-3"], [[B]], [B], [], [], [B]), after(held, "unit a-1", "unit a-3"))

    def test_a_guard(self):
        held = stack(3, guard="hall", priorities=[100, 50, 90])
        link = "link a-1:11 a-2:1"
        self.assertEqual(entry([link], [[A], [B, C]], [A, C], [A], ["hall"], [B, C], restarts=[B, C]), after(held, link))
        # the leg that the guard listens on is gone from a unit that is up
        self.assertEqual(entry([link, "leg a-1:47"], [[A], [B, C]], [A, C], [B, C], ["hall"], [A], restarts=[B, C]),
                         after(held, link, "leg a-1:47"))
        # with its unit it is gone too, and the guard still works: the piece without a leg is cut off
        self.assertEqual(entry(["unit a-1", "leg a-1:47"], [[B, C]], [C], [B, C], ["hall"]),
                         after(held, "unit a-1", "leg a-1:47"))
        both = entry(["unit a-2"], [[A], [C]], [A, C], [A], ["hall"], [C], restarts=[C])
        self.assertEqual(both, after(held, "unit a-2"))

    def test_a_guard_over_one_pair_of_two(self):
        pairs = {"hall": ["a-1:47", "a-2:47"], "yard": ["a-3:47", "a-1:48"]}
        link = "link a-2:11 a-3:1"
        # the piece with only the other pair is cut off under a guard, and serves without one
        self.assertEqual(entry([link], [[A, B], [C]], [A, C], [A, B], ["hall", "yard"], [C], restarts=[C]),
                         after(stack(3, uplinks=pairs, guard="hall"), link))
        split = entry([link], [[A, B], [C]], [A, C], [A, B, C], ["hall", "yard"], brain=True, restarts=[C])
        self.assertEqual(split, after(stack(3, uplinks=pairs), link))
        self.assertEqual({**split, "faults": [link, "leg a-1:47"]},
                         after(stack(3, uplinks=pairs, guard="hall"), link, "leg a-1:47"))
        self.assertEqual([[A, B]], [after(stack(3, uplinks=pairs, guard="hall"), link, "leg a-1:48")["in_service"]])

    def test_a_ring(self):
        held = stack(4, True, uplinks={"hall": ["a-1:47", "a-2:47"]}, guard="hall")
        singles = [faults.named(one)[0] for one in held.findings(False)]
        self.assertEqual(["link a-1:1 a-4:11", "link a-1:11 a-2:1", "link a-2:11 a-3:1", "link a-3:11 a-4:1"], singles[:4])
        for name in singles[:4] + ["leg a-1:47", "leg a-2:47"]:
            self.assertEqual(entry([name], [[A, B, C, D]], [A], [A, B, C, D], ["hall"]), after(held, name))
        pair = ["link a-1:1 a-4:11", "link a-2:11 a-3:1"]
        self.assertEqual(entry(pair, [[A, B], [C, D]], [A, C], [A, B], ["hall"], [C, D], restarts=[C, D]), after(held, *pair))

    def test_a_ring_of_two_has_two_links(self):
        held = stack(2, True, cables=2)
        names = [faults.named(one)[0] for one in held.findings(False)]
        self.assertEqual(["link a-1:1 a-2:11", "link a-1:11 a-2:1", "cable a-1:1 a-2:11", "cable a-1:2 a-2:12",
                          "cable a-1:11 a-2:1", "cable a-1:12 a-2:2"], names[:6])
        self.assertEqual([[A, B]], after(held, names[0])["islands"])
        self.assertEqual([[A], [B]], after(held, names[0], names[1])["islands"])
        # never a link with a cable of its own
        told = [set(faults.named(one)) for one in held.findings()]
        self.assertNotIn({names[0], names[2]}, told)
        self.assertIn({names[0], names[4]}, told)

    def test_parallel_cables_one_after_the_other(self):
        held = stack(2, cables=2)
        one, other = "cable a-1:11 a-2:1", "cable a-1:12 a-2:2"
        self.assertEqual([[A, B]], after(held, one)["islands"])
        self.assertEqual([[A], [B]], after(held, one, other)["islands"])

    def test_habits(self):
        for loser, restarts in (("restarts", [B]), ("waits", []), ("absorbed", [])):
            self.assertEqual(restarts, after(stack(2, traits={"joining": {"loser": loser}}),
                                             "link a-1:11 a-2:1")["restarts_on_heal"])
        lowest = stack(3, traits={"priority": {"wins": "lowest"}}, guard="hall", priorities=[1, 30, 20])
        self.assertEqual([B, C], after(lowest, "link a-1:11 a-2:1")["cut_off"])
        self.assertEqual([A, C], after(lowest, "link a-1:11 a-2:1")["primary"])
        # uptime does not speak in the guard's choice, though it speaks before priority in an election
        value = made.plan(2, guard="hall", traits={"election": ["uptime", "priority"]}, priorities=[10, 20])
        value["target"]["units"][B]["booted_at"] = 5
        found = after(effects.finished(read_plan(value)), "link a-1:11 a-2:1")
        self.assertEqual(([B], [B]), (found["in_service"], found["restarts_on_heal"]))

    def test_who_is_no_part_of_it(self):
        value = made.plan(3)
        for name, status in ((B, "leaving"), (C, "live")):
            unit = value["target"]["units"][name]
            unit.update(powered=False, running=None, primary=False)
            next(one for one in value["units"] if one["key"] == name)["status"] = status
        held = effects.finished(read_plan(value))
        self.assertEqual([("unit a-1",), ("leg a-1:47",)], [faults.named(one) for one in held.findings(False)])

    def test_what_is_remembered_changes_nothing(self):
        for shape, more in (((4, True), {"cables": 2, "guard": "hall"}), ((3,), {"cables": 3})):
            held = stack(*shape, **more)
            for struck in itertools.chain(((one,) for one in held.singles()), held.pairs()):
                dark = frozenset().union(*(fault.cables for fault in struck))
                hurt, restarts = held.settle_after(dark, frozenset(fault.unit for fault in struck if fault.unit))
                found = held.entry(struck)
                self.assertEqual((held.islands_of(hurt), sorted(restarts)),
                                 (list(zip(found["islands"], found["primary"])), found["restarts_on_heal"]))

    def test_natural_order(self):
        names = ["a-1", "a-2", "a-10", "a-10b", "b", "b-1", "b1/9", "b1/10"]
        self.assertEqual(["a-1", "a-2", "a-10", "a-10b", "b", "b1/9", "b1/10", "b-1"], sorted(names, key=effects.natural))


def broken_lists(right):
    """Lists with one mistake each, and a piece of what must be said of it."""
    def change(position, **fields):
        wrong = copy.deepcopy(right)
        wrong[position].update(fields)
        return wrong

    yield change(0, islands=[[A, B, C, D]]), "islands is"
    yield change(0, primary=[B, A]), "primary is"
    yield change(0, primary=[None, None]), "primary is"
    yield change(0, in_service=[]), "in_service is"
    yield change(0, uplinks_up=[]), "uplinks_up is"
    yield change(0, cut_off=[D]), "cut_off is"
    yield change(0, split_brain=not right[0]["split_brain"]), "split_brain is"
    yield change(0, split_brain=int(right[0]["split_brain"])), "split_brain is"
    yield change(0, restarts_on_heal=[A]), "restarts_on_heal is"
    yield change(0, faults=["link a-1:11 a-2:2"]), "is no fault of this stack"
    yield change(0, cure="none"), "does not hold exactly"
    yield change(0, faults="link"), "are no texts"
    yield right[1:], "is missing"
    yield right[:-1], "is missing"
    yield right + right[:1], "stands twice"
    yield [right[1], right[0], *right[2:]], "belongs"
    yield [*right[:-1], {**right[-1], "faults": right[-1]["faults"][::-1]}], "belongs"
    yield {"findings": right}, "no list"
    yield [], "is missing"


class Lists(unittest.TestCase):
    def test_a_mistaken_list_is_found(self):
        right = stack(4, cables=2).findings()
        self.assertEqual([], faults.differences(copy.deepcopy(right), right))
        for wrong, text in broken_lists(right):
            found = faults.differences(wrong, right)
            self.assertIn(text, "\n".join(found))

    def test_networkx_sees_the_same_and_finds_mistakes(self):
        for count, ring, cables in itertools.product((1, 2, 3, 5), (False, True), (1, 2)):
            if ring and count == 1:
                continue
            legs = {"hall": ["a-1:47"]} if count == 1 else None
            value = made.plan(count, ring, cables, legs)
            right = effects.finished(read_plan(value)).findings()
            self.assertEqual([], graph_checks.objections(value, right), (count, ring, cables))
            for position, one in enumerate(right if cables == 1 and count < 5 else ()):
                wrong = copy.deepcopy(right)
                wrong[position]["islands"] = [sum(one["islands"], [])] if len(one["islands"]) > 1 else \
                    [[name] for name in sum(one["islands"], [])] or [["a-1"]]
                if wrong != right:
                    self.assertTrue(graph_checks.objections(value, wrong), one["faults"])
        value = made.plan(3)
        right = effects.finished(read_plan(value)).findings()
        for left_out, text in ((0, "bridges"), (3, "articulation points")):
            found = graph_checks.objections(value, right[:left_out] + right[left_out + 1:])
            self.assertIn(text, "\n".join(found))
        self.assertIn("names no stack cable", graph_checks.objections(value, [{**right[0], "faults": ["link a b"]}])[0])

    def test_the_command_line(self):
        value, right = told_plan(made.plan(3))
        with tempfile.TemporaryDirectory() as folder:
            def told(findings):
                pathlib.Path(folder, "plan.json").write_text(json.dumps(value), encoding="utf-8")
                pathlib.Path(folder, "faults.json").write_text(findings, encoding="utf-8")
                ended = subprocess.run([sys.executable, "-B", str(HERE / "faults.py"), folder], capture_output=True,
                                       text=True)
                return ended.returncode, ended.stdout

            self.assertEqual((0, "1 of 1 agree\n"), told(json.dumps(right)))
            status, text = told(json.dumps(right[1:]))
            self.assertEqual((1, "0 of 1 agree"), (status, text.splitlines()[-1]))
            self.assertEqual(1, told("[")[0])


def with_uplinks(value):
    """A chain that becomes a ring, and an uplink pair on its first two members, guarded."""
    for state in (value["baseline"], value["target"]):
        for name in ("ramp-1", "ramp-2"):
            state["cables"].append(["far:border", f"{name}:47"])
            for settings in ("running", "saved"):
                state["units"][name][settings]["ports"]["47"] = {"enabled": True, "side": "none"}
            state["units"][name]["running"]["ports"]["47"]["active"] = False
        for settings in state["shared"].values():
            settings.update(uplinks={"border": ["ramp-1:47", "ramp-2:47"]}, guard="border")
    return value


def told_plan(value):
    """The plan with a true key `faults`, and the list of the finished stack."""
    plan = read_plan(value)
    held = effects.finished(plan)
    ours, up = held.findings(), held.entry(())["uplinks_up"]
    single = [one for one in ours if len(one["faults"]) == 1]
    pairs, steps, before = ours[len(single):], [], None
    for number, live, _ in faults.each_step(plan):
        now = faults.condition(live, False)
        if before is not None and now != before:
            entries, healthy = live.findings(False), live.entry(())
            worst = max(entries, key=lambda one: faults.measures(one, healthy["uplinks_up"]))
            steps.append({"after": number, "worst": worst, "survives_any_single": faults.survives(entries, healthy)})
        before = now
    worst = sorted(pairs, key=lambda one: faults.measures(one, up), reverse=True)[:5]
    tried = cold_start.cold_starts(held)
    most = max(one["most_restarts"] for one in tried.values())
    order = next(order for order, _, restarts in cold_start.orders(held) if len(restarts) == most)
    value["faults"] = {
        "finished": single, "steps": steps,
        "pairs": {"tried": len(pairs), "split_brain": sum(one["split_brain"] for one in pairs),
                  "cut_off": sum(bool(one["cut_off"]) for one in pairs), "worst": worst},
        "cold_start": {"every_order": True, "leaders": sorted({name for names in tried for name in names}),
                       "restarts": most, "at_most": most, "order": list(order)}}
    # what is spoilt in one place must not be spoilt in another
    return json.loads(json.dumps(value)), ours


class Plans(unittest.TestCase):
    """The key `faults` of a plan, its steps included."""

    PLAN = HERE.parent / "cases" / "rehearse" / "good-close-ring-typed" / "plan.json"

    def setUp(self):
        self.value, _ = told_plan(with_uplinks(json.loads(self.PLAN.read_text(encoding="utf-8"))))

    def found(self):
        plan = read_plan(self.value)
        held = effects.finished(plan)
        return faults.plan_differences(self.value, plan, held, held.findings())

    def test_closing_a_ring_ends_what_one_link_could_do(self):
        told = self.value["faults"]
        self.assertEqual([True], [step["survives_any_single"] for step in told["steps"]])
        self.assertFalse(any(one["cut_off"] for one in told["finished"]))
        self.assertEqual([], self.found())

    def test_mistakes(self):
        def harmless(told):
            return next(one for one in told["finished"] if not one["cut_off"] and one["faults"][0].startswith("leg"))

        def spoil(told):
            yield lambda: told["finished"].pop(), "is missing"
            yield lambda: told["finished"].reverse(), "belongs"
            for name in ("tried", "split_brain", "cut_off"):
                yield lambda name=name: told["pairs"].update({name: told["pairs"][name] + 1}), f"pairs.{name} is"
            yield lambda: told["pairs"]["worst"].insert(0, harmless(told)), "is no fault there"
            yield lambda: told["pairs"]["worst"].append(told["pairs"]["worst"][0]), "more than five"
            yield lambda: told["pairs"]["worst"][1].update(split_brain=None), "split_brain is"
            yield lambda: told["steps"].pop(), "no faults are told"
            yield lambda: told["steps"].append(copy.deepcopy(told["steps"][0])), "stands twice"
            yield lambda: told["steps"][0].update(after=1), "nothing differs"
            yield lambda: told["steps"][0].update(after=999), "there is no step 999"
            yield lambda: told["steps"][0]["worst"].update(cut_off=["ramp-9"]), "cut_off is"
            yield lambda: told["steps"][0].update(survives_any_single=None), "survives_any_single"
            yield lambda: told["cold_start"]["leaders"].pop(), "can lead"
            yield lambda: told["cold_start"].update(order=[]), "each member once"
            yield lambda: told.pop("steps"), "another shape"
            yield lambda: self.value.pop("faults"), "says nothing of faults"

        count = len(list(spoil(self.value["faults"])))
        for number in range(count):
            self.setUp()
            change, text = list(spoil(self.value["faults"]))[number]
            change()
            self.assertIn(text, "\n".join(self.found()), number)

    def test_where_nothing_says_what_is_survived(self):
        bare = stack(3, uplinks={})
        self.assertIsNone(faults.survives(bare.findings(False), bare.entry(())))
        pair = {"hall": ["a-1:47", "a-2:47"], "yard": ["a-1:48"]}
        ring = stack(3, True, uplinks=pair)
        self.assertIsNone(faults.survives(ring.findings(False), ring.entry(())))

    def test_a_worst_that_is_not_the_worst(self):
        held = stack(3)
        ours = held.findings(False)
        mild = after(held, "leg a-1:47")
        self.assertIn("is worse", "\n".join(faults.worst_differences(mild, ours, ["hall"], "here")))
        self.assertEqual([], faults.worst_differences(after(held, "link a-1:11 a-2:1"), ours, ["hall"], "here"))


if __name__ == "__main__":
    unittest.main()
