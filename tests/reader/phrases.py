"""Phrases in plain English -> operations and facts. What no phrase fits is unreadable, never guessed."""

import re

NAME = r"[A-Za-z0-9][A-Za-z0-9._-]*"
UNIT = r"[A-Za-z0-9][A-Za-z0-9._@-]*"
PORT = r"[A-Za-z0-9][A-Za-z0-9/._-]*"
REST = r"(?:; .*)?"


class Unreadable(Exception):
    """The texts say something that has no meaning."""


def number(text):
    value = float(text)
    return int(value) if value.is_integer() else value


def read_operation(line, place, stack):
    for pattern, meaning in OPERATIONS:
        found = re.fullmatch(pattern, line)
        if found:
            return meaning(found, place, stack)
    raise Unreadable(f"not an operation: {line!r}")


def who(found, place, stack):
    """`this unit` at its console, or `member 3` at the stack."""
    named = found["member"]
    if named:
        return stack.member(int(named), place)
    if "console" not in place:
        raise Unreadable("`this unit` or `this stack` is said where there is none")
    return place["console"]


def on_unit(kind, **fields):
    def meaning(found, place, stack):
        action = {"kind": kind, "unit": who(found, place, stack)}
        action.update({field: read(found[field]) for field, read in fields.items()})
        return action
    return meaning


def on_port(kind):
    def meaning(found, place, stack):
        unit, port = stack.port(found["port"], place)
        action = {"kind": kind, "unit": unit, "port": port}
        if kind == "bind-port":
            action["side"] = stack.side(found["side"])
        return action
    return meaning


def on_all(kind):
    def meaning(found, place, stack):
        if found["what"] == "stack" and "console" in place:
            raise Unreadable("`this stack` is said at a console")
        if found["what"] == "unit" and "console" not in place:
            raise Unreadable("`this unit` is said at the stack")
        return {"kind": kind, "unit": stack.here(place)}
    return meaning


def by_hand(kind):
    return lambda found, place, stack: {"kind": kind, "unit": stack.known(found["unit"])}


def cable(kind, *ends):
    def meaning(found, place, stack):
        read = []
        for unit, port in ends:
            read.append(f"far:{found[port]}" if unit is None else f"{stack.known(found[unit])}:{found[port]}")
        return {"kind": kind, "ends": read}
    return meaning


def on_pair(kind):
    def meaning(found, place, stack):
        action = {"kind": kind, "uplink": found["pair"]}
        if kind == "form-uplink":
            ports = re.split(r", | and ", found["ports"])
            action["legs"] = [stack.leg(one.removeprefix("port "), place) for one in ports]
        elif kind.endswith("-leg"):
            action["leg"] = stack.leg(found["port"], place)
        return action
    return meaning


def waiting(found, place, stack):
    until = {"is up": "up", "has joined the stack": "joined", "is ready to take over": "ready"}[found["until"]]
    return {"kind": "await", "unit": stack.known(found["unit"]), "until": until, "limit": number(found["limit"])}


WHO = r"(?:this unit|member (?P<member>\d+))"
WHOSE = r"(?:this unit's {0}|the {0} of member (?P<member>\d+))"
SOCKET = rf"(?P<unit>{UNIT}) port (?P<port>{PORT})"
OTHER = rf"(?P<unit2>{UNIT}) port (?P<port2>{PORT})"
PAIR = rf"uplink pair (?P<pair>{NAME})"

OPERATIONS = [
    (rf"switch on (?P<unit>{UNIT}){REST}", by_hand("power-on")),
    (rf"switch off (?P<unit>{UNIT}){REST}", by_hand("power-off")),
    (rf"restart {WHO}", on_unit("restart")),
    (rf"set {WHO} back to how it left the factory", on_unit("wipe")),
    (rf"set {WHOSE.format('member id')} to (?P<id>\d+)", on_unit("assign-id", id=int)),
    (rf"set {WHOSE.format('priority')} to (?P<priority>\d+)", on_unit("set-priority", priority=int)),
    (r"take port (?P<port>\S+) out of use", on_port("disable-port")),
    (r"put port (?P<port>\S+) into use", on_port("enable-port")),
    (r"bind port (?P<port>\S+) to (?P<side>.+)", on_port("bind-port")),
    (r"release port (?P<port>\S+) from its side", on_port("release-port")),
    (r"put the bindings of this (?P<what>unit|stack) into force", on_all("activate")),
    (r"save the settings of this (?P<what>unit|stack)", on_all("save")),
    (r"save the settings of member (?P<member>\d+)", on_unit("save")),
    (rf"plug one end of the cable into {SOCKET} and the other into {OTHER}{REST}",
     cable("connect-cable", ("unit", "port"), ("unit2", "port2"))),
    (rf"plug the uplink cable of pair (?P<pair>{NAME}) into {SOCKET}{REST}",
     cable("connect-cable", ("unit", "port"), (None, "pair"))),
    (rf"unplug the cable between {SOCKET} and {OTHER} at both ends{REST}",
     cable("disconnect-cable", ("unit", "port"), ("unit2", "port2"))),
    (rf"unplug the uplink cable of pair (?P<pair>{NAME}) from {SOCKET}{REST}",
     cable("disconnect-cable", ("unit", "port"), (None, "pair"))),
    (rf"form {PAIR} from (?P<ports>port \S+(?:(?:, | and )port \S+)*)", on_pair("form-uplink")),
    (rf"dissolve {PAIR}", on_pair("drop-uplink")),
    (rf"add port (?P<port>\S+) to {PAIR}", on_pair("add-leg")),
    (rf"take port (?P<port>\S+) out of {PAIR}", on_pair("drop-leg")),
    (rf"let {PAIR} carry the split guard", on_pair("guard-split")),
    (rf"take the split guard off {PAIR}", on_pair("unguard-split")),
    (rf"wait until (?P<unit>{UNIT}) (?P<until>is up|has joined the stack|is ready to take over), at most (?P<limit>[\d.]+) minutes",
     waiting),
]


