"""The random stacks are the same every time, and are of every kind."""

import collections
import pathlib
import sys
import tempfile
import unittest

import yaml

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import effects
import stacks


def written(count, seed):
    with tempfile.TemporaryDirectory() as folder:
        stacks.write(count, seed, folder)
        return [path.read_text(encoding="utf-8") for path in sorted(pathlib.Path(folder).glob("*/intent.yaml"))]


class Stacks(unittest.TestCase):
    def test_a_seed_is_the_same_stacks_for_ever(self):
        texts = written(500, 8)
        self.assertEqual((500, 500), (len(texts), len(set(texts))))
        self.assertEqual(texts[:20], written(20, 8))
        self.assertNotEqual(texts[:20], written(20, 9))

    def test_every_habit_has_its_stacks(self):
        with tempfile.TemporaryDirectory() as folder:
            stacks.write(20, 8, folder, habits=True)
            texts = [path.read_text(encoding="utf-8") for path in sorted(pathlib.Path(folder).glob("*/ours/dialect.yaml"))]
            intent = pathlib.Path(folder, "007", "intent.yaml").read_text(encoding="utf-8")
        self.assertEqual("./ours", yaml.safe_load(intent)["dialect"])
        platforms = [yaml.safe_load(text)["platform"] for text in texts]
        self.assertEqual([2] * len(stacks.HABITS), [platforms.count(yaml.safe_load(one)) for one in stacks.HABITS])

    def test_they_are_of_every_kind(self):
        seen = collections.Counter()
        for text in written(500, 8):
            intent = yaml.safe_load(text)
            members = intent["members"]
            names = [member["name"] for member in members]
            pairs = [pair["name"] for pair in intent["uplink_pairs"]]
            widths = {len(member["sides"]["east"]) for member in members} - {0}
            seen.update([(intent["topology"], len(members)), ("model", members[0].get("model")), ("pairs", len(pairs)),
                         ("guard", pairs.index(intent["split_guard"]) if "split_guard" in intent else None)])
            seen.update(("width", width) for width in widths)
            seen[("widths differ", len(widths) > 1)] += 1
            seen[("in natural order", names == sorted(names, key=effects.natural))] += 1
            seen[("by number", names == [one["name"] for one in sorted(members, key=lambda member: member["id"])])] += 1
            seen[("priority alone decides", all("mac" not in member for member in members))] += 1
            for pair in intent["uplink_pairs"]:
                self.assertGreaterEqual(len({leg["member"] for leg in pair["legs"]}), 2)
                seen[("legs", len(pair["legs"]))] += 1
        wanted = [(topology, count) for topology in ("chain", "ring") for count in range(2, 9)]
        wanted += [("model", model) for model in ("agg-48", "edge-24", None)] + [("pairs", 1), ("pairs", 2)]
        wanted += [("guard", guard) for guard in (None, 0, 1)] + [("width", width) for width in (1, 2, 3, 4)]
        wanted += [(what, answer) for what in ("widths differ", "in natural order", "by number", "priority alone decides")
                   for answer in (False, True)] + [("legs", 2), ("legs", 3)]
        self.assertEqual([], [kind for kind in wanted if seen[kind] < 10], seen)


if __name__ == "__main__":
    unittest.main()
