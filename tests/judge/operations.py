"""Every operation of the model: its needs and its effect. `perform` does one on a State and lets it settle."""

from settling import (Outcome, boot, fill_seats, forget_unsaved, go_round, hand_lead, link_sides, restart_together,
                      settle)
from state import UPLINK_KINDS, Settings, Shared, cable_kinds, end_parts


class Refused(Exception):
    """An operation's needs are not met; the message says which."""


def perform(world, state, view, do, founded):
    """Does one operation on the State and settles it; raises Refused where a need is not met."""
    outcome = Outcome(founded)
    state.now += 1
    kind = do["kind"]
    if kind in ("await", "expect"):
        return outcome
    if kind in ("connect-cable", "disconnect-cable"):
        change_cable(state, do)
    elif kind in UPLINK_KINDS:
        change_uplink(world, state, view, do)
    elif kind in ("admit", "forget"):
        change_admitted(world, state, view, do, founded)
    else:
        name = do["unit"]
        if name not in state.units:
            raise Refused(f"there is no unit {name}")
        if (kind != "power-on") != state.units[name].powered:
            raise Refused(f"{name} is {'on' if kind == 'power-on' else 'off'}")
        UNIT_OPERATIONS[kind](world, state, view, do, outcome, founded)
    outcome.by_restart = bool(outcome.downs)
    outcome.at_once = cable_kinds(world, state)
    outcome.at_once_keys = link_sides(state, outcome.at_once)
    settle(world, state, outcome)
    if forget_unsaved(world, state, founded):
        settle(world, state, outcome)
    if world.traits.sticky and not outcome.clashes:
        fill_seats(world, state, outcome)
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


def change_admitted(world, state, view, do, founded):
    """Tells the stack of a newcomer, or to forget a leaver; the founder of a new stack admits itself while staged."""
    kind, name, what = do["kind"], do["unit"], world.traits.admission
    if name not in state.units:
        raise Refused(f"there is no unit {name}")
    if what not in do:
        raise Refused("this platform admits " + ("whatever is cabled" if what == "open" else f"by {what}"))
    if what == "id":
        _legal(do["id"], world.traits.id_range, "id")
    if view.incumbent is None:
        typist = None if founded else state.units[name]
        if name != world.founder or typist is None or not typist.powered:
            raise Refused("no stack is up to be told")
        own = {typist.running.id, typist.saved.id} if what == "id" else {world.infos[name].serial}
        if do[what] not in own:
            raise Refused(f"{name} can tell of itself alone before it is a stack")
    else:
        typist = state.units[view.primary]
    inside = {state.units[other].running.id if what == "id" else world.infos[other].serial
              for other in view.incumbent or ()}
    if kind == "forget" and do[what] in inside:
        raise Refused(f"{do[what]} is in the stack")
    if kind == "admit" and typist.running.mode == "lone":
        raise Refused("a lone switch admits nobody")
    shared = state.shared_running
    told = frozenset((do[what],))
    state.shared_running = Shared(shared.uplinks, shared.guard,
                                  shared.admitted | told if kind == "admit" else shared.admitted - told)


def change_uplink(world, state, view, do):
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
            if state.units[view.primary].running.mode == "lone":
                raise Refused("a lone switch guards against no split")
            guard = name
        elif kind == "unguard-split" and guard == name:
            guard = None
    state.shared_running = Shared(uplinks, guard, shared.admitted)


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
    boot(world, state, do["unit"], outcome)


def power_off(world, state, view, do, outcome, founded):
    state.units[do["unit"]].go_down()


def restart(world, state, view, do, outcome, founded):
    go_round(world, state, [do["unit"]], outcome)
    boot(world, state, do["unit"], outcome)


def wipe(world, state, view, do, outcome, founded):
    name = do["unit"]
    if len(view.home[name]) > 1 or any(end_parts(end)[0] == name for cable in state.cables for end in cable):
        raise Refused(f"{name} is not alone and free of cables")
    unit = state.units[name]
    unit.saved = world.factory(unit.saved)
    unit.copy = False
    go_round(world, state, [name], outcome)
    boot(world, state, name, outcome)


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


def set_mode(world, state, view, do, outcome, founded):
    if not world.traits.switched:
        raise Refused("this platform has no lone mode")
    if len(view.home[do["unit"]]) > 1:
        raise Refused(f"{do['unit']} is not alone")
    state.units[do["unit"]].saved.mode = do["mode"]


