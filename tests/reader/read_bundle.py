"""Reads a rendered bundle as a person would, and turns its words back into the operations of a plan.

    python3 tests/reader/read_bundle.py DIR [--against plan.json] [--write plan.json] [--replay judge.py]
    python3 tests/reader/read_bundle.py --against-each DIR... [--replay judge.py]

Prints the steps as JSON: a list of {"at", "do"}. It holds none of the templates: it knows the phrases of the neutral
dialect only as somebody who reads them, and learns which unit a name like `m3/p49` means from the member id that
the unit acts on at that moment. Of plan.json it takes what stands on the labels of the boxes and in the intent
(units, baseline, traits), never the steps; those it only compares with afterwards.

--against compares every step, in order, with those of a plan. --write writes a plan with the steps as read.
--replay gives that plan to a judge, which must accept it. --against-each takes many bundles, compares each with its
own plan.json, and prints one line for each that is not fine and how many were read. Exit status 0 fine, 1 a difference or a refusal,
2 something that cannot be read.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile

from phrases import Unreadable, read_fact, read_operation
from stack import Stack


def unescaped(text):
    """Markdown puts a backslash before its own marks."""
    return re.sub(r"\\([\\`*\[\]<>|&_~])", r"\1", text)


def read_snippet(path):
    """The check and the typed lines of one file."""
    checks, typed, place = [], [], None
    with open(path, encoding="utf-8") as file:
        for number, line in enumerate(file.read().splitlines(), 1):
            if line.startswith("# check: "):
                checks.append(line[len("# check: "):])
            elif line.startswith("# at: "):
                place = line[len("# at: "):]
            elif not line.startswith("# "):
                if not line or line != line.strip():
                    raise Unreadable(f"{path}, line {number}: neither a comment nor an operation: {line!r}")
                typed.append(line)
    return {"place": place, "checks": checks, "typed": typed}


def read_runbook(path):
    """The sections of the steps: number, place, file, what to do, what to look at."""
    sections, section = [], None
    with open(path, encoding="utf-8") as file:
        for line in file.read().splitlines():
            heading = re.fullmatch(r"### Step (\d+)", line)
            if heading:
                section = {"number": int(heading[1]), "do": [], "look": [], "opens": None}
                sections.append(section)
            elif line.startswith("## "):
                section = None
            elif section is not None and line.startswith("- "):
                read_item(section, line[2:])
    if [one["number"] for one in sections] != list(range(1, len(sections) + 1)):
        raise Unreadable("the steps of the runbook do not run from 1 without gaps")
    return sections


def read_item(section, item):
    if item.startswith("[ ] "):
        section["look"].append(unescaped(item[4:]))
        return
    name, _, text = item.partition(": ")
    if name == "do":
        section["do"].append(unescaped(text))
    elif name == "open":
        path, first, last = re.fullmatch(r"`([^`]*)` \(steps (\d+) to (\d+)\)", text).groups()
        section["opens"] = {"path": path, "first": int(first), "last": int(last)}
    elif name == "where":
        section["where"] = unescaped(text)
    elif name == "must be seen":
        section["seen"] = unescaped(text)
    elif name == "if not":
        section["otherwise"] = unescaped(text)


def read_place(text, stack):
    if text == "by hands":
        return {"hands": "site"}
    console = re.match(r"console of ([A-Za-z0-9._@-]+)(?:, |$)", text)
    if console:
        return {"console": stack.known(console[1])}
    if text == f"stack {stack.name}":
        return {"stack": stack.name}
    raise Unreadable(f"not a place: {text!r}")


def read_bundle(folder, plan):
    """The steps as the texts say them."""
    stack = Stack(plan)
    files, used = {}, {}
    for part in ("bootstrap", "change"):
        for above, _, names in os.walk(os.path.join(folder, part)):
            for name in names:
                path = os.path.join(above, name)
                files[os.path.relpath(path, folder)] = read_snippet(path)
    steps = []
    for section in read_runbook(os.path.join(folder, "runbook.md")):
        try:
            steps.append(read_step(section, stack, files, used))
        except Unreadable as fault:
            raise Unreadable(f"step {section['number']}: {fault}") from None
    for path, file in files.items():
        typed = used[path]["typed"] if path in used else 0
        if typed != len(file["typed"]):
            raise Unreadable(f"{path}: the runbook refers to {typed} of its {len(file['typed'])} lines")
    return steps


def read_step(section, stack, files, used):
    """One step. `used` holds of each opened file its place, its last step and how many of its lines were typed."""
    number, opens = section["number"], section["opens"]
    path = next((path for path, file in used.items() if number <= file["last"]), None)
    if opens:
        if path or opens["path"] in used:
            raise Unreadable(f"{opens['path']} is opened twice, or while another file is open")
        path = opens["path"]
        open_file(section, stack, files, used)
    if path is None and "where" not in section:
        raise Unreadable("neither a place nor an open file")
    if path and not opens and "where" in section:
        raise Unreadable(f"another place while {path} is open")
    place = used[path]["place"] if path else read_place(section["where"], stack)
    if section["look"]:
        if path and not opens:
            raise Unreadable(f"a look in the middle of {path}")
        action = {"kind": "expect", "facts": [read_fact(line, stack) for line in section["look"]]}
        if "otherwise" in section:
            action["otherwise"] = section["otherwise"]
        return {"at": place, "do": action}
    (line,) = section["do"]
    if path:
        typed, at = files[path]["typed"], used[path]["typed"]
        if at >= len(typed) or typed[at] != line:
            raise Unreadable(f"line {at + 1} of {path} is not what the runbook says: {line!r}")
        used[path]["typed"] = at + 1
    elif "hands" not in place and not line.startswith("wait "):
        raise Unreadable(f"typed, but in no file: {line!r}")
    action = read_operation(line, place, stack)
    stack.apply(action, section.get("seen", ""))
    return {"at": place, "do": action}


def open_file(section, stack, files, used):
    """The file must be there, for this place and these steps, and check what the runbook checks."""
    path, file = section["opens"]["path"], files.get(section["opens"]["path"])
    if file is None:
        raise Unreadable(f"there is no file {path}")
    place = read_place(section["where"], stack)
    if read_place(file["place"], stack) != place or section["opens"]["first"] != section["number"]:
        raise Unreadable(f"{path} is for another place or another step than the runbook says")
    if section["look"] and section["look"] != file["checks"]:
        raise Unreadable(f"{path} checks something else than the runbook")
    used[path] = {"place": place, "last": section["opens"]["last"], "typed": 0}


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


def differences(steps, plan):
    stack_wide_save = plan["traits"]["save"]["scope"] == "stack"
    found = []
    if len(steps) != len(plan["steps"]):
        found.append(f"{len(steps)} steps are read, the plan has {len(plan['steps'])}")
    for step, wanted in zip(steps, plan["steps"]):
        number = wanted["number"]
        if step["at"] != wanted["at"]:
            found.append(f"step {number}: read at {step['at']}, planned at {wanted['at']}")
        on_console = "console" in step["at"]
        read, planned = (alike(one["do"], stack_wide_save and not on_console) for one in (step, wanted))
        if json.dumps(read, sort_keys=True) != json.dumps(planned, sort_keys=True) and not same_numbers(read, planned):
            found.append(f"step {number}: read {json.dumps(read)}, planned {json.dumps(planned)}")
    return found


def same_numbers(read, planned):
    """3 and 3.0 are one number."""
    return read == planned


def as_plan(steps, plan):
    """The same plan with the steps as read; what the texts do not say (the phase) is the plan's."""
    keep = ("format", "stack", "traits", "change", "units", "baseline", "target")
    read = {name: plan[name] for name in keep}
    read["compiler"] = "read from the rendered bundle"
    phases = [step["phase"] for step in plan["steps"]]
    read["steps"] = [{"number": number, "phase": phase, **step} for number, (phase, step) in enumerate(zip(phases, steps), 1)]
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


