"""What a phrase means, once it is known which phrase it is: groups of a pattern -> operations, facts and their parts.

A dialect's phrases are pairs of a pattern and one of these meanings. A pattern names its groups: `member` for an id,
`interface` for the name of a port, `unit` and `port` for a socket, `pair` for an uplink pair.
"""

import re

from stack import Unreadable

NAME = r"[A-Za-z0-9][A-Za-z0-9._-]*"
UNIT = r"[A-Za-z0-9][A-Za-z0-9._@-]*"
PORT = r"[A-Za-z0-9][A-Za-z0-9/._-]*"


def understood(line, phrases, what, *context):
    """The meaning of the one phrase that fits the whole line. What no phrase fits is unreadable, never guessed."""
    for pattern, meaning in phrases:
        found = re.fullmatch(pattern, line)
        if found:
            return meaning(found, *context)
    raise Unreadable(f"not {what}: {line!r}")


def whole(pattern, text):
    """The groups of a pattern that must fit the whole text."""
    found = re.fullmatch(pattern, text)
    if not found:
        raise Unreadable(f"not understood: {text!r}")
    return found


def number(text):
    value = float(text)
    return int(value) if value.is_integer() else value


def who(found, place, stack):
    """The unit of this console, or the one that the stack knows by its id."""
    if found["member"]:
        return stack.member(int(found["member"]), place)
    if "console" not in place:
        raise Unreadable("this unit or this stack is said where there is none")
    return place["console"]


def on_unit(kind, **fields):
    def meaning(found, place, stack):
        action = {"kind": kind, "unit": who(found, place, stack)}
        action.update({field: read(found[field]) for field, read in fields.items()})
        return action
    return meaning


def told(kind):
    """The stack is told of a newcomer, or of one that is gone, by its number or by its serial."""
    def meaning(found, place, stack):
        if found["serial"]:
            return {"kind": kind, "unit": stack.with_serial(found["serial"]), "serial": found["serial"]}
        return {"kind": kind, "unit": stack.numbered(int(found["id"]), kind), "id": int(found["id"])}
    return meaning


def on_port(kind):
    def meaning(found, place, stack):
        unit, port = stack.port(found["interface"], place)
        action = {"kind": kind, "unit": unit, "port": port}
        if kind == "bind-port":
            action["side"] = stack.side(found["side"])
        return action
    return meaning


def on_pair(kind, between=None):
    """`between` is what stands between two legs of a pair."""
    def meaning(found, place, stack):
        action = {"kind": kind, "uplink": found["pair"]}
        if kind == "form-uplink":
            action["legs"] = [stack.leg(one, place) for one in re.split(between, found["legs"])]
        elif kind.endswith("-leg"):
            action["leg"] = stack.leg(found["interface"], place, goes=kind == "drop-leg")
        return action
    return meaning


def by_hand(kind):
    return lambda found, place, stack: {"kind": kind, "unit": stack.known(found["unit"])}


def cable(kind):
    """One end is a socket, the other `unit2` and `port2`, or the far end of a `pair`."""
    def meaning(found, place, stack):
        near = f"{stack.known(found['unit'])}:{found['port']}"
        return {"kind": kind, "ends": [near, far_end(found, stack)]}
    return meaning


def far_end(found, stack):
    groups = found.groupdict()
    return f"far:{found['pair']}" if groups.get("pair") else f"{stack.known(found['unit2'])}:{found['port2']}"


def waiting(words):
    def meaning(found, place, stack):
        until = words[found["until"]]
        return {"kind": "await", "unit": stack.known(found["unit"]), "until": until, "limit": number(found["limit"])}
    return meaning


def parts(said, words, stack):
    """The parts of a fact -> its fields, by the phrases that each may be."""
    fields = {}
    for part in said:
        found = understood(part, words, "a part of a fact", stack)
        if fields.keys() & found.keys():
            raise Unreadable(f"said twice: {part!r}")
        fields.update(found)
    return fields


def says(field, value):
    return lambda found, stack: {field: value}


def tells(field, read=str):
    return lambda found, stack: {field: read(found[1])}


def of_member(end, stack):
    """`unit:port` -> `member:port`, as legs are written."""
    unit, port = end.split(":")
    return f"{stack.units[unit]['member']}:{port}"
