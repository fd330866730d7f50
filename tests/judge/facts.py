"""Places, and what a person can see from one: where a step is done, which facts show there, which are so."""

from state import HANDS_KINDS, STACK_KINDS, UPLINK_KINDS, end_parts

HANDS = {"hands": "site"}
COMMON = ("uplink", "guard", "admitted")
KINDLESS = ("here", "ask")


def unit_place(stack, view, name):
    return {"stack": stack} if view.in_stack(name) else {"console": name}


def is_typed(do):
    """Is the operation typed at a keyboard, rather than done by hands or looked for?"""
    return do["kind"] not in HANDS_KINDS and do["kind"] not in ("await", "expect")


def by_hands(fact):
    kind = fact["fact"]
    if kind == "unit":
        return set(fact) <= {"fact", "unit", "powered"} and "powered" in fact
    return kind in ("cable", "plug")


def fact_unit(fact):
    """The unit that a fact names first, if any."""
    kind = fact["fact"]
    if kind in ("unit", "port", "saved"):
        return fact["unit"]
    ends = [fact["end"]] if "end" in fact else fact.get("ends", [])
    return next((end_parts(end)[0] for end in ends if not end.startswith("far:")), None)


def place_of(stack, view, steps, index):
    """Where step `index` of these steps is done, seen from the State before it."""
    do = steps[index]["do"]
    kind = do["kind"]
    if kind in HANDS_KINDS:
        return HANDS
    if kind != "expect":
        return place_of_deed(stack, view, do)
    telling = [fact for fact in do["facts"] if fact["fact"] not in KINDLESS]
    if telling and all(map(by_hands, telling)) and all(fact["fact"] != "here" for fact in do["facts"]):
        return HANDS
    for fact in telling:
        if fact["fact"] in COMMON:
            return {"stack": stack}
        name = fact_unit(fact)
        if name is not None:
            return unit_place(stack, view, name)
    following = [step["do"] for step in steps[index + 1:] if is_typed(step["do"])]
    before = [step["do"] for step in steps[:index] if is_typed(step["do"])]
    nearest = following[0] if following else before[-1] if before else None
    return {"stack": stack} if nearest is None else place_of_deed(stack, view, nearest)


def place_of_deed(stack, view, do):
    """Where an await or a typed step is done. A stack is told of units at its own place; before there is one, its
    founder admits itself at its console."""
    if do["kind"] in UPLINK_KINDS or do["kind"] in STACK_KINDS and (view.founded or do["unit"] != view.world.founder):
        return {"stack": stack}
    return unit_place(stack, view, do["unit"])


def island_at(view, place):
    """The island in front of the person, None by hands or where nothing is up."""
    if "stack" in place:
        return view.incumbent
    return view.home.get(place.get("console"))


def visible(view, place, fact):
    """Can this fact be seen at this place?"""
    kind, island = fact["fact"], island_at(view, place)
    if kind == "ask":
        return True
    if "hands" in place:
        return by_hands(fact)
    if island is None or kind == "cable":
        return False
    if kind == "here":
        return True
    if kind in COMMON:
        return "stack" in place
    if kind == "link":
        return any(end_parts(end)[0] in island for end in fact["ends"])
    name = fact_unit(fact)
    if name not in island:
        return False
    if kind in ("port", "neighbour", "plug"):
        port = fact["port"] if kind == "port" else end_parts(fact["end"])[1]
        return port in view.state.units[name].running.ports
    return True


def here_at(world, view, place):
    """All that `here` tells at a place: id, serial (None where not known) and members."""
    island = island_at(view, place)
    name = view.primary if "stack" in place else place["console"]
    units = view.state.units
    return {"id": units[name].running.id, "serial": world.infos[name].serial,
            "members": sorted(units[other].running.id for other in island)}


def here_holds(fact, seen, unknown_fits):
    """Is this `here` fact so where `seen` is what shows? `unknown_fits`: does an unknown serial match a stated one?"""
    if fact.get("id", seen["id"]) != seen["id"]:
        return False
    if "members" in fact and sorted(fact["members"]) != seen["members"]:
        return False
    stated = fact.get("serial")
    return stated is None or stated == seen["serial"] or (seen["serial"] is None and unknown_fits)


def other_places(stack, view, place):
    """Every other place with something switched on."""
    places = [{"stack": stack}] if view.incumbent is not None else []
    places += [{"console": name} for name in view.home if not view.in_stack(name)]
    return [other for other in places if other != place]


def proves_place(world, stack, view, place, facts):
    """Do these facts show that it is this place and no other? An `ask` will do where nothing known tells two apart."""
    others = [here_at(world, view, other) for other in other_places(stack, view, place)]
    for fact in facts:
        if fact["fact"] == "here" and not any(here_holds(fact, seen, False) for seen in others):
            return True
    fullest = here_at(world, view, place)
    return (any(here_holds(fullest, seen, False) for seen in others)
            and any(fact["fact"] == "ask" for fact in facts))


