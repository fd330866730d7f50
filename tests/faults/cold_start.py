"""A finished stack that was off as a whole and comes back one unit after the other: who leads, in every order.

    python3 tests/faults/cold_start.py PLAN.json [PLAN.json ...]

prints for each leader how many orders end with it, the first of them, and how often units restart by themselves on the
way, at most. All orders are tried, each with the second judge's settling after every unit: for stacks of few members. A
unit that restarts in two merges counts twice. Where losers wait for a restart by hand, an order may end with an island
without a leader.
"""

import json
import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

import effects
from settling import Outcome, boot
from shape import read_plan

MOST_MEMBERS = 7
# one that a plan's claim is held against; more would take long over many stacks
FEW_MEMBERS = 5


def all_off(stack):
    dark = stack.state.clone()
    for unit in dark.units.values():
        unit.go_down()
    dark.shared_running, dark.led = dark.shared_saved, {}
    return dark


def bring_back(stack, state, name):
    """The State once this unit is back too, and who restarted for it."""
    after, outcome = state.clone(), Outcome()
    after.now += 1
    boot(stack.world, after, name, outcome)
    stack.rest(after, outcome)
    return after, tuple(outcome.restarts)


def orders(stack):
    """(order, its leaders at the end, who restarted by himself) for every order in which the members come back."""
    yield from _onward(stack, all_off(stack), (), ())


def _onward(stack, state, order, restarts):
    missing = sorted(stack.members - set(order), key=effects.natural)
    if not missing:
        yield order, tuple(primary for _, primary in stack.islands_of(state)), restarts
    for name in missing:
        after, more = bring_back(stack, state, name)
        yield from _onward(stack, after, (*order, name), restarts + more)


def restarts_in(stack, order):
    """How often units restart by themselves in this order."""
    state, count = all_off(stack), 0
    for name in order:
        state, restarts = bring_back(stack, state, name)
        count += len(restarts)
    return count


def differences(stack, told):
    """What a plan says of it otherwise. Of many members not every order is tried here, and its bounds must hold."""
    found = []
    if sorted(told["order"]) != sorted(stack.members):
        return ["cold_start.order does not hold each member once"]
    count = restarts_in(stack, told["order"])
    if count != told["restarts"]:
        found.append(f"cold_start: {told['restarts']} restarts are told, and that order makes {count}")
    if told["at_most"] < told["restarts"] or told["every_order"] and told["at_most"] > told["restarts"]:
        found.append(f"cold_start: at most {told['at_most']}, and {told['restarts']} were found")
    if len(stack.members) > FEW_MEMBERS:
        return found
    tried = cold_starts(stack)
    leaders = {name for names in tried for name in names if name is not None}
    most = max((held["most_restarts"] for held in tried.values()), default=0)
    if len(told["leaders"]) != len(set(told["leaders"])) or not leaders.issuperset(told["leaders"]) \
            or told["every_order"] and leaders != set(told["leaders"]):
        found.append(f"cold_start: {told['leaders']} can lead, and not {sorted(leaders)}")
    if told["at_most"] < most or told["every_order"] and most != told["restarts"]:
        found.append(f"cold_start: {told['restarts']} restarts, and at most {most} are found")
    return found


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
