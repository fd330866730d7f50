"""The shapes of operations and facts: which there are, and the types of what they hold."""

from reading import choice, is_int, is_number, mapping, need, read_ends, sequence, split_end, text, texts

ARGUMENTS = {
    "power-on": ("unit",), "power-off": ("unit",), "restart": ("unit",), "wipe": ("unit",),
    "assign-id": ("unit", "id"), "set-priority": ("unit", "priority"),
    "disable-port": ("unit", "port"), "enable-port": ("unit", "port"),
    "bind-port": ("unit", "port", "side"), "release-port": ("unit", "port"),
    "activate": ("unit",), "save": ("unit",),
    "connect-cable": ("ends",), "disconnect-cable": ("ends",),
    "form-uplink": ("uplink", "legs"), "drop-uplink": ("uplink",),
    "add-leg": ("uplink", "leg"), "drop-leg": ("uplink", "leg"),
    "set-mode": ("unit", "mode"), "set-key": ("unit", "key", "value"), "hand-over": ("unit",),
    "admit": ("unit",), "forget": ("unit",),
    "guard-split": ("uplink",), "unguard-split": ("uplink",),
    "await": ("unit", "until", "limit"), "expect": ("facts",),
}

FACT_FIELDS = {
    "here": {"id": is_int, "serial": str, "members": list},
    "unit": {"powered": bool, "id": is_int, "saved_id": is_int, "priority": is_int, "role": str, "waiting": bool,
             "ready": bool, "serial": str, "mac": str, "model": str, "keys": dict, "mode": str},
    "port": {"enabled": bool, "side": str, "active": bool, "lit": bool},
    "neighbour": {"far": str}, "link": {"is": str}, "cable": {"plugged": bool}, "plug": {"serial": str},
    "uplink": {"legs": list, "carrying": list}, "guard": {"uplink": str}, "saved": {"saved": bool}, "ask": {"text": str},
    "admitted": {"ids": list, "serials": list},
}
FACT_MUST = {"unit": ("unit",), "port": ("unit", "port"), "neighbour": ("end",), "plug": ("end",),
             "uplink": ("uplink",), "saved": ("unit",), "ask": ("text",)}
FACT_NULLS = {("neighbour", "far"), ("plug", "serial"), ("guard", "uplink"), ("here", "serial"), ("unit", "serial"),
              ("unit", "mac"), ("unit", "model")}


def check_fact(fact, where):
    """One fact names what it is about and states its fields in their types."""
    kind = choice(mapping(fact, where).get("fact"), tuple(FACT_FIELDS), f"{where}.fact")
    for name in FACT_MUST.get(kind, ()):
        text(fact.get(name), f"{where}.{name}")
    if kind in ("link", "cable"):
        read_ends(fact.get("ends"), f"{where}.ends")
    if kind in ("neighbour", "plug"):
        need(all(split_end(fact["end"])), f"{where}.end is not unit:port")
    if kind == "link":
        choice(fact.get("is"), ("stack", "unmatched", "stray", "none"), f"{where}.is")
    if kind == "admitted":
        need(("ids" in fact) != ("serials" in fact), f"{where} holds neither ids nor serials, or both")
    for name, wanted in FACT_FIELDS[kind].items():
        if name not in fact:
            need((kind, name) not in (("neighbour", "far"), ("guard", "uplink"), ("cable", "plugged"), ("saved", "saved")),
                 f"{where} lacks {name}")
            continue
        value = fact[name]
        if value is None:
            need((kind, name) in FACT_NULLS, f"{where}.{name} is null")
        else:
            fits = wanted(value) if wanted is is_int else isinstance(value, wanted)
            need(fits, f"{where}.{name} has the wrong type")
            if wanted is dict:
                need(all(isinstance(item, str) for item in value.values()), f"{where}.{name} has the wrong type")
            if wanted is list:
                need(all(is_int(item) if name in ("members", "ids") else isinstance(item, str) for item in value),
                     f"{where}.{name} has the wrong type")


def check_do(do, where):
    """An operation has a known kind and its arguments in their types; its needs are the replay's to judge."""
    kind = choice(mapping(do, where).get("kind"), tuple(ARGUMENTS), f"{where}.kind")
    for name in ARGUMENTS[kind]:
        here = f"{where}.{name}"
        value = do.get(name)
        if name in ("id", "priority"):
            need(is_int(value), f"{here} is not a whole number")
        elif name == "ends":
            read_ends(value, here)
        elif name == "legs":
            need(all(all(split_end(leg)) for leg in texts(value, here)), f"{here}: a leg is not member:port")
        elif name == "leg":
            need(all(split_end(text(value, here))), f"{here} is not member:port")
        elif name == "mode":
            choice(value, ("lone", "stack"), here)
        elif name == "side":
            choice(value, ("west", "east"), here)
        elif name == "until":
            choice(value, ("up", "joined", "ready"), here)
        elif name == "limit":
            need(is_number(value) and value > 0, f"{here} is not a number of minutes")
        elif name == "facts":
            need(sequence(value, here), f"{here} is empty")
            for position, fact in enumerate(value):
                check_fact(fact, f"{here}[{position}]")
        else:
            text(value, here)
    if kind in ("admit", "forget"):
        need(("id" in do) != ("serial" in do), f"{where} tells neither an id nor a serial, or both")
        need(is_int(do["id"]) if "id" in do else isinstance(do["serial"], str), f"{where}: the id or serial is none")
    if kind == "expect":
        need(do.get("otherwise") is None or isinstance(do["otherwise"], str), f"{where}.otherwise is not a text")
