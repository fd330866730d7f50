"""Reads a plan's JSON value into checked records; whatever has the wrong shape raises ShapeError.

Decides nothing about the change itself: only whether the value can be judged at all.
"""

import re
from dataclasses import dataclass

from acts import check_do
from reading import (ShapeError, choice, hundredths, is_int, is_number, mapping, need, read_ends, read_range, sequence,
                     split_end, text, texts)
from state import Settings, Shared, State, Unit
from traits import Traits, read_traits

SIDES = ("none", "west", "east")
PHASES = ("stage", "cable", "join", "settle", "close")


@dataclass
class UnitInfo:
    key: str
    member: str
    role: str
    status: str
    serial: str | None
    mac: str | None
    model: str | None
    stacking_ports: list | None
    id: int | None
    priority: int | None
    port_groups: list
    in_use: frozenset


@dataclass
class Plan:
    stack: str
    traits: Traits
    units: dict
    baseline: State
    target: State
    steps: list
    ways_back: list
    moves: list | None
    cost: dict | None
    slips: dict | None
    ways_back_slips: list | None  # the same of each way back, in their order
    restart: frozenset
    new_primary: frozenset
    split: frozenset
    accept: list
    dead: frozenset
    after_check: bool
    owned_up: frozenset  # the steps of which it warns that they have no way back


def read_units(value):
    """The plan's units by key; a key twice, or two boxes without a member, is a wrong shape."""
    units = {}
    for position, entry in enumerate(sequence(value, "units")):
        where = f"units[{position}]"
        entry = mapping(entry, where)
        key = text(entry.get("key"), f"{where}.key")
        need(key not in units and key != "far", f"{where}: the key {key!r} stands twice or is reserved")
        for name in ("serial", "mac", "model"):
            need(entry.get(name) is None or isinstance(entry[name], str), f"{where}.{name} is not a text")
        for name in ("id", "priority"):
            need(entry.get(name) is None or is_int(entry[name]), f"{where}.{name} is not a whole number")
        ports = entry.get("stacking_ports")
        units[key] = UnitInfo(
            key=key, member=text(entry.get("member", key.split("@")[0]), f"{where}.member"),
            role=choice(entry.get("role", "member"), ("primary", "standby", "member"), f"{where}.role"),
            status=choice(entry.get("status"), ("live", "joining", "leaving"), f"{where}.status"),
            serial=entry.get("serial"), mac=entry.get("mac"), model=entry.get("model"),
            stacking_ports=None if ports is None else texts(ports, f"{where}.stacking_ports"),
            id=entry.get("id"), priority=entry.get("priority"),
            port_groups=[frozenset(texts(group, f"{where}.port_groups"))
                         for group in sequence(entry.get("port_groups") or [], f"{where}.port_groups")],
            in_use=frozenset(texts(entry.get("in_use") or [], f"{where}.in_use")))
    need(units, "units is empty")
    return units


def read_settings(value, running, traits, where):
    """Running or saved settings; only running ports have `active`."""
    entry = mapping(value, where)
    need(is_int(entry.get("id")), f"{where}.id is not a whole number")
    need(is_int(entry.get("priority")), f"{where}.priority is not a whole number")
    ports = {}
    for port, held in mapping(entry.get("ports"), f"{where}.ports").items():
        held = mapping(held, f"{where}.ports.{port}")
        side = choice(held.get("side"), SIDES, f"{where}.ports.{port}.side")
        need(isinstance(held.get("enabled"), bool), f"{where}.ports.{port}.enabled is not true or false")
        active = held.get("active") if running else side != "none"
        need(isinstance(active, bool), f"{where}.ports.{port}.active is not true or false")
        need(side != "none" or not active, f"{where}.ports.{port} is active and not bound")
        ports[port] = (held["enabled"], side, active)
    keys = mapping(entry.get("keys", {}), f"{where}.keys")
    for name, held in keys.items():
        choice(name, tuple(traits.join_keys), f"{where}.keys")
        text(held, f"{where}.keys.{name}")
    mode = choice(entry.get("mode", "stack"), ("lone", "stack") if traits.switched else ("stack",), f"{where}.mode")
    return Settings(entry["id"], entry["priority"], ports, dict(keys), mode)


