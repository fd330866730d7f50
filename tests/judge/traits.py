"""The traits of a platform, each left-out one at its neutral value."""

from dataclasses import dataclass, field

from reading import choice, hundredths, is_int, mapping, need, read_range, sequence

CRITERIA = ("priority", "uptime", "lowest-mac", "lowest-id")
MINUTE_KINDS = ("restart", "sync", "command", "cable", "power", "save", "activate", "check")

WIDER_DEFAULTS = {
    "stack_mode": "always", "join_keys": [], "admission": "open", "handover": "none", "stack_mac": "stays",
    "standby": "best",
}


@dataclass
class Traits:
    id_range: tuple
    id_factory: int
    id_at_once: bool
    priority_range: tuple
    priority_factory: int
    highest_wins: bool
    election: tuple
    stored_id: bool
    stored_priority: bool
    stored_binding: bool
    opposite: bool
    max_cables: int
    factory_enabled: bool
    port_disabled: bool
    binding: str
    loser_restarts: bool
    save_stack: bool
    seen_on: frozenset
    minutes: dict
    unjudged: list = field(default_factory=list)


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


def read_traits(value):
    """The traits, each left-out one at its neutral value; wider habits off their default are listed as unjudged."""
    traits = mapping(value, "traits")

    def part(name):
        return mapping(traits.get(name, {}), f"traits.{name}")

    def whole(name, key, default):
        number = part(name).get(key, default)
        need(is_int(number), f"traits.{name}.{key} is not a whole number")
        return number

    def one_of(name, key, default, allowed):
        return choice(part(name).get(key, default), allowed, f"traits.{name}.{key}")

    stored = {key: one_of("stored", key, default, ("at-once", "with-save")) == "at-once"
              for key, default in (("id", "at-once"), ("priority", "with-save"), ("binding", "with-save"))}
    election = sequence(traits.get("election", ["priority", "uptime", "lowest-mac"]), "traits.election")
    seen_on = sequence(part("neighbours").get("seen_on", ["stray", "unmatched", "stack"]), "traits.neighbours.seen_on")
    port_disabled = part("binding").get("port_disabled", True)
    need(isinstance(port_disabled, bool), "traits.binding.port_disabled is not true or false")
    return Traits(
        id_range=read_range(part("member_id").get("range", [1, 16]), "traits.member_id.range"),
        id_factory=whole("member_id", "factory", 1),
        id_at_once=one_of("member_id", "takes_effect", "after-restart", ("at-once", "after-restart")) == "at-once",
        priority_range=read_range(part("priority").get("range", [1, 100]), "traits.priority.range"),
        priority_factory=whole("priority", "factory", 1),
        highest_wins=one_of("priority", "wins", "highest", ("highest", "lowest")) == "highest",
        election=tuple(choice(item, CRITERIA, "traits.election") for item in election),
        stored_id=stored["id"], stored_priority=stored["priority"], stored_binding=stored["binding"],
        opposite=one_of("sides", "facing", "opposite", ("opposite", "any")) == "opposite",
        max_cables=whole("sides", "max_cables", 4),
        factory_enabled=choice(traits.get("factory_ports", "enabled"), ("enabled", "disabled"),
                               "traits.factory_ports") == "enabled",
        port_disabled=port_disabled,
        binding=one_of("binding", "takes_effect", "on-activation", ("at-once", "on-activation", "after-restart")),
        loser_restarts=one_of("joining", "loser", "restarts", ("restarts", "waits")) == "restarts",
        save_stack=one_of("save", "scope", "stack", ("unit", "stack")) == "stack",
        seen_on=frozenset(choice(item, ("stray", "unmatched", "stack"), "traits.neighbours.seen_on")
                          for item in seen_on),
        minutes=read_minutes(traits.get("minutes")),
        unjudged=[name for name, default in WIDER_DEFAULTS.items() if traits.get(name, default) != default],
    )
