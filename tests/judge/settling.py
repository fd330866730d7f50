"""What a stack does by itself after an operation: elections, merges, takeovers, restarts, the standby's seat.

`settle` goes on until nothing changes; `cold_start` asks what a restart of everything would leave.
"""

from dataclasses import dataclass, field

from state import best_of, cable_kinds, end_parts, find_islands


@dataclass
class Outcome:
    """What happened in one operation beside the State it left. `booted`: who came up and has not yet been held
    against a primary; `by_restart`: the operation itself, and not what followed, took units down."""

    founded: bool = True
    restarts: list = field(default_factory=list)
    downs: list = field(default_factory=list)
    clashes: list = field(default_factory=list)
    undecided: list = field(default_factory=list)
    merges: list = field(default_factory=list)
    booted: set = field(default_factory=set)
    at_once: dict = field(default_factory=dict)
    at_once_keys: set = field(default_factory=set)
    booted_keys: set = field(default_factory=set)
    by_restart: bool = False


def settle(world, state, outcome):
    """Goes on until nothing changes; an id clash stops it."""
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
                choose_primary(world, state, island, outcome)
            elif len(leaders) > 1:
                losers |= merge(world, state, island, leaders, outcome)
        losers = sorted(name for name in losers if state.units[name].powered)
        if losers:
            lose(world, state, losers, outcome)
            continue
        if world.traits.preempts:
            for island in islands:
                take_over(world, state, island, outcome)
        behind = take_keys(world, state, islands) if world.traits.join_keys else []
        if not behind:
            break
        restart_together(world, state, behind, outcome)
    state.led = {name: home[name] for name in home if state.units[name].primary}


def choose_primary(world, state, island, outcome):
    """An island without a primary: who holds the standby's seat takes the lead, or else they elect one."""
    able = [name for name in island if not state.units[name].waiting]
    if not able:
        return
    heirs = [name for name in able if state.units[name].standby]
    best, decided = best_of({name: world.boot_key(state, name) for name in heirs or able})
    state.units[best].primary, state.units[best].standby = True, False
    outcome.booted -= island
    if not heirs:
        count_priorities(world, state, island)
    if not decided:
        outcome.undecided.append(island)


def count_priorities(world, state, island):
    """Where a new priority waits for an election, this was one."""
    if world.traits.priority_waits:
        for name in island:
            state.units[name].counts = state.units[name].running.priority


def merge(world, state, island, leaders, outcome):
    """Primaries that meet: the best stays. Who loses with the others is given back."""
    led = {name: state.led.get(name, frozenset((name,))) for name in leaders}
    keys = {name: world.merge_key(state, name, len(led[name])) for name in leaders}
    best, decided = best_of(keys)
    if not decided:
        outcome.undecided.append(island)
    outcome.merges.append((best, keys, led))
    count_priorities(world, state, island)
    if world.traits.loser == "absorbed":
        for name in leaders:
            state.units[name].primary = name == best
        give_up_seats(world, state, island, led[best])
        return set()
    return set().union(*(led[name] for name in leaders if name != best))


def lose(world, state, losers, outcome):
    """The losing side of a merge restarts together, or waits for a restart by hand."""
    if world.traits.loser == "waits":
        for name in losers:
            state.units[name].waiting, state.units[name].primary = True, False
    else:
        restart_together(world, state, losers, outcome)


def restart_together(world, state, names, outcome):
    """These restart by themselves, all at one time."""
    outcome.restarts += [name for name in names if name not in outcome.restarts]
    go_round(world, state, names, outcome)
    for name in names:
        boot(world, state, name, outcome)
    outcome.booted_keys |= link_sides(state, cable_kinds(world, state))


def boot(world, state, name, outcome):
    """Comes up with what it saved."""
    unit = state.units[name]
    unit.boot(state.now)
    if world.traits.priority_waits:
        unit.counts = unit.running.priority
    outcome.booted.add(name)


def go_round(world, state, names, outcome):
    """Takes units down, settles, and keeps the down state for the rules."""
    for name in names:
        state.units[name].go_down()
    outcome.booted -= set(names)
    settle(world, state, outcome)
    if forget_unsaved(world, state, outcome.founded):
        settle(world, state, outcome)
    outcome.downs.append((state.clone(), frozenset(names)))


def forget_unsaved(world, state, founded):
    """With nobody up who holds the list of admitted units, it is as it was saved. True if that changes it."""
    if world.traits.admission == "open" or world.holds_shared(state, founded):
        return False
    changed = state.shared_running != state.shared_saved
    state.shared_running = state.shared_saved
    return changed


def take_over(world, state, island, outcome):
    """A unit that booted into an island takes the lead if it beats the primary there; nobody restarts."""
    newcomers = {name for name in outcome.booted & island if not state.units[name].waiting}
    outcome.booted -= island
    leaders = [name for name in island if state.units[name].primary]
    newcomers -= set(leaders)
    if not newcomers or len(leaders) != 1:
        return
    best, decided = best_of({name: world.boot_key(state, name) for name in newcomers | set(leaders)})
    if not decided:
        outcome.undecided.append(island)
    if best != leaders[0]:
        hand_lead(state, leaders[0], best)
        count_priorities(world, state, island)


def hand_lead(state, old, new):
    """The lead of an island passes from one unit to another."""
    state.units[old].primary, state.units[new].primary = False, True
    state.units[new].standby = False
    state.led = {new if name == old else name: island for name, island in state.led.items()}


def take_keys(world, state, islands):
    """Units that differ from their primary in a key that updates take its value; they are to boot once more."""
    behind = []
    for island in islands:
        for leader in (state.units[name] for name in island if state.units[name].primary):
            for name in island:
                unit = state.units[name]
                differing = [] if unit.primary else world.differing(unit, leader, "updates")
                for key in differing:
                    unit.running.keys[key] = unit.saved.keys[key] = leader.running.keys[key]
                if differing:
                    behind.append(name)
    return sorted(behind)


def give_up_seats(world, state, island, winners):
    """Of several holders of the seat in one island the one of the winner's side keeps it."""
    holders = [name for name in island if state.units[name].standby]
    if len(holders) > 1:
        staying = [name for name in holders if name in winners] or holders
        keeper, _ = best_of({name: world.seat_key(state, name) for name in staying})
        for name in holders:
            state.units[name].standby = name == keeper


def fill_seats(world, state, outcome):
    """Once all has settled: who may keep the seat keeps it, and an empty one goes to the best of the others."""
    for island in set(find_islands(state, cable_kinds(world, state)).values()):
        led = any(state.units[name].primary for name in island)
        others = [name for name in island if led and not state.units[name].primary and not state.units[name].waiting]
        for name in island.difference(others):
            state.units[name].standby = False
        if others and not any(state.units[name].standby for name in others):
            best, decided = best_of({name: world.seat_key(state, name) for name in others})
            state.units[best].standby = True
            if not decided:
                outcome.undecided.append(island)


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
    for name, unit in cold.units.items():
        if unit.powered:
            boot(world, cold, name, outcome)
    cold.shared_running = cold.shared_saved
    settle(world, cold, outcome)
    if world.traits.sticky and not outcome.clashes:
        fill_seats(world, cold, outcome)
    return cold, outcome