def read_shared(value, traits, where):
    entry = mapping(value, where)
    uplinks = {}
    for name, legs in mapping(entry.get("uplinks", {}), f"{where}.uplinks").items():
        legs = texts(legs, f"{where}.uplinks.{name}")
        need(all(all(split_end(leg)) for leg in legs), f"{where}.uplinks.{name}: a leg is not member:port")
        uplinks[name] = frozenset(legs)
    guard = entry.get("guard")
    need(guard is None or isinstance(guard, str), f"{where}.guard is not a text")
    admitted = sequence(entry.get("admitted", []), f"{where}.admitted")
    need(not admitted or traits.admission != "open", f"{where}.admitted: this platform admits whatever is cabled")
    for item in admitted:
        need(is_int(item) if traits.admission == "id" else isinstance(item, str), f"{where}.admitted: {item!r} is no "
             f"{traits.admission}")
    return Shared(uplinks, guard, frozenset(admitted))


def read_seat(held, running, traits, where):
    """Does a unit hold the standby's seat, and by which priority is a standby chosen, where a State says so?"""
    standby, counts = held.get("standby", False), held.get("counts")
    need(isinstance(standby, bool), f"{where}.standby is not true or false")
    need(not standby or traits.sticky and running is not None and not held["primary"], f"{where} can hold no seat")
    fits = is_int(counts) and traits.priority_waits and running is not None
    need(counts is None or fits, f"{where}.counts does not fit")
    if traits.priority_waits and running is not None and counts is None:
        counts = running.priority
    return standby, counts


def read_state(value, units, traits, where):
    """A State over exactly the plan's units, no port holding two cables."""
    entry = mapping(value, where)
    table = mapping(entry.get("units"), f"{where}.units")
    need(set(table) == set(units), f"{where}.units does not hold the plan's units")
    state = State()
    for key in units:
        here = f"{where}.units.{key}"
        held = mapping(table[key], here)
        for flag in ("powered", "primary", "waiting", "copy"):
            need(isinstance(held.get(flag), bool), f"{here}.{flag} is not true or false")
        booted_at = held.get("booted_at", 0)
        need(is_int(booted_at), f"{here}.booted_at is not a whole number")
        need(held["powered"] == (held.get("running") is not None), f"{here}: running settings and power do not agree")
        need(held["powered"] or not (held["primary"] or held["waiting"]), f"{here} is off and leads or waits")
        running = read_settings(held["running"], True, traits, f"{here}.running") if held["powered"] else None
        saved = None
        if held.get("saved") is not None:
            saved = read_settings(held["saved"], False, traits, f"{here}.saved")
        need(saved is not None or running is None, f"{here} runs and has no saved settings")
        if running is not None:
            need(set(running.ports) == set(saved.ports), f"{here}: running and saved list different ports")
        state.units[key] = Unit(held["powered"], booted_at, held["primary"], held["waiting"], held["copy"],
                                running, saved, *read_seat(held, running, traits, here))
    taken = set()
    for position, ends in enumerate(sequence(entry.get("cables"), f"{where}.cables")):
        ends = read_ends(ends, f"{where}.cables[{position}]")
        for end in ends:
            name, port = split_end(end)
            if name == "far":
                continue
            need(end not in taken, f"{where}.cables[{position}]: {end} holds two cables")
            need(name in units, f"{where}.cables[{position}]: there is no unit {name}")
            saved = state.units[name].saved
            need(saved is None or port in saved.ports, f"{where}.cables[{position}]: {name} has no port {port}")
            taken.add(end)
        state.cables.add(ends)
    shared = mapping(entry.get("shared"), f"{where}.shared")
    state.shared_running = read_shared(shared.get("running"), traits, f"{where}.shared.running")
    state.shared_saved = read_shared(shared.get("saved"), traits, f"{where}.shared.saved")
    return state


