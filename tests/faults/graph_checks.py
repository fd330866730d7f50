"""A list of faults against the library networkx (https://networkx.org): islands, bridges, articulation points.

Works on the plan's JSON and on the list as it is told, and shares nothing with the rest of this folder. The graph is
a simple one whose edges count stack links and cables: on multigraphs some of the library's functions are wrong.
"""

import networkx


def cables_by_sides(value):
    """((unit, side), (unit, side)) -> the lit stack cables of the target's members, each as a set of two ends."""
    state, facing = value["target"], value["traits"].get("sides", {}).get("facing", "opposite")
    leaving = {unit["key"] for unit in value["units"] if unit["status"] == "leaving"}
    found = {}
    for ends in state["cables"]:
        if any(end.startswith("far:") for end in ends):
            continue
        sides = []
        for end in ends:
            name, port = end.split(":", 1)
            unit = state["units"][name]
            held = unit["running"]["ports"][port] if unit["powered"] and name not in leaving else {"enabled": False}
            if held["enabled"] and held["active"] and not unit["waiting"]:
                sides.append((name, held["side"]))
        if len(sides) == 2 and (facing == "any" or sides[0][1] != sides[1][1]):
            found.setdefault(tuple(sorted(sides)), []).append(frozenset(ends))
    return found


class Graph:
    """The finished stack as a weighted graph, and what a named fault takes out of it."""

    def __init__(self, value):
        self.links = cables_by_sides(value)
        leaving = {unit["key"] for unit in value["units"] if unit["status"] == "leaving"}
        self.members = {name for name, unit in value["target"]["units"].items()
                        if unit["powered"] and name not in leaving}
        self.group_of = {cable: cables for cables in self.links.values() for cable in cables}
        self.seen = {}

    def left(self, faults):
        """The stack links that no fault breaks whole, and the members that are up."""
        dark, down = set(), set()
        for fault in faults:
            kind, *ends = fault.split(" ")
            if kind == "unit":
                down.add(ends[0])
            elif kind in ("link", "cable"):
                cables = self.group_of.get(frozenset(ends))
                if cables is None:
                    raise LookupError(f"{fault} names no stack cable")
                dark.update(cables if kind == "link" else [frozenset(ends)])
        links = frozenset(sides for sides, cables in self.links.items()
                          if not dark.issuperset(cables) and down.isdisjoint(name for name, _ in sides))
        return links, frozenset(self.members - down)

    def without(self, faults):
        """The graph that is left; each edge weighs as many stack links as run there."""
        links, members = self.left(faults)
        graph = networkx.Graph()
        graph.add_nodes_from(members)
        for (one, _), (other, _) in links:
            weight = graph.edges[one, other]["weight"] if graph.has_edge(one, other) else 0
            graph.add_edge(one, other, weight=weight + 1)
        return graph

    def islands(self, faults):
        left = self.left(faults)
        if left not in self.seen:
            self.seen[left] = sorted(sorted(part) for part in networkx.connected_components(self.without(faults)))
        return self.seen[left]

    def bridges(self):
        """The stack links that hold their two sides together alone."""
        graph = self.without(())
        found = {frozenset(edge) for edge in networkx.bridges(graph) if graph.edges[edge]["weight"] == 1}
        return {sides for sides in self.links if frozenset(name for name, _ in sides) in found}

    def fewest_links(self):
        """How many stack links have to fail before the stack falls apart."""
        graph = self.without(())
        if len(graph) < 2 or not networkx.is_connected(graph):
            return 0
        return networkx.stoer_wagner(graph)[0]


def objections(value, findings):
    """What networkx says otherwise, as sentences."""
    graph, found = Graph(value), []
    splits = {"link": set(), "cable": set(), "unit": set(), "leg": set()}
    fewest = None
    for entry in findings:
        try:
            islands = graph.islands(entry["faults"])
        except LookupError as error:
            found.append(error.args[0])
            continue
        if sorted(map(sorted, entry["islands"])) != islands:
            found.append(f"{' and '.join(entry['faults'])}: islands {entry['islands']}, networkx finds {islands}")
        if len(entry["islands"]) > 1:
            # of a ring of two both links count, though they join the same two units
            if len(entry["faults"]) == 1:
                kind, name = entry["faults"][0].split(" ", 1)
                splits[kind].add(name)
            if all(fault.startswith("link ") for fault in entry["faults"]):
                fewest = min(fewest or len(entry["faults"]), len(entry["faults"]))
    whole = graph.without(())
    bridges, split = graph.bridges(), {frozenset(name.split(" ")) for name in splits["link"]}
    split = {sides for sides, cables in graph.links.items() if split.intersection(cables)}
    if networkx.is_connected(whole):
        if split != bridges:
            found.append(f"the links that split are {sorted(split)}, and networkx's bridges {sorted(bridges)}")
        joints = set(networkx.articulation_points(whole))
        if splits["unit"] != joints:
            found.append(f"the units that split are {sorted(splits['unit'])}, and the articulation points {sorted(joints)}")
        if splits["cable"] or splits["leg"]:
            found.append(f"one cable of several, or a leg, splits: {sorted(splits['cable'] | splits['leg'])}")
        least = graph.fewest_links()
        if len(whole) > 1 and (least if least < 3 else None) != fewest:
            found.append(f"{fewest} failing links split it, and the least cut of networkx is {least}")
    return found
