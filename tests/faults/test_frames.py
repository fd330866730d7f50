"""The lab: a wrong expectation is found, the spare link closes no loop, and nothing is left over."""

import copy
import itertools
import json
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time
import unittest
from unittest import mock

import networkx

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import effects
import frames
import made
from shape import read_plan

PROGRAM = [sys.executable, "-B", str(HERE / "frames.py")]


def lab_and_findings(*shape, **more):
    plan = read_plan(made.plan(*shape, **more))
    return frames.lab_of(plan), effects.finished(plan).findings()


def own_spaces(pid):
    folder = pathlib.Path("/run/netns")
    return sorted(path.name for path in folder.glob(f"stack{pid}-*")) if folder.exists() else []


class Frames(unittest.TestCase):
    def entry(self, findings, *faults):
        return next(entry for entry in findings if entry["faults"] == list(faults))

    def test_a_right_list_and_wrong_ones(self):
        lab, findings = lab_and_findings(3)
        first, second = lab.links
        wrong = copy.deepcopy(findings)
        self.entry(wrong, first)["islands"] = [["a-1", "a-2", "a-3"]]
        self.entry(wrong, second)["islands"] = [["a-1"], ["a-2"], ["a-3"]]
        wrong.remove(self.entry(wrong, first, second))
        with lab, mock.patch.object(frames, "EXPECTED", (0.4, 1)):
            self.assertEqual([], frames.differences(lab, findings))
            found = "\n".join(frames.differences(lab, wrong))
        self.assertEqual([], own_spaces(os.getpid()))
        for text in (f"{first}: a-1 and a-2 do not reach each other", f"{first}: a-1 and a-3 do not reach each other",
                     f"{second}: a-1 and a-2 reach each other", f"{first} and {second}: not in the findings"):
            self.assertIn(text, found)
        self.assertEqual(4, len(found.splitlines()), found)

    def test_a_cable_that_was_laid_wrong_is_noticed(self):
        lab, findings = lab_and_findings(3)
        lab.links[list(lab.links)[1]] = ["a-1", "a-2"]
        with lab, mock.patch.object(frames, "EXPECTED", (0.4,)):
            self.assertIn("nothing broken: a-1 and a-3 do not reach each other",
                          "\n".join(frames.differences(lab, [])))

    def test_an_entry_that_the_lab_cannot_have(self):
        lab, findings = lab_and_findings(2)
        with mock.patch.object(lab, "cable_up"), mock.patch.object(lab, "reached", side_effect=lambda wanted: wanted):
            self.assertEqual([], frames.differences(lab, findings))
            twice = [{**findings[0], "faults": findings[0]["faults"]}, findings[0]]
            with self.assertRaisesRegex(frames.LabError, "stands twice"):
                frames.differences(lab, twice)

    def test_the_spare_closes_no_loop_and_leaves_nobody_out(self):
        for count, ring in itertools.product((3, 4, 6), (False, True)):
            lab, _ = lab_and_findings(count, ring)
            self.assertEqual(ring, lab.spare is not None)
            for size in range(len(lab.links) + 1):
                for broken in itertools.combinations(lab.links, size):
                    with mock.patch.object(lab, "recable") as recable:
                        lab.cable_up(frozenset(broken))
                    up, = recable.call_args.args
                    self.assertFalse(up & set(broken))
                    graphs = []
                    for links in (up, set(lab.links) - set(broken)):
                        graphs.append(networkx.Graph([lab.links[link] for link in links]))
                        graphs[-1].add_nodes_from(lab.members)
                    self.assertEqual(*(set(map(frozenset, networkx.connected_components(graph))) for graph in graphs))
                    self.assertTrue(networkx.is_forest(graphs[0]))
                    self.assertEqual(len(up), graphs[0].number_of_edges())

    def test_labs_that_are_refused(self):
        for shape, more, text in (((4, True), {"cables": 2}, "lays one cable a link"),
                                  ((2, True), {}, "one link between two members")):
            with self.assertRaisesRegex(frames.LabError, text):
                lab_and_findings(*shape, **more)
        links = {"x": "ab", "y": "bc", "z": "ca", "w": "cd"}
        with self.assertRaisesRegex(frames.LabError, "in a ring of all members only"):
            frames.Lab("abcd", links)
        with self.assertRaisesRegex(frames.LabError, "each close a loop"):
            frames.Lab("abcd", {**links, "v": "da"})


class Program(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        value = made.plan(4, True)
        self.files = [str(self.folder / name) for name in ("plan.json", "faults.json")]
        pathlib.Path(self.files[0]).write_text(json.dumps(value), encoding="utf-8")
        findings = effects.finished(read_plan(value)).findings()
        pathlib.Path(self.files[1]).write_text(json.dumps(findings), encoding="utf-8")

    def test_nothing_is_left_after_an_interrupt(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            process = subprocess.Popen(PROGRAM + self.files, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
            deadline = time.monotonic() + 20
            while len(own_spaces(process.pid)) < 3 and process.poll() is None and time.monotonic() < deadline:
                time.sleep(0.01)
            seen = own_spaces(process.pid)
            process.send_signal(number)
            told, _ = process.communicate(timeout=30)
            self.assertGreaterEqual(len(seen), 3, told)
            self.assertEqual(128 + number, process.returncode, told)
            self.assertEqual([], own_spaces(process.pid))

    def failing(self, path):
        return subprocess.run(PROGRAM + self.files, capture_output=True, text=True, env={"PATH": str(path)})

    def test_a_missing_tool_and_a_missing_permission_are_failures(self):
        ended = self.failing(self.folder)
        self.assertEqual((1, "the lab has failed: `ip` is missing: install iproute2\n"), (ended.returncode, ended.stderr))
        for name in frames.PACKAGES:
            tool = self.folder / name
            tool.write_text("#!/bin/sh\necho 'Operation not permitted' >&2\nexit 1\n", encoding="utf-8")
            tool.chmod(0o755)
        ended = self.failing(self.folder)
        self.assertEqual(1, ended.returncode)
        self.assertIn("Operation not permitted", ended.stderr)
        self.assertIn("that takes root", ended.stderr)


if __name__ == "__main__":
    unittest.main()