def check_claim_shapes(step, where):
    """What a step says of itself, where it says it, has its types."""
    if step.get("at") is not None:
        need(all(isinstance(name, str) for name in mapping(step["at"], f"{where}.at").values()), f"{where}.at is no place")
    for kind, minutes in mapping(step.get("minutes") or {}, f"{where}.minutes").items():
        choice(kind, ("best", "likely", "worst"), f"{where}.minutes")
        hundredths(minutes, f"{where}.minutes.{kind}")
    predicts = mapping(step.get("predicts") or {}, f"{where}.predicts")
    if "restarts" in predicts:
        texts(predicts["restarts"], f"{where}.predicts.restarts")
    if "islands" in predicts:
        for island in sequence(predicts["islands"], f"{where}.predicts.islands"):
            texts(island, f"{where}.predicts.islands")
    if "primary" in predicts:
        for island in mapping(predicts["primary"], f"{where}.predicts.primary").values():
            texts(island, f"{where}.predicts.primary")
    if "unprotected" in predicts:
        need(isinstance(predicts["unprotected"], bool), f"{where}.predicts.unprotected is not true or false")
    stop_here = mapping(step.get("stop_here") or {}, f"{where}.stop_here")
    if "safe" in stop_here:
        need(isinstance(stop_here["safe"], bool), f"{where}.stop_here.safe is not true or false")
    if stop_here.get("way_back_minutes") is not None:
        hundredths(stop_here["way_back_minutes"], f"{where}.stop_here.way_back_minutes")


def read_steps(value):
    steps = sequence(value, "steps")
    for position, step in enumerate(steps):
        where = f"steps[{position}]"
        mapping(step, where)
        need(is_int(step.get("number")), f"{where}.number is not a whole number")
        choice(step.get("phase"), PHASES, f"{where}.phase")
        check_do(step.get("do"), f"{where}.do")
        need(all(is_int(n) for n in sequence(step.get("needs", []), f"{where}.needs")), f"{where}.needs holds no numbers")
        need(step.get("move") is None or is_int(step["move"]), f"{where}.move is not a whole number")
        check_claim_shapes(step, where)
    return steps


def read_ways_back(value, count):
    ways = []
    for position, way in enumerate(sequence(value, "ways_back")):
        where = f"ways_back[{position}]"
        after = read_range(mapping(way, where).get("after"), f"{where}.after")
        need(1 <= after[0] and after[1] <= count, f"{where}.after is outside the plan")
        then = way.get("then")
        need(then is None or is_int(then), f"{where}.then is not a step number")
        for place, step in enumerate(sequence(way.get("steps"), f"{where}.steps")):
            here = f"{where}.steps[{place}]"
            check_do(mapping(step, here).get("do"), f"{here}.do")
            check_claim_shapes(step, here)
        ways.append({"after": after, "steps": way["steps"], "then": then})
    return ways


def read_owned_up(value, count):
    """The steps that the plan's `no-way-back` warnings name in their texts: `3`, or `5 to 9` for all of those."""
    steps = set()
    for position, entry in enumerate(sequence(value, "warnings")):
        if not isinstance(entry, dict) or entry.get("code") != "no-way-back":
            continue
        for first, last in re.findall(r"([0-9]+)(?: to ([0-9]+))?", text(entry.get("text"), f"warnings[{position}].text")):
            steps.update(number for number in range(1, count + 1) if int(first) <= number <= int(last or first))
    return frozenset(steps)


def read_moves(value):
    for position, move in enumerate(sequence(value, "moves")):
        where = f"moves[{position}]"
        need(is_int(mapping(move, where).get("number")), f"{where}.number is not a whole number")
        choice(move.get("phase"), PHASES, f"{where}.phase")
    return value


