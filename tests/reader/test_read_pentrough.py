"""The reader of the invented platform's words on a bundle, on the same with something changed, and on each sentence.

    python3 tests/reader/test_read_pentrough.py

`cases/third-unit-on-pentrough` is `examples/dialects/third-unit.intent.yaml`, compiled. When the dialect's words
change, compile it anew.
"""

import contextlib
import copy
import io
import os
import shutil
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)

from assemble import Reading, new_section
from compare import as_plan, differences, each, load, refusals
from pentrough_phrases import read_fact, read_islands, read_operation
from read_pentrough import PENTROUGH, read_after
from stack import Stack, Unreadable
from tampering import found

BUNDLE = os.path.join(HERE, "cases", "third-unit-on-pentrough")
JUDGE = os.path.join(HERE, "..", "judge", "judge.py")
STAGING, RACE, RUNBOOK = "staging/sifter/10-member-id.txt", "race/20-uplink-pairs.txt", "runbook.md"


class Golden(unittest.TestCase):
    def setUp(self):
        self.plan = load(os.path.join(BUNDLE, "plan.json"))
        self.reading = PENTROUGH.read_bundle(BUNDLE, self.plan, with_ways_back=True)
        self.steps = self.reading.steps

    def kinds(self):
        return [step["do"]["kind"] for step in self.steps]

    def without_a_step_back(self):
        """The same, but the last way back forgets to switch the new unit off."""
        ways = copy.deepcopy(self.reading.ways_back)
        ways[-1]["steps"] = [step for step in ways[-1]["steps"] if step["do"]["kind"] != "power-off"]
        return Reading(self.steps, ways)

    def test_it_reads_back_to_its_plan(self):
        self.assertEqual(differences(self.reading, self.plan), [])

    def test_the_judge_accepts_what_was_read_and_nothing_less(self):
        dropped = [step for at, step in enumerate(self.steps) if at != self.kinds().index("restart")]
        wrong = copy.deepcopy(self.steps)
        wrong[self.kinds().index("assign-id")]["do"]["id"] = 1
        swapped = list(self.steps)
        at = self.kinds().index("disconnect-cable")
        swapped[at], swapped[at + 2] = swapped[at + 2], swapped[at]
        readings = [self.reading, Reading(dropped), Reading(wrong), Reading(swapped), self.without_a_step_back()]
        accepted, *refused = refusals([as_plan(reading, self.plan) for reading in readings], JUDGE)
        self.assertEqual(accepted, "")
        for refusal in refused:
            self.assertIn('"refused"', refusal)


