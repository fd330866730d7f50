"""What plans predict of islands and of protection, against the library networkx (https://networkx.org).

    python3 tests/oracles/predictions.py PLAN.json [PLAN.json ...]

The second judge's replay gives the State after each step and who is live then; which links work is worked
out here anew from cables, ports and sides, and the graph over them is networkx's to judge. Prints one line
a plan: `agrees on N steps`, or the first step where it does not. Exit status 1 if any plan differs.
"""

import json
import os
import sys

import networkx

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "judge"))

from replay import Replay
from shape import read_plan


def port_of(state, end):
    """The unit of an end and its port as it runs: enabled, side, active."""
    name, port = end.rsplit(":", 1)
    unit = state.units[name]
    return name, unit, unit.running.ports[port] if unit.powered else (False, "none", False)


def let_in(value, state, name):
    """Whether the stack was told of a unit, on a platform that lets in nobody else."""
    how = value["traits"].get("admission", "open")
    serial = next(unit.get("serial") for unit in value["units"] if unit["key"] == name)
    token = {"open": None, "id": state.units[name].running.id, "serial": serial}[how]
    return how == "open" or token in state.shared_running.admitted


def may_meet(value, state, one, other):
    """Whether what the stack was told, and what must be equal, allow a link between two units."""
    if let_in(value, state, one) != let_in(value, state, other):
        return False
    kept_out = [key["name"] for key in value["traits"].get("join_keys", []) if key["differs"] == "refused"]
    ours, theirs = (state.units[name].running.keys for name in (one, other))
    return all(ours[key] == theirs[key] for key in kept_out if key in ours and key in theirs)


def graph_of(value, state):
    """Powered units, and an edge for each stack link; parallel cables between the same two sides are one."""
    facing = value["traits"]["sides"]["facing"]
    graph = networkx.MultiGraph()
    graph.add_nodes_from(name for name, unit in state.units.items() if unit.powered)
    links = set()
    for one, other in state.cables:
        if one.startswith("far:") or other.startswith("far:"):
            continue
        (u, first, (u_on, u_side, u_active)), (v, second, (v_on, v_side, v_active)) = (
            port_of(state, end) for end in (one, other))
        works = u_on and v_on and u_active and v_active and not first.waiting and not second.waiting
        if works and (facing == "any" or u_side != v_side) and may_meet(value, state, u, v):
            links.add(tuple(sorted([(u, u_side), (v, v_side)])))
    graph.add_edges_from((one[0], other[0]) for one, other in links)
    return graph


def unprotected(graph, live):
    """Whether one broken link could part the live units, or some are apart already."""
    if len(live) < 2:
        return False
    part = networkx.MultiGraph(graph.subgraph(live))
    part.add_nodes_from(live)
    return not networkx.is_connected(part) or networkx.has_bridges(part)


def look(path):
    """The first step of a plan whose predictions are not what networkx finds, or how many agree."""
    with open(path, encoding="utf-8") as file:
        value = json.load(file)
    plan = read_plan(value)
    replay = Replay(plan)
    for index, step in enumerate(plan.steps):
        replay.step(plan.steps, index, step["phase"])
        graph = graph_of(value, replay.state)
        islands = sorted(sorted(island) for island in networkx.connected_components(graph))
        open_to_faults = unprotected(graph, replay.live)
        said = step["predicts"]
        if sorted(map(sorted, said["islands"])) != islands:
            return f"differs at step {index + 1}: it predicts the islands {said['islands']}, networkx finds {islands}"
        if said["unprotected"] != open_to_faults:
            return f"differs at step {index + 1}: it predicts unprotected {said['unprotected']}, networkx {open_to_faults}"
    return f"agrees on {len(plan.steps)} steps"


def main(paths):
    answers = [look(path) for path in paths]
    print("\n".join(answers))
    return 0 if all(answer.startswith("agrees") for answer in answers) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
