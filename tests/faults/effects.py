"""A State of the second judge -> its single faults, and what each fault, or several at once, would leave.

What settles by itself (elections, losers that restart) is the second judge's own `settle`. Written from the texts of
the model alone. Where they leave room, it is read like this:

- A stack link is all lit cables between the same two unit sides; two units in a ring of two have two links. Only what
  is lit can fail: a leg that does not carry, and a cable that is dark, are no faults.
- Units are named by their key, legs by their member. Two faults in one entry, and the pairs in the list, stand in the
  order of the single faults.
- The guard compares the primaries of islands by the list for merges, `uptime` left out; an island without a primary
  does not compete. A fault that takes a guard's leg together with its unit does not spoil the guard.
- Units that are no members (still staged, or taken out) stay in the State, since they may meet a unit that returns,
  and are in no entry.
- Where losers wait for a restart by hand, nobody restarts by himself when a fault heals.
- Where an election is not decided the first name leads; a list that says otherwise there may be as right.
- A stack without any uplink has nothing in service, healthy or not, as the text has it.
"""

import os
import re
import sys
from dataclasses import dataclass, replace
from functools import cache

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "judge"))

from settling import Outcome, boot, fill_seats, settle
from state import World, best_of, cable_kinds, end_parts, find_islands

KINDS = ("link", "cable", "unit", "leg")