class Tampered(unittest.TestCase):
    """Changes as (file, old text, new text), each to one copy of the bundle."""

    def found(self, *changes):
        return found(PENTROUGH, BUNDLE, load(os.path.join(BUNDLE, "plan.json")), changes)

    def test_a_bundle_as_it_was_is_fine(self):
        self.assertEqual(self.found(), [])

    def test_a_line_that_is_dropped_added_or_moved_is_found(self):
        order = "(gate r1@2: hither) moor\n(gate r1@2) undam\n"
        back = "(gate r1@2) undam\n(gate r1@2: hither) moor\n"
        bound, enabled = "type: `(gate r1@2: hither) moor`", "type: `(gate r1@2) undam`"
        cases = [
            [(STAGING, "(self) engrave\n", "")],
            [(STAGING, "(self) engrave\n", "(self) engrave\n(self) engrave\n")],
            [(STAGING, order, back)],
            [(STAGING, order, back), (RUNBOOK, bound, "X"), (RUNBOOK, enabled, bound), (RUNBOOK, "X", enabled)],
            [(RACE, "(twin weir) ward\n", ""), (RUNBOOK, "- type: `(twin weir) ward`\n", "")],
            [(RUNBOOK, "### Step 5:", "### Step 6:")],
            [(RUNBOOK, "- [ ] engraving of stones: as it runs\n", "")],
            [(RUNBOOK, "- do: give power to sifter", "- do: give power to sifter\n- do: give power to sifter")],
            [(STAGING, "(self) engrave\n", "~ (self) engrave\n")],
            [(STAGING, "(self) engrave\n", "\n(self) engrave\n")],
        ]
        for changes in cases:
            with self.subTest(changes):
                self.assertNotEqual(self.found(*changes), [])

    def test_a_wrong_number_name_or_word_is_found_though_all_texts_agree_on_it(self):
        cases = [
            ("(self: seat 2) dub", "(self: seat 3) dub"),
            ("(self: turn 46) weigh", "(self: turn 64) weigh"),
            ("(gate r1@2: hither) moor", "(gate r1@2: yon) moor"),
            ("(gate r1@2: hither) moor", "(gate r1@2: sideways) moor"),
            ("(gate r1@2: hither) moor", "(gate r1@0: hither) moor"),
            ("(gate r2@2) undam", "(gate r2@2) dam"),
            ("(self) engrave", "(wheel 0) engrave"),
            ("(self) engrave", "(self) scour"),
            ("(self) engrave", "(self) grave"),
        ]
        for old, new in cases:
            with self.subTest(new):
                self.assertNotEqual(self.found((STAGING, old, new), (RUNBOOK, f"`{old}`", f"`{new}`")), [])

    def test_what_the_head_of_a_file_says_is_compared_with_the_runbook(self):
        cases = [
            (STAGING, "~ console of sifter, rack", "~ console of stones, rack"),
            (STAGING, "~ console of sifter", "~ by hands, console of sifter"),
            (STAGING, "steps 3 to 10", "steps 3 to 9"),
            (STAGING, "~ look: here, seat 0", "~ look: here, seat 1"),
            (STAGING, "wipe the unit, then", "start the unit, then"),
            (STAGING, "~ after: step 11", "~ after: step 12"),
            (STAGING, "11 of the runbook, console of sifter, rack G03, height unit 8", "11 of the runbook, by hands"),
            (STAGING, "~ after: ", "~ before: "),
            (STAGING, "~ after: step 11 of the runbook, console of sifter, rack G03, height unit 8\n", ""),
            (STAGING, "~ after: step 11 of the runbook, console of sifter, rack G03, height unit 8",
             "~ after: nothing, this is the end of the runbook"),
        ]
        for change in cases:
            with self.subTest(change):
                self.assertNotEqual(self.found(change), [])

    def test_what_the_runbook_alone_says_is_compared_with_the_plan(self):
        cases = [
            (RUNBOOK, "### Step 1: by hands", "### Step 1: console of the race grain-house"),
            (RUNBOOK, "### Step 4: console of sifter", "### Step 4: console of stones"),
            (RUNBOOK, f"- file: `{STAGING}`, steps 3 to 10", f"- file: `{STAGING}`, steps 3 to 9"),
            (RUNBOOK, f"- file: `{STAGING}`, steps 3 to 10", f"- file: `{STAGING}`"),
            (RUNBOOK, f"- file: `{STAGING}`", "- file: `staging/sifter/20-member-id.txt`"),
            (RUNBOOK, "- do: give power to sifter", "- do: take power from sifter"),
            (RUNBOOK, "stones port r2 to sifter port r1", "stones port r2 to sifter port r2"),
            (RUNBOOK, "8 minutes at most", "9 minutes at most"),
            (RUNBOOK, "- else: do not go on: leave cables", "- else: do not go on: move cables"),
            (RUNBOOK, "wheel stones, seat 1, turn 1, next to lead", "wheel stones, seat 1, turn 1, follows"),
            (RUNBOOK, "hopper, sifter, stones led by hopper", "hopper, sifter led by hopper; stones led by stones"),
            (RUNBOOK, "- why: ", "- wherefore: "),
        ]
        for change in cases:
            with self.subTest(change):
                self.assertNotEqual(self.found(change), [])

    def test_a_way_back_that_says_another_thing_is_found(self):
        sheet = "return/from-23-to-30/10-uplink-pairs.txt"
        both = [(sheet, "(gate g1@1) dam", "(gate g1@0) dam"), (RUNBOOK, "`(gate g1@1) dam`", "`(gate g1@0) dam`")]
        cases = [
            both,
            both[:1],
            [(sheet, "(twin weir) unward\n", "")],
            [(sheet, "(twin weir) unward\n(twin weir) unbraid\n", "(twin weir) unbraid\n(twin weir) unward\n")],
            [(sheet, "of this way back, console", "of the runbook, console")],
            [(sheet, "~ look: here, seat 0", "~ look: here, seat 1")],
            [(RUNBOOK, "### From any of steps 23 to 30", "### From any of steps 23 to 29")],
            [(RUNBOOK, "### From any of steps 23 to 30", "### From step 23")],
            [(RUNBOOK, "### From any of steps 23 to 30", "### From any of steps 23 to 31")],
            [(RUNBOOK, "#### Back 12.1:", "#### Back 13.1:")],
            [(RUNBOOK, "#### Back 12.2:", "#### Back 12.3:")],
            [(RUNBOOK, "#### Back 12.1: by hands", "#### Back 12.1: console of sifter")],
            [(RUNBOOK, "- do: take power from sifter", "- do: take power from stones")],
            [(RUNBOOK, "- else: the stack is not as it was", "- else: the stack is as it was")],
            [(RUNBOOK, "\n## The stack as it was", "Then take the way back from step 12.\n\n## The stack as it was")],
        ]
        for changes in cases:
            with self.subTest(changes):
                self.assertNotEqual(self.found(*changes), [])

    def test_one_tampered_bundle_among_many_is_found(self):
        with tempfile.TemporaryDirectory() as above:
            folders = [os.path.join(above, name) for name in ("first", "second")]
            for folder in folders:
                shutil.copytree(BUNDLE, folder)
            told = io.StringIO()
            with contextlib.redirect_stderr(told), contextlib.redirect_stdout(told):
                self.assertEqual(each(PENTROUGH, folders, JUDGE), 0)
                with open(os.path.join(folders[1], RACE), "a", encoding="utf-8") as file:
                    file.write("(wheel 1) respin\n")
                self.assertEqual(each(PENTROUGH, folders, JUDGE), 1)
            self.assertIn("2 of 2 bundles read back", told.getvalue())
            self.assertIn("1 of 2 bundles read back", told.getvalue())