def roles_of(world, view, name):
    """The roles that a powered unit can be said to hold; a standby seat that nothing decides fits either way."""
    state = view.state
    if state.units[name].primary:
        return {"primary"}
    if world.traits.sticky:
        return {"standby" if state.units[name].standby else "member"}
    others = [other for other in view.home[name] if not state.units[other].primary and not state.units[other].waiting]
    if name not in others:
        return {"member"}
    own = world.seat_key(state, name)
    keys = [world.seat_key(state, other) for other in others]
    if own != min(keys):
        return {"member"}
    return {"standby"} if keys.count(own) == 1 else {"standby", "member"}


def neighbour_of(world, view, end):
    """The far ends that IEEE 802.1AB may show at an end."""
    for cable, kind in view.kinds.items():
        if end in cable:
            far = cable[0] if cable[1] == end else cable[1]
            if kind == "far":
                return {far, None}
            return {far} if kind in world.traits.seen_on else {None}
    return {None}


def fact_holds(world, view, place, fact):
    """Is a visible fact so in this State?"""
    kind, state = fact["fact"], view.state
    if kind == "ask":
        return True
    if kind == "here":
        return here_holds(fact, here_at(world, view, place), True)
    if kind == "unit":
        return unit_holds(world, view, fact)
    if kind == "port":
        held = state.units[fact["unit"]].running.ports[fact["port"]]
        end = f"{fact['unit']}:{fact['port']}"
        seen = {"enabled": held[0], "side": held[1], "active": held[2], "lit": any(end in cable for cable in view.kinds)}
        return all(fact[name] == value for name, value in seen.items() if name in fact)
    if kind == "neighbour":
        return fact["far"] in neighbour_of(world, view, fact["end"])
    if kind == "link":
        return view.kinds.get(tuple(sorted(fact["ends"])), "none") == fact["is"]
    if kind == "cable":
        return (tuple(sorted(fact["ends"])) in state.cables) == fact["plugged"]
    if kind == "plug":
        return fact.get("serial") is None or any(fact["end"] in cable for cable in state.cables)
    if kind == "guard":
        return state.shared_running.guard == fact["uplink"]
    if kind == "admitted":
        return frozenset(fact.get("ids") or fact.get("serials") or ()) == state.shared_running.admitted
    if kind == "saved":
        return view.unit_saved(fact["unit"]) == fact["saved"]
    legs = state.shared_running.uplinks.get(fact["uplink"], frozenset())
    carrying = {leg for leg in legs if view.carries(fact["uplink"], leg)}
    return (set(fact.get("legs", legs)) == legs) and set(fact.get("carrying", carrying)) == carrying


def unit_holds(world, view, fact):
    """A `unit` fact; a serial, MAC, model or join key that the plan does not know is taken as stated."""
    name = fact["unit"]
    if name not in view.state.units:
        return False
    unit, info = view.state.units[name], world.infos[name]
    if fact.get("powered", unit.powered) != unit.powered:
        return False
    for field in ("serial", "mac", "model"):
        known = getattr(info, field)
        if known is not None and fact.get(field, known) not in (known, None):
            return False
    if not unit.powered:
        return True
    seen = {"id": unit.running.id, "saved_id": unit.saved.id, "priority": unit.running.priority,
            "waiting": unit.waiting, "ready": view.in_stack(name), "mode": unit.running.mode}
    if any(fact[field] != value for field, value in seen.items() if field in fact):
        return False
    if any(unit.running.keys.get(key, value) != value for key, value in fact.get("keys", {}).items()):
        return False
    return "role" not in fact or fact["role"] in roles_of(world, view, name)


def step_unit(steps, index):
    """The unit that a step is about: its argument, its first fact's, or that of the next typed step."""
    do = steps[index]["do"]
    if "unit" in do:
        return do["unit"]
    if do["kind"] == "expect":
        for fact in do["facts"]:
            name = fact_unit(fact)
            if name is not None:
                return name
        return next((step["do"].get("unit") for step in steps[index + 1:] if is_typed(step["do"])), None)
    return None


def place_name(place):
    return "the rack, by hands" if "hands" in place else " ".join(f"the {kind} {name}" for kind, name in place.items())


def describe(fact):
    """A fact in a few words."""
    kind = fact["fact"]
    about = fact.get("unit") or fact.get("end") or fact.get("uplink") or " to ".join(fact.get("ends", ()))
    if kind == "port":
        about = f"{fact['unit']}:{fact['port']}"
    return f"the {kind} fact{' of ' + about if about else ''}"
