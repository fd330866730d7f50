"""The stack as the model sees it: units, cables, shared settings, and what is derived from them.

`World` holds what stays fixed through a replay (traits, MACs, who may lead); `State` is what changes;
`View` is what can be read off one State.
"""

from dataclasses import dataclass, field

OPPOSITE = {"west": "east", "east": "west"}
STACK_KINDS = ("hand-over", "admit", "forget")
UPLINK_KINDS = ("form-uplink", "drop-uplink", "add-leg", "drop-leg", "guard-split", "unguard-split")
HANDS_KINDS = ("power-on", "power-off", "connect-cable", "disconnect-cable")


class Settings:
    """What a unit acts on: id, priority, port -> (enabled, side, active), join keys, and its mode: lone or stack."""

    __slots__ = ("id", "priority", "ports", "keys", "mode")

    def __init__(self, id, priority, ports, keys=None, mode="stack"):
        self.id, self.priority, self.ports = id, priority, ports
        self.keys, self.mode = keys or {}, mode

    def copy(self):
        return Settings(self.id, self.priority, dict(self.ports), dict(self.keys), self.mode)

    def key(self):
        return (self.id, self.priority, tuple(self.ports.items()), tuple(sorted(self.keys.items())), self.mode)

    def same_as(self, other):
        return (self.id == other.id and self.priority == other.priority and self.ports == other.ports
                and self.keys == other.keys and self.mode == other.mode)


class Unit:
    """One physical box. `standby`: it holds the seat, where that is sticky; `counts`: the priority by which a standby
    is chosen, where a new one waits for an election (None elsewhere, and while the unit is off)."""

    __slots__ = ("powered", "booted_at", "primary", "waiting", "copy", "running", "saved", "standby", "counts")

    def __init__(self, powered, booted_at, primary, waiting, copy, running, saved, standby=False, counts=None):
        self.powered, self.booted_at, self.primary = powered, booted_at, primary
        self.waiting, self.copy, self.running, self.saved = waiting, copy, running, saved
        self.standby, self.counts = standby, counts

    def clone(self):
        return Unit(self.powered, self.booted_at, self.primary, self.waiting, self.copy,
                    self.running.copy() if self.running else None, self.saved.copy() if self.saved else None,
                    self.standby, self.counts)

    def go_down(self):
        self.powered = self.primary = self.waiting = self.standby = False
        self.running = self.counts = None

    def boot(self, now):
        """Runs what was saved, every saved binding active if it stacks at all."""
        self.powered, self.booted_at = True, now
        self.primary = self.waiting = self.standby = False
        stacks = self.saved.mode != "lone"
        ports = {port: (held[0], held[1], stacks and held[1] != "none") for port, held in self.saved.ports.items()}
        self.running = Settings(self.saved.id, self.saved.priority, ports, dict(self.saved.keys), self.saved.mode)

    def is_saved(self):
        """Do saved and running agree in all that both have?"""
        run, saved = self.running, self.saved
        return (run.id == saved.id and run.priority == saved.priority and run.keys == saved.keys
                and run.mode == saved.mode
                and all(held[:2] == saved.ports[port][:2] for port, held in run.ports.items()))


@dataclass(frozen=True)
class Shared:
    """The incumbent stack's common settings; never changed in place."""

    uplinks: dict
    guard: str | None
    admitted: frozenset = frozenset()

    def key(self):
        return (tuple(sorted((name, tuple(sorted(legs))) for name, legs in self.uplinks.items())), self.guard,
                tuple(sorted(self.admitted)))


@dataclass
class State:
    units: dict = field(default_factory=dict)
    cables: set = field(default_factory=set)
    shared_running: Shared = None
    shared_saved: Shared = None
    led: dict = field(default_factory=dict)
    now: int = 0

    def clone(self):
        return State({key: unit.clone() for key, unit in self.units.items()}, set(self.cables),
                     self.shared_running, self.shared_saved, self.led, self.now)

    def key(self):
        """Equal for States that will behave alike: boot times count by their order only."""
        order = {tick: rank for rank, tick in enumerate(sorted({u.booted_at for u in self.units.values() if u.powered}))}
        return (tuple((u.powered, order.get(u.booted_at) if u.powered else None, u.primary, u.waiting, u.copy,
                       u.standby, u.counts, u.running.key() if u.running else None, u.saved.key() if u.saved else None)
                      for u in self.units.values()),
                frozenset(self.cables), self.shared_running.key(), self.shared_saved.key())