def read_fact(line, stack):
    for pattern, meaning in FACTS:
        found = re.fullmatch(pattern, line)
        if found:
            return meaning(found, stack)
    raise Unreadable(f"not a fact: {line!r}")


def parts(text, words, stack):
    """`a; b; c` -> fields, by the phrases that each may be."""
    fields = {}
    for part in text.split("; "):
        for pattern, read in words:
            found = re.fullmatch(pattern, part)
            if found:
                fields.update(read(found, stack))
                break
        else:
            raise Unreadable(f"not a part of a fact: {part!r}")
    return fields


def says(field, value):
    return lambda found, stack: {field: value}


def tells(field, read=str):
    return lambda found, stack: {field: read(found[1])}


def ids(text):
    return [int(one) for one in text.split(", ")]


HERE = [(r"member (\d+)", tells("id", int)), (r"serial (\S+)", tells("serial")),
        (r"stack of members (.+)", tells("members", ids))]
UNIT_PARTS = [
    (r"switched on", says("powered", True)), (r"switched off", says("powered", False)),
    (r"member id (\d+)", tells("id", int)), (r"member id after a restart (\d+)", tells("saved_id", int)),
    (r"priority (\d+)", tells("priority", int)), (r"role (primary|standby|member)", tells("role")),
    (r"waits for a restart", says("waiting", True)), (r"waits for nothing", says("waiting", False)),
    (r"ready to take over", says("ready", True)), (r"not ready to take over", says("ready", False)),
    (r"serial (\S+)", tells("serial")), (r"MAC address (\S+)", tells("mac")), (r"model (\S+)", tells("model")),
]
PORT_PARTS = [
    (r"in use", says("enabled", True)), (r"out of use", says("enabled", False)),
    (r"bound to neither side", says("side", "none")), (r"bound to (.+)", lambda found, stack: {"side": stack.side(found[1])}),
    (r"binding in force", says("active", True)), (r"binding not in force", says("active", False)),
    (r"light", says("lit", True)), (r"dark", says("lit", False)),
]
LINKS = {"works as a stack link": "stack", "has light and carries nothing": "unmatched",
         "runs as plain Ethernet": "stray", "there is none": "none"}


def end(text, stack):
    """`port m3/p49 of ramp-3`, `ramp-3 port 49` or a far end -> an end as plans write it."""
    far = re.fullmatch(rf"the far end of uplink pair ({NAME})", text)
    if far:
        return f"far:{far[1]}"
    seen = re.fullmatch(rf"port (\S+) of ({UNIT})", text)
    if seen:
        return stack.port_of(seen[1], seen[2])
    socket = re.fullmatch(rf"({UNIT}) port ({PORT})", text)
    if socket:
        return f"{stack.known(socket[1])}:{socket[2]}"
    raise Unreadable(f"not an end: {text!r}")


def legs(text, stack):
    found = [] if text == "none" else [end(one, stack).split(":") for one in text.split(", ")]
    return [f"{stack.units[unit]['member']}:{port}" for unit, port in found]


def port_fact(found, stack):
    unit, port = stack.port_of(found[1], found[2]).split(":")
    return {"fact": "port", "unit": unit, "port": port, **parts(found[3], PORT_PARTS, stack)}


def uplink_fact(found, stack):
    words = [(r"legs (.+)", lambda part, stack: {"legs": legs(part[1], stack)}),
             (r"carrying (.+)", lambda part, stack: {"carrying": legs(part[1], stack)})]
    return {"fact": "uplink", "uplink": found[1], **parts(found[2], words, stack)}


FACTS = [
    (r"question: (.+)", lambda found, stack: {"fact": "ask", "text": found[1]}),
    (r"this console: (.+)", lambda found, stack: {"fact": "here", **parts(found[1], HERE, stack)}),
    (rf"unit ({UNIT}): (.+)",
     lambda found, stack: {"fact": "unit", "unit": stack.known(found[1]), **parts(found[2], UNIT_PARTS, stack)}),
    (rf"port (\S+) of ({UNIT}): (.+)", port_fact),
    (r"neighbour seen on (.+): none", lambda found, stack: {"fact": "neighbour", "end": end(found[1], stack), "far": None}),
    (r"neighbour seen on (.+): (port .+)",
     lambda found, stack: {"fact": "neighbour", "end": end(found[1], stack), "far": end(found[2], stack)}),
    (r"link between (.+) and (.+): (.+)",
     lambda found, stack: {"fact": "link", "ends": [end(found[1], stack), end(found[2], stack)], "is": LINKS[found[3]]}),
    (r"cable between (.+) and (.+): (plugged|not plugged)",
     lambda found, stack: {"fact": "cable", "ends": [end(found[1], stack), end(found[2], stack)],
                           "plugged": found[3] == "plugged"}),
    (r"plug in (.+): (none|serial \S+)",
     lambda found, stack: {"fact": "plug", "end": end(found[1], stack),
                           "serial": None if found[2] == "none" else found[2].removeprefix("serial ")}),
    (rf"uplink pair ({NAME}): (.+)", uplink_fact),
    (rf"split guard: (?:on none of the uplink pairs|on uplink pair ({NAME}))",
     lambda found, stack: {"fact": "guard", "uplink": found[1]}),
    (rf"settings of ({UNIT}): (saved|not saved)",
     lambda found, stack: {"fact": "saved", "unit": stack.known(found[1]), "saved": found[2] == "saved"}),
]
