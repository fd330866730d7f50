"""Lists of faults of `ringwright`, held against our own and against networkx.

    python3 tests/faults/faults.py FOLDER [FOLDER ...]       faults.json, the list of findings, and plan.json beside it
    python3 tests/faults/faults.py --plans PLAN [PLAN ...]   the key `faults` of plans
    python3 tests/faults/faults.py --print PLAN              our own list

Prints a sentence a difference, and how many agree; exit status 1 on any difference. How the texts are read stands in
effects.py. Of what a plan says after its steps:

- A step is wanted where the links, the power or the living legs of live units differ from the step before (or from
  the baseline); one where they differ for any unit may be there.
- Which fault is the worst is not said: it must be one of the step's faults, and none may be worse in all of split
  brain, members cut off, pairs lost and members that restart.
- `survives_any_single` is no if a fault cuts somebody off or splits the brain. It is not compared where it turns on a
  lost pair alone, or where nothing is in service without any fault: the texts do not say what is survived there.
"""

import json
import os
import sys
from functools import partial
from multiprocessing import Pool

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

import cold_start
import effects
import graph_checks
from replay import Replay
from shape import ShapeError, read_plan

FIELDS = ("islands", "primary", "in_service", "uplinks_up", "cut_off", "split_brain", "restarts_on_heal")
SHOWN = 8
# how many paths a process takes at a time
BOUT = 8


def named(entry):
    return tuple(entry["faults"])


def misshapen(told):
    """Why this is no list of findings, or None."""
    if not isinstance(told, list):
        return "the findings are no list"
    for position, entry in enumerate(told):
        if not isinstance(entry, dict) or set(entry) != {"faults", *FIELDS}:
            return f"entry {position} does not hold exactly faults, {', '.join(FIELDS)}"
        faults = entry["faults"]
        if not isinstance(faults, list) or not all(isinstance(fault, str) for fault in faults):
            return f"entry {position}: faults are no texts"
    return None


def entry_differences(told, ours):
    """Where one entry says otherwise."""
    title = " and ".join(ours["faults"])
    return [f"{title}: {field} is {json.dumps(told[field])}, and not {json.dumps(ours[field])}"
            for field in FIELDS if json.dumps(told[field]) != json.dumps(ours[field])]


def differences(told, ours):
    """What a list says otherwise than ours, as sentences."""
    wrong = misshapen(told)
    if wrong:
        return [wrong]
    found, by_name = [], {}
    for entry in told:
        if frozenset(named(entry)) in by_name:
            found.append(f"{' and '.join(named(entry))} stands twice")
        by_name[frozenset(named(entry))] = entry
    own = {frozenset(named(entry)) for entry in ours}
    found += [f"{' and '.join(named(entry))} is no fault of this stack" for entry in told
              if frozenset(named(entry)) not in own]
    for entry in ours:
        other = by_name.get(frozenset(named(entry)))
        if other is None:
            found.append(f"{' and '.join(named(entry))} is missing")
        else:
            found += entry_differences(other, entry)
    if not found:
        for one, other in zip(told, ours):
            if named(one) != named(other):
                return [f"{' and '.join(named(one))} stands where {' and '.join(named(other))} belongs"]
    return found


def measures(entry, before):
    """How bad an entry is, in ways that nobody weighs against each other."""
    return (entry["split_brain"], len(entry["cut_off"]), len(set(before) - set(entry["uplinks_up"])),
            len(entry["restarts_on_heal"]))


def is_worse(one, other, before):
    """Whether one is worse than the other in each way."""
    pairs = list(zip(measures(one, before), measures(other, before)))
    return all(a >= b for a, b in pairs) and any(a > b for a, b in pairs)


def worst_differences(told, ours, before, where):
    """A worst entry must be a true one, and none worse in every way."""
    wrong = misshapen([told])
    if wrong:
        return [f"{where}: {wrong}"]
    true = next((entry for entry in ours if set(named(entry)) == set(named(told))), None)
    if true is None:
        return [f"{where}: {' and '.join(named(told))} is no fault there"]
    found = [f"{where}: {text}" for text in entry_differences(told, true)]
    worse = next((entry for entry in ours if is_worse(entry, true, before)), None)
    if worse is not None:
        found.append(f"{where}: {' and '.join(named(told))} is not the worst: {' and '.join(named(worse))} is worse")
    return found


def survives(entries, whole):
    """Whether no entry is a harm, `whole` being the one without a fault: True, False, or None where nothing says so."""
    if whole["islands"] and not whole["in_service"]:
        return None
    harmed = any(entry["cut_off"] or entry["split_brain"] for entry in entries)
    lost = any(set(whole["uplinks_up"]) - set(entry["uplinks_up"]) for entry in entries)
    return False if harmed else None if lost else True


def condition(stack, everything):
    """The links, power and legs of a State: of its live units, or of all."""
    units = stack.state.units if everything else stack.members
    powered = frozenset(name for name in units if stack.state.units[name].powered)
    links = frozenset(cable for cables in stack.links.values() for cable in cables)
    return links, powered, frozenset(stack.legs)


