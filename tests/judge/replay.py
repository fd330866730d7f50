"""Replays steps one by one: place, operation, rules, checks, and the bookkeeping of who is live.

`Replay` is one point of a replay; its fields are replaced, never changed in place, so that a shallow copy
is a fork (each way back starts from one).
"""

import copy
from dataclasses import dataclass, field

import facts
from checks import Checks
from facts import describe, place_name, step_unit
from minutes import LIKELY, own_minutes, step_minutes
from operations import Refused, perform
from rules import Standing, merge_breaches, names, state_breaches
from state import View, World, end_parts, find_islands


@dataclass
class StepReport:
    """What one replayed step did and what was wrong with it."""

    place: dict
    breaches: list = field(default_factory=list)
    before: View = None
    live_before: frozenset = frozenset()
    downs: list = field(default_factory=list)
    restarts: list = field(default_factory=list)
    minutes: tuple = (0, 0, 0)
    own_likely: int = 0
    links_not_typed: int = 0
    ran: bool = True

    def add(self, rule, what):
        self.breaches.append((rule, what))


def build_world(plan):
    """The fixed part of a replay. The baseline's primary leads the incumbent; with no baseline it is the founder."""
    old = [key for key, unit in plan.units.items() if unit.status != "joining"]
    founder = None
    if old:
        first = baseline_primary(plan, old)
    else:
        first = founder = next((key for key, unit in plan.units.items() if unit.role == "primary"), None)
    dead = frozenset(key for key, unit in plan.units.items() if unit.member in plan.dead and unit.status != "joining")
    may_lead = plan.new_primary | ({first} if first else frozenset())
    return World(plan.traits, plan.units, first, may_lead, founder, dead)


def baseline_primary(plan, old):
    """The leader of the baseline's incumbent: the role's holder's island, else the largest, else the election's."""
    bare = World(plan.traits, plan.units, None, frozenset(), None)
    view = View(bare, plan.baseline, frozenset(), False)
    led = [(leaders[0], island) for island, leaders in view.leaders.items() if leaders and island & frozenset(old)]
    if not led:
        return None
    best = min(led, key=lambda entry: (plan.units[entry[0]].role != "primary", -len(entry[1]),
                                       bare.merge_key(plan.baseline, entry[0], len(entry[1])), entry[0]))
    return best[0]


