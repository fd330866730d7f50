"""The sentences of the invented platform `pentrough` -> operations and facts.

What is typed is a bracket and a verb after it: whom and what it is about, then what is done. What is seen is the name
of a thing and its parts, with commas between them.
"""

from meanings import (NAME, PORT, UNIT, by_hand, cable, far_end, of_member, on_pair, on_port, on_unit, parts, says,
                      tells, understood, waiting)

WHO = r"(?:self|wheel (?P<member>\d+))"
GATE = r"gate (?P<interface>\S+)"
TWIN = rf"twin (?P<pair>{NAME})"
BOX = rf"(?P<unit>{UNIT})(?:, .*)?"
FAR = rf"(?:uplink pair (?P<pair>{NAME})(?: at .*)?|(?P<unit2>{UNIT}) port (?P<port2>{PORT}))"
RUN = rf"from (?P<unit>{UNIT}) port (?P<port>{PORT}) to {FAR}"
LEGS = r"(?P<legs>\S+(?: \S+)*)"
LEG = r"(?P<interface>\S+)"

OPERATIONS = [
    (rf"\({WHO}: seat (?P<id>\d+)\) dub", on_unit("assign-id", id=int)),
    (rf"\({WHO}: turn (?P<priority>\d+)\) weigh", on_unit("set-priority", priority=int)),
    (rf"\({WHO}\) engrave", on_unit("save")),
    (rf"\({WHO}\) respin", on_unit("restart")),
    (rf"\({WHO}\) scour", on_unit("wipe")),
    (rf"\({GATE}\) dam", on_port("disable-port")),
    (rf"\({GATE}\) undam", on_port("enable-port")),
    (rf"\({GATE}: (?P<side>.+)\) moor", on_port("bind-port")),
    (rf"\({GATE}\) unmoor", on_port("release-port")),
    (rf"\({TWIN}: {LEGS}\) braid", on_pair("form-uplink", " ")),
    (rf"\({TWIN}\) unbraid", on_pair("drop-uplink")),
    (rf"\({TWIN}: {LEG}\) splice", on_pair("add-leg")),
    (rf"\({TWIN}: {LEG}\) unsplice", on_pair("drop-leg")),
    (rf"\({TWIN}\) ward", on_pair("guard-split")),
    (rf"\({TWIN}\) unward", on_pair("unguard-split")),
    (rf"give power to {BOX}", by_hand("power-on")),
    (rf"take power from {BOX}", by_hand("power-off")),
    (rf"lay a cable {RUN}(?:, .*)?", cable("connect-cable")),
    (rf"pull the cable {RUN}(?:, .*)?", cable("disconnect-cable")),
    (rf"(?P<unit>{UNIT}) (?P<until>has started|is in the race|is fit to lead), (?P<limit>[\d.]+) minutes at most",
     waiting({"has started": "up", "is in the race": "joined", "is fit to lead": "ready"})),
]


def read_operation(line, place, stack):
    return understood(line, OPERATIONS, "an operation", place, stack)


def read_islands(text):
    """`a, b led by a; c led by nobody` -> the islands, each with the one that leads it if any does."""
    halves = [part.partition(" led by ") for part in text.split("; ")]
    return [(units.split(", "), None if leader == "nobody" else leader) for units, _, leader in halves]


def seats(text):
    return [int(one) for one in text.split(" ")]


def role(word):
    return {"leads": "primary", "next to lead": "standby", "follows": "member"}[word]


HERE = [(r"seat (\d+)", tells("id", int)), (r"serial (\S+)", tells("serial")),
        (r"race of seats (\d+(?: \d+)*)", tells("members", seats))]
