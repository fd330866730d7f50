"""The reader on the golden bundles, and on bundles that were tampered with: each must be found.

    python3 tests/reader/test_read_bundle.py
"""

import contextlib
import io
import json
import os
import shutil
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)

from assemble import Reading
from compare import as_plan, differences, each, refusals, replayed
from phrases import read_seen
from read_bundle import NEUTRAL
from stack import Stack, Unreadable
from tampering import found

CASES = os.path.join(HERE, "..", "cases", "render")
JUDGE = os.path.join(HERE, "..", "judge", "judge.py")


def plan_of(case):
    with open(os.path.join(CASES, case, "plan.json"), encoding="utf-8") as file:
        return json.load(file)


class Golden(unittest.TestCase):
    def test_every_bundle_reads_back_to_its_plan(self):
        for case in sorted(os.listdir(CASES)):
            with self.subTest(case):
                plan = plan_of(case)
                reading = NEUTRAL.read_bundle(os.path.join(CASES, case, "bundle"), plan)
                self.assertEqual(differences(reading, plan), [])

    def test_the_judge_accepts_what_was_read(self):
        for case in ("third-unit-and-ring", "new-mill"):
            with self.subTest(case):
                plan = plan_of(case)
                reading = NEUTRAL.read_bundle(os.path.join(CASES, case, "bundle"), plan)
                self.assertTrue(replayed(as_plan(reading, plan), JUDGE))


class Tampered(unittest.TestCase):
    """Changes as (file, old text, new text), each to one copy of a golden bundle."""

    def found(self, *changes):
        case = "third-unit-and-ring"
        return found(NEUTRAL, os.path.join(CASES, case, "bundle"), plan_of(case), changes)

    def test_a_tampered_bundle_is_found(self):
        snippet, runbook = "bootstrap/ramp-3/10-member-id.txt", "runbook.md"
        rings = "change/020-bind-ports.txt"
        cases = [
            [(snippet, "member id to 3", "member id to 4")],
            [(snippet, "member id to 3", "member id to 4"), (runbook, "member id to 3", "member id to 4")],
            [(snippet, "restart this unit\n", "")],
            [(snippet, "restart this unit\n", "restart this unit\nrestart this unit\n")],
            [(snippet, "# check: this console: member 1", "# check: this console: member 2")],
            [(snippet, "# at: console of ramp-3", "# at: console of ramp-1")],
            [(snippet, "restart this unit", "restart this box")],
            [(snippet, "restart this unit", "")],
            [(rings, "m2/p50", "m1/p50"), (runbook, "do: bind port m2/p50", "do: bind port m1/p50")],
            [(rings, "m2/p50", "m7/p50"), (runbook, "do: bind port m2/p50", "do: bind port m7/p50")],
            [(rings, "to east", "to west"), (runbook, "bind port m2/p50 to east", "bind port m2/p50 to west")],
            [(rings, "to east", "to the moon"), (runbook, "m2/p50 to east", "m2/p50 to the moon")],
            [(runbook, "ramp-2 port 50 and the other", "ramp-2 port 49 and the other")],
            [(runbook, "at most 15 minutes", "at most 16 minutes")],
            [(runbook, "wipe the unit, then look again", "go on")],
            [(runbook, "- [ ] settings of ramp-1: saved\n", "")],
            [(runbook, "- do: switch on ramp-3", "- do: switch on ramp-9")],
            [(runbook, "### Step 5\n", "### Step 55\n")],
            [(runbook, " (steps 3 to 7)", " (steps 3 to seven)")],
            [(runbook, " (steps 3 to 7)", " (steps 3 to 6)")],
            [(snippet, "# steps: 3 to 7", "# steps: 3 to 8")],
            [(snippet, "# if not so: wipe the unit", "# if not so: keep the unit")],
            [(rings, "# next: step 22", "# next: step 23")],
            [(rings, "# next: step 22 of the runbook, stack ferry-core", "# next: step 22 of the runbook, by hands")],
            [(runbook, "member id 1; priority 1; serial", "member id 1; priority 1; priority 1; serial")],
            [(runbook, "- do: switch on ramp-3", "- do: switch on ramp-3\n- do: switch on ramp-3")],
            [(runbook, "- open: `bootstrap/ramp-3/10-member-id.txt`", "- read: `bootstrap/ramp-3/10-member-id.txt`")],
            [(runbook, "### Step 4\n", "### Step 4\n- where: by hands\n")],
            [(runbook, "- where: by hands", "- where: stack ferry-core")],
        ]
        self.assertEqual(self.found(), [])
        for changes in cases:
            with self.subTest(changes):
                self.assertNotEqual(self.found(*changes), [])

    def test_one_tampered_bundle_among_many_is_found(self):
        with tempfile.TemporaryDirectory() as above:
            folders = [os.path.join(above, name) for name in ("first", "second")]
            for folder in folders:
                shutil.copytree(os.path.join(CASES, "third-unit-and-ring", "bundle"), folder)
                shutil.copy(os.path.join(CASES, "third-unit-and-ring", "plan.json"), folder)
            told = io.StringIO()
            with contextlib.redirect_stderr(told), contextlib.redirect_stdout(told):
                self.assertEqual(each(NEUTRAL, folders, JUDGE), 0)
                with open(os.path.join(folders[1], "runbook.md"), "a", encoding="utf-8") as file:
                    file.write("### Step 999\n")
                self.assertEqual(each(NEUTRAL, folders, JUDGE), 1)
            self.assertIn("2 of 2 bundles read back", told.getvalue())
            self.assertIn("1 of 2 bundles read back", told.getvalue())

    def test_the_judge_refuses_a_plan_without_its_last_step(self):
        plan = plan_of("third-unit-and-ring")
        reading = NEUTRAL.read_bundle(os.path.join(CASES, "third-unit-and-ring", "bundle"), plan)
        whole, cut = as_plan(reading, plan), as_plan(Reading(reading.steps[:-3]), plan)
        accepted, refused = refusals([whole, cut], JUDGE)
        self.assertEqual(accepted, "")
        self.assertIn("refused", refused)


