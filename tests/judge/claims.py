"""What a plan says of itself, held against the replay: numbers, order, phases, places, minutes, predictions, cost."""

from facts import step_unit
from minutes import BEST, LIKELY, WORST
from state import end_parts

CABLE_KINDS = ("connect-cable", "disconnect-cable")


def order_claims(plan):
    """Claims about numbers, needs and phases that need no replay: step index -> sentences."""
    found = {index: [] for index in range(len(plan.steps))}
    closures, past_stage = [], False
    stage_units = [step_unit(plan.steps, index) if step["phase"] == "stage" else None
                   for index, step in enumerate(plan.steps)]
    for index, step in enumerate(plan.steps):
        number, stage = index + 1, step["phase"] == "stage"
        say = found[index].append
        if step["number"] != number:
            say(f"step {number} in order bears the number {step['number']}")
        if stage and past_stage:
            say("a stage step stands after a step of another phase")
        past_stage = past_stage or not stage
        if step["phase"] != "cable" and step["do"]["kind"] in CABLE_KINDS:
            say(f"a cable is work by hands, not of phase {step['phase']}")
        if step["phase"] == "settle" and step["do"]["kind"] not in ("await", "expect", "save"):
            say(f"{step['do']['kind']} is no waiting or checking, as phase settle says")
        closure = 0
        for need in step.get("needs", ()):
            if 1 <= need < number:
                closure |= closures[need - 1] | 1 << need
            else:
                say(f"it needs step {need}, which is no earlier step")
        if "needs" in step:
            missing = [other + 1 for other in range(index) if not closure >> (other + 1) & 1
                       and not (stage and stage_units[other] not in (None, stage_units[index]))]
            if missing:
                say(f"its needs do not lead to step {missing[0]}, which must be done before")
        else:
            closure = (1 << number) - 2
        closures.append(closure)
    return found


def move_claims(plan):
    """A move exists once for each number that steps bear, and has the phase of its first step: (step, sentence)."""
    if plan.moves is None:
        return []
    found, first = [], {}
    for step in plan.steps:
        if step.get("move") is not None:
            first.setdefault(step["move"], step)
    numbers = [move["number"] for move in plan.moves]
    for number in sorted(set(numbers)):
        if numbers.count(number) > 1:
            found.append((None, f"move {number} stands twice"))
    for move in plan.moves:
        step = first.get(move["number"])
        if step is None:
            found.append((None, f"move {move['number']} has no step"))
        elif step["phase"] != move["phase"]:
            found.append((step["number"], f"move {move['number']} says phase {move['phase']}, its first step {step['phase']}"))
    for number, step in first.items():
        if number not in numbers:
            found.append((step["number"], f"it belongs to move {number}, which is not listed"))
    return found


def stage_claim(plan, index, report):
    """A stage step is on a joining unit that is not live yet, at its own console or its power switch."""
    name = step_unit(plan.steps, index)
    if name not in plan.units or plan.units[name].status != "joining" or name in report.live_before:
        return "a stage step is on a joining unit"
    if "stack" in report.place or report.place.get("console", name) != name:
        return f"a stage step is at the console or the power switch of {name}"
    return None


def step_claims(step, report, replay, excused):
    """What a step says of its place, minutes, predictions and stopping point, where the replay differs."""
    found = []
    if step.get("at") and step["at"] != report.place:
        found.append(f"it says it is done at {step['at']}, and its place is {report.place}")
    for name, position in (("best", BEST), ("likely", LIKELY), ("worst", WORST)):
        said = (step.get("minutes") or {}).get(name)
        if said is not None and round(said * 100) != report.minutes[position]:
            found.append(f"its {name} minutes are {report.minutes[position] / 100:g}, not {said:g}")
    found += prediction_claims(step.get("predicts") or {}, report, replay)
    said = (step.get("stop_here") or {}).get("safe")
    if said is not None and (said != is_safe(replay, report)) and not (excused and not report.breaches):
        found.append(f"it is {'not ' if said else ''}safe to stop here")
    return found


def prediction_claims(predicts, report, replay):
    view, found = replay.view, []
    islands = sorted(sorted(island) for island in view.islands)
    primaries = {leaders[0]: sorted(island) for island, leaders in view.leaders.items() if leaders}
    if "restarts" in predicts and sorted(predicts["restarts"]) != report.restarts:
        found.append(f"it predicts the restarts {predicts['restarts']}, and they are {report.restarts}")
    if "islands" in predicts and sorted(sorted(island) for island in predicts["islands"]) != islands:
        found.append(f"it predicts the islands {predicts['islands']}, and they are {islands}")
    if "primary" in predicts and {name: sorted(held) for name, held in predicts["primary"].items()} != primaries:
        found.append(f"it predicts the primaries {predicts['primary']}, and they are {primaries}")
    if "unprotected" in predicts and predicts["unprotected"] != view.unprotected(replay.live):
        found.append(f"it predicts unprotected {predicts['unprotected']}")
    return found


