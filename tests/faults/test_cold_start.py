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
        nobody = frozenset()
        self.assertEqual({
            (A, B, C): ((A,), nobody), (B, A, C): ((B,), nobody), (B, C, A): ((B,), nobody), (C, B, A): ((C,), nobody),
            (A, C, B): ((A,), {C}), (C, A, B): ((A,), {C})}, self.told(stack(3)))

    def test_a_ring_of_three(self):
        """Each two are neighbours: the first one leads."""
        self.assertTrue(all(leaders == order[:1] and not restarts
                            for order, (leaders, restarts) in self.told(stack(3, True)).items()))

    def test_habits(self):
        best = cold_start.cold_starts(stack(3, True, traits={"joining": {"preempts": True}}))
        self.assertEqual({(A,): {"orders": 6, "first": [A, B, C], "most_restarts": 0}}, best)
        waits = self.told(stack(3, traits={"joining": {"loser": "waits"}}))
        # the one that waits takes part in nothing until somebody restarts it
        self.assertEqual(((A, None), frozenset()), waits[A, C, B])

    def test_too_many(self):
        with self.assertRaises(ValueError):
            cold_start.cold_starts(stack(8))


if __name__ == "__main__":
    unittest.main()
