"""The phrases of the neutral dialect, plain English -> operations and facts."""

import re

from meanings import (NAME, PORT, UNIT, by_hand, cable, of_member, on_pair, on_port, on_unit, parts, says, tells, told,
                      understood, waiting, whole)
from stack import Unreadable

REST = r"(?:; .*)?"
WHO = r"(?:this unit|member (?P<member>\d+))"
WHOSE = r"(?:this unit's {0}|the {0} of member (?P<member>\d+))"
SOCKET = rf"(?P<unit>{UNIT}) port (?P<port>{PORT})"
OTHER = rf"(?P<unit2>{UNIT}) port (?P<port2>{PORT})"
PAIR = rf"uplink pair (?P<pair>{NAME})"
ONE_PORT = r"port (?P<interface>\S+)"


def on_all(kind):
    def meaning(found, place, stack):
        if found["what"] == "stack" and "console" in place:
            raise Unreadable("`this stack` is said at a console")
        if found["what"] == "unit" and "console" not in place:
            raise Unreadable("`this unit` is said at the stack")
        return {"kind": kind, "unit": stack.here(place)}
    return meaning


OPERATIONS = [
    (rf"switch on (?P<unit>{UNIT}){REST}", by_hand("power-on")),
    (rf"switch off (?P<unit>{UNIT}){REST}", by_hand("power-off")),
    (rf"restart {WHO}", on_unit("restart")),
    (rf"set {WHO} back to how it left the factory", on_unit("wipe")),
    (rf"set {WHOSE.format('member id')} to (?P<id>\d+)", on_unit("assign-id", id=int)),
    (rf"set {WHOSE.format('priority')} to (?P<priority>\d+)", on_unit("set-priority", priority=int)),
    (rf"take {ONE_PORT} out of use", on_port("disable-port")),
    (rf"put {ONE_PORT} into use", on_port("enable-port")),
    (rf"bind {ONE_PORT} to (?P<side>.+)", on_port("bind-port")),
    (rf"release {ONE_PORT} from its side", on_port("release-port")),
    (r"put the bindings of this (?P<what>unit|stack) into force", on_all("activate")),
    (r"put the bindings of member (?P<member>\d+) into force", on_unit("activate")),
    (rf"hand the lead of this stack over to {WHO}", on_unit("hand-over")),
    (rf"set {WHO} to (?P<mode>stack mode|stand alone) from its next restart",
     on_unit("set-mode", mode={"stack mode": "stack", "stand alone": "lone"}.get)),
    (rf"set (?P<key>[a-z][a-z0-9-]*) of {WHO} to (?P<value>{NAME})", on_unit("set-key", key=str, value=str)),
    (rf"admit (?:member id (?P<id>\d+)|serial (?P<serial>{NAME})) to this stack", told("admit")),
    (rf"forget (?:member id (?P<id>\d+)|serial (?P<serial>{NAME})) in this stack", told("forget")),
    (r"save the settings of this (?P<what>unit|stack)", on_all("save")),
    (r"save the settings of member (?P<member>\d+)", on_unit("save")),
    (rf"plug one end of the cable into {SOCKET} and the other into {OTHER}{REST}", cable("connect-cable")),
    (rf"plug the uplink cable of pair (?P<pair>{NAME}) into {SOCKET}{REST}", cable("connect-cable")),
    (rf"unplug the cable between {SOCKET} and {OTHER} at both ends{REST}", cable("disconnect-cable")),
    (rf"unplug the uplink cable of pair (?P<pair>{NAME}) from {SOCKET}{REST}", cable("disconnect-cable")),
    (rf"form {PAIR} from port (?P<legs>\S+(?:(?:, | and )port \S+)*)", on_pair("form-uplink", r"(?:, | and )port ")),
    (rf"dissolve {PAIR}", on_pair("drop-uplink")),
    (rf"add {ONE_PORT} to {PAIR}", on_pair("add-leg")),
    (rf"take {ONE_PORT} out of {PAIR}", on_pair("drop-leg")),
    (rf"let {PAIR} carry the split guard", on_pair("guard-split")),
    (rf"take the split guard off {PAIR}", on_pair("unguard-split")),
    (rf"wait until (?P<unit>{UNIT}) (?P<until>is up|has joined the stack|is ready to take over), "
     r"at most (?P<limit>[\d.]+) minutes",
     waiting({"is up": "up", "has joined the stack": "joined", "is ready to take over": "ready"})),
]


def read_operation(line, place, stack):
    return understood(line, OPERATIONS, "an operation", place, stack)


def read_seen(text):
    """`c restarts without being told; together are: a and b under a; c` -> who restarted, and the islands."""
    restarted = re.match(r"(.+?) restarts? without being told; ", text)
    together = re.search(r"together are: (.*)", text)
    islands = None
    if together:
        islands = [island(part) for part in together[1].split("; ")]
    return names(restarted[1]) if restarted else [], islands


def island(text):
    """`a and b under a`, `c`, `d without a primary` -> its units, and the one that leads it if any does."""
    units, _, leader = text.partition(" under ")
    alone = units.removesuffix(" without a primary")
    return names(alone), leader or (names(alone)[0] if alone == units else None)


