"""What a stack looks like after each step of a plan, told by the second judge and by nothing of ours.

    states.py PLAN.json [PLAN.json ...]

prints one JSON object: for each plan, by the path as given, a list with one situation for the baseline and one for each
step. A situation names the units, cables and legs as the plan does; its values are those that a page keeps with its
picture (`power`, `id`, `link` …). Values that the plan leaves open are left out. The replay itself is that of
`tests/judge/`.
"""

import json
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "judge"))

import facts
from replay import Replay
from shape import read_plan
from state import end_parts


def yes(value):
    return "yes" if value else "no"


def role(replay, name):
    """The word for what a unit is just now; None where a seat is open between two."""
    view, unit = replay.view, replay.state.units[name]
    if not unit.powered:
        return "switched off"
    if unit.waiting:
        return "waiting"
    if view.in_stack(name):
        found = {"primary"} if name == view.primary else facts.roles_of(replay.world, view, name)
        return found.pop() if len(found) == 1 else None
    if len(view.home[name]) == 1:
        return "on its own"
    return "apart, leads" if unit.primary else "apart"


def unit(replay, name):
    held = replay.state.units[name]
    settings = held.running if held.powered else held.saved
    told = {
        "power": "on" if held.powered else "off",
        "id": str(settings.id),
        "priority": str(settings.priority),
        "leads": yes(held.powered and held.primary),
        "waiting": yes(held.powered and held.waiting),
        "together": sorted(replay.view.home[name]) if held.powered else [],
    }
    word = role(replay, name)
    if word is not None:
        told["role"] = word
    return told


def port(replay, end):
    """In use, side and in force, as the unit runs it; one that is off runs nothing."""
    name, port = end_parts(end)
    held = replay.state.units[name]
    return held.running.ports[port] if held.powered else (False, "none", False)


def cable(replay, ends):
    told = {"plugged": yes(ends in replay.state.cables), "link": "none"}
    if ends in replay.state.cables:
        told["link"] = replay.view.kinds.get(ends, "dark")
    told["ends"] = {}
    for end in ends:
        enabled, side, active = port(replay, end)
        told["ends"][end] = {"side": side, "active": yes(active), "enabled": yes(enabled)}
    return told


def leg(replay, uplink, leg, box):
    """A leg is a member's; where a member has two boxes, the old and the new one, each is drawn with it."""
    state, (member, number) = replay.state, end_parts(leg)
    cable = tuple(sorted((f"far:{uplink}", f"{box}:{number}")))
    formed = leg in state.shared_running.uplinks.get(uplink, ())
    lit = replay.view.kinds.get(cable) == "far"
    return {
        "plugged": yes(cable in state.cables),
        "formed": yes(formed),
        "carries": yes(formed and lit and box in replay.view.boxes_in_stack(member)),
    }


def legs_drawn(replay, legs):
    """Each leg at each box of its member: its name, and what is so."""
    drawn = {}
    for uplink, end in legs:
        member, number = end_parts(end)
        for box in replay.world.boxes.get(member, ()):
            drawn[f"{uplink} {box}:{number}"] = leg(replay, uplink, end, box)
    return drawn


def situation(replay, cables, legs):
    inside = replay.live
    if not inside or replay.view.incumbent is None:
        protected = "none"
    elif len(inside) == 1:
        protected = "alone"
    else:
        protected = yes(not replay.view.unprotected(inside))
    return {
        "units": {name: unit(replay, name) for name in replay.state.units},
        "cables": {" ".join(ends): cable(replay, ends) for ends in cables},
        "legs": legs_drawn(replay, legs),
        "protected": protected,
    }


def told(plan):
    """The situations of one plan, in order."""
    cables, legs = set(), set()
    for state in (plan.baseline, plan.target):
        cables |= {ends for ends in state.cables if not any(end.startswith("far:") for end in ends)}
        legs |= {(name, end) for name, ends in state.shared_running.uplinks.items() for end in ends}
    for step in plan.steps:
        do = step["do"]
        if do["kind"] in ("connect-cable", "disconnect-cable"):
            ends = tuple(sorted(do["ends"]))
            if not any(end.startswith("far:") for end in ends):
                cables.add(ends)
        elif do["kind"] == "form-uplink":
            legs |= {(do["uplink"], end) for end in do["legs"]}
        elif do["kind"] == "add-leg":
            legs.add((do["uplink"], do["leg"]))
    replay = Replay(plan)
    replay.baseline_faults()
    found = [situation(replay, sorted(cables), sorted(legs))]
    for index, step in enumerate(plan.steps):
        report = replay.step(plan.steps, index, step["phase"])
        if report.breaches:
            raise SystemExit(f"step {index + 1} is refused: {report.breaches[0]}")
        found.append(situation(replay, sorted(cables), sorted(legs)))
    return found


def main():
    made = {path: told(read_plan(json.loads(pathlib.Path(path).read_text()))) for path in sys.argv[1:]}
    json.dump(made, sys.stdout)


if __name__ == "__main__":
    main()
