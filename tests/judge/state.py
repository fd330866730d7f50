"""The stack as the model sees it: units, cables, shared settings, and what is derived from them.

`World` holds what stays fixed through a replay (traits, MACs, who may lead); `State` is what changes;
`View` is what can be read off one State.
"""

from dataclasses import dataclass, field

OPPOSITE = {"west": "east", "east": "west"}
UPLINK_KINDS = ("form-uplink", "drop-uplink", "add-leg", "drop-leg", "guard-split", "unguard-split")
HANDS_KINDS = ("power-on", "power-off", "connect-cable", "disconnect-cable")


class Settings:
    """What a unit acts on: id, priority, and port -> (enabled, side, active)."""

    __slots__ = ("id", "priority", "ports")

    def __init__(self, id, priority, ports):
        self.id, self.priority, self.ports = id, priority, ports

    def copy(self):
        return Settings(self.id, self.priority, dict(self.ports))

    def key(self):
        return (self.id, self.priority, tuple(self.ports.items()))

    def same_as(self, other):
        return self.id == other.id and self.priority == other.priority and self.ports == other.ports


class Unit:
    """One physical box."""

    __slots__ = ("powered", "booted_at", "primary", "waiting", "copy", "running", "saved")

    def __init__(self, powered, booted_at, primary, waiting, copy, running, saved):
        self.powered, self.booted_at, self.primary = powered, booted_at, primary
        self.waiting, self.copy, self.running, self.saved = waiting, copy, running, saved

    def clone(self):
        return Unit(self.powered, self.booted_at, self.primary, self.waiting, self.copy,
                    self.running.copy() if self.running else None, self.saved.copy() if self.saved else None)

    def go_down(self):
        self.powered = self.primary = self.waiting = False
        self.running = None

    def boot(self, now):
        """Runs what was saved, every saved binding active."""
        self.powered, self.primary, self.waiting, self.booted_at = True, False, False, now
        ports = {port: (held[0], held[1], held[1] != "none") for port, held in self.saved.ports.items()}
        self.running = Settings(self.saved.id, self.saved.priority, ports)

    def is_saved(self):
        """Do saved and running agree in all that both have?"""
        run, saved = self.running, self.saved
        return (run.id == saved.id and run.priority == saved.priority
                and all(held[:2] == saved.ports[port][:2] for port, held in run.ports.items()))


@dataclass(frozen=True)
class Shared:
    """The incumbent stack's common settings; never changed in place."""

    uplinks: dict
    guard: str | None

    def key(self):
        return (tuple(sorted((name, tuple(sorted(legs))) for name, legs in self.uplinks.items())), self.guard)


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
                       u.running.key() if u.running else None, u.saved.key() if u.saved else None)
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

    def election_key(self, state, name):
        """Smaller is better; one entry for each criterion."""
        unit, parts = state.units[name], []
        for criterion in self.traits.election:
            if criterion == "priority":
                value = unit.running.priority
                parts.append(-value if self.traits.highest_wins else value)
            elif criterion == "uptime":
                parts.append(unit.booted_at)
            elif criterion == "lowest-mac":
                mac = self.infos[name].mac
                parts.append((1, "") if mac is None else (0, mac.lower().replace(":", "-")))
            else:
                parts.append(unit.running.id)
        return tuple(parts)

    def elect(self, state, names):
        """The best of these by the election order, and whether the order decides it."""
        ranked = sorted((self.election_key(state, name), name) for name in names)
        return ranked[0][1], len(ranked) < 2 or ranked[0][0] != ranked[1][0]

    def factory(self, ports):
        """Settings of a box as it comes."""
        return Settings(self.traits.id_factory, self.traits.priority_factory,
                        {port: (self.traits.factory_enabled, "none", False) for port in ports})


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
            kinds[cable] = "stack" if facing and not (a.waiting or b.waiting) else "unmatched"
        else:
            kinds[cable] = "unmatched" if held_a[2] or held_b[2] else "stray"
    return kinds


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
    """What one settled State shows: lit cables, islands, leaders, the incumbent island."""

    def __init__(self, world, state, live, founded):
        self.world, self.state = world, state
        self.kinds = cable_kinds(world, state)
        self.home = find_islands(state, self.kinds)
        self.islands = sorted(set(self.home.values()), key=sorted)
        self.leaders = {island: [n for n in sorted(island) if state.units[n].primary] for island in self.islands}
        self.incumbent, self.primary = None, None
        if founded:
            led = [(-len(island & live), names[0] != world.first_primary, names[0], island)
                   for island, leaders in self.leaders.items()
                   for names in [[n for n in leaders if n in world.may_lead]] if names]
            if led:
                _, _, self.primary, self.incumbent = min(led, key=lambda entry: entry[:3])

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