def set_key(world, state, view, do, outcome, founded):
    if do["key"] not in world.traits.join_keys:
        raise Refused(f"this platform has no key {do['key']}")
    unit, (at_once, _) = state.units[do["unit"]], world.traits.join_keys[do["key"]]
    unit.saved.keys[do["key"]] = do["value"]
    if at_once:
        unit.running.keys[do["key"]] = do["value"]


def hand_over(world, state, view, do, outcome, founded):
    """The lead passes by command; where the old primary restarts for it, it does so by itself."""
    name, old = do["unit"], view.primary
    if world.traits.handover == "none":
        raise Refused("this platform has no hand-over")
    if not view.in_stack(name) or state.units[name].waiting or name == old:
        raise Refused(f"{name} is not in the stack, or leads it already")
    hand_lead(state, old, name)
    if world.traits.handover == "old-restarts":
        restart_together(world, state, [old], outcome)


def switch_port(world, state, view, do, outcome, founded):
    held = _port(state, do)
    state.units[do["unit"]].running.ports[do["port"]] = (do["kind"] == "enable-port", held[1], held[2])


def need_bindings(world, unit, what):
    """Bindings can be made, and the unit is in the mode for it."""
    if world.traits.binding == "fixed":
        raise Refused(f"stacking ports are fixed: there is nothing to {what}")
    if unit.running.mode == "lone":
        raise Refused(f"in lone mode there is nothing to {what}")


def bind_port(world, state, view, do, outcome, founded):
    traits, unit, port, side = world.traits, state.units[do["unit"]], do["port"], do["side"]
    held = _port(state, do)
    need_bindings(world, unit, "bind")
    if held[1] != "none":
        raise Refused(f"{do['unit']}:{port} is already bound to {held[1]}")
    if traits.port_disabled and held[0]:
        raise Refused(f"{do['unit']}:{port} is enabled")
    leg = f"{world.infos[do['unit']].member}:{port}"
    if view.in_stack(do["unit"]) and any(leg in legs for legs in state.shared_running.uplinks.values()):
        raise Refused(f"{leg} is a leg")
    if sum(other[1] == side for other in unit.running.ports.values()) >= traits.max_cables:
        raise Refused(f"{do['unit']} has {traits.max_cables} ports on its {side} side already")
    active = traits.binding == "at-once" and world.counts_without_restart(do["unit"], unit.running.ports, port)
    unit.running.ports[port] = (held[0], side, active)
    if traits.stored_binding:
        unit.saved.ports[port] = (unit.saved.ports[port][0], side, True)


def release_port(world, state, view, do, outcome, founded):
    unit, held = state.units[do["unit"]], _port(state, do)
    if world.traits.binding == "fixed":
        raise Refused("stacking ports are fixed")
    if held[1] == "none":
        raise Refused(f"{do['unit']}:{do['port']} is not bound")
    if world.traits.port_disabled and held[0]:
        raise Refused(f"{do['unit']}:{do['port']} is enabled")
    unit.running.ports[do["port"]] = (held[0], "none", False)
    if world.traits.stored_binding:
        unit.saved.ports[do["port"]] = (unit.saved.ports[do["port"]][0], "none", False)


def activate(world, state, view, do, outcome, founded):
    """Makes bindings count: of the whole island or of one unit. Where that restarts the units, they all go at once."""
    traits = world.traits
    if traits.binding != "on-activation":
        raise Refused("this platform has no activation")
    need_bindings(world, state.units[do["unit"]], "activate")
    changed = []
    for name in sorted((do["unit"],) if traits.activate_unit else view.home[do["unit"]]):
        ports = state.units[name].running.ports
        fresh = [port for port, held in ports.items() if held[1] != "none" and not held[2]
                 and world.counts_without_restart(name, ports, port)]
        for port in fresh:
            ports[port] = (ports[port][0], ports[port][1], True)
        if fresh:
            changed.append(name)
    if changed and traits.activate_restarts:
        restart_together(world, state, changed, outcome)


def save(world, state, view, do, outcome, founded):
    """Stores running settings, but for what waits for a restart: an id, a mode, join keys. In the incumbent island the
    shared ones too, with the copies that follow."""
    covered = view.home[do["unit"]] if world.traits.save_stack else frozenset((do["unit"],))
    for name in covered:
        unit = state.units[name]
        number = unit.running.id if world.traits.id_at_once else unit.saved.id
        ports = {port: (held[0], held[1], held[1] != "none") for port, held in unit.running.ports.items()}
        unit.saved = Settings(number, unit.running.priority, ports, dict(unit.saved.keys), unit.saved.mode)
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
    "release-port": release_port, "activate": activate, "save": save, "set-mode": set_mode, "set-key": set_key,
    "hand-over": hand_over,
}
