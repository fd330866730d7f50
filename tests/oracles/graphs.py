"""Islands and bridges of states, by the library networkx (https://networkx.org).

Reads one JSON object a line: a state as a plan writes it, how sides face, and what the model found.
Lit cables and stack links are worked out here anew. Exit status 1 at the first difference.
"""

import json
import sys

import networkx


def stack_links(state, facing):
    """The working stack links as ((unit, side), (unit, side)), parallel cables once."""
    def port(end):
        unit, name = end.rsplit(":", 1)
        running = state["units"][unit]["running"]
        return unit, running and running["ports"][name]

    links = set()
    for one, other in state["cables"]:
        if "far:" in one + other:
            continue
        (u, a), (v, b) = port(one), port(other)
        lit = a and b and a["enabled"] and b["enabled"]
        if not lit or not (a["active"] and b["active"]):
            continue
        if state["units"][u]["waiting"] or state["units"][v]["waiting"]:
            continue
        if facing == "opposite" and a["side"] == b["side"]:
            continue
        links.add(tuple(sorted([(u, a["side"]), (v, b["side"])])))
    return links


def protected(graph, units):
    """Whether the graph over these units stays in one piece when any one link breaks."""
    part = graph.subgraph(units)
    if len(units) < 2:
        return True
    return networkx.is_connected(part) and not networkx.has_bridges(part)


def main():
    count = 0
    for line in sys.stdin:
        told = json.loads(line)
        state = told["state"]
        graph = networkx.MultiGraph()
        graph.add_nodes_from(name for name, unit in state["units"].items() if unit["powered"])
        graph.add_edges_from((one[0], other[0]) for one, other in stack_links(state, told["facing"]))
        found = sorted(sorted(island) for island in networkx.connected_components(graph))
        safe = [protected(graph, island) for island in told["islands"]]
        whole = protected(graph, list(graph))
        if found != sorted(map(sorted, told["islands"])) or safe != told["protected"] or whole != told["all_protected"]:
            print(f"islands {found}, protected {safe} and {whole}, where the model says {line}")
            return 1
        count += 1
    print(f"{count} states agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
