"""Every operation of the model: its needs and its effect. `perform` does one on a State and lets it settle."""

from settling import Outcome, go_round, link_sides, settle
from state import UPLINK_KINDS, Settings, Shared, cable_kinds, end_parts


class Refused(Exception):
    """An operation's needs are not met; the message says which."""


def perform(world, state, view, do, founded):
    """Does one operation on the State and settles it; raises Refused where a need is not met."""
    outcome = Outcome()
    state.now += 1
    kind = do["kind"]
    if kind in ("await", "expect"):
        return outcome
    if kind in ("connect-cable", "disconnect-cable"):
        change_cable(state, do)
    elif kind in UPLINK_KINDS:
        change_uplink(state, view, do)
    else:
        name = do["unit"]
        if name not in state.units:
            raise Refused(f"there is no unit {name}")
        if (kind != "power-on") != state.units[name].powered:
            raise Refused(f"{name} is {'on' if kind == 'power-on' else 'off'}")
        UNIT_OPERATIONS[kind](world, state, view, do, outcome, founded)
    outcome.at_once = cable_kinds(world, state)
    outcome.at_once_keys = link_sides(state, outcome.at_once)
    settle(world, state, outcome)
    return outcome


def change_cable(state, do):
    ends = tuple(sorted(do["ends"]))
    if do["kind"] == "disconnect-cable":
        if ends not in state.cables:
            raise Refused(f"no cable runs from {ends[0]} to {ends[1]}")
        state.cables.discard(ends)
        return
    taken = {end for cable in state.cables for end in cable}
    for end in ends:
        name, port = end_parts(end)
        if name == "far":
            continue
        if name not in state.units:
            raise Refused(f"there is no unit {name}")
        saved = state.units[name].saved
        if saved is None or port not in saved.ports:
            raise Refused(f"{name} has no port {port}")
        if end in taken:
            raise Refused(f"{end} already holds a cable")
    state.cables.add(ends)


def change_uplink(state, view, do):
    """Forms, drops, extends or guards an uplink pair in the running shared settings."""
    kind, name = do["kind"], do["uplink"]
    if view.incumbent is None:
        raise Refused("no stack is up to hold uplinks")
    shared = state.shared_running
    uplinks, guard = dict(shared.uplinks), shared.guard
    if kind == "form-uplink":
        legs = frozenset(do["legs"])
        if name in uplinks and uplinks[name] != legs:
            raise Refused(f"{name} stands with other legs")
        if name not in uplinks:
            for leg in sorted(legs):
                need_free_leg(state, view, leg)
        uplinks[name] = legs
    elif kind == "drop-uplink":
        if guard == name:
            raise Refused(f"{name} carries the split guard")
        uplinks.pop(name, None)
    else:
        if name not in uplinks:
            raise Refused(f"{name} is not formed")
        if kind == "add-leg" and do["leg"] not in uplinks[name]:
            need_free_leg(state, view, do["leg"])
            uplinks[name] = uplinks[name] | {do["leg"]}
        elif kind == "drop-leg":
            uplinks[name] = uplinks[name] - {do["leg"]}
        elif kind == "guard-split":
            guard = name
        elif kind == "unguard-split" and guard == name:
            guard = None
    state.shared_running = Shared(uplinks, guard)


def need_free_leg(state, view, leg):
    """A new leg's member is in the incumbent island, its port unbound and no leg yet."""
    member, port = end_parts(leg)
    boxes = view.boxes_in_stack(member)
    if not boxes:
        raise Refused(f"{member} is not in the stack")
    for box in boxes:
        held = state.units[box].running.ports.get(port)
        if held is None:
            raise Refused(f"{box} has no port {port}")
        if held[1] != "none":
            raise Refused(f"{box}:{port} is bound to {held[1]}")
    if any(leg in legs for legs in state.shared_running.uplinks.values()):
        raise Refused(f"{leg} is a leg already")


def _port(state, do):
    ports = state.units[do["unit"]].running.ports
    if do["port"] not in ports:
        raise Refused(f"{do['unit']} has no port {do['port']}")
    return ports[do["port"]]


def _legal(value, bounds, what):
    if not bounds[0] <= value <= bounds[1]:
        raise Refused(f"{what} {value} is outside {bounds[0]}-{bounds[1]}")


def power_on(world, state, view, do, outcome, founded):
    unit = state.units[do["unit"]]
    info = world.infos[do["unit"]]
    if unit.saved is None:
        raise Refused(f"{do['unit']} has no saved settings to boot with")
    if do["unit"] in world.dead_boxes:
        raise Refused(f"{info.member} is declared dead and is never powered on")
    unit.boot(state.now)


