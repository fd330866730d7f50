"""Exact availability of a stack, by trying every state of its links and units with fractions.

    python3 tests/faults/availability.py CASE.json [TOLD.json]

A case is `{"links": [{"ends": ["a", "b"], "availability": "999/1000"}], "units": {"a": "0.9999", …}, "uplinks": ["a"]}`:
numbers are texts (`num/den` or decimal, both exact), each parallel cable is an entry of its own, and `uplinks` names the
members that hold a leg. Prints `{"together": …, "together_if_units_last": …, "reaches": {"a": …}}` as fractions:

- together: every member is up and all are one island;
- together_if_units_last: the same of links alone, which is the all-terminal reliability of the literature;
- reaches: the member is up, and its island holds a member with a leg, which may be itself.

TOLD is that shape with any of these keys, its numbers as texts or as JSON numbers; one that is off by more than 1e-12 is
a difference, and exit status 1. The shape that `ringwright` writes is not settled here.

Links and units fail independently of each other. Parallel cables between the same two units are first made one, which
works where any of them works; `reduced=False` tries them one by one.
"""

import json
import sys
from fractions import Fraction

CLOSE = Fraction(1, 10**12)


def availability(up, down):
    """The share of time that a thing works: mean up time over mean up and down time, as IEC 60050-192 has it."""
    return Fraction(up) / (Fraction(up) + Fraction(down))


def any_of(chances):
    """Several that each suffice: one less the chance that all are down (Barlow and Proschan, Statistical Theory of
    Reliability and Life Testing, 1975; from memory)."""
    none = Fraction(1)
    for chance in chances:
        none *= 1 - chance
    return 1 - none


def path_together(count, link):
    """All-terminal reliability of a path: each link must work (Colbourn, The Combinatorics of Network Reliability,
    1987; from memory)."""
    return link ** (count - 1)


def cycle_together(count, link):
    """All-terminal reliability of a cycle: no link fails, or just one does (Colbourn, as above)."""
    return link ** count + count * link ** (count - 1) * (1 - link)


class Case:
    """Links as (one, other, availability), units with theirs, and the members that hold a leg."""

    def __init__(self, links, units, uplinks):
        self.units = {name: Fraction(value) for name, value in units.items()}
        self.links = [(one, other, Fraction(value)) for one, other, value in links]
        self.uplinks = frozenset(uplinks)
        for one, other, _ in self.links:
            if one == other or one not in self.units or other not in self.units:
                raise ValueError(f"a link joins {one} and {other}")
        if not self.uplinks <= set(self.units):
            raise ValueError(f"a leg is on no unit: {sorted(self.uplinks)}")
        for value in [*self.units.values(), *(chance for _, _, chance in self.links)]:
            if not 0 <= value <= 1:
                raise ValueError(f"{value} is no availability")

    def reduced(self):
        """The same with parallel links made one."""
        groups = {}
        for one, other, chance in self.links:
            groups.setdefault(tuple(sorted((one, other))), []).append(chance)
        return Case([(*ends, any_of(chances)) for ends, chances in groups.items()], self.units, self.uplinks)


def read_case(value):
    links = [(*entry["ends"], exact(entry["availability"])) for entry in value["links"]]
    return Case(links, {name: exact(chance) for name, chance in value["units"].items()}, value["uplinks"])


def exact(value):
    """A text as the fraction that it writes; a JSON number would have lost digits on its way here."""
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text")
    return Fraction(value)


class Weights:
    """Every state of some things that work or not: (which work, as bits, weight); the weights add up to `whole`."""

    def __init__(self, chances):
        self.parts = [(chance.numerator, chance.denominator - chance.numerator) for chance in chances]
        self.whole = 1
        for chance in chances:
            self.whole *= chance.denominator

    def states(self):
        states = [(0, 1)]
        for place, (works, fails) in enumerate(self.parts):
            bit = 1 << place
            states = [(bits | added, weight * factor) for bits, weight in states
                      for added, factor in ((bit, works), (0, fails)) if factor]
        return states


def parts_of(up, edges):
    """The islands, as bits, of the units that are up over these edges, each as bits of its two units."""
    parts = [1 << place for place in range(up.bit_length()) if up >> place & 1]
    for edge in edges:
        if edge & up == edge:
            touched = [part for part in parts if part & edge]
            if len(touched) == 2:
                parts = [part for part in parts if not part & edge] + [touched[0] | touched[1]]
    return parts


def enumerate_states(case, reduced=True):
    """What the case comes to, each state of links and units tried: {together, together_if_units_last, reaches}."""
    case = case.reduced() if reduced else case
    names = list(case.units)
    bit = {name: 1 << place for place, name in enumerate(names)}
    edges = [bit[one] | bit[other] for one, other, _ in case.links]
    legs = sum(bit[name] for name in case.uplinks)
    links, units = Weights([chance for _, _, chance in case.links]), Weights(case.units.values())
    together = lasting = 0
    reaches = dict.fromkeys(names, 0)
    ups = units.states()
    for working, link_weight in links.states():
        lit = [edge for place, edge in enumerate(edges) if working >> place & 1]
        everyone = (1 << len(names)) - 1
        if len(parts_of(everyone, lit)) == 1:
            lasting += link_weight
        for up, unit_weight in ups:
            weight, parts = link_weight * unit_weight, parts_of(up, lit)
            if up == everyone and len(parts) == 1:
                together += weight
            served = sum(part for part in parts if part & legs)
            for name in names:
                if served & bit[name]:
                    reaches[name] += weight
    whole = links.whole * units.whole
    return {"together": Fraction(together, whole), "together_if_units_last": Fraction(lasting, links.whole),
            "reaches": {name: Fraction(weight, whole) for name, weight in reaches.items()}}


def flat(result):
    """(what, value) of every number of a result."""
    for key, value in result.items():
        if isinstance(value, dict):
            yield from ((f"{key}.{name}", inner) for name, inner in value.items())
        else:
            yield key, value


def differences(told, result):
    """What a told result says otherwise, as sentences; at least one number must be told."""
    own, found, count = dict(flat(result)), [], 0
    for what, value in flat(told):
        count += 1
        if what not in own:
            found.append(f"{what} is nothing that is asked for")
        elif abs(Fraction(str(value)) - own[what]) > CLOSE:
            found.append(f"{what} is {value}, and not {own[what]} = {float(own[what])!r}")
    return found if count else ["nothing is told"]


def main(arguments):
    if len(arguments) not in (1, 2):
        print(__doc__, file=sys.stderr)
        return 2
    values = []
    for path in arguments:
        with open(path, encoding="utf-8") as file:
            values.append(json.load(file))
    result = enumerate_states(read_case(values[0]))
    if len(values) == 1:
        shown = {key: {name: str(inner) for name, inner in value.items()} if isinstance(value, dict) else str(value)
                 for key, value in result.items()}
        print(json.dumps(shown, ensure_ascii=False))
        return 0
    found = differences(values[1], result)
    print("\n".join(found) or f"{len(dict(flat(values[1])))} numbers agree")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
