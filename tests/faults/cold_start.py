"""A finished stack that was off as a whole and comes back one unit after the other: who leads, in every order.

    python3 tests/faults/cold_start.py PLAN.json [PLAN.json ...]

prints for each leader how many orders end with it, the first of them, and the most units that restart by themselves on
the way. All orders are tried, each with the second judge's settling after every unit: for stacks of few members. How a
plan says this is not settled here.
"""

import json
import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

import effects
from settling import Outcome, boot
from shape import read_plan

MOST_MEMBERS = 7


def orders(stack):
    """(order, its leaders at the end, who restarted by himself) for every order in which the members come back."""
    dark = stack.state.clone()
    for unit in dark.units.values():
        unit.go_down()
    dark.shared_running, dark.led = dark.shared_saved, {}
    yield from _onward(stack, dark, (), frozenset())


def _onward(stack, state, order, restarts):
    missing = sorted(stack.members - set(order), key=effects.natural)
    if not missing:
        yield order, tuple(primary for _, primary in stack.islands_of(state)), restarts
    for name in missing:
        after, outcome = state.clone(), Outcome()
        after.now += 1
        boot(stack.world, after, name, outcome)
        stack.rest(after, outcome)
        yield from _onward(stack, after, (*order, name), restarts | frozenset(outcome.restarts))


def cold_starts(stack):
    """Leaders -> {orders, first, most_restarts}."""
    if len(stack.members) > MOST_MEMBERS:
        raise ValueError(f"{len(stack.members)} members come back in too many orders")
    found = {}
    for order, leaders, restarts in orders(stack):
        held = found.setdefault(leaders, {"orders": 0, "first": list(order), "most_restarts": 0})
        held["orders"] += 1
        held["most_restarts"] = max(held["most_restarts"], len(restarts))
    return found


def main(paths):
    for path in paths:
        with open(path, encoding="utf-8") as file:
            found = cold_starts(effects.finished(read_plan(json.load(file))))
        for leaders, held in found.items():
            print(f"{path}: {' and '.join(map(str, leaders))} {json.dumps(held)}")
    return 0 if paths else 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
