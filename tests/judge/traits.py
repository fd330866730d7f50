"""The traits of a platform, each left-out one at its neutral value."""

from dataclasses import dataclass

from reading import choice, hundredths, is_int, mapping, need, read_range, sequence, text

CRITERIA = ("priority", "uptime", "lowest-mac", "highest-mac", "lowest-id", "acting", "size")
MINUTE_KINDS = ("restart", "sync", "command", "cable", "power", "save", "activate", "check")
BINDINGS = ("at-once", "on-activation", "after-restart", "fixed")


@dataclass
class Traits:
    id_range: tuple
    id_factory: int
    id_at_once: bool
    priority_range: tuple
    priority_factory: int
    highest_wins: bool
    priority_waits: bool  # a new priority counts for the standby's seat from the next election on
    boot_order: tuple
    merge_order: tuple
    stored_id: bool
    stored_priority: bool
    stored_binding: bool
    opposite: bool
    max_cables: int
    factory_enabled: bool
    port_disabled: bool
    binding: str
    loser: str
    preempts: bool
    activate_unit: bool
    activate_restarts: bool
    save_stack: bool
    seen_on: frozenset
    sticky: bool
    handover: str
    admission: str
    join_keys: dict  # name -> (counts at once?, what a difference does)
    switched: bool
    groups_restart: bool
    minutes: dict

    @property
    def factory_mode(self):
        return "lone" if self.switched else "stack"


class Part:
    """One object of traits, and its members by name."""

    def __init__(self, traits, name):
        self.name, self.table = name, mapping(traits.get(name, {}), f"traits.{name}")

    def whole(self, key, default):
        number = self.table.get(key, default)
        need(is_int(number), f"traits.{self.name}.{key} is not a whole number")
        return number

    def flag(self, key, default):
        value = self.table.get(key, default)
        need(isinstance(value, bool), f"traits.{self.name}.{key} is not true or false")
        return value

    def one_of(self, key, default, *allowed):
        return choice(self.table.get(key, default), allowed, f"traits.{self.name}.{key}")

    def at_once(self, key, default, otherwise):
        return self.one_of(key, default, "at-once", otherwise) == "at-once"


def read_minutes(value):
    """The minutes of each kind as (best, likely, worst) in hundredths; best is likely if left out."""
    table = mapping(value, "traits.minutes")
    result = {}
    for kind in MINUTE_KINDS:
        where = f"traits.minutes.{kind}"
        entry = mapping(table.get(kind), where)
        likely = hundredths(entry.get("likely"), where)
        best = hundredths(entry["best"], where) if entry.get("best") is not None else likely
        result[kind] = (best, likely, hundredths(entry.get("worst"), where))
        need(min(result[kind]) >= 0, f"{where} is negative")
    return result


def read_election(value):
    """The lists of criteria for a boot and for a merge: one for both, or two."""
    def criteria(items, where):
        return tuple(choice(item, CRITERIA, where) for item in sequence(items, where))

    if isinstance(value, dict):
        return tuple(criteria(value.get(when), f"traits.election.{when}") for when in ("boot", "merge"))
    return (criteria(value, "traits.election"),) * 2


def read_join_keys(value):
    """What must be equal on both sides of a join, by name."""
    keys = {}
    for position, entry in enumerate(sequence(value, "traits.join_keys")):
        where = f"traits.join_keys[{position}]"
        name = text(mapping(entry, where).get("name"), f"{where}.name")
        need(name not in keys, f"{where}: {name} stands twice")
        at_once = choice(entry.get("takes_effect"), ("at-once", "after-restart"), f"{where}.takes_effect") == "at-once"
        keys[name] = (at_once, choice(entry.get("differs"), ("refused", "updates", "joins"), f"{where}.differs"))
    return keys


def read_traits(value):
    """The traits, each left-out one at its neutral value."""
    traits = mapping(value, "traits")
    member_id, priority, stored, sides, binding, joining, save, neighbours, activate, groups = (
        Part(traits, name) for name in ("member_id", "priority", "stored", "sides", "binding", "joining", "save",
                                        "neighbours", "activate", "port_groups"))

    def one_of(name, *allowed):
        return choice(traits.get(name, allowed[0]), allowed, f"traits.{name}")

    boot, merge = read_election(traits.get("election", ["priority", "uptime", "lowest-mac"]))
    seen_on = sequence(neighbours.table.get("seen_on", ["stray", "unmatched", "stack"]), "traits.neighbours.seen_on")
    one_of("stack_mac", "stays", "moves")
    one_of("console_after_join", "own", "primary", "mute")
    return Traits(
        id_range=read_range(member_id.table.get("range", [1, 16]), "traits.member_id.range"),
        id_factory=member_id.whole("factory", 1),
        id_at_once=member_id.at_once("takes_effect", "after-restart", "after-restart"),
        priority_range=read_range(priority.table.get("range", [1, 100]), "traits.priority.range"),
        priority_factory=priority.whole("factory", 1),
        highest_wins=priority.one_of("wins", "highest", "highest", "lowest") == "highest",
        priority_waits=not priority.at_once("takes_effect", "at-once", "next-election"),
        boot_order=boot, merge_order=merge,
        stored_id=stored.at_once("id", "at-once", "with-save"),
        stored_priority=stored.at_once("priority", "with-save", "with-save"),
        stored_binding=stored.at_once("binding", "with-save", "with-save"),
        opposite=sides.one_of("facing", "opposite", "opposite", "any") == "opposite",
        max_cables=sides.whole("max_cables", 4),
        factory_enabled=one_of("factory_ports", "enabled", "disabled") == "enabled",
        port_disabled=binding.flag("port_disabled", True),
        binding=binding.one_of("takes_effect", "on-activation", *BINDINGS),
        loser=joining.one_of("loser", "restarts", "restarts", "waits", "absorbed"),
        preempts=joining.flag("preempts", False),
        activate_unit=activate.one_of("scope", "stack", "stack", "unit") == "unit",
        activate_restarts=activate.flag("restarts", False),
        save_stack=save.one_of("scope", "stack", "unit", "stack") == "stack",
        seen_on=frozenset(choice(item, ("stray", "unmatched", "stack"), "traits.neighbours.seen_on")
                          for item in seen_on),
        sticky=one_of("standby", "best", "sticky") == "sticky",
        handover=one_of("handover", "none", "old-restarts", "keeps-running"),
        admission=one_of("admission", "open", "id", "serial"),
        join_keys=read_join_keys(traits.get("join_keys", [])),
        switched=one_of("stack_mode", "always", "switched") == "switched",
        groups_restart=not groups.at_once("takes_effect", "at-once", "after-restart"),
        minutes=read_minutes(traits.get("minutes")),
    )