def each_step(plan):
    """(step number or 0, stack of the live units, stack of all units) after each step of a plan."""
    replay = Replay(plan)
    for index in range(-1, len(plan.steps)):
        if index >= 0:
            replay.step(plan.steps, index, plan.steps[index]["phase"])
        stacks = [effects.Stack(plan.traits, plan.units, replay.state, members)
                  for members in (replay.live, plan.units)]
        yield index + 1, *stacks


def step_differences(plan, told):
    """What a plan says of the single faults after its steps."""
    found, listed, before = [], {}, None
    for entry in told:
        if entry["after"] in listed:
            found.append(f"step {entry['after']} stands twice")
        listed[entry["after"]] = entry
    for number, live, whole in each_step(plan):
        now = condition(live, False), condition(whole, True)
        entry = listed.pop(number, None)
        if before is None:
            before = now
            continue
        if entry is None and live.members and now[0] != before[0]:
            found.append(f"after step {number} links, power or legs differ, and no faults are told")
        if entry is not None:
            if now == before:
                found.append(f"after step {number} nothing differs, and faults are told")
            ours, healthy = live.findings(False), live.entry(())
            found += worst_differences(entry["worst"], ours, healthy["uplinks_up"], f"after step {number}")
            fine = survives(ours, healthy)
            if fine is not None and entry["survives_any_single"] != fine:
                found.append(f"after step {number} survives_any_single is {entry['survives_any_single']}")
        before = now
    return found + [f"there is no step {number}" for number in listed]


def pair_differences(told, ours, before):
    """What a plan counts of pairs of faults."""
    counts = {"tried": len(ours), "split_brain": sum(entry["split_brain"] for entry in ours),
              "cut_off": sum(bool(entry["cut_off"]) for entry in ours)}
    found = [f"pairs.{name} is {told.get(name)}, and not {count}" for name, count in counts.items()
             if told.get(name) != count]
    worst = told.get("worst", [])
    if len(worst) > 5 or len({frozenset(named(entry)) for entry in worst}) < len(worst):
        found.append("pairs.worst holds more than five, or one twice")
    if worst:
        found += worst_differences(worst[0], ours, before, "pairs.worst")
    by_name = {frozenset(named(entry)): entry for entry in ours}
    for entry in worst[1:]:
        true = by_name.get(frozenset(named(entry)))
        found += entry_differences(entry, true) if true else [f"{' and '.join(named(entry))} is no pair of faults"]
    return found


def plan_differences(value, plan, stack, ours):
    """What the key `faults` of a plan says otherwise than we do."""
    told = value.get("faults")
    if not isinstance(told, dict):
        return ["the plan says nothing of faults"]
    try:
        single = [entry for entry in ours if len(entry["faults"]) == 1]
        found = differences(told["finished"], single)
        found += pair_differences(told["pairs"], ours[len(single):], stack.entry(())["uplinks_up"])
        found += cold_start.differences(stack, told["cold_start"])
        return found + step_differences(plan, told["steps"])
    except (AttributeError, KeyError, TypeError) as error:
        return [f"the key faults has another shape: {type(error).__name__} {error}"]


def list_differences(value, told, ours):
    """What a list of findings says otherwise than we and networkx do."""
    return differences(told, ours) + ([] if misshapen(told) else graph_checks.objections(value, told))


def load(*parts):
    with open(os.path.join(*parts), encoding="utf-8") as file:
        return json.load(file)


def look(path, plans):
    """The differences of one argument of the command line; what cannot be read is one."""
    try:
        value = load(path) if plans else load(path, "plan.json")
        plan = read_plan(value)
        stack = effects.finished(plan)
        ours = stack.findings()
        found = [] if plans else list_differences(value, load(path, "faults.json"), ours)
        return found + plan_differences(value, plan, stack, ours)
    except (OSError, ValueError, ShapeError) as error:
        return [f"cannot be read: {error}"]


def look_at_all(paths, plans):
    """The differences of each; many are shared out over the processors."""
    if len(paths) < 2 * BOUT:
        return [look(path, plans) for path in paths]
    with Pool() as pool:
        return pool.map(partial(look, plans=plans), paths, BOUT)


def main(arguments):
    options = {"--plans", "--print"}.intersection(arguments)
    paths = [argument for argument in arguments if argument not in options]
    if not paths or len(options) > 1:
        print(__doc__, file=sys.stderr)
        return 2
    if "--print" in options:
        for path in paths:
            for entry in effects.finished(read_plan(load(path))).findings():
                print(json.dumps(entry, ensure_ascii=False))
        return 0
    agreed = 0
    for path, found in zip(paths, look_at_all(paths, "--plans" in options)):
        agreed += not found
        for text in found[:SHOWN]:
            print(f"{path}: {text}")
        if len(found) > SHOWN:
            print(f"{path}: and {len(found) - SHOWN} differences more")
    print(f"{agreed} of {len(paths)} agree")
    return 0 if agreed == len(paths) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