COUNTS = ("cables", "links_not_typed", "steps")
MINUTE_SUMS = ("member_minutes", "unprotected_minutes", "half_protected_minutes", "best_minutes", "likely_minutes",
               "worst_minutes")


def read_cost(value):
    """The claimed cost, minutes in hundredths."""
    entry = mapping(value, "cost")
    cost = {}
    for name in COUNTS:
        if name in entry:
            need(is_number(entry[name]), f"cost.{name} is not a number")
            cost[name] = entry[name]
    for name in MINUTE_SUMS:
        if name in entry:
            cost[name] = hundredths(entry[name], f"cost.{name}")
    return cost


SLIP_KINDS = ("leave-out", "repeat", "swap", "misplug", "mistype", "wrong-unit", "misplace")


def read_slips(value, whole="slips"):
    """The claimed slips: three counts, and each dangerous one by its kind, step or pair of steps, and what it puts there."""
    entry = mapping(value, whole)
    for name in ("tried", "caught", "harmless"):
        need(is_int(entry.get(name)), f"{whole}.{name} is not a whole number")
    dangerous = []
    for position, slip in enumerate(sequence(entry.get("dangerous"), f"{whole}.dangerous")):
        where = f"{whole}.dangerous[{position}]"
        kind = choice(mapping(slip, where).get("slip"), SLIP_KINDS, f"{where}.slip")
        step, shown = slip.get("step"), slip.get("with")
        pair = isinstance(step, list) and len(step) == 2 and all(is_int(number) for number in step)
        need(pair if kind in ("swap", "misplace") else is_int(step), f"{where}.step does not fit {kind}")
        need(shown is None or isinstance(shown, str), f"{where}.with is not a text")
        dangerous.append({"slip": kind, "step": step, "with": shown, "rule": text(slip.get("rule"), f"{where}.rule")})
    return {**{name: entry[name] for name in ("tried", "caught", "harmless")}, "dangerous": dangerous}


def read_ways_back_slips(value):
    return [read_slips(entry, f"ways_back_slips[{position}]")
            for position, entry in enumerate(sequence(value, "ways_back_slips"))]


def read_plan(value):
    """The whole plan, checked; raises ShapeError at the first thing that cannot be judged."""
    plan = mapping(value, "the plan")
    need(is_int(plan.get("format")) and plan["format"] == 1, "format is not 1")
    units = read_units(plan.get("units"))
    change = mapping(plan.get("change") or {}, "change")
    accept = texts(change.get("accept", []), "change.accept")

    def covered(kind):
        named = set()
        for consent in accept:
            what, _, name = consent.partition(":")
            choice(what, ("restart", "new-primary", "split", "save-unsaved"), "change.accept")
            if what == kind:
                named.add(name)
        return frozenset(key for key, unit in units.items() if unit.member in named)

    steps, traits = read_steps(plan.get("steps")), read_traits(plan.get("traits"))
    return Plan(
        stack=text(plan.get("stack"), "stack"), traits=traits, units=units,
        baseline=read_state(plan.get("baseline"), units, traits, "baseline"),
        target=read_state(plan.get("target"), units, traits, "target"), steps=steps,
        ways_back=read_ways_back(plan.get("ways_back") or [], len(steps)),
        moves=None if plan.get("moves") is None else read_moves(plan["moves"]),
        cost=None if plan.get("cost") is None else read_cost(plan["cost"]),
        slips=None if plan.get("slips") is None else read_slips(plan["slips"]),
        ways_back_slips=None if plan.get("ways_back_slips") is None else read_ways_back_slips(plan["ways_back_slips"]),
        restart=covered("restart"), new_primary=covered("new-primary"), split=covered("split"), accept=accept,
        dead=frozenset(texts(change.get("dead", []), "change.dead")),
        after_check=choice(change.get("save", "before-link"), ("before-link", "after-check"),
                           "change.save") == "after-check",
        owned_up=read_owned_up(plan.get("warnings") or [], len(steps)))