class NewStack(unittest.TestCase):
    """The box that shall lead is often staged last, when the others have long been switched on."""

    def setUp(self):
        plan = plan_of("new-mill")
        self.stack = Stack(plan)
        self.first = next(unit["key"] for unit in plan["units"] if unit["role"] == "primary")
        self.second = next(unit["key"] for unit in plan["units"] if unit["key"] != self.first)

    def test_the_stack_is_where_the_primary_is_staged_however_late(self):
        self.stack.apply({"kind": "power-on", "unit": self.second}, *read_seen(f"together are: {self.second}"))
        self.assertEqual(self.stack.here({"stack": "paper-mill"}), self.first)
        self.stack.apply({"kind": "power-on", "unit": self.first},
                         *read_seen(f"together are: {self.second}; {self.first}"))
        self.assertEqual(self.stack.here({"stack": "paper-mill"}), self.first)
        self.assertEqual(self.stack.member(1, {"stack": "paper-mill"}), self.first)

    def test_a_stack_in_service_that_loses_its_leader_is_where_a_named_one_leads(self):
        self.stack.apply({"kind": "power-on", "unit": self.first}, *read_seen(f"together are: {self.first}"))
        self.stack.may_lead = {self.second}
        self.stack.apply({"kind": "power-on", "unit": self.second}, *read_seen(f"together are: {self.second}"))
        self.assertEqual(self.stack.here({"stack": "paper-mill"}), self.second)


class Parted(unittest.TestCase):
    """A stack in several pieces is the piece that the primary leads, or one that a consent names."""

    def stack(self, role):
        plan = plan_of("third-unit-and-ring")
        first, last = [unit for unit in plan["units"] if unit["status"] == "live"]
        for unit in (first, last):
            unit["role"] = "primary" if unit is role(first, last) else "member"
            plan["baseline"]["units"][unit["key"]]["primary"] = True
        plan["baseline"]["cables"] = []
        return first["key"], last["key"], Stack(plan)

    def test_the_holder_of_the_role_leads_the_stack(self):
        first, last, stack = self.stack(lambda first, last: last)
        self.assertEqual(sorted(map(tuple, stack.islands)), [(first,), (last,)])
        self.assertEqual(stack.leader, last)

    def test_without_it_an_election_says(self):
        first, _, stack = self.stack(lambda first, last: None)
        self.assertEqual(stack.leader, first)


    def test_a_larger_part_that_nobody_named_is_not_the_stack(self):
        first, last, stack = self.stack(lambda first, last: first)
        other = next(key for key in stack.units if key not in (first, last))
        stack.may_lead = {last}
        stack.apply({"kind": "power-off", "unit": first}, *read_seen(f"together are: {last}; {other}"))
        self.assertEqual(stack.leader, last)
        seen = read_seen(f"together are: {first} and {other} under {other}; {last}")
        stack.apply({"kind": "power-on", "unit": first}, *seen)
        self.assertEqual(stack.leader, last)


class Legs(unittest.TestCase):
    """The stack goes on to name the legs of a box that is off, and knows none of a box that never was in it."""

    def setUp(self):
        self.plan = plan_of("third-unit-and-ring")
        self.stack = Stack(self.plan)
        self.place = {"stack": self.plan["stack"]}
        self.live = [unit for unit in self.plan["units"] if unit["status"] == "live"]

    def test_a_leg_of_a_box_that_is_off_is_named_by_the_id_that_it_had(self):
        first, last = self.live[0], self.live[-1]
        leg = f"{last['member']}:47"
        self.assertEqual(self.stack.leg(f"m{last['id']}/p47", self.place), leg)
        self.stack.apply({"kind": "power-off", "unit": last["key"]}, *read_seen(f"together are: {first['key']}"))
        self.assertEqual(self.stack.leg(f"m{last['id']}/p47", self.place), leg)

    def test_a_leg_that_goes_is_one_that_the_stack_has(self):
        first, last = self.live[0], self.live[-1]
        joining = next(unit for unit in self.plan["units"] if unit["status"] == "joining")
        self.stack.apply({"kind": "power-off", "unit": last["key"]}, *read_seen(f"together are: {first['key']}"))
        self.stack.boots_with[joining["key"]] = last["id"]
        together = f"together are: {first['key']} and {joining['key']}"
        self.stack.apply({"kind": "power-on", "unit": joining["key"]}, *read_seen(together))
        name = f"m{last['id']}/p47"
        self.assertEqual(self.stack.leg(name, self.place), f"{joining['member']}:47")
        self.assertEqual(self.stack.leg(name, self.place, goes=True), f"{last['member']}:47")

    def test_a_box_that_never_was_in_the_stack_has_no_leg(self):
        joining = next(unit for unit in self.plan["units"] if unit["status"] == "joining")
        with self.assertRaises(Unreadable):
            self.stack.leg(f"m{joining['id']}/p47", self.place)


if __name__ == "__main__":
    unittest.main()