class FromEveryStep(unittest.TestCase):
    """A way back serves several steps, and its words must fit after each of them."""

    def way_back(self, line):
        stack = Stack(load(os.path.join(BUNDLE, "plan.json")))
        then = {1: stack, 2: copy.deepcopy(stack)}
        then[2].apply({"kind": "assign-id", "unit": "stones", "id": 6})
        place = "console of the race grain-house"
        sheet = {"place": place, "first": 1, "last": 2, "checks": ["here, seat 0"], "typed": [line], "next": None}
        opens = {"path": "a", "first": 1, "last": 2}
        look = {**new_section(1), "where": place, "opens": opens, "look": ["here, seat 0"]}
        sections = [look, {**new_section(2), "where": place, "do": [line]}]
        way = {"first": 1, "last": 2, "then": None, "sections": sections, "files": {"a": sheet}}
        return PENTROUGH.way_back(way, then)

    def test_a_number_that_does_not_change_fits(self):
        self.assertEqual(self.way_back("(wheel 0) engrave")["steps"][1]["do"], {"kind": "save", "unit": "hopper"})

    def test_a_number_that_a_unit_has_only_before_or_only_after_does_not(self):
        for line in ("(wheel 1: seat 1) dub", "(wheel 6: seat 1) dub", "(gate r1@1) dam", "(gate r1@6) dam"):
            with self.subTest(line), self.assertRaises(Unreadable):
                self.way_back(line)


