"""How long a step lasts: (best, likely, worst) in hundredths of a minute."""

BEST, LIKELY, WORST = 0, 1, 2
OWN_MINUTES = {"power-off": "power", "connect-cable": "cable", "disconnect-cable": "cable", "save": "save",
               "activate": "activate", "expect": "check", "await": "check"}


def own_minutes(traits, do):
    """(best, likely, worst) of a step without the down states of restarts."""
    kind, table = do["kind"], traits.minutes
    if kind == "restart":
        return (0, 0, 0)
    if kind == "power-on":
        return tuple(a + b for a, b in zip(table["power"], table["restart"]))
    if kind == "await" and do["until"] == "ready":
        return table["sync"]
    return table[OWN_MINUTES.get(kind, "command")]


def step_minutes(traits, do, downs):
    """(best, likely, worst) of a step with every down state in it."""
    return tuple(own + downs * down for own, down in zip(own_minutes(traits, do), traits.minutes["restart"]))
