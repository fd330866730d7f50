"""A plan -> what one operator error does to it: every slip that can be tried, replayed, and its verdict.

A slip is caught, harmless or dangerous. A replay with a slip goes in file order from the step of the slip on and
ends early where it has come to the nominal point again, or to one from which the end is known already.
"""

import re
from dataclasses import dataclass

import facts
from replay import Replay, StepReport
from rules import target_breaches
from shape import SLIP_KINDS
from state import STACK_KINDS, UPLINK_KINDS, end_parts

RULES = ("primary-kept", "no-live-restart", "never-split", "no-id-clash", "no-stray-link", "uplinks-up", "one-brain",
         "decided", "cold-start", "settled", "loses-merge", "same-keys", "group-free", "reaches-target")
CATCHES = ("step-refused", "expect-fails", "not-visible", "await-fails")
LOOKS = ("await", "expect")
OTHER_SIDE = {"west": "east", "east": "west"}


@dataclass(frozen=True)
class Verdict:
    """caught, harmless or dangerous; `rules` are those broken at the moment of the first breach."""

    word: str
    rules: frozenset = frozenset()

    def first(self):
        return min(self.rules, key=RULES.index)


CAUGHT, HARMLESS = Verdict("caught"), Verdict("harmless")


@dataclass
class Segment:
    """Steps by index: an opening look or the first typed step, up to the last typed step, all at one place."""

    first: int
    last: int
    place: dict


