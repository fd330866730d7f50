"""Steps that were read from the texts of a bundle -> how they differ from its plan, and what a judge says of them."""

import argparse
import json
import os
import subprocess
import sys
import tempfile

from stack import Unreadable


def alike(action, stack_wide_save):
    """Whatever unit of the island an activation or a stack's save is typed on, it is the same operation."""
    action = dict(action)
    kind = action["kind"]
    if kind.endswith("-cable"):
        action["ends"] = sorted(action["ends"])
    if kind == "expect":
        action["facts"] = [{**fact, "ends": sorted(fact["ends"])} if fact["fact"] == "cable" else fact
                           for fact in action["facts"]]
    if kind == "activate" or (kind == "save" and stack_wide_save):
        action.pop("unit")
    return action


def differences(reading, plan):
    """Where what was read is not what is planned, one line each."""
    found = unlike(reading.steps, plan["steps"], plan, "")
    if reading.ways_back is None:
        return found
    planned = plan.get("ways_back") or []
    spans = [[(way["after"], way["then"]) for way in ways] for ways in (reading.ways_back, planned)]
    if spans[0] != spans[1]:
        found.append(f"ways back are read after steps {spans[0]}, the plan has {spans[1]}")
    for way, wanted in zip(reading.ways_back, planned):
        found += unlike(way["steps"], wanted["steps"], plan, f"way back after step {wanted['after'][0]}, ")
    return found


def unlike(steps, planned_steps, plan, where):
    stack_wide_save = plan["traits"]["save"]["scope"] == "stack"
    found = []
    if len(steps) != len(planned_steps):
        found.append(f"{where}{len(steps)} steps are read, the plan has {len(planned_steps)}")
    for number, (step, wanted) in enumerate(zip(steps, planned_steps), 1):
        if step["at"] != wanted["at"]:
            found.append(f"{where}step {number}: read at {step['at']}, planned at {wanted['at']}")
        on_console = "console" in step["at"]
        read, planned = (alike(one["do"], stack_wide_save and not on_console) for one in (step, wanted))
        if read != planned:
            found.append(f"{where}step {number}: read {json.dumps(read)}, planned {json.dumps(planned)}")
    return found


def as_plan(reading, plan):
    """The same plan with the steps as read; what the texts do not say (phases, for which steps there is no way back) is
    the plan's."""
    keep = ("format", "stack", "traits", "change", "units", "baseline", "target")
    read = {name: plan[name] for name in keep}
    read["compiler"] = "read from the rendered bundle"
    phases = [step["phase"] for step in plan["steps"]]
    numbered = enumerate(zip(phases, reading.steps), 1)
    read["steps"] = [{"number": number, "phase": phase, **step} for number, (phase, step) in numbered]
    if reading.ways_back is not None:
        read["ways_back"], read["warnings"] = reading.ways_back, plan.get("warnings", [])
    return read


def refusals(plans, judge):
    """What the judge says against these plans, one line each, and nothing for a plan that it accepts."""
    with tempfile.TemporaryDirectory() as folder:
        files = [os.path.join(folder, f"{number}.json") for number in range(len(plans))]
        for path, plan in zip(files, plans):
            with open(path, "w", encoding="utf-8") as file:
                json.dump(plan, file)
        verdict = subprocess.run([sys.executable, "-B", judge, *files], capture_output=True, text=True, check=False)
    lines = verdict.stdout.splitlines()
    if len(lines) != len(plans):
        return [f"the judge answers {len(lines)} times about {len(plans)} plans: {verdict.stderr}"] * len(plans)
    return ["" if json.loads(line)["verdict"] == "accepted" else line for line in lines]


def replayed(plan, judge):
    """Whether the judge accepts the plan; what it says goes to the error stream."""
    (refusal,) = refusals([plan], judge)
    print(refusal, file=sys.stderr, end="\n" if refusal else "")
    return not refusal


def load(path):
    with open(path, encoding="utf-8") as file:
        return json.load(file)


def each(dialect, folders, judge, with_ways_back=False):
    """Every bundle against the plan that lies in it; one judge for all."""
    faults, plans = {}, {}
    for folder in folders:
        try:
            plan = load(os.path.join(folder, "plan.json"))
            reading = dialect.read_bundle(folder, plan, with_ways_back)
        except (Unreadable, OSError, ValueError, KeyError) as fault:
            faults[folder] = [f"cannot be read: {fault}"]
            continue
        faults[folder] = differences(reading, plan)
        plans[folder] = as_plan(reading, plan)
    for folder, refusal in zip(plans, refusals(list(plans.values()), judge) if judge and plans else []):
        faults[folder] += [refusal] if refusal else []
    for folder, found in faults.items():
        for fault in found:
            print(f"{folder}: {fault}", file=sys.stderr)
    print(f"{sum(not found for found in faults.values())} of {len(folders)} bundles read back")
    return 1 if any(faults.values()) else 0


def main(dialect):
    parser = argparse.ArgumentParser(description="Reads a rendered bundle back into operations.")
    parser.add_argument("folder", nargs="?")
    parser.add_argument("--against", help="the plan to compare with, and to learn units and baseline from")
    parser.add_argument("--against-each", nargs="+", metavar="DIR", help="bundles, each with its plan.json in it")
    parser.add_argument("--ways-back", action="store_true", help="read the ways back too, from every step they serve")
    parser.add_argument("--write", help="where the plan with the steps as read goes")
    parser.add_argument("--replay", help="the judge that must accept that plan")
    options = parser.parse_args()
    if options.against_each:
        return each(dialect, options.against_each, options.replay, options.ways_back)
    if options.folder is None:
        parser.error("name a folder, or several after --against-each")
    try:
        plan = load(options.against or os.path.join(options.folder, "plan.json"))
        reading = dialect.read_bundle(options.folder, plan, options.ways_back)
    except (Unreadable, OSError, ValueError, KeyError) as fault:
        print(f"{options.folder}: {fault}", file=sys.stderr)
        return 2
    print(json.dumps(reading.steps, indent=1))
    fine = True
    if options.against:
        found = differences(reading, plan)
        print("\n".join(found), file=sys.stderr, end="\n" if found else "")
        fine = not found
    if options.write:
        with open(options.write, "w", encoding="utf-8") as file:
            json.dump(as_plan(reading, plan), file, indent=1)
    if options.replay:
        fine = replayed(as_plan(reading, plan), options.replay) and fine
    return 0 if fine else 1
