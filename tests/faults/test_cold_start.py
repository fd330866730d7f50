"""Orders worked out by hand."""

import pathlib
import sys
import unittest

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import cold_start
import effects
import made
from shape import read_plan

A, B, C = "a-1", "a-2", "a-3"


def stack(*shape, **more):
    return effects.finished(read_plan(made.plan(*shape, **more)))


class ColdStart(unittest.TestCase):
    def told(self, held):
        return {order: (leaders, restarts) for order, leaders, restarts in cold_start.orders(held)}

    def test_a_chain_of_three(self):
        """Who is up first leads whom it meets; two that lead meet when the middle comes up, and the better one stays."""
        nobody = ()
        self.assertEqual({
            (A, B, C): ((A,), nobody), (B, A, C): ((B,), nobody), (B, C, A): ((B,), nobody), (C, B, A): ((C,), nobody),
            (A, C, B): ((A,), (C,)), (C, A, B): ((A,), (C,))}, self.told(stack(3)))

    def test_a_ring_of_three(self):
        """Each two are neighbours: the first one leads."""
        self.assertTrue(all(leaders == order[:1] and not restarts
                            for order, (leaders, restarts) in self.told(stack(3, True)).items()))

    def test_habits(self):
        best = cold_start.cold_starts(stack(3, True, traits={"joining": {"preempts": True}}))
        self.assertEqual({(A,): {"orders": 6, "first": [A, B, C], "most_restarts": 0}}, best)
        waits = self.told(stack(3, traits={"joining": {"loser": "waits"}}))
        # the one that waits takes part in nothing until somebody restarts it
        self.assertEqual(((A, None), ()), waits[A, C, B])

    def test_one_that_restarts_twice(self):
        """Of five in a row every second one leads alone, and the last one of them loses twice."""
        held = stack(5)
        self.assertEqual(4, cold_start.restarts_in(held, ["a-5", "a-3", "a-1", "a-4", "a-2"]))
        self.assertEqual(max(len(restarts) for _, _, restarts in cold_start.orders(held)),
                         max(one["most_restarts"] for one in cold_start.cold_starts(held).values()))

    def test_what_a_plan_says(self):
        right = {"every_order": True, "leaders": [A, B, C], "restarts": 1, "at_most": 1, "order": [A, C, B]}
        self.assertEqual([], cold_start.differences(stack(3), right))
        vague = {"every_order": False, "leaders": [A], "restarts": 0, "at_most": 2, "order": [A, B, C]}
        self.assertEqual([], cold_start.differences(stack(3), vague))
        for wrong in ({"leaders": [A, B]}, {"leaders": [A, A, B, C]}, {"leaders": [A, B, C, "a-4"]}, {"restarts": 2},
                      {"restarts": 0}, {"at_most": 0}, {"at_most": 2}, {"order": [A, B, C]}, {"order": [A, B]},
                      {"restarts": 0, "at_most": 0, "order": [A, B, C]}):
            self.assertTrue(cold_start.differences(stack(3), {**right, **wrong}), wrong)
        self.assertTrue(cold_start.differences(stack(3), {**vague, "at_most": 0}))
        # of six members not every order is tried, and the one that is told is
        names = sorted(stack(6).members)
        told = {"every_order": False, "leaders": names, "restarts": 0, "at_most": 9, "order": names}
        self.assertEqual([], cold_start.differences(stack(6), told))
        self.assertTrue(cold_start.differences(stack(6), {**told, "restarts": 1}))

    def test_too_many(self):
        with self.assertRaises(ValueError):
            cold_start.cold_starts(stack(8))


if __name__ == "__main__":
    unittest.main()
