"""The sections of a runbook and the files that it opens -> the steps that they say, whatever the dialect.

A dialect's reader gives what it finds on the pages: each section as {"number", "where", "opens", "do", "look",
"otherwise", "restarted", "islands"} (`where`, `otherwise` and `islands` may be missing), each file as {"place",
"first", "last", "checks", "otherwise", "typed", "next"} (`otherwise` and `next` may be missing; `next` is a step and
its place, or None after the last step); and it knows how places, operations and facts are said.
"""

import copy
import os
import re

from stack import Stack, Unreadable


class Reading:
    """What was read: the steps, and the ways back as plans write them, or None where they were left out."""

    def __init__(self, steps, ways_back=None):
        self.steps, self.ways_back = steps, ways_back


class Dialect:
    """How one dialect is read: `pages` is a folder -> sections, files and ways back, each of these {"first", "last",
    "then", "sections", and perhaps "files"}; the others are one line -> its meaning."""

    def __init__(self, pages, place, operation, fact):
        self.pages, self.place, self.operation, self.fact = pages, place, operation, fact

    def read_bundle(self, folder, plan, with_ways_back=False):
        """What the texts say. Of the plan: units, baseline and traits, never the steps."""
        sections, files, ways = self.pages(folder)
        stack = Stack(plan)
        then = {}  # who is where when a way back begins: after each step
        steps = self.steps(sections, files, stack, then)
        if not with_ways_back:
            return Reading(steps)
        return Reading(steps, [self.way_back(way, then) for way in ways])

    def way_back(self, way, then):
        """Whichever of its steps was the last one done, the words of a way back must mean the same."""
        steps = None
        for number in range(way["first"], way["last"] + 1):
            if number not in then:
                raise Unreadable(f"a way back after step {number}, which there is not")
            try:
                read = self.steps(way["sections"], way.get("files", {}), copy.deepcopy(then[number]))
            except Unreadable as fault:
                raise Unreadable(f"way back after step {number}: {fault}") from None
            if steps not in (None, read):
                raise Unreadable(f"way back after step {number}: the words mean another thing than one step before")
            steps = read
        return {"after": [way["first"], way["last"]], "steps": steps, "then": way["then"]}

    def steps(self, sections, files, stack, after=None):
        """The steps of some sections, all that their files hold among them; `after` gets who is where after each."""
        if [one["number"] for one in sections] != list(range(1, len(sections) + 1)):
            raise Unreadable("the steps do not run from 1 without gaps")
        used, steps = {}, []
        for section in sections:
            try:
                steps.append(self.step(section, stack, files, used))
            except Unreadable as fault:
                raise Unreadable(f"step {section['number']}: {fault}") from None
            if after is not None:
                after[section["number"]] = copy.deepcopy(stack)
        for path, file in files.items():
            typed = used[path]["typed"] if path in used else 0
            if typed != len(file["typed"]):
                raise Unreadable(f"{path}: the runbook refers to {typed} of its {len(file['typed'])} lines")
            self.check_next(path, file, steps, stack)
        return steps

    def check_next(self, path, file, steps, stack):
        """What the file says of the step after it."""
        if "next" not in file:
            return
        after = steps[file["last"]:]
        fine = not after
        if file["next"]:
            number, place = file["next"]
            fine = bool(after) and number == file["last"] + 1 and self.place(place, stack) == after[0]["at"]
        if not fine:
            raise Unreadable(f"{path}: another step comes next than it says")

    def step(self, section, stack, files, used):
        """One step. `used` holds of each opened file its place, its last step and how many of its lines were typed."""
        number, opens = section["number"], section["opens"]
        path = next((path for path, file in used.items() if number <= file["last"]), None)
        if "where" not in section and (opens or not path):
            raise Unreadable("neither a place nor an open file")
        if opens:
            if path or opens["path"] in used:
                raise Unreadable(f"{opens['path']} is opened twice, or while another file is open")
            path = opens["path"]
            self.open_file(section, stack, files, used)
        place = used[path]["place"] if path else self.place(section["where"], stack)
        if path and "where" in section and self.place(section["where"], stack) != place:
            raise Unreadable(f"another place while {path} is open")
        action = self.action(section, place, stack, files.get(path), used.get(path))
        stack.apply(action, section["restarted"], section.get("islands"))
        return {"at": place, "do": action}

    def action(self, section, place, stack, file, using):
        if bool(section["look"]) == bool(section["do"]):
            raise Unreadable("a step is either a look or something to do")
        if section["look"]:
            if file and not section["opens"]:
                raise Unreadable("a look in the middle of a file")
            action = {"kind": "expect", "facts": [self.fact(line, stack) for line in section["look"]]}
            if "otherwise" in section:
                action["otherwise"] = section["otherwise"]
            return action
        if len(section["do"]) != 1:
            raise Unreadable("more than one thing to do in one step")
        (line,) = section["do"]
        action = self.operation(line, place, stack)
        if file:
            at = using["typed"]
            if at >= len(file["typed"]) or file["typed"][at] != line:
                raise Unreadable(f"line {at + 1} of the file is not what the runbook says: {line!r}")
            using["typed"] = at + 1
        elif "hands" not in place and action["kind"] != "await":
            raise Unreadable(f"typed, but in no file: {line!r}")
        return action

    def open_file(self, section, stack, files, used):
        """The file must be there, for this place and these steps, and check what the runbook checks."""
        path, file = section["opens"]["path"], files.get(section["opens"]["path"])
        if file is None:
            raise Unreadable(f"there is no file {path}")
        opens, place = section["opens"], self.place(section["where"], stack)
        if file["place"] is None or self.place(file["place"], stack) != place:
            raise Unreadable(f"{path} is for another place than the runbook says")
        steps = (opens["first"], opens["last"])
        if steps != (file.get("first"), file.get("last")) or opens["first"] != section["number"]:
            raise Unreadable(f"{path} is for other steps than the runbook says")
        if section["look"] and section["look"] != file["checks"]:
            raise Unreadable(f"{path} checks something else than the runbook")
        if "otherwise" in section and section["otherwise"] != file.get("otherwise"):
            raise Unreadable(f"{path} says something else of what to do if it is not so than the runbook")
        used[path] = {"place": place, "last": section["opens"]["last"], "typed": 0}


