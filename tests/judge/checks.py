"""The four checks that every plan holds: right-place, factory-unit, right-cable, fresh-baseline."""

import facts
from facts import place_name
from state import STACK_KINDS, View, end_parts


class Checks:
    """The part of a replay that asks whether the person looked before typing."""

    def check_typing(self, do, report):
        """right-place at the opening of a segment, factory-unit at the first typed step on a joining unit."""
        if not facts.is_typed(do):
            self.opening = self.running_at = None
            return
        place = report.place
        if self.running_at != place and (place, True) not in (self.opening or []):
            report.add("right-place", f"nothing proves that the person is at {place_name(place)}")
        self.opening = None
        self.running_at = None if do["kind"] == "restart" else place
        name = do.get("unit")
        info = self.plan.units.get(name)
        if info is None or info.status != "joining" or name in self.typed_on or do["kind"] == "wipe" \
                or do["kind"] in ("admit", "forget") and place != {"console": name}:
            return
        self.typed_on |= {name}
        saved, traits = self.plan.baseline.units[name].saved, self.plan.traits
        fixed = traits.binding == "fixed"
        if saved is None or saved.mode != traits.factory_mode \
                or (saved.id, saved.priority) != (traits.id_factory, traits.priority_factory) \
                or not fixed and any(held[1] != "none" for held in saved.ports.values()):
            return
        ports = info.stacking_ports if info.stacking_ports is not None else list(saved.ports)
        wanted = {"id", "priority"} | ({"mode"} if traits.switched else set())
        wanted |= {("port", port) for port in ports if port in saved.ports and not fixed}
        if wanted - self.factory_seen.get(name, frozenset()):
            report.add("factory-unit", f"{name} was not found as it comes from the factory, or nothing says to wipe it if it is not")

    def check_links(self, do, outcome, report):
        """right-cable: a link that a typed step makes had its neighbour seen since it was plugged."""
        traits = self.plan.traits
        if not facts.is_typed(do) or outcome.by_restart or "unmatched" not in traits.seen_on \
                or traits.binding in ("after-restart", "fixed"):
            return
        for cable, kind in sorted(outcome.at_once.items()):
            if kind == "stack" and cable not in self.links_been and cable not in self.looked:
                report.add("right-cable", f"the link {cable[0]} to {cable[1]} is made and its neighbour was not looked at")

    def check_baseline(self, do, report, before):
        """fresh-baseline: the first step that touches the live stack follows a look at the whole of it."""
        if not self.first_live or not self.touches(do, before):
            return
        self.touched = True
        baseline = View(self.world, self.plan.baseline, self.first_live, True)
        missing = baseline_to_see(self.plan, self.world, baseline, self.first_live) - self.seen
        if missing:
            texts = sorted(" ".join(map(str, item if item[0] != "link" else ("link", *item[1]))) for item in missing)
            report.add("fresh-baseline", f"the live stack is touched and was not seen whole: {', '.join(texts)}")

    def touches(self, do, before):
        """Does this operation touch the live stack?"""
        if "uplink" in do or do["kind"] in STACK_KINDS or do.get("unit") in self.first_live:
            return True
        if any(end_parts(end)[0] in self.first_live for end in do.get("ends", ())):
            return True
        return before.incumbent != self.view.incumbent


def baseline_to_see(plan, world, view, live):
    """Every item of the baseline that fresh-baseline wants seen; an undecided standby's role is not among them."""
    wanted = {("guard",)}
    for name in live:
        wanted |= {(name, what) for what in ("id", "priority", "saved")}
        if plan.units[name].serial is not None:
            wanted.add((name, "serial"))
        if name == view.primary or world.traits.sticky or standby_by_priority(world, view, live):
            wanted.add((name, "role"))
    for cable, kind in view.kinds.items():
        if kind == "stack" and all(end_parts(end)[0] in live for end in cable):
            wanted.add(("link", cable))
    return wanted | {("uplink", name) for name in view.state.shared_running.uplinks}


def standby_by_priority(world, view, live):
    """Does priority alone tell who is the standby?"""
    units = [view.state.units[name] for name in live if name != view.primary]
    others = [unit.running.priority if unit.counts is None else unit.counts for unit in units]
    # neither of these tells units apart that do not lead
    order = [criterion for criterion in world.traits.boot_order if criterion not in ("acting", "size")]
    best = max(others, default=0) if world.traits.highest_wins else min(others, default=0)
    return others.count(best) == 1 and order[:1] == ["priority"]