@dataclass
class World:
    """What a replay never changes. `founder` is the primary's unit of a stack that starts from no baseline."""

    traits: object
    infos: dict
    first_primary: str | None
    may_lead: frozenset
    founder: str | None
    dead_boxes: frozenset = frozenset()

    def __post_init__(self):
        self.boxes = {}
        for key, info in self.infos.items():
            self.boxes.setdefault(info.member, []).append(key)

    def boot_key(self, state, name):
        """How a unit stands in an election of an island without a primary; smaller is better."""
        return self._key(state, name, self.traits.boot_order, state.units[name].running.priority, 0)

    def merge_key(self, state, name, size):
        """How a primary stands against others whom it meets; `size`: of the island that it led before."""
        return self._key(state, name, self.traits.merge_order, state.units[name].running.priority, size)

    def seat_key(self, state, name):
        """How a unit stands in the choice of the standby: with a priority that counts already."""
        unit = state.units[name]
        counts = unit.running.priority if unit.counts is None else unit.counts
        return self._key(state, name, self.traits.boot_order, counts, 0)

    def _key(self, state, name, order, priority, size):
        unit, parts = state.units[name], []
        for criterion in order:
            if criterion == "priority":
                parts.append(-priority if self.traits.highest_wins else priority)
            elif criterion == "uptime":
                parts.append(unit.booted_at)
            elif criterion in ("lowest-mac", "highest-mac"):
                parts.append(mac_rank(self.infos[name].mac, criterion == "highest-mac"))
            elif criterion == "lowest-id":
                parts.append(unit.running.id)
            elif criterion == "acting":
                parts.append(not unit.primary)
            else:
                parts.append(-size)
        return tuple(parts)

    def holds_shared(self, state, founded):
        """Is a unit up that holds the running common settings: the incumbent's primary, or a founder still staged?"""
        if not founded:
            return self.founder is not None and state.units[self.founder].powered
        return any(state.units[name].primary for name in self.may_lead)

    def admitted(self, state, name):
        """Has the stack been told of this unit?"""
        known = state.shared_running.admitted
        return (state.units[name].running.id if self.traits.admission == "id" else self.infos[name].serial) in known

    def counts_without_restart(self, name, ports, port):
        """Can a binding of this port count before the unit restarts? Some platforms convert whole groups at a boot."""
        group = self.group_of(name, port)
        return not (self.traits.groups_restart and group) or any(ports[other][2] for other in group if other in ports)

    def group_of(self, name, port):
        """The ports that can only change to stacking together with this one, itself among them."""
        return next((group for group in self.infos[name].port_groups if port in group), frozenset())

    def differing(self, one, other, policy):
        """The join keys of this policy (None: of any) that both units list with different running values."""
        own, its = one.running.keys, other.running.keys
        return [key for key, (_, differs) in self.traits.join_keys.items() if policy in (None, differs)
                and key in own and key in its and own[key] != its[key]]

    def factory(self, saved):
        """Settings of a box as it comes. What a wipe does not touch stays: join keys, and bindings that are fixed."""
        fixed = self.traits.binding == "fixed"
        ports = {port: (self.traits.factory_enabled, held[1] if fixed else "none", fixed and held[2])
                 for port, held in saved.ports.items()}
        return Settings(self.traits.id_factory, self.traits.priority_factory, ports, dict(saved.keys),
                        self.traits.factory_mode)


def mac_rank(mac, highest):
    """Smaller is better; an unknown address loses to a known one."""
    if mac is None:
        return (1, ())
    return (0, tuple(-ord(sign) if highest else ord(sign) for sign in mac.lower().replace(":", "-")))


def best_of(keys):
    """The best by these keys, and whether they decide it."""
    ranked = sorted((key, name) for name, key in keys.items())
    return ranked[0][1], len(ranked) < 2 or ranked[0][0] != ranked[1][0]


_ENDS = {}


def end_parts(end):
    """(unit, port) of an end, remembered."""
    parts = _ENDS.get(end)
    if parts is None:
        if len(_ENDS) > 100_000:
            _ENDS.clear()
        name, _, port = end.partition(":")
        parts = _ENDS[end] = (name, port)
    return parts


def cable_kinds(world, state):
    """Each lit cable's kind: stack, stray, unmatched, or far."""
    kinds, units = {}, state.units
    for cable in state.cables:
        (name_a, port_a), (name_b, port_b) = end_parts(cable[0]), end_parts(cable[1])
        if name_a == "far" or name_b == "far":
            name, port = (name_b, port_b) if name_a == "far" else (name_a, port_a)
            unit = units[name]
            if unit.powered and unit.running.ports[port][0]:
                kinds[cable] = "far"
            continue
        a, b = units[name_a], units[name_b]
        if not (a.powered and b.powered):
            continue
        held_a, held_b = a.running.ports[port_a], b.running.ports[port_b]
        if not (held_a[0] and held_b[0]):
            continue
        if held_a[2] and held_b[2]:
            facing = not world.traits.opposite or OPPOSITE[held_a[1]] == held_b[1]
            kinds[cable] = "stack" if facing and may_stack(world, state, name_a, name_b) else "unmatched"
        else:
            kinds[cable] = "unmatched" if held_a[2] or held_b[2] else "stray"
    return kinds


