"""Closed forms, published figures, and enumeration with and without parallel cables made one."""

import io
import json
import pathlib
import subprocess
import sys
import tempfile
import unittest
from contextlib import redirect_stdout
from fractions import Fraction

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import availability
from availability import Case, any_of, cycle_together, differences, enumerate_states, path_together, read_case

P = Fraction(99, 100)


def stack(count, ring, link=P, unit=1, cables=1, uplinks=(0,)):
    """A chain or ring of units a, b, …"""
    names = "abcdefgh"[:count]
    ends = [(names[at], names[(at + 1) % count]) for at in range(count if ring else count - 1)]
    links = [(*pair, link) for pair in ends for _ in range(cables)]
    return Case(links, dict.fromkeys(names, unit), [names[at] for at in uplinks])


class Figures(unittest.TestCase):
    def test_all_terminal_reliability_of_paths_and_cycles(self):
        # Colbourn, The Combinatorics of Network Reliability, 1987, from memory; recomputed by enumeration
        self.assertEqual(Fraction("0.970299"), path_together(4, P))
        self.assertEqual(Fraction("0.99940797"), cycle_together(4, P))
        self.assertEqual("0.997309922260", f"{float(cycle_together(8, P)):.12f}")
        for count in range(2, 9):
            path = enumerate_states(stack(count, False))
            self.assertEqual(path_together(count, P), path["together"])
            self.assertEqual(path_together(count, P), path["together_if_units_last"])
            self.assertEqual(cycle_together(count, P), enumerate_states(stack(count, True))["together"])

    def test_a_published_mean_time(self):
        # a published project-management example: 100 h up, 5 h down
        share = availability.availability(100, 5)
        self.assertEqual(Fraction(20, 21), share)
        self.assertEqual("0.952", f"{float(share):.3f}")
        # the other reading, in which 100 h lie between two failures, repair included, would be another number
        self.assertNotEqual("0.952", f"{float(Fraction(100 - 5, 100)):.3f}")

    def test_every_member_must_be_up(self):
        unit = Fraction(999, 1000)
        for count in (2, 5, 8):
            for ring in (False, True):
                found = enumerate_states(stack(count, ring, unit=unit))
                self.assertEqual(unit ** count * found["together_if_units_last"], found["together"])

    def test_parallel_cables(self):
        # any of several suffices: Barlow and Proschan, 1975, from memory
        for cables in range(1, 5):
            wide = 1 - (1 - P) ** cables
            self.assertEqual(wide, any_of([P] * cables))
            for count in range(2, 9):
                self.assertEqual(path_together(count, wide), enumerate_states(stack(count, False, cables=cables))["together"])
                if count > 2:
                    ring = enumerate_states(stack(count, True, cables=cables))
                    self.assertEqual(cycle_together(count, wide), ring["together"])

    def test_reaching_an_uplink_along_a_chain(self):
        """A series system: every link and unit on the way must work (common practice)."""
        unit = Fraction(9, 10)
        for count in (2, 3, 8):
            reaches = enumerate_states(stack(count, False, unit=unit))["reaches"]
            for at, chance in enumerate(reaches.values()):
                self.assertEqual(P ** at * unit ** (at + 1), chance)

    def test_reaching_an_uplink_along_two_ways(self):
        """Two ways without a common part but the ends: of the ring's two arcs one must work."""
        unit = Fraction(9, 10)
        for count in (3, 4, 8):
            reaches = list(enumerate_states(stack(count, True, unit=unit))["reaches"].values())
            for at in range(1, count):
                arcs = [P ** length * unit ** (length - 1) for length in (at, count - at)]
                self.assertEqual(unit * unit * any_of(arcs), reaches[at])
        # two legs on the two ends of a chain of three: the middle reaches either
        reaches = enumerate_states(stack(3, False, unit=unit, uplinks=(0, 2)))["reaches"]
        self.assertEqual(unit * any_of([P * unit] * 2), reaches["b"])


class Enumeration(unittest.TestCase):
    def test_making_parallel_cables_one_changes_nothing(self):
        mixed = Case([("a", "b", P), ("a", "b", Fraction(1, 3)), ("b", "c", Fraction(2, 3)), ("c", "a", P),
                      ("c", "a", Fraction(1, 7)), ("c", "a", 1)],
                     {"a": Fraction(4, 5), "b": Fraction(1, 2), "c": Fraction(9, 10)}, ["b"])
        for case in (mixed, stack(2, True, unit=P, cables=2), stack(3, True, unit=P, cables=2, uplinks=(0, 1)),
                     stack(4, False, unit=P, cables=3, uplinks=(3,))):
            self.assertEqual(enumerate_states(case, reduced=False), enumerate_states(case))

    def test_what_never_or_always_works(self):
        found = enumerate_states(Case([("a", "b", 0)], {"a": 1, "b": 1}, ["a"]))
        self.assertEqual((0, {"a": 1, "b": 0}), (found["together"], found["reaches"]))
        self.assertEqual({"a": 0, "b": 0}, enumerate_states(Case([("a", "b", 1)], {"a": 0, "b": 1}, ["a"]))["reaches"])
        alone = enumerate_states(Case([], {"a": P}, ["a"]))
        self.assertEqual({"together": P, "together_if_units_last": 1, "reaches": {"a": P}}, alone)
        self.assertEqual({"a": 0}, enumerate_states(Case([], {"a": P}, []))["reaches"])

    def test_a_wrong_case_is_refused(self):
        for links, units, uplinks in (([("a", "b", P)], {"a": 1}, []), ([("a", "a", P)], {"a": 1}, []),
                                      ([], {"a": 1}, ["b"]), ([], {"a": Fraction(3, 2)}, [])):
            with self.assertRaises(ValueError):
                Case(links, units, uplinks)
        with self.assertRaises(ValueError):
            read_case({"links": [], "units": {"a": 0.9}, "uplinks": []})


class Told(unittest.TestCase):
    """What is told is held against the enumeration; a wrong number is found."""

    CASE = {"links": [{"ends": ["a", "b"], "availability": "99/100"}], "units": {"a": "1", "b": "0.5"}, "uplinks": ["a"]}

    def test_a_right_and_a_wrong_probability(self):
        result = enumerate_states(read_case(self.CASE))
        right = {"together": "99/200", "together_if_units_last": 0.99, "reaches": {"a": 1, "b": "0.495"}}
        self.assertEqual([], differences(right, result))
        for wrong in ({"together": "0.4950001"}, {"together": 0.495 + 1e-11}, {"reaches": {"b": 0.5}},
                      {"reaches": {"c": 1}}, {"apart": 0.1}, {}):
            self.assertTrue(differences(wrong, result), wrong)

    def test_the_command_line(self):
        with tempfile.TemporaryDirectory() as folder:
            case, told = (pathlib.Path(folder, name) for name in ("case.json", "told.json"))
            case.write_text(json.dumps(self.CASE), encoding="utf-8")
            with redirect_stdout(io.StringIO()) as shown:
                self.assertEqual(0, availability.main([str(case)]))
            self.assertEqual("99/200", json.loads(shown.getvalue())["together"])
            told.write_text(shown.getvalue(), encoding="utf-8")
            program = [sys.executable, "-B", str(HERE / "availability.py"), str(case), str(told)]
            self.assertEqual(0, subprocess.run(program, capture_output=True).returncode)
            told.write_text('{"together": 0.5}', encoding="utf-8")
            ended = subprocess.run(program, capture_output=True, text=True)
            self.assertEqual(1, ended.returncode)
            self.assertIn("together is 0.5, and not 99/200", ended.stdout)


if __name__ == "__main__":
    unittest.main()
