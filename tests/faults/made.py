"""Small plans that start where they end, for the unit tests: chains and rings of units `a-1`, `a-2`, …

Ports 1 and up face west, ports 11 and up face east; port 47 and below are for uplinks.
"""

from reading import mapping

MINUTES = ("restart", "sync", "command", "cable", "power", "save", "activate", "check")


def plan(count, ring=False, cables=1, uplinks=None, guard=None, priorities=None, traits=None):
    """A plan without steps over `count` units; `uplinks`: pair -> legs; the first unit leads."""
    names = [f"a-{number + 1}" for number in range(count)]
    priorities = priorities or [100 - number for number in range(count)]
    uplinks = {"hall": [f"{names[0]}:47", f"{names[-1]}:47"]} if uplinks is None else uplinks
    wires = [(names[at], names[(at + 1) % count]) for at in range(count if ring else count - 1)]
    units, laid = {}, [[f"far:{pair}", leg] for pair, legs in sorted(uplinks.items()) for leg in sorted(legs)]
    ports = {name: {"47": bound("none"), "48": bound("none")} for name in names}
    for one, other in wires:
        for place in range(cables):
            ports[one][str(11 + place)], ports[other][str(1 + place)] = bound("east"), bound("west")
            laid.append(sorted([f"{one}:{11 + place}", f"{other}:{1 + place}"]))
    for number, name in enumerate(names):
        running = {"id": number + 1, "priority": priorities[number], "ports": ports[name]}
        saved = {**running, "ports": {port: {"enabled": held["enabled"], "side": held["side"]}
                                      for port, held in ports[name].items()}}
        units[name] = {"powered": True, "booted_at": 0, "primary": number == 0, "waiting": False, "copy": True,
                       "running": running, "saved": saved}
    shared = {"uplinks": uplinks, "guard": guard}
    state = {"units": units, "cables": laid, "shared": {"running": shared, "saved": shared}}
    return {
        "format": 1, "stack": "made", "change": {"accept": []}, "steps": [], "baseline": state, "target": state,
        "traits": {**mapping(traits or {}, "traits"),
                   "minutes": {kind: {"likely": 1, "worst": 2} for kind in MINUTES}},
        "units": [{"key": name, "member": name, "id": number + 1, "priority": priorities[number], "serial": None,
                   "mac": None, "role": "primary" if number == 0 else "member", "status": "live"}
                  for number, name in enumerate(names)],
    }


def bound(side):
    return {"enabled": True, "side": side, "active": side != "none"}
