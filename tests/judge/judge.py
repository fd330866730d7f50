"""An independent second judge of plans, written from the texts of the model and of the shapes alone.

    python3 tests/judge/judge.py [--all] [--slips] PLAN.json [PLAN.json ...]

prints one JSON object a line and file; exit status 0 all accepted, 1 one refused, 2 one cannot be read. `--all` goes on
past the first breached step; `--slips` tries every operator error too, prints the plan's true `slips` and those of its
ways back (null where the plan, or the way, breaks a rule without any) and holds its own against them.

Where the texts leave room, it is read like this:

Checks
- A segment is an unbroken run of typed steps at one place: an await, an expect, work by hands or a restart ends it,
  and the expect right before the next typed step must hold a `here` that no other place satisfies (an `ask` where
  nothing known tells them apart). Nothing is asked of work by hands. Ways back need not hold the four checks.
- right-cable: each cable (parallel ones too) whose link a typed step makes had its far end seen by a `neighbour`
  fact since it was plugged or since the baseline; not asked of links that come up by a plug, power or a restart,
  nor where `seen_on` lacks `unmatched`, nor with bindings that count after a restart. Serials in `plug` are taken as stated.
- fresh-baseline: the looks since the last stage step count together; roles of non-primaries are asked for only where
  priority decides the standby; serials where known; an uplink by its legs or its carrying legs. Not asked of a new stack.
- factory-unit: all stacking ports seen unbound, and `otherwise` speaks of wiping; not asked of a unit whose baseline
  is not the factory's; the looks count until the unit goes down; `wipe` itself may come first.
- A serial, MAC or model that the plan does not know fits whatever is stated, but proves no place.
- `plug` shows by hands and at the console; a `link` from either end; `ask` does not change an expect's place.
- A standby seat that the election order leaves undecided fits both `standby` and `member`. `ready` is `joined`.

Rules
- The live units of the baseline are those of the incumbent island and those of status `live` outside it (stranded,
  whatever cut them off); stranded ones restart and merge without a consent until they are back, and count in the cost.
- Units under `split:` that are apart are left out of cold-start; off or apart, they are never-split's only. Where no
  live unit but stranded ones would come up, the cold start leaves them apart, and makes no other primary.
- A unit under `restart:` may be missing in any down state that restarts it. A loser under `split:` may restart if it was
  apart before the step, or in a down state of it. `wipe` counts as a restart.
- settled is literal: no restart, power-off or save of any unit, no join, while a joined unit is not awaited ready. The
  primary of the incumbent island never joins it; becoming the incumbent of a new stack is no join.
- after-check: a unit counts from the first save that covers it after it was awaited, or expected, ready.
- loses-merge is about islands that hold a unit which is not live.
- uplinks-up: the baseline's legs count until their far cable is plugged anew or the leg is made anew.
- No live unit up: no primary is missed (a stack of one that restarts, the way back of a new stack).
- A baseline breach is excused by rule and subject while it lasts without a gap; `stop_here.safe` is then not compared.
  Of stranded units that lead islands of their own it counts how many there are, not which. What a way back is excused
  is what the baseline breaks by the way back's roles, as far as it still lasts where the way begins.
- An id clash or stray link among units that are not live is a breach too.
- A dead box is never switched on: step-refused. A port that the State does not list: step-refused.

Habits
- What a State holds for a habit that the traits do not have (a lone mode, a seat, a counting priority, keys of other
  names, an admitted list) is a wrong shape. A seat that no State names is empty; a priority that no State names counts.
- Of the baseline's islands the merge list chooses. Among units that do not lead, `acting` and `size` tell nothing.
- A booting unit that takes the lead has won an election: what was typed counts for its island. A hand-over, and a
  standby that inherits the lead, is none.
- Seats are filled once, when the whole operation or a cold start has settled, not in a down state. A best that is not
  decided is a breach of `decided`, for it says who leads next. With sticky seats fresh-baseline asks for every role.
- An activation that restarts takes the units down before anything settles; its links come up by a restart, so they are
  not typed, and right-cable is not asked of them. It is not asked of fixed ports either.
- Admitted lists, modes and keys are no part of fresh-baseline. `admit` and `forget` are not typed on their unit, but for
  the founder's own at its console; its own id is the one that it runs or saved. Such a list is lost with its power.
- A save leaves a pending mode as it is. A wipe leaves join keys, and fixed bindings. A key that a unit does not list
  fits whatever a fact states. For `saved` keys and mode are compared as well.
- After a cold start same-keys is judged of what has settled: what updates itself has done so.
- group-free is judged of what runs, not of a cold start. Of two boxes of a member its legs are on the one in the stack.
  A port of no group waits for no restart.

- Of islands that hold equally many live units the one of the baseline's primary is the stack, else the one of the
  unit that comes first in `units`; the text does not say, and a plan that comes there is warned of (`open-which-is-the-stack`).

Slips
- `predicts`, all claims and the four checks are aside; `ask` is answered as if true. Within one step, what refuses or
  fails comes before what breaks. Where several rules break in one step (both states of a restart are in it), the first
  in the order of the model's table is printed, and a plan may name any of them.
- A step left out still counts for the place of a look that names no unit. Places are where the slipped State has them.
- A stack that starts from nothing is founded where its founder's last stage step stands in the file, after whatever the
  slip does there. No excused breach of the baseline may be left at the end that the target would cure.
- misplug: free is what holds no cable before the step, the other end's port aside; all listed ports where the plan does
  not say which can stack. A far end is no unit's. mistype: listed ports are those of the baseline's State.
- wrong-unit of a cable: its two ends in the State's order, compared in any. The far end has no same port elsewhere.
- misplace: a look at another place ends a segment too, trailing looks are not in it, a `wipe` does not end it. A
  neighbour's far end stays as stated, both units of a link are looked up by their ids. A console whose unit has come
  into the incumbent island meanwhile is the stack.

- `ways_back_slips`: a way starts in the State, and with what was proven and excused, where the plan as it should go has
  come after the last step that the way serves. The steps of the ways that it goes on with count for the place of a look
  that names no unit. The end is the baseline as a way back must restore it: what a joining unit saved is not compared.
  Nothing excused is left over there, for the baseline has it. No stack is founded on a way back. A list that does not
  have an entry for each way is no true one. Where a way breaks a rule from an earlier step of its range alone, its slips
  are tried all the same.

Claims
- `needs` may name more than it must; if it is left out, every earlier step is meant. `islands` and `restarts` are
  compared as sets. `because`, `warnings`, titles and the order of units are not compared.
- A cable step has phase `cable`; a stage step is on a joining, not yet live unit at its console or power switch; of the
  operations only a save may have phase `settle`; other phases are free.
- unprotected minutes (both kinds) leave out states that a stage step ends; member-minutes do not.
- A new link is counted by its unit sides, once, where it first came up, be it for the moment before a loser waits;
  live is who was live before the step.
- A non-empty `ways_back` covers every step but those of `stage`, which it may cover, and those that a warning
  `no-way-back` names: each number in its text is a step, `5 to 9` are all from 5 to 9. A way back is replayed from
  every step of its range, with what `then` adds, and settled is not asked of it; the leaving units count as staying
  there. `way_back_minutes` is compared where the step has a way back: the likely minutes of all its steps.
- The target must be at rest (on, saved, copies held, one primary); consents nobody needs are warnings.
"""

