"""Reads a rendered bundle as a person would, and turns its words back into the operations of a plan.

    python3 tests/reader/read_bundle.py DIR [--against plan.json] [--ways-back] [--write plan.json] [--replay judge.py]
    python3 tests/reader/read_bundle.py --against-each DIR... [--ways-back] [--replay judge.py]

Prints the steps as JSON: a list of {"at", "do"}. It holds none of the templates: it knows the phrases of the neutral
dialect only as somebody who reads them, and learns which unit a name like `m3/p49` means from the member id that
the unit acts on at that moment. Of plan.json it takes what stands on the labels of the boxes and in the intent
(units, baseline, traits), never the steps; those it only compares with afterwards.

--against compares every step, in order, with those of a plan. --ways-back reads the ways back too, each as it reads
from every step that it serves, and has them compared and judged. --write writes a plan with the steps as read.
--replay gives that plan to a judge, which must accept it. --against-each takes many bundles, compares each with its
own plan.json, and prints one line for each that is not fine and how many were read. Exit status 0 fine, 1 a difference
or a refusal, 2 something that cannot be read.
"""

import os
import re
import sys

from assemble import Dialect, Headings, files_of_ways_back, files_under, read_runbook, unescaped
from compare import main
from meanings import whole
from phrases import read_fact, read_operation, read_seen
from stack import Unreadable

HEADINGS = Headings(
    step=r"### Step (?P<number>\d+)",
    way=r"### Back from steps? (?P<first>\d+)(?: to (?P<last>\d+))? \(about .*\)",
    back=r"#### Back (?P<first>\d+)\.(?P<number>\d+)",
    then=r"Then go on with the way back from step (\d+)\.",
)


def read_snippet(path, work="the runbook"):
    """The comments at its head and at its end, and the typed lines between them."""
    snippet = {"place": None, "checks": [], "typed": []}
    with open(path, encoding="utf-8") as file:
        for number, line in enumerate(file.read().splitlines(), 1):
            if number == 1 and line.startswith("# "):
                continue  # its title, in which the stack's name could read like anything
            if line.startswith("# "):
                read_comment(snippet, line[2:], work)
            elif line and line == line.strip():
                snippet["typed"].append(line)
            else:
                raise Unreadable(f"{path}, line {number}: neither a comment nor an operation: {line!r}")
    return snippet


def read_comment(snippet, comment, work):
    name, _, text = comment.partition(": ")
    if name == "at":
        snippet["place"] = text
    elif name == "check":
        snippet["checks"].append(text)
    elif name == "if not so":
        snippet["otherwise"] = text
    elif name == "steps":
        found = whole(rf"(\d+) to (\d+) of {work}", text)
        snippet["first"], snippet["last"] = int(found[1]), int(found[2])
    elif name == "next" and text.startswith("nothing"):
        snippet["next"] = None
    elif name == "next":
        found = whole(rf"step (\d+) of {work}, (.+)", text)
        snippet["next"] = (int(found[1]), found[2])


def read_item(section, item):
    if item.startswith("[ ] "):
        section["look"].append(unescaped(item[4:]))
        return
    name, _, text = item.partition(": ")
    if name == "do":
        section["do"].append(unescaped(text))
    elif name == "open":
        found = whole(r"`([^`]*)` \(steps (\d+) to (\d+)\)", text)
        section["opens"] = {"path": found[1], "first": int(found[2]), "last": int(found[3])}
    elif name == "where":
        section["where"] = unescaped(text)
    elif name == "must be seen":
        section["restarted"], section["islands"] = read_seen(unescaped(text))
    elif name == "if not":
        section["otherwise"] = unescaped(text)


def pages(folder):
    files = {path: read_snippet(os.path.join(folder, path)) for path in files_under(folder, ("bootstrap", "change"))}
    sections, ways = read_runbook(os.path.join(folder, "runbook.md"), HEADINGS, read_item)
    files_of_ways_back(folder, "way-back", ways, lambda path: read_snippet(path, "this way back"))
    return sections, files, ways


def read_place(text, stack):
    if text == "by hands":
        return {"hands": "site"}
    console = re.match(r"console of ([A-Za-z0-9._@-]+)(?:, |$)", text)
    if console:
        return {"console": stack.known(console[1])}
    if re.fullmatch(rf"stack {re.escape(stack.name)}(, at the console of [A-Za-z0-9._@-]+ alone)?", text):
        return {"stack": stack.name}
    raise Unreadable(f"not a place: {text!r}")


NEUTRAL = Dialect(pages, read_place, read_operation, read_fact)

if __name__ == "__main__":
    sys.exit(main(NEUTRAL))