def may_stack(world, state, name_a, name_b):
    """Do two units whose bound and active ports meet stack with each other?"""
    a, b = state.units[name_a], state.units[name_b]
    if a.waiting or b.waiting or "lone" in (a.running.mode, b.running.mode):
        return False
    if world.traits.admission != "open" and world.admitted(state, name_a) != world.admitted(state, name_b):
        return False
    return not (world.traits.join_keys and world.differing(a, b, "refused"))


def find_islands(state, kinds):
    """unit -> its island, over stack links, powered units only."""
    home = {name: {name} for name, unit in state.units.items() if unit.powered}
    for cable, kind in kinds.items():
        if kind == "stack":
            one, other = home[end_parts(cable[0])[0]], home[end_parts(cable[1])[0]]
            if one is not other:
                one |= other
                for name in other:
                    home[name] = one
    frozen = {id(island): frozenset(island) for island in home.values()}
    return {name: frozen[id(island)] for name, island in home.items()}


class View:
    """What one settled State shows: lit cables, islands, leaders, the incumbent island. `is_open`: as many live units
    are in another island that may be it, so that which one is the stack is this judge's own choice."""

    def __init__(self, world, state, live, founded):
        self.world, self.state, self.founded = world, state, founded
        self.kinds = cable_kinds(world, state)
        self.home = find_islands(state, self.kinds)
        self.islands = sorted(set(self.home.values()), key=sorted)
        self.leaders = {island: [n for n in sorted(island) if state.units[n].primary] for island in self.islands}
        self.incumbent, self.primary, self.is_open = None, None, False
        if founded:
            order = {name: at for at, name in enumerate(world.infos)}
            led = [(-len(island & live), names[0] != world.first_primary, min(order[n] for n in island), names[0], island)
                   for island, leaders in self.leaders.items()
                   for names in [[n for n in leaders if n in world.may_lead]] if names]
            if led:
                _, _, _, self.primary, self.incumbent = min(led, key=lambda entry: entry[:3])
                best = min(entry[:2] for entry in led)
                self.is_open = best[1] and sum(entry[:2] == best for entry in led) > 1

    def in_stack(self, name):
        return self.incumbent is not None and name in self.incumbent

    def boxes_in_stack(self, member):
        return [key for key in self.world.boxes.get(member, ()) if self.in_stack(key)]

    def strays(self):
        """Cables that bridge: two unbound ends, or a far cable on a unit outside the incumbent island."""
        found = []
        for cable, kind in self.kinds.items():
            if kind == "stray":
                found.append(cable)
            elif kind == "far":
                name = next(end_parts(end)[0] for end in cable if not end.startswith("far:"))
                if not self.in_stack(name):
                    found.append(cable)
        return found

    def link_keys(self, names=None):
        """Stack links by their two unit sides, among these units if given."""
        found, units = set(), self.state.units
        for cable, kind in self.kinds.items():
            if kind == "stack":
                ends = [end_parts(end) for end in cable]
                if names is None or all(name in names for name, _ in ends):
                    found.add(frozenset((name, units[name].running.ports[port][1]) for name, port in ends))
        return found

    def carries(self, uplink, leg, shared=None):
        """Does this leg carry: formed, far cable lit, unit in the incumbent island?"""
        legs = (shared or self.state.shared_running).uplinks.get(uplink, ())
        if leg not in legs:
            return False
        member, port = end_parts(leg)
        return any(self.kinds.get(tuple(sorted((f"far:{uplink}", f"{box}:{port}")))) == "far"
                   for box in self.boxes_in_stack(member))

    def unit_saved(self, name):
        """The `saved` fact of a powered unit."""
        unit, state = self.state.units[name], self.state
        if not unit.is_saved():
            return False
        return not self.in_stack(name) or (unit.copy and state.shared_saved == state.shared_running)

    def unprotected(self, live):
        """Is the live units' graph of stack links not 2-edge-connected? None or one is protected."""
        if len(live) < 2:
            return False
        edges = [tuple(name for name, _ in key) for key in self.link_keys(live) if len({n for n, _ in key}) == 2]
        return not all(_connected(live, edges, skipped) for skipped in [None, *range(len(edges))])


def _connected(nodes, edges, skipped):
    neighbours = {node: [] for node in nodes}
    for position, (one, other) in enumerate(edges):
        if position != skipped:
            neighbours[one].append(other)
            neighbours[other].append(one)
    start = next(iter(nodes))
    reached, todo = {start}, [start]
    while todo:
        for other in neighbours[todo.pop()]:
            if other not in reached:
                reached.add(other)
                todo.append(other)
    return len(reached) == len(nodes)