class Sentences(unittest.TestCase):
    """Every sentence of the platform, those too that the bundle has no use for."""

    def setUp(self):
        self.plan = load(os.path.join(BUNDLE, "plan.json"))
        self.stack = Stack(self.plan)
        self.race = {"stack": "grain-house"}

    def test_operations(self):
        hands, stones = {"hands": "site"}, {"console": "stones"}
        cases = [
            ("(wheel 1: seat 7) dub", self.race, {"kind": "assign-id", "unit": "stones", "id": 7}),
            ("(wheel 1: turn 9) weigh", self.race, {"kind": "set-priority", "unit": "stones", "priority": 9}),
            ("(self) scour", stones, {"kind": "wipe", "unit": "stones"}),
            ("(wheel 1) respin", self.race, {"kind": "restart", "unit": "stones"}),
            ("(gate r1@1) dam", self.race, {"kind": "disable-port", "unit": "stones", "port": "r1"}),
            ("(gate r1@1) unmoor", self.race, {"kind": "release-port", "unit": "stones", "port": "r1"}),
            ("(twin a: g1@0 g1@1 g2@1) braid", self.race,
             {"kind": "form-uplink", "uplink": "a", "legs": ["hopper:g1", "stones:g1", "stones:g2"]}),
            ("(twin a) unbraid", self.race, {"kind": "drop-uplink", "uplink": "a"}),
            ("(twin a: g2@1) splice", self.race, {"kind": "add-leg", "uplink": "a", "leg": "stones:g2"}),
            ("(twin a: g2@1) unsplice", self.race, {"kind": "drop-leg", "uplink": "a", "leg": "stones:g2"}),
            ("(twin a) ward", self.race, {"kind": "guard-split", "uplink": "a"}),
            ("(twin a) unward", self.race, {"kind": "unguard-split", "uplink": "a"}),
            ("take power from stones, rack 7, serial X on its label", hands, {"kind": "power-off", "unit": "stones"}),
            ("lay a cable from stones port g1 to uplink pair a at weir port 4, label L", hands,
             {"kind": "connect-cable", "ends": ["stones:g1", "far:a"]}),
            ("lay a cable from stones port g1 to uplink pair a", hands,
             {"kind": "connect-cable", "ends": ["stones:g1", "far:a"]}),
            ("pull the cable from stones port r1 to hopper port r2, a spare cable that stays for a while only", hands,
             {"kind": "disconnect-cable", "ends": ["stones:r1", "hopper:r2"]}),
            ("stones has started, 8 minutes at most", stones,
             {"kind": "await", "unit": "stones", "until": "up", "limit": 8}),
            ("stones is in the race, 8.5 minutes at most", self.race,
             {"kind": "await", "unit": "stones", "until": "joined", "limit": 8.5}),
        ]
        for line, place, meaning in cases:
            with self.subTest(line):
                self.assertEqual(read_operation(line, place, self.stack), meaning)

    def test_facts(self):
        link = {"fact": "link", "ends": ["hopper:r2", "stones:r1"]}
        cases = [
            ("here, race of seats 0 1", {"fact": "here", "members": [0, 1]}),
            ("wheel stones, has no power", {"fact": "unit", "unit": "stones", "powered": False}),
            ("wheel stones, has power, seat 1, seat 7 engraved, held, not fit to lead, MAC address 00-00-5E-00-53-01, "
             "model m",
             {"fact": "unit", "unit": "stones", "powered": True, "id": 1, "saved_id": 7, "waiting": True,
              "ready": False, "mac": "00-00-5E-00-53-01", "model": "m"}),
            ("wheel stones, not held, fit to lead",
             {"fact": "unit", "unit": "stones", "waiting": False, "ready": True}),
            ("gate r1@1 of stones, dammed, moored yon, does not count, no light",
             {"fact": "port", "unit": "stones", "port": "r1", "enabled": False, "side": "east", "active": False,
              "lit": False}),
            ("gate r1@1 of stones, light", {"fact": "port", "unit": "stones", "port": "r1", "lit": True}),
            ("beyond r1@1 of stones: nobody", {"fact": "neighbour", "end": "stones:r1", "far": None}),
            ("beyond r1@1 of stones: r2@0 of hopper", {"fact": "neighbour", "end": "stones:r1", "far": "hopper:r2"}),
            ("between r2@0 of hopper and r1@1 of stones: idle", {**link, "is": "unmatched"}),
            ("between r2@0 of hopper and r1@1 of stones: leaking", {**link, "is": "stray"}),
            ("between r2@0 of hopper and r1@1 of stones: no link", {**link, "is": "none"}),
            ("between g1@1 of stones and far end of twin a: leaking",
             {"fact": "link", "ends": ["stones:g1", "far:a"], "is": "stray"}),
            ("the cable from stones port g1 to uplink pair a at weir port 4 is out",
             {"fact": "cable", "ends": ["stones:g1", "far:a"], "plugged": False}),
            ("the cable from stones port r1 to hopper port r2 is in",
             {"fact": "cable", "ends": ["stones:r1", "hopper:r2"], "plugged": True}),
            ("plug in stones port r1: none", {"fact": "plug", "end": "stones:r1", "serial": None}),
            ("plug in stones port r1: serial DA-1", {"fact": "plug", "end": "stones:r1", "serial": "DA-1"}),
            ("twin a, legs none", {"fact": "uplink", "uplink": "a", "legs": []}),
            ("twin a, carrying g1@0 of hopper + g1@1 of stones",
             {"fact": "uplink", "uplink": "a", "carrying": ["hopper:g1", "stones:g1"]}),
            ("ward: none", {"fact": "guard", "uplink": None}),
            ("engraving of stones: not as it runs", {"fact": "saved", "unit": "stones", "saved": False}),
            ("ask: is it dry, and is the sluice shut?", {"fact": "ask", "text": "is it dry, and is the sluice shut?"}),
        ]
        for line, meaning in cases:
            with self.subTest(line):
                self.assertEqual(read_fact(line, self.stack), meaning)

    def test_what_has_no_meaning_is_refused(self):
        for line in ("(self) engrave", "(wheel 5) engrave", "(gate r1@5) dam", "(gate 1@r1) dam",
                     "(twin a: g1@9) splice", "(gate r1@1) dam now", "(self) quicken", "give power to nobody"):
            with self.subTest(line), self.assertRaises(Unreadable):
                read_operation(line, self.race, self.stack)
        for line in ("here, seat x", "wheel nobody, seat 1", "wheel stones, seat 1, seat 2",
                     "gate r1@0 of stones, open", "gate r1@1 of stones, moored to yon", "wheel stones, sleeps",
                     "between r2@0 of hopper and r1@1 of stones: so so", "ward: a"):
            with self.subTest(line), self.assertRaises(Unreadable):
                read_fact(line, self.stack)
        with self.assertRaises(Unreadable):
            read_after("step eleven of the runbook, by hands", "the runbook")

    def test_islands(self):
        self.assertEqual(read_islands("a, b led by a; c led by nobody"), [(["a", "b"], "a"), (["c"], None)])


if __name__ == "__main__":
    unittest.main()
