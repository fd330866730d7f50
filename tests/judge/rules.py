"""The rules of a State: each gives (rule, subject, sentence); the subject tells one breach from another.

A breach that the baseline has is excused by (rule, subject) as long as it lasts.
"""

from dataclasses import dataclass

from settling import cold_start
from state import View, end_parts


@dataclass
class Standing:
    """Who counts for what, at one point of a replay."""

    live: frozenset
    was_live: frozenset
    stranded: frozenset
    leaving: frozenset
    counted: frozenset
    trusted: frozenset
    founded: bool
    pairs: frozenset

    def key(self):
        return (self.live, self.was_live, self.stranded, self.leaving, self.counted, self.trusted, self.founded)


def names(items):
    return ", ".join(sorted(items))


def link_name(cable):
    return f"{cable[0]} and {cable[1]}"


def state_breaches(plan, world, state, standing, view, restarting=frozenset(), consents=None):
    """Every breach of a State, its cold start included. `restarting`: units that this sub-state has down."""
    used = consents if consents is not None else set()
    found = []
    staying = standing.live - standing.leaving
    found += island_rules(plan, world, state, standing, view, staying, restarting, used)
    cold, outcome = cold_start(world, state)
    cold_view = View(world, cold, standing.live, standing.founded)
    for island in sorted(outcome.clashes, key=sorted):
        found.append(("no-id-clash", ("cold", island), f"after a cold start {names(island)} would hold one id twice"))
    for cable in sorted(cold_view.strays()):
        found.append(("no-stray-link", ("cold", cable), f"after a cold start {link_name(cable)} would bridge"))
    for island in outcome.undecided:
        if island & standing.live:
            found.append(("decided", ("cold", island), f"a cold start of {names(island)} would have no decided primary"))
    found += uplink_rule(state, standing, view, None)
    found += uplink_rule(cold, standing, cold_view, cold.shared_running)
    found += key_rule(standing, cold_view, "after a cold start")
    if staying and not outcome.clashes:
        found += cold_rule(plan, world, state, standing, view, cold, cold_view, used)
    return found


def island_rules(plan, world, state, standing, view, staying, restarting, used):
    """primary-kept, never-split, one-brain and no-stray-link as things stand now."""
    found = []
    awake = [name for name in standing.live if state.units[name].powered]
    if standing.founded and view.incumbent is None and awake:
        leaders = {leader for name in awake for leader in view.leaders[view.home[name]]}
        found.append(("primary-kept", frozenset(leaders),
                      f"{names(leaders) or 'nobody'} leads the live units, and no consent names it"))
    elif view.primary is not None and view.primary != world.first_primary:
        used.add(f"new-primary:{plan.units[view.primary].member}")
    for name in sorted(staying):
        if view.in_stack(name):
            continue
        if name in restarting and name in plan.restart:
            continue
        if name in plan.split and name not in standing.stranded:
            used.add(f"split:{plan.units[name].member}")
            continue
        what = "is apart from the stack" if state.units[name].powered else "is off"
        found.append(("never-split", name, f"{name} is live and {what}"))
    pieces = 0
    for island in view.islands:
        for name in view.leaders[island]:
            if island == view.incumbent or name not in standing.live | standing.was_live:
                continue
            if name in plan.split:
                used.add(f"split:{plan.units[name].member}")
            elif view.incumbent is not None or name in standing.leaving or name not in staying:
                subject = name
                if name in standing.stranded:
                    pieces += 1
                    subject = ("stranded", pieces)
                found.append(("one-brain", subject, f"{name} is or was live and leads an island of its own"))
    for cable in sorted(view.strays()):
        found.append(("no-stray-link", ("now", cable), f"{link_name(cable)} are bridged as plain Ethernet"))
    return found + key_rule(standing, view, "now") + group_rule(plan, view)


def key_rule(standing, view, when):
    """same-keys: no live unit differs from the incumbent's primary in any join key."""
    found, units = [], view.state.units
    for name in sorted(standing.live) if view.world.traits.join_keys and view.primary is not None else ():
        if units[name].powered:
            for key in view.world.differing(units[name], units[view.primary], None):
                found.append(("same-keys", (when, name, key), f"{name} is live and differs from {view.primary} in {key} {when}"))
    return found


def group_rule(plan, view):
    """group-free: no bound port has in its group one that carries a leg or is in use as plain Ethernet."""
    found, state = [], view.state
    for name, info in plan.units.items():
        if not info.port_groups or not state.units[name].powered:
            continue
        busy = set(info.in_use)
        # of two boxes of one member the legs are on the one in the stack, else on the old one
        if view.in_stack(name) or info.status != "joining" and not view.boxes_in_stack(info.member):
            legs = {leg for held in state.shared_running.uplinks.values() for leg in held}
            busy |= {port for member, port in map(end_parts, legs) if member == info.member}
        for port, held in state.units[name].running.ports.items():
            for other in sorted(view.world.group_of(name, port) & busy) if held[1] != "none" else ():
                found.append(("group-free", (name, port, other), f"{name}:{port} stacks and takes {name}:{other} with it"))
    return found


def uplink_rule(state, standing, view, cold):
    """Every pair that is in both baseline and target keeps a trusted leg that carries; `cold`: by which shared settings."""
    found = []
    for pair in sorted(standing.pairs):
        legs = (cold or state.shared_running).uplinks.get(pair, ())
        if not any((pair, leg) in standing.trusted and view.carries(pair, leg, cold) for leg in legs):
            when = "after a cold start" if cold else "now"
            found.append(("uplinks-up", (when, pair), f"no proven leg of {pair} carries {when}"))
    return found


