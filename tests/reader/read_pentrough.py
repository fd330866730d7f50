"""Reads a bundle of the invented platform `pentrough` as a person would, and turns its words back into operations.

    python3 tests/reader/read_pentrough.py DIR [--against plan.json] [--write plan.json] [--replay judge.py]
    python3 tests/reader/read_pentrough.py --against-each DIR... [--replay judge.py]

It does for that dialect what `read_bundle.py` does for neutral, with the same options and exit status: the words and
the pages are the dialect's, how steps are put together, compared and judged is shared. It reads the ways back too, and
each from every step that it serves. It knows no template; it knows from the texts alone that `r1@3` is port r1 of
whoever has seat 3 at that moment.
"""

import os
import re
import sys

from assemble import Dialect, files_under, new_section, unescaped
from compare import main
from meanings import whole
from pentrough_phrases import read_fact, read_islands, read_operation
from stack import Unreadable

COMMENT = "~ "


def read_sheet(path, whole_work="the runbook"):
    """A file: all comments stand above the typed lines. The first is its place, the second its title."""
    with open(path, encoding="utf-8") as file:
        lines = file.read().splitlines()
    head = [line[len(COMMENT):] for line in lines if line.startswith(COMMENT)]
    typed = lines[len(head):]
    if len(head) < 2 or not typed or any(line.startswith(COMMENT) or line.split() != line.split(" ") for line in typed):
        raise Unreadable(f"{path}: not comments and then lines to type")
    steps = whole(rf".*, steps (\d+) to (\d+) of {whole_work}", head[1])
    sheet = {"place": head[0], "first": int(steps[1]), "last": int(steps[2]), "checks": [], "typed": typed}
    for line in head[2:]:
        name, _, text = line.partition(": ")
        if name == "look":
            sheet["checks"].append(text)
        elif name == "else":
            sheet["otherwise"] = text
        elif name == "after":
            sheet["next"] = read_after(text, whole_work)
        elif name != "ask":
            raise Unreadable(f"{path}: not a comment that has a meaning: {line!r}")
    if "next" not in sheet:
        raise Unreadable(f"{path}: it does not say what comes after it")
    return sheet


def read_after(text, whole_work):
    """The step that comes after a file, and its place; None after the last step."""
    if text == f"nothing, this is the end of {whole_work}":
        return None
    found = whole(rf"step (\d+) of {whole_work}, (.+)", text)
    return int(found[1]), found[2]


def read_runbook(path):
    """The sections of the steps, and the ways back, each with its own sections."""
    sections, ways, section = [], [], None
    with open(path, encoding="utf-8") as file:
        for line in file.read().splitlines():
            step = re.fullmatch(r"(### Step |#### Back \d+\.)(\d+): (.+)", line)
            way = re.fullmatch(r"### From (?:step (\d+)|any of steps (\d+) to (\d+)) \(about \d+ min\)", line)
            then = re.fullmatch(r"Then take the way back from step (\d+)\.", line)
            if step:
                section = new_section(int(step[2]))
                section["where"] = unescaped(step[3])
                to = sections if step[1] == "### Step " else back_to(ways, step[1])
                to.append(section)
            elif way:
                first, last = way[1] or way[2], way[1] or way[3]
                ways.append({"first": int(first), "last": int(last), "then": None, "sections": []})
            elif then:
                ways[-1]["then"] = int(then[1])
            elif line.startswith("#"):
                section = None
            elif section is not None and line.startswith("- "):
                read_item(section, line[2:])
            elif section is not None and line:
                raise Unreadable(f"step {section['number']}: not an item: {line!r}")
    return sections, ways


def back_to(ways, heading):
    """The sections of the way back under which a step stands, which must be the one that the step names."""
    if not ways or heading != f"#### Back {ways[-1]['first']}.":
        raise Unreadable(f"not a step of the way back that it stands under: {heading!r}")
    return ways[-1]["sections"]


def read_item(section, item):
    """One item under a step. What it says of dangers, reasons, stops and minutes is for people."""
    if item.startswith("[ ] "):
        section["look"].append(unescaped(item[4:]))
        return
    if item.startswith("wait until "):
        section["do"].append(unescaped(item.removeprefix("wait until ")))
        return
    name, _, text = item.partition(": ")
    if name == "do":
        section["do"].append(unescaped(text))
    elif name == "type":
        section["do"].append(whole(r"`([^`]+)`", text)[1])
    elif name == "file":
        found = whole(r"`([^`]+)`, steps (\d+) to (\d+)", text)
        section["opens"] = {"path": found[1], "first": int(found[2]), "last": int(found[3])}
    elif name == "else":
        section["otherwise"] = unescaped(text)
    elif name == "goes down by itself":
        section["restarted"] = unescaped(text).split(", ")
    elif name == "together now":
        section["islands"] = read_islands(unescaped(text))
    elif name not in ("danger", "care", "from here on", "stop here", "why", "min"):
        raise Unreadable(f"step {section['number']}: not an item that has a meaning: {item!r}")


def pages(folder):
    sheets = {path: read_sheet(os.path.join(folder, path)) for path in files_under(folder, ("staging", "race"))}
    sections, ways = read_runbook(os.path.join(folder, "runbook.md"))
    for way in ways:
        own = files_of(folder, way)
        way["files"] = {path: read_sheet(os.path.join(folder, path), "this way back") for path in own}
    known = {path for way in ways for path in way["files"]}
    if known != set(files_under(folder, ("return",))):
        raise Unreadable("there are files of a way back that the runbook does not have")
    return sections, sheets, ways


def files_of(folder, way):
    """The files of one way back: their folder is named after the steps that it serves."""
    names = os.listdir(os.path.join(folder, "return")) if os.path.isdir(os.path.join(folder, "return")) else []
    mine = [name for name in names if re.fullmatch(rf"from-0*{way['first']}-to-0*{way['last']}", name)]
    return list(files_under(folder, [os.path.join("return", name) for name in mine]))


def read_place(text, stack):
    if text == "by hands":
        return {"hands": "site"}
    if text == f"console of the race {stack.name}":
        return {"stack": stack.name}
    console = re.match(r"console of ([A-Za-z0-9._@-]+)(?:, |$)", text)
    if console:
        return {"console": stack.known(console[1])}
    raise Unreadable(f"not a place: {text!r}")


PENTROUGH = Dialect(pages, read_place, read_operation, read_fact)

if __name__ == "__main__":
    sys.exit(main(PENTROUGH.read_bundle))