def natural(port):
    """`9` before `10`."""
    return [(0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", port) if part], port


def report_verdict(report):
    """What one replayed step decides: None if the replay goes on."""
    broken = {rule for rule, _ in report.breaches}
    if broken & set(CATCHES):
        return CAUGHT
    return Verdict("dangerous", frozenset(broken)) if broken else None


class Slips:
    """Every slip of a plan. `incurable`: what of the baseline's breaches the target has too. `steps`: those replayed,
    if not the plan's; of them the first `own` are tried."""

    def __init__(self, plan, incurable, steps=None, own=None):
        self.plan, self.incurable = plan, incurable
        self.steps = plan.steps if steps is None else steps
        self.own = len(self.steps) if own is None else own
        self.tails = {}
        self.points, self.keys, self.places = [], [], []
        self.sound = self.nominal()

    def nominal(self):
        """Keeps every point of the plan as it should go; False if it breaks a rule itself."""
        replay = self.beginning()
        for index in range(len(self.steps)):
            self.keep(replay)
            self.places.append(facts.place_of(self.plan.stack, replay.view, self.steps, index))
            replay = replay.fork_unchecked()
            report = replay.act(self.steps[index]["do"], self.places[index])
            self.found(replay, index, report)
            if report.breaches:
                return False
        self.keep(replay)
        return self.end(replay) is HARMLESS

    def beginning(self):
        replay = Replay(self.plan).fork_unchecked()
        replay.baseline_faults()
        return replay

    def keep(self, replay):
        self.points.append(replay)
        self.keys.append(replay.whole_key())

    def found(self, replay, index, report):
        if self.steps[index]["phase"] == "stage":
            replay.found_stack(index, report)

    def end(self, replay):
        """The verdict where nothing broke on the way."""
        if target_breaches(self.plan, replay.view):
            return Verdict("dangerous", frozenset(("reaches-target",)))
        lasting = replay.excused - self.incurable
        return Verdict("dangerous", frozenset(rule for rule, _ in lasting)) if lasting else HARMLESS

    # ---------------------------------------------------------------- replays

    def follow(self, replay, index):
        """The plan as written from step `index` on, from wherever the slip has led."""
        trail, verdict = [], None
        while verdict is None:
            point = (index, replay.whole_key())
            if point[1] == self.keys[index]:
                verdict = HARMLESS
            elif point in self.tails:
                verdict = self.tails[point]
            elif index == len(self.steps):
                verdict = self.end(replay)
            else:
                trail.append(point)
                place = facts.place_of(self.plan.stack, replay.view, self.steps, index)
                report = replay.act(self.steps[index]["do"], place)
                self.found(replay, index, report)
                verdict = report_verdict(report)
                index += 1
        self.tails.update((point, verdict) for point in trail)
        return verdict

    def instead(self, index, dos, skip=1):
        """These operations in place of the `skip` steps from `index` on, then the rest of the plan."""
        replay = self.points[index].fork_unchecked()
        for do in dos:
            verdict = report_verdict(replay.act(do, self.places[index]))
            if verdict is not None:
                return verdict
        after = StepReport(self.places[index])
        for done in range(index, index + skip):
            self.found(replay, done, after)
        return report_verdict(after) or self.follow(replay, index + skip)

    def misplaced(self, segment, place):
        """The segment at another place, whoever answers there to the ids that are meant."""
        replay = self.points[segment.first].fork_unchecked()
        for index in range(segment.first, segment.last + 1):
            do = self.steps[index]["do"]
            there = place
            if "console" in place and replay.view.in_stack(place["console"]):
                there = {"stack": self.plan.stack}
            do = self.as_met(do, index, replay.view, there)
            report = StepReport(there)
            if do is None:
                report.add("step-refused", "nobody there answers")
            else:
                report = replay.act(do, there)
            self.found(replay, index, report)
            verdict = report_verdict(report)
            if verdict is not None:
                return verdict
        return self.follow(replay, segment.last + 1)

    def as_met(self, do, index, view, place):
        """What a step does at this place; None where nobody there has the id that is meant."""
        island = facts.island_at(view, place) or frozenset()
        if do["kind"] in STACK_KINDS and "stack" not in place:
            return None
        if do["kind"] in UPLINK_KINDS or do["kind"] in ("admit", "forget"):
            return do if "stack" in place and island else None
        if do["kind"] != "expect":
            name = self.whoever(do["unit"], index, view, island)
            return None if name is None else {**do, "unit": name}
        met = [self.fact_as_met(fact, index, view, island) for fact in do["facts"]]
        return None if None in met else {**do, "facts": met}

    def fact_as_met(self, fact, index, view, island):
        """A fact with each unit that it is about replaced; what a neighbour shows stays as stated."""
        fact = dict(fact)
        if "unit" in fact:
            fact["unit"] = self.whoever(fact["unit"], index, view, island)
            return None if fact["unit"] is None else fact
        ends = [fact["end"]] if "end" in fact else fact.get("ends", [])
        met = []
        for end in ends:
            name, port = end_parts(end)
            meant = name if name == "far" else self.whoever(name, index, view, island)
            if meant is None:
                return None
            met.append(f"{meant}:{port}")
        if "end" in fact:
            fact["end"] = met[0]
        elif "ends" in fact:
            fact["ends"] = met
        return fact

    def whoever(self, name, index, view, island):
        """Who in this island runs the id that `name` runs before this step in the plan as it should go."""
        unit = self.points[index].state.units.get(name)
        if unit is None or unit.running is None:
            return None
        return next((other for other in sorted(island) if view.state.units[other].running.id == unit.running.id), None)

    # ---------------------------------------------------------------- what can be tried

    def tries(self):
        """(kind, step, with, verdict) of every slip, by kind."""
        acting = [index for index in range(self.own) if self.steps[index]["do"]["kind"] not in LOOKS]
        for index in acting:
            yield "leave-out", index + 1, None, self.instead(index, [])
        for index in acting:
            do = self.steps[index]["do"]
            yield "repeat", index + 1, None, self.instead(index, [do, do])
        for index in acting:
            if index + 1 in acting and self.places[index] == self.places[index + 1]:
                pair = [self.steps[index + 1]["do"], self.steps[index]["do"]]
                yield "swap", [index + 1, index + 2], None, self.instead(index, pair, skip=2)
        for kind, changes in (("misplug", self.misplugs), ("mistype", self.mistypes), ("wrong-unit", self.wrong_units)):
            for index in acting:
                for shown, do in changes(self.steps[index]["do"], self.points[index]):
                    yield kind, index + 1, shown, self.instead(index, [do])
        for segment in self.segments():
            if segment.last >= self.own:
                continue
            view = self.points[segment.first].view
            for place in facts.other_places(self.plan.stack, view, segment.place):
                shown = place.get("console", "stack")
                yield "misplace", [segment.first + 1, segment.last + 1], shown, self.misplaced(segment, place)

    def misplugs(self, do, point):
        """Each end of a new cable in the lowest other free stacking-capable port of its unit."""
        if do["kind"] != "connect-cable":
            return
        taken = {end for cable in point.state.cables for end in cable} | set(do["ends"])
        for position, end in enumerate(do["ends"]):
            name = end_parts(end)[0]
            free = [port for port in self.stacking_ports(name) if f"{name}:{port}" not in taken]
            if free:
                wrong = f"{name}:{min(free, key=natural)}"
                ends = [wrong if place == position else other for place, other in enumerate(do["ends"])]
                yield wrong, {**do, "ends": ends}

    def stacking_ports(self, name):
        info = self.plan.units.get(name)
        if info is None:
            return []
        return self.listed_ports(name) if info.stacking_ports is None else info.stacking_ports

    def listed_ports(self, name):
        saved = self.plan.baseline.units[name].saved
        return sorted(saved.ports, key=natural) if saved is not None else []

    def mistypes(self, do, point):
        """One argument of a step off by one: a port, an id, a priority; or the other side."""
        if "port" in do:
            ports = self.listed_ports(do["unit"])
            if do["port"] in ports:
                place = ports.index(do["port"])
                for other in ports[place + 1:place + 2] + ports[max(place - 1, 0):place]:
                    yield other, {**do, "port": other}
        for name, bounds in (("id", self.plan.traits.id_range), ("priority", self.plan.traits.priority_range)):
            if name in do:
                for value in (do[name] + 1, do[name] - 1):
                    if bounds[0] <= value <= bounds[1]:
                        yield str(value), {**do, name: value}
        if "side" in do:
            side = OTHER_SIDE[do["side"]]
            yield side, {**do, "side": side}

    def wrong_units(self, do, point):
        """A power-off or restart of another unit, the lead handed to another unit of the stack, or the cable in the same
        port of another unit pulled."""
        units = point.state.units
        if do["kind"] == "hand-over":
            for name in sorted(point.view.incumbent or ()):
                if name not in (do["unit"], point.view.primary):
                    yield name, {**do, "unit": name}
        if do["kind"] in ("power-off", "restart"):
            for name in units:
                if name != do["unit"] and units[name].powered:
                    yield name, {**do, "unit": name}
        if do["kind"] == "disconnect-cable":
            holding = {end: cable for cable in point.state.cables for end in cable}
            tried = {tuple(sorted(do["ends"]))}
            for end in do["ends"]:
                own, port = end_parts(end)
                for name in units:
                    cable = holding.get(f"{name}:{port}") if own not in ("far", name) else None
                    if cable is not None and cable not in tried:
                        tried.add(cable)
                        yield " ".join(cable), {**do, "ends": list(cable)}

    def segments(self):
        """Runs of typed steps at one place, each with the looks at that place right before it."""
        found, current = [], None
        for index, step in enumerate(self.steps):
            do, place = step["do"], self.places[index]
            if facts.is_typed(do):
                if current is None or current.place != place:
                    current = Segment(self.opening(index), index, place)
                    found.append(current)
                current.last = index
                if do["kind"] == "restart":
                    current = None
            elif do["kind"] != "expect" or current is not None and current.place != place:
                current = None
        return found

    def opening(self, index):
        """The first of the looks that stand right before this typed step at its place."""
        place = self.places[index]
        while index > 0 and self.steps[index - 1]["do"]["kind"] == "expect" and self.places[index - 1] == place:
            index -= 1
        return index


def try_slips(plan, incurable):
    """`tally` of the plan's own slips."""
    return tally(Slips(plan, incurable))


def tally(slips):
    """What every slip does, or None where the steps break a rule without one: (the `slips` object, rules by slip)."""
    if not slips.sound:
        return None
    counts, rules, dangerous = {"caught": 0, "harmless": 0, "dangerous": 0}, {}, []
    for kind, step, shown, verdict in slips.tries():
        counts[verdict.word] += 1
        if verdict.word == "dangerous":
            entry = {"slip": kind, "step": step, "with": shown, "rule": verdict.first()}
            dangerous.append(entry)
            rules[identity(entry)] = verdict.rules
    dangerous.sort(key=lambda entry: (steps_of(entry), SLIP_KINDS.index(entry["slip"]), natural(entry["with"] or "")))
    return {"tried": sum(counts.values()), "caught": counts["caught"], "harmless": counts["harmless"],
            "dangerous": dangerous}, rules


def steps_of(entry):
    return entry["step"] if isinstance(entry["step"], list) else [entry["step"]]


def identity(entry):
    """Which slip it is, whatever breaks: the two ends of a cable in either order."""
    shown = entry["with"]
    if entry["slip"] == "wrong-unit" and shown is not None:
        shown = " ".join(sorted(shown.split(" ")))
    return (entry["slip"], tuple(steps_of(entry)), shown)


def slip_claims(said, found, rules):
    """Where the plan's own `slips` are not what the replays found: sentences. Of rules broken at once each will do."""
    wrong = [f"slips.{name} is {found[name]}, not {said[name]}" for name in ("tried", "caught", "harmless")
             if said[name] != found[name]]
    named = {}
    for entry in said["dangerous"]:
        if identity(entry) in named:
            wrong.append(f"{slip_name(entry)} stands twice among the dangerous slips")
        named[identity(entry)] = entry
    for entry in found["dangerous"]:
        if identity(entry) not in named:
            wrong.append(f"{slip_name(entry)} is dangerous by {entry['rule']} and is not named")
    for which, entry in named.items():
        if which not in rules:
            wrong.append(f"{slip_name(entry)} is said to be dangerous and is not")
        elif entry["rule"] not in rules[which]:
            wrong.append(f"{slip_name(entry)} breaks {', '.join(sorted(rules[which]))} first, not {entry['rule']}")
    return wrong


def slip_name(entry):
    shown = f" with {entry['with']}" if entry["with"] is not None else ""
    return f"the slip {entry['slip']} of step {' to '.join(map(str, steps_of(entry)))}{shown}"