@cache
def natural(text):
    """`9` before `10`, in names and in ports."""
    parts = [(0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", text) if part]
    return parts, len(text), text


def end_order(end):
    """Ends by the name of their unit, then by their port."""
    name, port = end_parts(end)
    return natural(name), natural(port)


@dataclass(frozen=True)
class Fault:
    """One thing that fails: its name, the cables that go dark, the unit that goes down, the leg as (pair, box)."""

    kind: str
    name: str
    cables: frozenset = frozenset()
    unit: str | None = None
    leg: tuple | None = None

    def __str__(self):
        return f"{self.kind} {self.name}"


class Stack:
    """One State and the members that count in it; effects are remembered by what they depend on."""

    def __init__(self, traits, infos, state, members):
        self.world = World(traits, infos, None, frozenset(), None)
        self.judge = World(replace(traits, merge_order=tuple(name for name in traits.merge_order if name != "uptime")),
                           infos, None, frozenset(), None)
        self.state = state.clone()
        self.members = frozenset(name for name in members if state.units[name].powered)
        home = find_islands(self.state, cable_kinds(self.world, self.state))
        self.state.led = {name: home[name] for name in home if self.state.units[name].primary}
        if traits.sticky:
            fill_seats(self.world, self.state, Outcome())
        self.links = self.find_links()
        self.legs = self.find_legs(self.state)
        self.settled = {}

    def find_links(self):
        """(unit, side) twice -> the cables of that stack link."""
        found = {}
        for cable, kind in cable_kinds(self.world, self.state).items():
            ends = [end_parts(end) for end in cable]
            if kind == "stack" and all(name in self.members for name, _ in ends):
                sides = frozenset((name, self.state.units[name].running.ports[port][1]) for name, port in ends)
                found.setdefault(sides, set()).add(cable)
        return found

    def find_legs(self, state):
        """(pair, leg, box, cable) of every leg that lives: formed, its far cable lit, on a member that is up."""
        kinds, found = cable_kinds(self.world, state), set()
        for pair, legs in state.shared_running.uplinks.items():
            for leg in legs:
                member, port = end_parts(leg)
                for box in self.world.boxes.get(member, ()):
                    cable = tuple(sorted((f"far:{pair}", f"{box}:{port}")))
                    if box in self.members and kinds.get(cable) == "far":
                        found.add((pair, leg, box, cable))
        return found

    def singles(self):
        """Every single fault, in the order of the list."""
        found = []
        for cables in self.links.values():
            named = sorted((tuple(sorted(cable, key=end_order)) for cable in cables), key=cable_order)
            found.append((0, cable_order(named[0]), Fault("link", " ".join(named[0]), frozenset(cables))))
            if len(named) > 1:
                found += [(1, cable_order(one), Fault("cable", " ".join(one), frozenset((tuple(sorted(one)),))))
                          for one in named]
        found += [(2, natural(name), Fault("unit", name, unit=name)) for name in self.members]
        found += [(3, end_order(leg), Fault("leg", leg, frozenset((cable,)), leg=(pair, box)))
                  for pair, leg, box, cable in self.legs]
        return [fault for _, _, fault in sorted(found, key=lambda entry: entry[:2])]

    def pairs(self):
        """Every two single faults, but a link with a cable of its own."""
        singles = self.singles()
        for position, one in enumerate(singles):
            for other in singles[position + 1:]:
                if not (one.kind == "link" and other.kind == "cable" and other.cables <= one.cables):
                    yield one, other

    def settle_after(self, dark, down):
        """The State with these cables dark and these units down, and who restarts once all that heals."""
        hurt = self.state.clone()
        hurt.now += 1
        hurt.cables -= dark
        for name in down:
            hurt.units[name].go_down()
        self.rest(hurt, Outcome())
        healed, outcome = hurt.clone(), Outcome()
        healed.now += 1
        healed.cables |= dark
        for name in sorted(down):
            boot(self.world, healed, name, outcome)
        self.rest(healed, outcome)
        return hurt, frozenset(outcome.restarts) & self.members - down

    def rest(self, state, outcome):
        settle(self.world, state, outcome)
        if self.world.traits.sticky and not outcome.clashes:
            fill_seats(self.world, state, outcome)

    def remembered(self, faults):
        """`settle_after` depends only on which links have no cable left and which units are down."""
        dark = frozenset().union(*(fault.cables for fault in faults if fault.kind in ("link", "cable")))
        dead = frozenset(sides for sides, cables in self.links.items() if cables <= dark)
        down = frozenset(fault.unit for fault in faults if fault.unit)
        if (dead, down) not in self.settled:
            gone = frozenset().union(*(self.links[sides] for sides in dead))
            hurt, restarts = self.settle_after(gone, down)
            self.settled[dead, down] = (hurt, restarts, self.islands_of(hurt))
        return self.settled[dead, down]

    def islands_of(self, state):
        """Islands of members in order, each with its primary or None."""
        home = find_islands(state, cable_kinds(self.world, state))
        islands = {island & self.members for island in home.values()} - {frozenset()}
        found = []
        for island in islands:
            leaders = [name for name in island if state.units[name].primary]
            found.append((sorted(island, key=natural), leaders[0] if leaders else None))
        return sorted(found, key=lambda entry: natural(entry[0][0]))

    def staying(self, state, islands, living, faults):
        """The islands that stay in service, by their place in the list."""
        guard = state.shared_running.guard
        spoilt = any(fault.leg and fault.leg[0] == guard and state.units[fault.leg[1]].powered for fault in faults)
        if guard is None or spoilt:
            return [at for at, (names, _) in enumerate(islands) if any(box in names for _, _, box, _ in living)]
        keys = {}
        for at, (names, primary) in enumerate(islands):
            if primary is not None and any(pair == guard and box in names for pair, _, box, _ in living):
                keys[at] = self.judge.merge_key(state, primary, len(names))
        return [best_of(keys)[0]] if keys else []

    def entry(self, faults):
        """What these faults, at once, leave; as the list of findings says it."""
        hurt, restarts, islands = self.remembered(faults)
        struck = {cable for fault in faults for cable in fault.cables}
        living = {leg for leg in self.legs if leg[3] not in struck and hurt.units[leg[2]].powered}
        staying = self.staying(hurt, islands, living, faults)
        serving = {name for at in staying for name in islands[at][0]}
        return {
            "faults": [str(fault) for fault in faults],
            "islands": [names for names, _ in islands],
            "primary": [primary for _, primary in islands],
            "in_service": sorted(serving, key=natural),
            "uplinks_up": sorted({pair for pair, _, box, _ in living if box in serving}, key=natural),
            "cut_off": sorted((name for names, _ in islands for name in names if name not in serving), key=natural),
            "split_brain": len(staying) > 1,
            "restarts_on_heal": sorted(restarts, key=natural),
        }

    def findings(self, with_pairs=True):
        """The whole list: single faults, then pairs."""
        sets = [(fault,) for fault in self.singles()] + (list(self.pairs()) if with_pairs else [])
        return [self.entry(faults) for faults in sets]


def cable_order(cable):
    return tuple(end_order(end) for end in cable)


def finished(plan):
    """The finished stack of a plan: who is on in its target and is not leaving."""
    members = [name for name, info in plan.units.items()
               if info.status != "leaving" and plan.target.units[name].powered]
    return Stack(plan.traits, plan.units, plan.target, members)