class Replay(Checks):
    """One point of a replay of a plan."""

    def __init__(self, plan):
        self.plan, self.world = plan, build_world(plan)
        self.state = plan.baseline.clone()
        self.state.now = max([unit.booted_at for unit in self.state.units.values()], default=0)
        self.founded = self.world.founder is None
        self.last_stage = self._founder_stage_end()
        if self.last_stage is None and self.world.founder is not None:
            self.founded = True
        self.leaving = frozenset(key for key, unit in plan.units.items() if unit.status == "leaving")
        old = frozenset(key for key, unit in plan.units.items() if unit.status != "joining") - self.world.dead_boxes
        self.view = View(self.world, self.state, old, self.founded)
        island = self.view.incumbent or frozenset()
        self.stranded = frozenset(key for key in old if plan.units[key].status == "live") - island
        self.live = island | self.stranded
        self.was_live = self.counted = self.live
        self.first_live = island
        home = find_islands(self.state, self.view.kinds)
        self.state.led = {name: home[name] for name in home if self.state.units[name].primary}
        self.trusted = frozenset((pair, leg) for pair, legs in self.state.shared_running.uplinks.items() for leg in legs)
        self.pairs = frozenset(plan.baseline.shared_running.uplinks) & frozenset(plan.target.shared_running.uplinks)
        self.pending = self.ready = frozenset()
        self.links_been = frozenset(cable for cable, kind in self.view.kinds.items() if kind == "stack")
        self.keys_been = frozenset(self.view.link_keys())
        self.looked = frozenset()
        self.memo, self.used = {}, set()
        self.excused = self.faults = self.faults_back = frozenset()
        self.leaving_back = frozenset(key for key, unit in plan.units.items() if unit.status == "joining")
        self.back, self.checked = False, True
        self.touched = False
        self.seen = frozenset()
        self.factory_seen = {}
        self.typed_on = frozenset()
        self.opening = None
        self.running_at = None

    def _founder_stage_end(self):
        """The index of the founder's last stage step, None if it has none."""
        founder = self.world.founder
        ends = [index for index, step in enumerate(self.plan.steps)
                if step["phase"] == "stage" and founder is not None and step_unit(self.plan.steps, index) == founder]
        return max(ends, default=None)

    def fork_unchecked(self):
        """A copy that is held to the rules and no more to the four checks, and that uses up no consent."""
        fork = copy.copy(self)
        fork.checked, fork.used = False, set()
        return fork

    def fork_back(self):
        """A copy that goes back: the joining units count as leaving, the leaving ones as staying."""
        fork = self.fork_unchecked()
        fork.back, fork.used = True, self.used
        fork.leaving = self.leaving_back
        if not self.back:
            now = {entry[:2] for entry in fork.state_rules(fork.state, fork.view, fork.standing())}
            now |= {key for key in self.excused if key[0] == "no-id-clash"}
            cured = self.faults - self.excused
            fork.excused = frozenset(key for key in self.faults_back - cured if key in now)
        return fork

    def key(self):
        return (self.state.key(), self.standing().key(), self.excused, self.ready)

    def whole_key(self):
        """Equal for points from which everything that follows is alike, the four checks aside."""
        led = tuple(sorted((name, tuple(sorted(island))) for name, island in self.state.led.items()))
        return (self.key(), self.pending, led)

    def standing(self):
        return Standing(self.live, self.was_live, self.stranded, self.leaving, self.counted, self.trusted,
                        self.founded, self.pairs)

    def state_rules(self, state, view, standing, restarting=frozenset()):
        """The rules of one State, remembered by all that they depend on."""
        key = (state.key(), standing.key(), restarting)
        if key not in self.memo:
            self.memo[key] = state_breaches(self.plan, self.world, state, standing, view, restarting, self.used)
        return self.memo[key]

    def baseline_faults(self):
        """What is wrong before the first step: excused, as long as it lasts. On a way back that is asked anew, since
        there the joining units count as leaving and the leaving ones as staying."""
        found = list(self.state_rules(self.state, self.view, self.standing()))
        for island in self.view.islands:
            ids = [self.state.units[name].running.id for name in island]
            if len(set(ids)) < len(ids):
                found.append(("no-id-clash", ("now", island), f"{names(island)} hold one id twice"))
        self.excused = self.faults = frozenset(entry[:2] for entry in found)
        standing = self.standing()
        standing.leaving = self.leaving_back
        clashes = {key for key in self.faults if key[0] == "no-id-clash"}
        self.faults_back = clashes.union(entry[:2] for entry in self.state_rules(self.state, self.view, standing))
        return found

    def step(self, steps, index, phase=None):
        """Does one step; what is wrong stands in the report. A refused step changes nothing."""
        do = steps[index]["do"]
        report = self.act(do, facts.place_of(self.plan.stack, self.view, steps, index))
        report.own_likely = own_minutes(self.plan.traits, do)[LIKELY]
        report.minutes = step_minutes(self.plan.traits, do, len(report.downs))
        if phase == "stage":
            self.seen = frozenset()
        if phase == "stage":
            self.found_stack(index, report)
        return report

    def act(self, do, place):
        """Does one thing at a place, whatever step it belongs to."""
        report = StepReport(place, before=self.view, live_before=self.live)
        if do["kind"] == "expect":
            self.expect(do, report)
        elif do["kind"] == "await":
            self.wait(do, report)
        else:
            self.operate(do, report)
        return report

    def found_stack(self, index, report):
        """After its last stage step the founder becomes the incumbent, and live with all that its island holds."""
        if self.founded or index != self.last_stage:
            return
        self.founded = True
        self.view = View(self.world, self.state, self.live, True)
        self.live = self.live | (self.view.incumbent or frozenset())
        self.was_live |= self.live
        self.counted |= self.live
        self.judge_state(report)

    def expect(self, do, report):
        """Each fact must be visible at the step's place and so; those that are become known."""
        place, view = report.place, self.view
        good = []
        for fact in do["facts"]:
            what = describe(fact)
            if not facts.visible(view, place, fact):
                report.add("not-visible", f"{what} cannot be seen at {place_name(place)}")
            elif not facts.fact_holds(self.world, view, place, fact):
                report.add("expect-fails", f"{what} is not so")
            else:
                good.append(fact)
        for fact in good:
            self.learn(fact, do)
        if self.checked and facts.island_at(view, place) is not None:
            proven = facts.proves_place(self.world, self.plan.stack, view, place, good)
            self.opening = [entry for entry in self.opening or [] if entry[0] != place or entry[1]] + [(place, proven)]
        self.running_at = None

    def learn(self, fact, do):
        """Notes what a true fact proves for the rules and checks to come."""
        kind = fact["fact"]
        if kind == "neighbour" and fact["far"] is not None:
            self.looked |= {tuple(sorted((fact["end"], fact["far"])))}
        elif kind == "uplink":
            self.trusted |= {(fact["uplink"], leg) for leg in fact.get("carrying", ())}
            if "legs" in fact or "carrying" in fact:
                self.seen |= {("uplink", fact["uplink"])}
        elif kind == "unit":
            self.seen |= {(fact["unit"], name) for name, value in fact.items() if value is not None}
            if fact.get("ready") is True:
                self.ready |= {fact["unit"]}
        elif kind == "saved":
            self.seen |= {(fact["unit"], "saved")}
        elif kind == "link":
            self.seen |= {("link", tuple(sorted(fact["ends"])))}
        elif kind == "guard":
            self.seen |= {("guard",)}
        if kind in ("unit", "port") and "wipe" in (do.get("otherwise") or "").lower():
            proofs = {name for name in ("id", "priority", "mode") if kind == "unit" and name in fact}
            if kind == "port" and fact.get("side") == "none":
                proofs.add(("port", fact["port"]))
            known = self.factory_seen.get(fact["unit"], frozenset())
            self.factory_seen = {**self.factory_seen, fact["unit"]: known | proofs}

    def wait(self, do, report):
        """`up` is powered; `joined` and `ready` are a place in the incumbent island."""
        name = do["unit"]
        self.opening = self.running_at = None
        if name not in self.state.units:
            report.add("await-fails", f"there is no unit {name}")
        elif not self.state.units[name].powered or (do["until"] != "up" and not self.view.in_stack(name)):
            report.add("await-fails", f"{name} does not come {do['until']}")
        elif do["until"] == "ready":
            self.pending -= {name}
            self.ready |= {name}

    def operate(self, do, report):
        """Performs an operation and judges both the step and the States that it passes through."""
        before, state, standing = self.view, self.state.clone(), self.standing()
        if self.checked:
            self.check_typing(do, report)
        try:
            outcome = perform(self.world, state, before, do, self.founded)
        except Refused as refusal:
            report.add("step-refused", str(refusal))
            report.ran = False
            return
        downs = []
        for down, restarting in outcome.downs:
            view = View(self.world, down, self.live, self.founded)
            if view.incumbent is None and not self.list_is_held(down):
                down.shared_running, state.shared_running = down.shared_saved, state.shared_saved
            downs.append((view, restarting))
        view = View(self.world, state, self.live, self.founded)
        if view.incumbent is None and not self.list_is_held(state):
            state.shared_running = state.shared_saved
        report.downs, report.restarts = [down for down, _ in downs], sorted(outcome.restarts)
        self.forget(do)
        if self.checked:
            self.check_links(do, outcome, report)
        self.links_been |= {cable for kinds in (outcome.at_once, view.kinds)
                            for cable, kind in kinds.items() if kind == "stack"}
        self.count_links(do, outcome, view, report)
        for down_view, restarting in downs:
            for rule, subject, what in self.state_rules(down_view.state, down_view, standing, restarting):
                if (rule, subject) not in self.excused:
                    report.add(rule, f"while {names(restarting)} restarts: {what}")
        self.check_restarts(do, report, before, downs, view)
        for rule, _, what in merge_breaches(self.world, outcome, before, self.live):
            report.add(rule, what)
        for island in outcome.clashes:
            if ("no-id-clash", ("now", island)) not in self.excused:
                report.add("no-id-clash", f"{names(island)} meet in one island and hold one id twice")
        for island in outcome.undecided:
            report.add("decided", f"the election among {names(island)} is not decided")
        self.advance(do, report, before, [down for down, _ in downs], state, view)
        if self.checked and not self.touched:
            self.check_baseline(do, report, before)
        self.judge_state(report)

    def list_is_held(self, state):
        """Where newcomers are admitted, a founder that is still staged holds the list before any stack is up."""
        return self.plan.traits.admission != "open" and not self.founded and self.world.holds_shared(state, False)

    def judge_state(self, report):
        """The rules of the State that the step leaves; what the baseline had is excused while it lasts."""
        found = self.state_rules(self.state, self.view, self.standing())
        for rule, subject, what in found:
            if (rule, subject) not in self.excused and (rule, what) not in report.breaches:
                report.add(rule, what)
        lasting = {entry[:2] for entry in found}
        self.excused = frozenset(key for key in self.excused
                                 if key in lasting or key[0] == "no-id-clash" and key[1][0] == "now"
                                 and key[1][1] in self.view.islands)

    def forget(self, do):
        """What an operation makes unproven again: looks at a cable, trust in a leg, a factory state."""
        kind = do["kind"]
        if kind in ("connect-cable", "disconnect-cable"):
            ends = tuple(sorted(do["ends"]))
            self.looked -= {ends}
            self.links_been -= {ends}
            far = next((end_parts(end)[1] for end in ends if end.startswith("far:")), None)
            # plugged anew, and not unplugged: two boxes of one member may hold a leg, and the other one's still carries
            if far is not None and kind == "connect-cable":
                name, port = next(end_parts(end) for end in ends if not end.startswith("far:"))
                self.trusted -= {(far, f"{self.plan.units[name].member}:{port}")}
        elif kind == "form-uplink" and do["uplink"] not in self.state.shared_running.uplinks:
            self.trusted -= {(do["uplink"], leg) for leg in do["legs"]}
        elif kind == "add-leg" and do["leg"] not in self.state.shared_running.uplinks.get(do["uplink"], ()):
            self.trusted -= {(do["uplink"], do["leg"])}
        elif kind in ("power-on", "power-off", "restart", "wipe"):
            self.factory_seen = {name: seen for name, seen in self.factory_seen.items() if name != do["unit"]}

    def advance(self, do, report, before, downs, state, view):
        """Moves to the State after the step: who came in, who is live now, what counts for a cold start."""
        island = view.incumbent or frozenset()
        stayed = before.incumbent or frozenset()
        for down in downs:
            stayed = stayed & (down.incumbent or frozenset())
        came = island - stayed - {view.primary} if self.founded else frozenset()
        if not self.back and self.pending and (came or do["kind"] in ("restart", "power-off", "save")):
            deed = f"{names(came)} joins" if came else f"a {do['kind']} follows"
            report.add("settled", f"{deed} before {names(self.pending)} was awaited ready")
        self.state, self.view = state, view
        self.pending = (self.pending | came) & island
        self.ready -= came
        self.live = frozenset(name for name in self.live if name not in self.leaving or name in island) | island
        self.was_live |= self.live
        self.stranded -= island
        if not self.plan.after_check:
            self.counted |= self.live
        elif do["kind"] == "save":
            self.counted |= self.ready & (view.home[do["unit"]] if self.plan.traits.save_stack else {do["unit"]})

    def check_restarts(self, do, report, before, downs, after):
        """no-live-restart: who restarted or was switched off, and did a consent allow it?"""
        off = [do["unit"]] if do["kind"] == "power-off" else []
        own = [do["unit"]] if do["kind"] in ("restart", "wipe") else []
        for name in sorted({*off, *own, *report.restarts}):
            if name not in self.live or name in self.leaving or name in self.stranded:
                continue
            member = self.plan.units[name].member
            apart = not before.in_stack(name) or any(not down.in_stack(name) for down, restarting in downs
                                                     if name not in restarting)
            if name in self.plan.restart:
                self.used.add(f"restart:{member}")
            elif not off and name in self.plan.split and apart and after.in_stack(name):
                self.used.add(f"split:{member}")
            else:
                report.add("no-live-restart", f"{name} is live and {'is switched off' if off else 'restarts'}")

    def count_links(self, do, outcome, view, report):
        """Stack links to a live unit that first come up otherwise than by a typed step: one that drops again at once,
        as its loser waits, has come up too."""
        if facts.is_typed(do) and not outcome.by_restart:
            self.keys_been |= outcome.at_once_keys
        fresh = (outcome.at_once_keys | outcome.booted_keys | view.link_keys()) - self.keys_been
        report.links_not_typed = sum(any(name in report.live_before for name, _ in key) for key in fresh)
        self.keys_been |= fresh
