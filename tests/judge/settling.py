"""What a stack does by itself after an operation: elections, merges, the losers' restart.

`settle` goes on until nothing changes; `cold_start` asks what a restart of everything would leave.
"""

from dataclasses import dataclass, field

from state import cable_kinds, end_parts, find_islands


@dataclass
class Outcome:
    """What happened in one operation beside the State it left."""

    restarts: list = field(default_factory=list)
    downs: list = field(default_factory=list)
    clashes: list = field(default_factory=list)
    undecided: list = field(default_factory=list)
    merges: list = field(default_factory=list)
    at_once: dict = field(default_factory=dict)
    at_once_keys: set = field(default_factory=set)
    booted_keys: set = field(default_factory=set)


def settle(world, state, outcome):
    """Elects, merges and restarts losers until nothing changes; an id clash stops it."""
    for _ in range(4 * len(state.units) + 4):
        home = find_islands(state, cable_kinds(world, state))
        islands = sorted(set(home.values()), key=sorted)
        for island in islands:
            ids = [state.units[name].running.id for name in island]
            if len(set(ids)) < len(ids):
                outcome.clashes.append(island)
        if outcome.clashes:
            return
        losers = set()
        for island in islands:
            leaders = [name for name in sorted(island) if state.units[name].primary]
            if not leaders:
                able = [name for name in island if not state.units[name].waiting]
                if able:
                    best, decided = world.elect(state, able)
                    state.units[best].primary = True
                    if not decided:
                        outcome.undecided.append(island)
            elif len(leaders) > 1:
                best, decided = world.elect(state, leaders)
                if not decided:
                    outcome.undecided.append(island)
                keys = {name: world.election_key(state, name) for name in leaders}
                led = {name: state.led.get(name, frozenset((name,))) for name in leaders}
                outcome.merges.append((best, keys, led))
                for name in leaders:
                    if name != best:
                        losers |= led[name]
        losers = sorted(name for name in losers if state.units[name].powered)
        if not losers:
            break
        lose(world, state, losers, outcome)
    state.led = {name: home[name] for name in home if state.units[name].primary}


def lose(world, state, losers, outcome):
    """The losing side of a merge restarts together, or waits for a restart by hand."""
    if not world.traits.loser_restarts:
        for name in losers:
            state.units[name].waiting, state.units[name].primary = True, False
        return
    outcome.restarts += [name for name in losers if name not in outcome.restarts]
    go_round(world, state, losers, outcome)
    for name in losers:
        state.units[name].boot(state.now)
    outcome.booted_keys |= link_sides(state, cable_kinds(world, state))


def go_round(world, state, names, outcome):
    """Takes units down, settles, and keeps the down state for the rules."""
    for name in names:
        state.units[name].go_down()
    settle(world, state, outcome)
    outcome.downs.append((state.clone(), frozenset(names)))


def link_sides(state, kinds):
    """Stack links by their two unit sides."""
    found = set()
    for cable, kind in kinds.items():
        if kind == "stack":
            found.add(frozenset((name, state.units[name].running.ports[port][1])
                                for name, port in map(end_parts, cable)))
    return found


def cold_start(world, state):
    """The State and outcome were every powered unit to restart together now."""
    cold, outcome = state.clone(), Outcome()
    cold.now += 1
    for unit in cold.units.values():
        if unit.powered:
            unit.boot(cold.now)
    cold.shared_running = cold.shared_saved
    settle(world, cold, outcome)
    return cold, outcome
