"""Reads a bundle of the invented platform `pentrough` as a person would, and turns its words back into operations.

    python3 tests/reader/read_pentrough.py DIR [--against plan.json] [--ways-back] [--write plan.json]
                                            [--replay judge.py]
    python3 tests/reader/read_pentrough.py --against-each DIR... [--ways-back] [--replay judge.py]

It does for that dialect what `read_bundle.py` does for neutral, with the same options and exit status: the words and
the pages are the dialect's, how steps are put together, compared and judged is shared. It knows no template; it knows
from the texts alone that `r1@3` is port r1 of whoever has seat 3 at that moment.
"""

import os
import re
import sys

from assemble import Dialect, Headings, files_of_ways_back, files_under, read_runbook, unescaped
from compare import main
from meanings import whole
from pentrough_phrases import read_fact, read_islands, read_operation
from stack import Unreadable

COMMENT = "~ "
HEADINGS = Headings(
    step=r"### Step (?P<number>\d+): (?P<where>.+)",
    way=r"### From (?:step|any of steps) (?P<first>\d+)(?: to (?P<last>\d+))? \(about \d+ min\)",
    back=r"#### Back (?P<first>\d+)\.(?P<number>\d+): (?P<where>.+)",
    then=r"Then take the way back from step (\d+)\.",
)


def read_sheet(path, work="the runbook"):
    """A file: all comments stand above the typed lines. The first is its place, the second its title."""
    with open(path, encoding="utf-8") as file:
        lines = file.read().splitlines()
    head = [line[len(COMMENT):] for line in lines if line.startswith(COMMENT)]
    typed = lines[len(head):]
    if len(head) < 2 or not typed or any(line.startswith(COMMENT) or line.split() != line.split(" ") for line in typed):
        raise Unreadable(f"{path}: not comments and then lines to type")
    steps = whole(rf".*, steps (\d+) to (\d+) of {work}", head[1])
    sheet = {"place": head[0], "first": int(steps[1]), "last": int(steps[2]), "checks": [], "typed": typed}
    for line in head[2:]:
        name, _, text = line.partition(": ")
        if name == "look":
            sheet["checks"].append(text)
        elif name == "else":
            sheet["otherwise"] = text
        elif name == "after":
            sheet["next"] = read_after(text, work)
        elif name != "ask":
            raise Unreadable(f"{path}: not a comment that has a meaning: {line!r}")
    if "next" not in sheet:
        raise Unreadable(f"{path}: it does not say what comes after it")
    return sheet


def read_after(text, work):
    """The step that comes after a file, and its place; None after the last step."""
    if text == f"nothing, this is the end of {work}":
        return None
    found = whole(rf"step (\d+) of {work}, (.+)", text)
    return int(found[1]), found[2]


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
    sections, ways = read_runbook(os.path.join(folder, "runbook.md"), HEADINGS, read_item)
    files_of_ways_back(folder, "return", ways, lambda path: read_sheet(path, "this way back"))
    return sections, sheets, ways


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
    sys.exit(main(PENTROUGH))