def each(folders, judge):
    """Every bundle against the plan that lies in it; one judge for all."""
    faults, plans = {}, {}
    for folder in folders:
        try:
            plan = load(os.path.join(folder, "plan.json"))
            steps = read_bundle(folder, plan)
        except (Unreadable, OSError, ValueError, KeyError) as fault:
            faults[folder] = [f"cannot be read: {fault}"]
            continue
        faults[folder] = differences(steps, plan)
        plans[folder] = as_plan(steps, plan)
    for folder, refusal in zip(plans, refusals(list(plans.values()), judge) if judge and plans else []):
        faults[folder] += [refusal] if refusal else []
    for folder, found in faults.items():
        for fault in found:
            print(f"{folder}: {fault}", file=sys.stderr)
    print(f"{sum(not found for found in faults.values())} of {len(folders)} bundles read back")
    return 1 if any(faults.values()) else 0


def main():
    parser = argparse.ArgumentParser(description="Reads a rendered bundle back into operations.")
    parser.add_argument("folder", nargs="?")
    parser.add_argument("--against", help="the plan to compare with, and to learn units and baseline from")
    parser.add_argument("--against-each", nargs="+", metavar="DIR", help="bundles, each with its plan.json in it")
    parser.add_argument("--write", help="where the plan with the steps as read goes")
    parser.add_argument("--replay", help="the judge that must accept that plan")
    options = parser.parse_args()
    if options.against_each:
        return each(options.against_each, options.replay)
    if options.folder is None:
        parser.error("name a folder, or several after --against-each")
    try:
        plan = load(options.against or os.path.join(options.folder, "plan.json"))
        steps = read_bundle(options.folder, plan)
    except (Unreadable, OSError, ValueError, KeyError) as fault:
        print(f"{options.folder}: {fault}", file=sys.stderr)
        return 2
    print(json.dumps(steps, indent=1))
    fine = True
    if options.against:
        found = differences(steps, plan)
        print("\n".join(found), file=sys.stderr, end="\n" if found else "")
        fine = not found
    if options.write:
        with open(options.write, "w", encoding="utf-8") as file:
            json.dump(as_plan(steps, plan), file, indent=1)
    if options.replay:
        fine = replayed(as_plan(steps, plan), options.replay) and fine
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