def names(text):
    return re.split(r", | and ", text)


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
    (r"in stack mode", says("mode", "stack")), (r"not in stack mode", says("mode", "lone")),
]
PORT_PARTS = [
    (r"in use", says("enabled", True)), (r"out of use", says("enabled", False)),
    (r"bound to neither side", says("side", "none")),
    (r"bound to (.+)", lambda found, stack: {"side": stack.side(found[1])}),
    (r"binding in force", says("active", True)), (r"binding not in force", says("active", False)),
    (r"light", says("lit", True)), (r"dark", says("lit", False)),
]
LINKS = {"works as a stack link": "stack", "has light and carries nothing": "unmatched",
         "runs as plain Ethernet": "stray", "there is none": "none"}
ENDS = [
    (rf"the far end of uplink pair ({NAME})", lambda found, stack: f"far:{found[1]}"),
    (rf"port (\S+) of ({UNIT})", lambda found, stack: stack.port_of(found[1], found[2])),
    (rf"({UNIT}) port ({PORT})", lambda found, stack: f"{stack.known(found[1])}:{found[2]}"),
]


def read_fact(line, stack):
    return understood(line, FACTS, "a fact", stack)


def end(text, stack):
    """`port m3/p49 of ramp-3`, `ramp-3 port 49` or a far end -> an end as plans write it."""
    return understood(text, ENDS, "an end", stack)


def legs(text, stack):
    return [] if text == "none" else [of_member(end(one, stack), stack) for one in text.split(", ")]


def unit_parts(said, stack):
    """The parts of a unit; what must be equal on all members goes by the names that the platform gives it."""
    names = [key["name"] for key in stack.traits.get("join_keys", [])]
    of_keys = [part for part in said if part.partition(" ")[0] in names and part.count(" ") == 1]
    fields = parts([part for part in said if part not in of_keys], UNIT_PARTS, stack)
    return {**fields, "keys": dict(part.split(" ") for part in of_keys)} if of_keys else fields


def admitted_fact(found, stack):
    """`member id 1, member id 3`, `serial FT-0001` or `nobody`, as the platform admits newcomers."""
    said = [] if found[1] == "nobody" else found[1].split(", ")
    if stack.traits.get("admission") == "serial":
        return {"fact": "admitted", "serials": [whole(rf"serial ({NAME})", one)[1] for one in said]}
    return {"fact": "admitted", "ids": [int(whole(r"member id (\d+)", one)[1]) for one in said]}


def port_fact(found, stack):
    unit, port = stack.port_of(found[1], found[2]).split(":")
    return {"fact": "port", "unit": unit, "port": port, **parts(found[3].split("; "), PORT_PARTS, stack)}


def uplink_fact(found, stack):
    words = [(r"legs (.+)", lambda part, stack: {"legs": legs(part[1], stack)}),
             (r"carrying (.+)", lambda part, stack: {"carrying": legs(part[1], stack)})]
    return {"fact": "uplink", "uplink": found[1], **parts(found[2].split("; "), words, stack)}


FACTS = [
    (r"question: (.+)", lambda found, stack: {"fact": "ask", "text": found[1]}),
    (r"this console: (.+)", lambda found, stack: {"fact": "here", **parts(found[1].split("; "), HERE, stack)}),
    (rf"unit ({UNIT}): (.+)",
     lambda found, stack: {"fact": "unit", "unit": stack.known(found[1]),
                           **unit_parts(found[2].split("; "), stack)}),
    (rf"port (\S+) of ({UNIT}): (.+)", port_fact),
    (r"neighbour seen on (.+): none",
     lambda found, stack: {"fact": "neighbour", "end": end(found[1], stack), "far": None}),
    (r"neighbour seen on (.+): (port .+)",
     lambda found, stack: {"fact": "neighbour", "end": end(found[1], stack), "far": end(found[2], stack)}),
    (rf"link between (.+) and (.+): ({'|'.join(LINKS)})",
     lambda found, stack: {"fact": "link", "ends": [end(found[1], stack), end(found[2], stack)],
                           "is": LINKS[found[3]]}),
    (r"cable between (.+) and (.+): (plugged|not plugged)",
     lambda found, stack: {"fact": "cable", "ends": [end(found[1], stack), end(found[2], stack)],
                           "plugged": found[3] == "plugged"}),
    (r"plug in (.+): (none|serial \S+)",
     lambda found, stack: {"fact": "plug", "end": end(found[1], stack),
                           "serial": None if found[2] == "none" else found[2].removeprefix("serial ")}),
    (rf"uplink pair ({NAME}): (.+)", uplink_fact),
    (rf"split guard: (?:on none of the uplink pairs|on uplink pair ({NAME}))",
     lambda found, stack: {"fact": "guard", "uplink": found[1]}),
    (r"admitted: (.+)", admitted_fact),
    (rf"settings of ({UNIT}): (saved|not saved)",
     lambda found, stack: {"fact": "saved", "unit": stack.known(found[1]), "saved": found[2] == "saved"}),
]