class Headings:
    """How a runbook marks its parts: patterns of a whole line. `step` and `back` have the groups `number` and, where
    each says its place, `where`; `back` and `way` have `first`, `way` may have `last`, and `then` is a step."""

    def __init__(self, step, way, back, then):
        self.step, self.way, self.back, self.then = (re.compile(one) for one in (step, way, back, then))


def read_runbook(path, headings, read_item):
    """The sections of the steps, and the ways back, each with its own sections."""
    sections, ways, section = [], [], None
    with open(path, encoding="utf-8") as file:
        lines = file.read().splitlines()
    for line in lines:
        step, way, back, then = (pattern.fullmatch(line) for pattern in (
            headings.step, headings.way, headings.back, headings.then))
        if step or back:
            section = new_section(int((step or back)["number"]))
            if "where" in (step or back).groupdict():
                section["where"] = unescaped((step or back)["where"])
            if back and (not ways or int(back["first"]) != ways[-1]["first"]):
                raise Unreadable(f"not a step of the way back that it stands under: {line!r}")
            (sections if step else ways[-1]["sections"]).append(section)
        elif way:
            first, last = int(way["first"]), int(way["last"] or way["first"])
            ways.append({"first": first, "last": last, "then": None, "sections": []})
        elif then and ways:
            ways[-1]["then"] = int(then[1])
        elif line.startswith("#"):
            section = None
        elif section is not None and line.startswith("- "):
            read_item(section, line[2:])
        elif section is not None and line:
            raise Unreadable(f"step {section['number']}: not an item: {line!r}")
    return sections, ways


def files_of_ways_back(folder, above, ways, read_file):
    """Gives each way back its files, whose folder is named after the steps that it serves: `after-07-to-12`."""
    at = os.path.join(folder, above)
    for name in sorted(os.listdir(at)) if os.path.isdir(at) else []:
        span = re.fullmatch(r"[a-z]+-0*(\d+)-to-0*(\d+)", name)
        mine = [way for way in ways if span and (way["first"], way["last"]) == (int(span[1]), int(span[2]))]
        if len(mine) != 1:
            raise Unreadable(f"{above}/{name} belongs to no way back of the runbook")
        mine[0]["files"] = {path: read_file(os.path.join(folder, path))
                            for path in files_under(folder, [os.path.join(above, name)])}


def new_section(number):
    return {"number": number, "do": [], "look": [], "opens": None, "restarted": []}


def unescaped(text):
    """Markdown puts a backslash before its own marks."""
    return re.sub(r"\\([\\`*\[\]<>|&_~])", r"\1", text)


def files_under(folder, parts):
    """The paths of all files in these folders of a bundle, as a runbook writes them."""
    for part in parts:
        for above, _, names in os.walk(os.path.join(folder, part)):
            for name in names:
                yield os.path.relpath(os.path.join(above, name), folder)