def cold_rule(plan, world, state, standing, view, cold, cold_view, used):
    """After a cold start the live units that count are one island under the same primary, or a named one."""
    counting = [name for name in sorted(standing.live - standing.leaving)
                if name in standing.counted and state.units[name].powered
                and not (name in plan.split and not view.in_stack(name))]
    # a stranded unit needs no consent to be apart now, but one to stay so
    used.update(f"split:{plan.units[name].member}" for name in standing.stranded & plan.split
                if not cold_view.in_stack(name))
    if not counting:
        return []

    def apart(name):
        return ("cold-start", name, f"after a cold start {name} would not be in the stack")

    allowed = plan.new_primary | ({view.primary} if view.primary else set())
    # which of several is the stack then: the one with most live units, leaving ones too
    led = [(-len(island & standing.live), leaders[0] != view.primary, leaders[0], island)
           for island, leaders in cold_view.leaders.items()
           if leaders and leaders[0] in allowed and island.intersection(counting)]
    # who was cut off before may stay so, but not take the stack's primary in
    met = any(view.primary in cold_view.home[name] for name in counting)
    if not led and not met and standing.stranded.issuperset(counting):
        return [apart(name) for name in counting]
    if not led:
        leaders = {leader for name in counting for leader in cold_view.leaders[cold_view.home[name]]}
        return [("cold-start", ("primary", frozenset(leaders)), f"a cold start would make {names(leaders)} the primary")]
    _, _, primary, island = min(led, key=lambda entry: entry[:3])
    if primary != view.primary:
        used.add(f"new-primary:{plan.units[primary].member}")
    return [apart(name) for name in counting if name not in island]


def merge_breaches(world, outcome, view, live):
    """loses-merge: a joining unit loses against the incumbent's primary by more than uptime or MAC."""
    found = []
    for _, keys, led in outcome.merges:
        primary = view.primary if view.primary in keys else None
        if primary is None:
            continue
        for other in sorted(keys):
            if other == primary or not led[other] - live:
                continue
            decisive = next((criterion for criterion, mine, its
                             in zip(world.traits.merge_order, keys[primary], keys[other]) if mine != its), None)
            won = keys[primary] < keys[other] and decisive not in (None, "uptime", "lowest-mac", "highest-mac")
            if not won:
                found.append(("loses-merge", other,
                              f"{other} meets {primary} and does not lose by more than uptime or MAC"
                              + (f" but is compared by {decisive}" if decisive else "")))
    return found


def target_breaches(plan, view):
    """reaches-target: the last State equals the target, boot times aside."""
    state, target, found = view.state, plan.target, []

    def differs(subject, sentence):
        found.append(("reaches-target", subject, sentence))

    for name, info in plan.units.items():
        unit, wanted = state.units[name], target.units[name]
        if info.status == "leaving":
            if unit.powered:
                differs(name, f"{name} leaves and is still on")
            continue
        for flag in ("powered", "primary", "waiting", "copy"):
            if getattr(unit, flag) != getattr(wanted, flag):
                differs((name, flag), f"{name} should{'' if getattr(wanted, flag) else ' not'} be {flag}")
        for what in ("running", "saved"):
            one, other = getattr(unit, what), getattr(wanted, what)
            if (one is None) != (other is None) or (one is not None and not one.same_as(other)):
                differs((name, what), f"the {what} settings of {name} are not the target's")
    for cable in sorted(state.cables ^ target.cables):
        differs(cable, f"the cable {link_name(cable)} is {'left over' if cable in state.cables else 'missing'}")
    for what in ("running", "saved"):
        if getattr(state, f"shared_{what}") != getattr(target, f"shared_{what}"):
            differs(f"shared {what}", f"the {what} uplinks or guard are not the target's")
    return found


def baseline_breaches(plan, view):
    """What a way back must have restored; joining units end switched off and without cables."""
    state, baseline, found = view.state, plan.baseline, []

    def differs(sentence):
        found.append(("reaches-target", None, sentence))

    def joining(cable):
        return any(end_parts(end)[0] in plan.units and plan.units[end_parts(end)[0]].status == "joining" for end in cable)

    for name, info in plan.units.items():
        unit, wanted = state.units[name], baseline.units[name]
        if info.status == "joining":
            if unit.powered:
                differs(f"the way back leaves {name} on")
            continue
        if unit.powered != wanted.powered or unit.primary != wanted.primary or unit.waiting != wanted.waiting:
            differs(f"the way back does not bring {name} to its power and role of the baseline")
        elif wanted.powered:
            if not unit.running.same_as(wanted.running) or not unit.saved.same_as(wanted.saved):
                differs(f"the way back does not restore the settings of {name}")
            if wanted.copy and not unit.copy:
                differs(f"the way back loses the copy of {name}")
    wanted_cables = {cable for cable in baseline.cables if not joining(cable)}
    for cable in sorted(state.cables ^ wanted_cables):
        differs(f"after the way back the cable {link_name(cable)} is {'left over' if cable in state.cables else 'missing'}")
    if (state.shared_running, state.shared_saved) != (baseline.shared_running, baseline.shared_saved):
        differs("the way back does not restore the uplinks or the guard")
    return found