WHEEL = [
    (r"has power", says("powered", True)), (r"has no power", says("powered", False)),
    (r"seat (\d+)", tells("id", int)), (r"seat (\d+) engraved", tells("saved_id", int)),
    (r"turn (\d+)", tells("priority", int)), (r"(leads|next to lead|follows)", tells("role", role)),
    (r"held", says("waiting", True)), (r"not held", says("waiting", False)),
    (r"fit to lead", says("ready", True)), (r"not fit to lead", says("ready", False)),
    (r"serial (\S+)", tells("serial")), (r"MAC address (\S+)", tells("mac")), (r"model (\S+)", tells("model")),
]
STATE_OF_GATE = [
    (r"open", says("enabled", True)), (r"dammed", says("enabled", False)),
    (r"not moored", says("side", "none")), (r"moored (.+)", lambda found, stack: {"side": stack.side(found[1])}),
    (r"counts", says("active", True)), (r"does not count", says("active", False)),
    (r"light", says("lit", True)), (r"no light", says("lit", False)),
]
TWINS = [(r"legs (.+)", lambda found, stack: {"legs": legs(found[1], stack)}),
         (r"carrying (.+)", lambda found, stack: {"carrying": legs(found[1], stack)})]
LINKS = {"joined": "stack", "idle": "unmatched", "leaking": "stray", "no link": "none"}
ENDS = [(rf"far end of twin ({NAME})", lambda found, stack: f"far:{found[1]}"),
        (rf"(\S+) of ({UNIT})", lambda found, stack: stack.port_of(found[1], found[2]))]


def read_fact(line, stack):
    return understood(line, FACTS, "a fact", stack)


def end(text, stack):
    return understood(text, ENDS, "an end", stack)


def legs(text, stack):
    return [] if text == "none" else [of_member(end(one, stack), stack) for one in text.split(" + ")]


def fact(name, words, **fields):
    """A fact whose parts stand after its subject; `fields` are read from the groups of the subject."""
    def meaning(found, stack):
        said = found["parts"].split(", ")[1:]
        subject = {field: read(found[field], stack) for field, read in fields.items()}
        return {"fact": name, **subject, **parts(said, words, stack)}
    return meaning


def gate_fact(found, stack):
    unit, port = stack.port_of(found["interface"], found["unit"]).split(":")
    return {"fact": "port", "unit": unit, "port": port, **parts(found["parts"].split(", ")[1:], STATE_OF_GATE, stack)}


def neighbour(found, stack):
    far = None if found[2] == "nobody" else end(found[2], stack)
    return {"fact": "neighbour", "end": end(found[1], stack), "far": far}


def cable_fact(found, stack):
    near = f"{stack.known(found['unit'])}:{found['port']}"
    return {"fact": "cable", "ends": [near, far_end(found, stack)], "plugged": found["plugged"] == "is in"}


def plug(found, stack):
    serial = None if found[3] == "none" else found[3].removeprefix("serial ")
    return {"fact": "plug", "end": f"{stack.known(found[1])}:{found[2]}", "serial": serial}


PARTS = r"(?P<parts>(?:, [^,]+)*)"
FACTS = [
    (rf"here{PARTS}", fact("here", HERE)),
    (rf"wheel (?P<unit>{UNIT}){PARTS}", fact("unit", WHEEL, unit=lambda key, stack: stack.known(key))),
    (rf"gate (?P<interface>\S+) of (?P<unit>{UNIT}){PARTS}", gate_fact),
    (rf"twin (?P<uplink>{NAME}){PARTS}", fact("uplink", TWINS, uplink=lambda name, stack: name)),
    (r"beyond (.+): (.+)", neighbour),
    (rf"between (.+) and (.+): ({'|'.join(LINKS)})",
     lambda found, stack: {"fact": "link", "ends": [end(found[1], stack), end(found[2], stack)],
                           "is": LINKS[found[3]]}),
    (rf"the cable {RUN} (?P<plugged>is in|is out)", cable_fact),
    (rf"plug in ({UNIT}) port ({PORT}): (none|serial \S+)", plug),
    (rf"ward: (?:none|twin ({NAME}))", lambda found, stack: {"fact": "guard", "uplink": found[1]}),
    (rf"engraving of ({UNIT}): (as it runs|not as it runs)",
     lambda found, stack: {"fact": "saved", "unit": stack.known(found[1]), "saved": found[2] == "as it runs"}),
    (r"ask: (.+)", lambda found, stack: {"fact": "ask", "text": found[1]}),
]