import json
import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

import claims
import slips
import slips_back
import ways
from minutes import LIKELY
from replay import Replay
from rules import Standing, baseline_breaches, state_breaches, target_breaches
from shape import ShapeError, read_plan
from state import View, World


def judge_plan(value, go_on=False, with_slips=False):
    """Judges a plan (its JSON value): verdict, breaches and warnings. `go_on`: past the first breached step;
    `with_slips`: what operator errors do as well."""
    try:
        plan = read_plan(value)
        return Judge(plan, go_on).judge(with_slips)
    except ShapeError as error:
        return refusal("shape", str(error))
    except RecursionError:
        return refusal("shape", "the plan is nested too deeply")
    except (AttributeError, IndexError, KeyError, OverflowError, TypeError, ValueError) as error:
        return refusal("shape", f"the plan cannot be followed: {type(error).__name__} {error}")


def refusal(rule, what):
    return {"verdict": "refused", "breaches": [{"rule": rule, "step": None, "what": what}], "warnings": []}


class Judge:
    """One judgement: forward replay, the end, then every way back."""

    def __init__(self, plan, go_on):
        self.plan, self.go_on = plan, go_on
        self.breaches, self.warnings = [], []

    def judge(self, with_slips):
        self.replay = Replay(self.plan)
        self.read_baseline()
        self.target_view, self.target_live = self.read_target()
        for what in claims.table_claims(self.plan, self.replay.first_live):
            self.breach("claims", None, what)
        ledger = claims.Ledger(self.plan, self.replay, self.target_view, self.target_live)
        self.after = [self.replay.fork_back()] if self.plan.ways_back else []
        if not self.stop():
            self.forward(ledger)
        if not self.stop():
            self.at_the_end(ledger)
        if self.plan.ways_back and not self.stop():
            self.go_back()
        if not self.breaches:
            self.idle_consents()
        found = self.try_slips() if with_slips else {}
        return {"verdict": "refused" if self.breaches else "accepted", "breaches": self.breaches,
                "warnings": self.warnings, **found}

    def try_slips(self):
        """The plan's true `slips`, those of its ways back, and breaches where its own are others."""
        forward = slips.Slips(self.plan, self.target_faults())
        tried = slips.tally(forward)
        if tried is None:
            return {"slips": None, "ways_back_slips": None}
        back = slips_back.try_slips_back(self.plan, forward)
        wrong = [] if self.plan.slips is None else slips.slip_claims(self.plan.slips, *tried)
        if self.plan.ways_back_slips is not None:
            wrong += slips_back.slip_claims_back(self.plan.ways_back_slips, back)
        for what in wrong:
            self.breach("claims", None, what)
        return {"slips": tried[0], "ways_back_slips": [way and way[0] for way in back]}

    def stop(self):
        return bool(self.breaches) and not self.go_on

    def breach(self, rule, step, what):
        entry = {"rule": rule, "step": step, "what": what}
        if entry not in self.breaches:
            self.breaches.append(entry)

    def warn(self, code, text):
        self.warnings.append({"code": code, "text": text})

    def read_baseline(self):
        """Reports what is wrong with the baseline as warnings; an unsettled one is no State to start from."""
        view = self.replay.view
        for rule, _, what in self.replay.baseline_faults():
            self.warn(rule, f"the baseline already breaks this: {what}")
        for island, leaders in view.leaders.items():
            able = [name for name in island if not view.state.units[name].waiting]
            if able and len(leaders) != 1:
                self.breach("claims", None, f"in the baseline {', '.join(sorted(island))} have {len(leaders)} primaries")

    def read_target(self):
        """The target as a State seen from its own primary."""
        target, units = self.plan.target, self.plan.units
        live = frozenset(name for name, unit in target.units.items() if unit.powered and units[name].status != "leaving")
        first = next((name for name in sorted(live) if target.units[name].primary), None)
        world = World(self.plan.traits, units, first, frozenset({first}) if first else frozenset(), None)
        return View(world, target, live, True), live

    def forward(self, ledger):
        """Replays the steps in order; stops after the first one that has a breach, unless told to go on."""
        said = claims.order_claims(self.plan)
        for number, what in claims.move_claims(self.plan):
            if number is None or not 1 <= number <= len(said):
                self.breach("claims", number, what)
            else:
                said[number - 1].append(what)
        for index, step in enumerate(self.plan.steps):
            if self.stop():
                return
            was_open = self.replay.view.is_open
            report = self.replay.step(self.plan.steps, index, step["phase"])
            if report.ran and not was_open and any(view.is_open for view in [*report.downs, self.replay.view]):
                self.warn("open-which-is-the-stack", f"step {index + 1}: two islands hold equally many live units")
            if report.ran:
                said[index] += claims.step_claims(step, report, self.replay, self.replay.excused)
            if step["phase"] == "stage":
                said[index] += filter(None, [claims.stage_claim(self.plan, index, report)])
            for rule, what in report.breaches:
                self.breach(rule, index + 1, what)
            for what in said[index]:
                self.breach("claims", index + 1, what)
            ledger.book(index, report, self.replay.leaving)
            if self.plan.ways_back:
                self.after.append(self.replay.fork_back())

    def at_the_end(self, ledger):
        """The last State is the target, old breaches are gone where the target cures them, the cost is as said."""
        last = len(self.plan.steps) or None
        for rule, _, what in target_breaches(self.plan, self.replay.view):
            self.breach(rule, last, what)
        if self.replay.excused:
            incurable = self.target_faults()
            for rule, subject in sorted(self.replay.excused - incurable, key=repr):
                self.breach(rule, last, "what the baseline already broke is still broken, and the target cures it")
        for what in ledger.claims():
            self.breach("claims", None, what)

    def target_faults(self):
        """What the target itself would break: no plan can cure that."""
        view, live = self.target_view, self.target_live
        legs = frozenset((pair, leg) for pair, held in view.state.shared_running.uplinks.items() for leg in held)
        standing = Standing(live, live, frozenset(), frozenset(), live, legs, True, self.replay.pairs)
        return {entry[:2] for entry in state_breaches(self.plan, view.world, view.state, standing, view)}

    def go_back(self):
        """Replays each way back from every step of its range."""
        self.way_after, self.passed = {}, {}
        self.way_claims()
        for way in self.plan.ways_back:
            for number in range(way["after"][0], way["after"][1] + 1):
                fault, minutes = self.walk_back(self.after[number], way)
                if fault:
                    rule, what = fault
                    self.breach(rule, way["after"][0], f"on the way back from step {number}: {what}")
                    break
                said = (self.plan.steps[number - 1].get("stop_here") or {}).get("way_back_minutes")
                if said is not None and round(said * 100) != minutes:
                    self.breach("claims", number, f"its way back takes {minutes / 100:g} minutes, not {said:g}")
            if self.stop():
                return

    def way_claims(self):
        """Every step but those of `stage` has one way back, and neighbouring ranges have different ones: other steps, or
        the same where units have other ids, by which a person is told the ports."""
        for way in self.plan.ways_back:
            for number in range(way["after"][0], way["after"][1] + 1):
                if number in self.way_after:
                    self.breach("claims", way["after"][0], f"step {number} has two ways back")
                self.way_after[number] = way
            first = way["after"][0]
            before = self.way_after.get(first - 1, way)
            alike = [before[name] for name in ("steps", "then")] == [way["steps"], way["then"]]
            if before is not way and alike and self.ids_after(first - 1) == self.ids_after(first):
                self.breach("claims", way["after"][0], "its way back is that of the step before, and stands twice")
        bare = [step["number"] for step in self.plan.steps
                if step["phase"] != "stage" and step["number"] not in self.way_after]
        owned = [number for number in bare if number in self.plan.owned_up]
        untold = [number for number in bare if number not in self.plan.owned_up]
        if owned:
            self.warn("no-way-back", f"as the plan says, no way back from: {', '.join(map(str, owned))}")
        if untold:
            self.breach("claims", untold[0], f"steps without a way back: {', '.join(map(str, untold))}")

    def ids_after(self, number):
        """The id of each unit after a step: that which runs, of one without power that which is saved."""
        units = self.after[number].state.units.items()
        return {name: (unit.running if unit.powered else unit.saved).id for name, unit in units}

    def walk_back(self, start, way):
        """The first fault of this way back from this State, and of those that it goes on with; and its likely minutes
        in hundredths."""
        replay, trail, minutes = start.fork_back(), [], 0
        try:
            onward = ways.onward(self.way_after, way)
        except LookupError as error:
            return ("claims", error.args[0]), 0
        steps = [step for _, _, step in onward]
        for place, (after, index, step) in enumerate(onward):
            point = (after, index, replay.key())
            if point in self.passed:
                minutes += self.passed[point]
                break
            trail.append((point, minutes))
            report = replay.step(steps, place)
            said = claims.step_claims(step, report, replay, replay.excused) if report.ran else []
            faults = report.breaches + [("claims", what) for what in said]
            if faults:
                return (faults[0][0], f"its step {index + 1} ({step['do']['kind']}): {faults[0][1]}"), 0
            minutes += report.minutes[LIKELY]
        else:
            for rule, _, what in baseline_breaches(self.plan, replay.view):
                return (rule, what), 0
        self.passed.update((point, minutes - sofar) for point, sofar in trail)
        return None, minutes

    def idle_consents(self):
        for consent in self.plan.accept:
            if not consent.startswith("save-unsaved:") and consent not in self.replay.used:
                self.warn("consent-not-needed", f"the plan does not need {consent}")


def unique_keys(pairs):
    """Refuses an object that has one key twice."""
    table = dict(pairs)
    if len(table) != len(pairs):
        raise ShapeError("an object has one key twice")
    return table


def judge_file(path, go_on, with_slips):
    """(result, readable) of one file."""
    try:
        with open(path, encoding="utf-8") as file:
            value = json.load(file, object_pairs_hook=unique_keys)
    except ShapeError as error:
        return refusal("shape", str(error)), True
    except (OSError, ValueError, RecursionError) as error:
        return refusal("shape", f"cannot be read: {error}"), False
    return judge_plan(value, go_on, with_slips), True


def main(arguments):
    options = {"--all", "--slips"}.intersection(arguments)
    paths = [argument for argument in arguments if argument not in options]
    if not paths:
        print(__doc__, file=sys.stderr)
        return 2
    status = 0
    for path in paths:
        result, readable = judge_file(path, "--all" in options, "--slips" in options)
        print(json.dumps({"file": path, **result}, ensure_ascii=False))
        status = max(status, 0 if result["verdict"] == "accepted" else 1 if readable else 2)
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