def power_off(world, state, view, do, outcome, founded):
    state.units[do["unit"]].go_down()


def restart(world, state, view, do, outcome, founded):
    go_round(world, state, [do["unit"]], outcome)
    state.units[do["unit"]].boot(state.now)


def wipe(world, state, view, do, outcome, founded):
    name = do["unit"]
    if len(view.home[name]) > 1 or any(end_parts(end)[0] == name for cable in state.cables for end in cable):
        raise Refused(f"{name} is not alone and free of cables")
    unit = state.units[name]
    unit.saved = world.factory(unit.saved.ports)
    unit.copy = False
    go_round(world, state, [name], outcome)
    unit.boot(state.now)


def assign_id(world, state, view, do, outcome, founded):
    _legal(do["id"], world.traits.id_range, "id")
    unit = state.units[do["unit"]]
    if world.traits.id_at_once:
        unit.running.id = do["id"]
    if not world.traits.id_at_once or world.traits.stored_id:
        unit.saved.id = do["id"]


def set_priority(world, state, view, do, outcome, founded):
    _legal(do["priority"], world.traits.priority_range, "priority")
    unit = state.units[do["unit"]]
    unit.running.priority = do["priority"]
    if world.traits.stored_priority:
        unit.saved.priority = do["priority"]


def switch_port(world, state, view, do, outcome, founded):
    held = _port(state, do)
    state.units[do["unit"]].running.ports[do["port"]] = (do["kind"] == "enable-port", held[1], held[2])


def bind_port(world, state, view, do, outcome, founded):
    traits, unit, port, side = world.traits, state.units[do["unit"]], do["port"], do["side"]
    held = _port(state, do)
    if held[1] != "none":
        raise Refused(f"{do['unit']}:{port} is already bound to {held[1]}")
    if traits.port_disabled and held[0]:
        raise Refused(f"{do['unit']}:{port} is enabled")
    leg = f"{world.infos[do['unit']].member}:{port}"
    if view.in_stack(do["unit"]) and any(leg in legs for legs in state.shared_running.uplinks.values()):
        raise Refused(f"{leg} is a leg")
    if sum(other[1] == side for other in unit.running.ports.values()) >= traits.max_cables:
        raise Refused(f"{do['unit']} has {traits.max_cables} ports on its {side} side already")
    unit.running.ports[port] = (held[0], side, traits.binding == "at-once")
    if traits.stored_binding:
        unit.saved.ports[port] = (unit.saved.ports[port][0], side, True)


def release_port(world, state, view, do, outcome, founded):
    unit, held = state.units[do["unit"]], _port(state, do)
    if held[1] == "none":
        raise Refused(f"{do['unit']}:{do['port']} is not bound")
    if world.traits.port_disabled and held[0]:
        raise Refused(f"{do['unit']}:{do['port']} is enabled")
    unit.running.ports[do["port"]] = (held[0], "none", False)
    if world.traits.stored_binding:
        unit.saved.ports[do["port"]] = (unit.saved.ports[do["port"]][0], "none", False)


def activate(world, state, view, do, outcome, founded):
    if world.traits.binding != "on-activation":
        raise Refused("this platform has no activation")
    for name in view.home[do["unit"]]:
        ports = state.units[name].running.ports
        for port, held in ports.items():
            ports[port] = (held[0], held[1], held[1] != "none")


def save(world, state, view, do, outcome, founded):
    """Stores running settings; in the incumbent island the shared ones too, with the copies that follow."""
    covered = view.home[do["unit"]] if world.traits.save_stack else frozenset((do["unit"],))
    for name in covered:
        unit = state.units[name]
        number = unit.running.id if world.traits.id_at_once else unit.saved.id
        ports = {port: (held[0], held[1], held[1] != "none") for port, held in unit.running.ports.items()}
        unit.saved = Settings(number, unit.running.priority, ports)
    founding = not founded and world.founder in view.home[do["unit"]]
    if view.in_stack(do["unit"]) or founding:
        changed = state.shared_saved != state.shared_running
        state.shared_saved = state.shared_running
        for name, unit in state.units.items():
            if name in covered:
                unit.copy = True
            elif changed:
                unit.copy = False


UNIT_OPERATIONS = {
    "power-on": power_on, "power-off": power_off, "restart": restart, "wipe": wipe, "assign-id": assign_id,
    "set-priority": set_priority, "disable-port": switch_port, "enable-port": switch_port, "bind-port": bind_port,
    "release-port": release_port, "activate": activate, "save": save,
}