def is_safe(replay, report):
    """Every rule holds, every live unit is saved, and no live unit's link is unmatched."""
    view = replay.view
    if report.breaches:
        return False
    if any(view.state.units[name].powered and not view.unit_saved(name) for name in replay.live):
        return False
    return not any(kind == "unmatched" and any(end_parts(end)[0] in replay.live for end in cable)
                   for cable, kind in view.kinds.items())


def table_claims(plan, first_live):
    """What the unit table and the target say: keys, ids, ports, who joins or leaves, and a target that is at rest."""
    found, target = [], plan.target
    say = found.append
    for name, info in plan.units.items():
        before, after = plan.baseline.units[name], target.units[name]
        if name != info.member and not name.startswith(f"{info.member}@"):
            say(f"the key {name} is no box of {info.member}")
        if info.status == "joining" and name in first_live:
            say(f"{name} is said to be joining and is in the stack already")
        shown = [after.running] if info.status == "joining" else [after.running, before.running, before.saved]
        shown = [settings for settings in shown if settings is not None]
        for what in ("id", "priority"):
            stated = getattr(info, what)
            if stated is not None and shown and stated not in {getattr(settings, what) for settings in shown}:
                say(f"the {what} {stated} of {name} is neither the baseline's nor the target's")
        if before.saved is not None and set(info.stacking_ports or ()) - set(before.saved.ports):
            say(f"a stacking port of {name} is not among its ports")
        if info.status == "leaving":
            if after.powered or any(end_parts(end)[0] == name for cable in target.cables for end in cable):
                say(f"{name} is leaving, and the target has it on or cabled")
        elif not after.powered or after.waiting or not after.copy or not after.is_saved():
            say(f"in the target {name} is not on, saved and holding a copy")
        elif any(active != (side != "none" and after.running.mode != "lone")
                 for _, side, active in after.running.ports.values()):
            say(f"in the target a binding of {name} is not as its mode has it")
    if target.shared_running != target.shared_saved:
        say("in the target the shared settings are not saved")
    if sum(unit.primary for unit in target.units.values()) != 1:
        say("the target has not one primary")
    return found


class Ledger:
    """Adds up the cost of a plan step by step; minutes are hundredths."""

    def __init__(self, plan, replay, target_view, target_live):
        self.plan = plan
        self.rings = [len(replay.live) > 1 and not replay.view.unprotected(replay.live),
                      len(target_live) > 1 and not target_view.unprotected(target_live)]
        self.member = self.unprotected = self.cables = self.links = self.steps = 0
        self.change, self.stage = [0, 0, 0], {}

    def book(self, index, report, leaving):
        """Books one step: the State before it lasts for its own minutes, each down state for a restart's."""
        step = self.plan.steps[index]
        restart = self.plan.traits.minutes["restart"][LIKELY]
        for view, minutes in [(report.before, report.own_likely)] + [(down, restart) for down in report.downs]:
            self.member += minutes * sum(not view.in_stack(name) for name in report.live_before - leaving)
            if step["phase"] != "stage" and view.unprotected(report.live_before):
                self.unprotected += minutes
        self.cables += step["do"]["kind"] in CABLE_KINDS
        self.links += report.links_not_typed
        self.steps += step["do"]["kind"] not in ("await", "expect")
        sums = self.change
        if step["phase"] == "stage":
            sums = self.stage.setdefault(step_unit(self.plan.steps, index), [0, 0, 0])
        for position in (BEST, LIKELY, WORST):
            sums[position] += report.minutes[position]

    def cost(self):
        total = [self.change[p] + max((sums[p] for sums in self.stage.values()), default=0) for p in range(3)]
        return {"member_minutes": self.member, "unprotected_minutes": self.unprotected if all(self.rings) else 0,
                "cables": self.cables, "links_not_typed": self.links, "steps": self.steps,
                "half_protected_minutes": self.unprotected if sum(self.rings) == 1 else 0,
                "best_minutes": total[BEST], "likely_minutes": total[LIKELY], "worst_minutes": total[WORST]}

    def claims(self):
        """The sentences where the plan's cost is not the replay's."""
        real = self.cost()
        found = []
        for name, said in (self.plan.cost or {}).items():
            if said != real[name]:
                scale = 100 if name.endswith("minutes") else 1
                found.append(f"cost.{name} is {real[name] / scale:g}, not {said / scale:g}")
        return found
