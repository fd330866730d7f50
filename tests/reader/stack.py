"""What somebody who follows a runbook knows of the stack: which box acts on which id, who is together with whom."""

import re


class Unreadable(Exception):
    """The texts say something that has no meaning."""


class Stack:
    def __init__(self, plan):
        self.name = plan["stack"]
        self.traits = plan["traits"]
        self.units = {unit["key"]: unit for unit in plan["units"]}
        self.running, self.boots_with = {}, {}
        for key, state in plan["baseline"]["units"].items():
            self.running[key] = state["running"]["id"] if state["powered"] else None
            settings = state["saved"] or state["running"]
            self.boots_with[key] = settings["id"] if settings else None
        # a number that nobody has any more is still known by whom it was
        self.once = dict(self.boots_with)
        self.islands = together(plan["baseline"])
        led = [key for key, state in plan["baseline"]["units"].items() if state["primary"]]
        in_service = [key for key in led if self.units[key]["status"] != "joining"]
        in_service.sort(key=lambda key: self.rank(key, plan["baseline"]["units"][key]))
        role = [key for key, unit in self.units.items() if unit["role"] == "primary"]
        self.leader = (in_service or role or led or list(self.units))[0]
        self.founded = bool(in_service)
        self.first = self.leader
        accepted = [consent.partition(":") for consent in plan.get("change", {}).get("accept", [])]
        self.may_lead = {member for what, _, member in accepted if what == "new-primary"}
        self.legs = {pair: set(legs) for pair, legs in plan["baseline"]["shared"]["running"]["uplinks"].items()}
        self.been = {key for key, unit in self.units.items() if unit["status"] != "joining"}
        pattern = re.escape(plan["traits"]["port_name"])
        # what only a unit in stack mode has in its names
        pattern = pattern.replace(re.escape("{% if stacks %}"), "(?:").replace(re.escape("{% endif %}"), ")?")
        for field, what in (("member_id", r"\d+"), ("port", r"[A-Za-z0-9/._-]+")):
            place = re.escape("{{ " + field + " }}")
            pattern = pattern.replace(place, f"(?P<{field}>{what})", 1).replace(place, f"(?P={field})")
        self.port_name = re.compile(pattern)

    def rank(self, key, state):
        """Of several islands the stack is the one that the holder of the primary's role leads, else the largest,
        else the one whose leader would win an election."""
        unit, running = self.units[key], state["running"]
        highest = self.traits["priority"]["wins"] == "highest"
        by = {"priority": -running["priority"] if highest else running["priority"], "uptime": state["booted_at"],
              "lowest-mac": (unit["mac"] is None, unit["mac"] or ""), "lowest-id": running["id"],
              "highest-mac": (unit["mac"] is None, [-ord(one) for one in unit["mac"] or ""]), "acting": 0, "size": 0}
        size = next(len(island) for island in self.islands if key in island)
        order = self.traits["election"]
        order = order["merge"] if isinstance(order, dict) else order
        return (unit["role"] != "primary", -size, [by[criterion] for criterion in order])

    def known(self, key):
        if key not in self.units:
            raise Unreadable(f"there is no unit {key!r}")
        return key

    def with_serial(self, serial):
        """The box that has this serial on its label."""
        return next((key for key, unit in self.units.items() if unit["serial"] == serial), None) or self.known(serial)

    def numbered(self, number, kind):
        """Whom a number is about that the stack is told: a box that has it, one that comes or stays before one that
        goes if the stack lets it in, and the other way round if it forgets it."""
        order = ["leaving", "live", "joining"] if kind == "forget" else ["joining", "live", "leaving"]
        found = [key for key, unit in self.units.items() if number in (unit["id"], self.boots_with[key], self.once[key])]
        if not found:
            raise Unreadable(f"no box has the number {number}")
        return min(found, key=lambda key: order.index(self.units[key]["status"]))

    def side(self, word):
        for side, name in self.traits["sides"]["names"].items():
            if name == word:
                return side
        raise Unreadable(f"not a side: {word!r}")

    def island_at(self, place):
        """The units that a console or the stack shows."""
        key = place.get("console", self.leader)
        return next((island for island in self.islands if key in island), [key])

    def member(self, number, place):
        """The unit that acts on this id, among those that the place shows."""
        if self.running.get(place.get("console")) == number:
            return place["console"]
        found = [key for key in self.island_at(place) if self.running.get(key) == number]
        if len(found) != 1:
            raise Unreadable(f"{len(found)} units act on member id {number} at {place}")
        return found[0]

    def leg(self, name, place, goes=False):
        """An interface name in an uplink pair -> `member:port`. The stack names a leg of a box that is out or off
        by the id that the box had in it; one that goes is one that it has."""
        parts = self.port_name.fullmatch(name)
        if not parts:
            raise Unreadable(f"not a port: {name!r}")
        number = int(parts["member_id"])

        def at(keys):
            return {f"{self.units[key]['member']}:{parts['port']}" for key in keys}

        inside = at(key for key in self.island_at(place) if self.running.get(key) == number)
        outside = at(key for key in self.been if key not in self.island_at(place) and self.boots_with[key] == number)
        found = inside or outside
        if goes:
            held = set().union(*self.legs.values())
            found = inside & held or outside & held or found
        if len(found) != 1:
            raise Unreadable(f"{name!r} is a port of {len(found)} members at {place}")
        return found.pop()

    def here(self, place):
        """The unit of a console, or the one that leads the stack."""
        return place.get("console") or self.leader

    def port(self, name, place):
        """An interface name -> the unit and its port."""
        parts = self.port_name.fullmatch(name)
        if not parts:
            raise Unreadable(f"not a port: {name!r}")
        if parts["member_id"] is None:
            return self.here(place), parts["port"]
        return self.member(int(parts["member_id"]), place), parts["port"]

    def port_of(self, name, key):
        """An interface name that is said to be this unit's -> `unit:port`."""
        parts = self.port_name.fullmatch(name)
        acts_on = self.running[self.known(key)]
        acts_on = self.boots_with[key] if acts_on is None else acts_on
        if not parts or parts["member_id"] is not None and int(parts["member_id"]) != acts_on:
            raise Unreadable(f"port {name!r} is not {key}'s, which acts on member id {acts_on}")
        return f"{key}:{parts['port']}"

    def apply(self, action, restarted=(), islands=None):
        """What the operation does to ids; who the runbook says restarted by itself, and who is together after it."""
        kind, key = action["kind"], action.get("unit")
        if kind == "assign-id":
            at_once = self.traits["member_id"]["takes_effect"] == "at-once"
            if at_once:
                self.running[key] = action["id"]
            if not at_once or self.traits["stored"]["id"] == "at-once":
                self.boots_with[key] = action["id"]
        elif kind == "save" and self.traits["member_id"]["takes_effect"] == "at-once":
            whole = self.traits["save"]["scope"] == "stack"
            covered = next((island for island in self.islands if key in island), [key]) if whole else [key]
            for one in covered:
                self.boots_with[one] = self.running[one]
        elif kind == "wipe":
            self.boots_with[key] = self.traits["member_id"]["factory"]
            self.running[key] = self.boots_with[key]
        elif kind in ("power-on", "restart"):
            self.running[key] = self.boots_with[key]
        elif kind == "power-off":
            self.running[key] = None
        elif kind == "form-uplink":
            self.legs[action["uplink"]] = set(action["legs"])
        elif kind == "drop-uplink":
            self.legs.pop(action["uplink"], None)
        elif kind == "add-leg":
            self.legs.setdefault(action["uplink"], set()).add(action["leg"])
        elif kind == "drop-leg":
            self.legs.get(action["uplink"], set()).discard(action["leg"])
        for one in restarted:
            self.running[self.known(one)] = self.boots_with[one]
        if islands is not None:
            self.see(islands)
        elif kind == "power-off" or kind == "await" and action["until"] != "up":
            self.move(key, kind == "await")

    def move(self, key, joins):
        """Where nothing is said of who is together: a box that is off has left, one that was awaited has joined."""
        home = self.island_at({})
        for island in self.islands:
            if key in island and not (joins and island is home):
                island.remove(key)
        if joins and key not in home:
            home.append(key)
            self.been.add(key)
        elif key == self.leader and home:
            self.leader = home[0]  # who of them leads is not said, and makes no difference to their names

    def see(self, islands):
        """Islands, each as its units and the one that leads it if any does -> who leads the stack now."""
        self.islands = [[self.known(one) for one in units] for units, _ in islands]
        leaders = [leader and self.known(leader) for _, leader in islands]
        if not self.founded and not any(self.leader in island for island in self.islands):
            return  # the unit that a new stack begins with is still in its box
        self.founded = True
        led = [at for at, leader in enumerate(leaders) if self.leads(leader)]
        if led:
            at = max(led, key=lambda one: (len(self.been.intersection(self.islands[one])), leaders[one] == self.first))
            self.leader = leaders[at]
            self.been.update(self.islands[at])

    def leads(self, key):
        """Whether this unit's island can be the stack: the baseline's primary leads it, or one that a consent names."""
        return key is not None and (key == self.first or self.units[key]["member"] in self.may_lead)


def together(state):
    """The boxes of a state that is at rest, by the cables whose ends are in use for the stack."""
    home = {key: [key] for key, unit in state["units"].items() if unit["powered"]}
    for ends in state["cables"]:
        keys = [end.partition(":")[0] for end in ends]
        if not all(key in home for key in keys):
            continue
        ports = [state["units"][key]["running"]["ports"].get(end.partition(":")[2], {}) for key, end in zip(keys, ends)]
        one, other = (home[key] for key in keys)
        if all(port.get("enabled") and port.get("active") for port in ports) and one is not other:
            one += other
            home.update({key: one for key in other})
    return list({id(island): island for island in home.values()}.values())
