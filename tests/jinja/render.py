"""Renders a dialect's templates with Jinja2, the reference for their language, and compares with what ringwright made.

    render.py DIALECT CONTEXT WORDS BUNDLE

DIALECT is a folder (with `extends:` resolved by the caller), CONTEXT and WORDS what `ringwright dialect context` prints
with and without `--words`, BUNDLE the folder that `ringwright compile` wrote. Prints one line a difference; exits 1 if
there is one. Nothing here is taken from ringwright: escaping is written from the published rules (CommonMark 0.31
section 2.4, RFC 4180 section 2) and from the guide.
"""

import difflib
import json
import pathlib
import sys

import jinja2
import yaml
from markupsafe import Markup

MARKS = set("\\`*[]<>|&")


def markdown(text):
    """A backslash before each sign that Markdown would read as a mark; `_` and `~` inside a word are none."""
    out = []
    for at, one in enumerate(text):
        before = text[at - 1] if at else " "
        after = text[at + 1] if at + 1 < len(text) else " "
        inside = before.isalnum() and after.isalnum()
        if one in MARKS or (one in "_~" and not inside):
            out.append("\\")
        out.append(one)
    return "".join(out)


def table(text):
    """A field as RFC 4180 quotes it."""
    if "," in text or '"' in text or text != text.strip():
        return '"' + text.replace('"', '""') + '"'
    return text


def printed(value):
    """The text of a value: numbers and truth as JSON writes them; nothing and lists cannot be printed."""
    if value is None or isinstance(value, (list, dict)):
        raise TypeError(f"{value!r} cannot be printed")
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def environment(folder, kind):
    escape = {"markdown": markdown, "csv": table}.get(kind, str)

    def finalize(value):
        if isinstance(value, (Markup, jinja2.Undefined)):
            return value
        text = printed(value)
        return text if kind in ("html", "xml", "svg") else Markup(escape(text))

    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder),
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=True,
        finalize=finalize,
    )
    # keys in the order of the schema, letters as they are
    made.policies["json.dumps_kwargs"] = {"sort_keys": False, "ensure_ascii": False}
    made.filters["code"] = lambda value: Markup(printed(value))
    # a filter that the engine has by itself, as its documentation says
    made.filters["split"] = lambda value, mark: value.split(mark)
    return made


def subjects(one_per, context):
    """What an output is rendered once for: unit, segment, way back."""
    units = {unit["key"]: unit for unit in context["units"]}
    console = lambda segment: units.get(segment["place"].get("unit"))
    if one_per == "stack":
        return [(None, None, None)]
    if one_per == "joining-unit":
        return [(unit, None, None) for unit in context["units"] if unit["status"] == "joining"]
    if one_per == "way-back-segment":
        return [(console(part), part, way) for way in context["ways_back"] for part in way["segments"]]
    staging = one_per == "stage-segment"
    return [(console(part), part, None) for part in context["segments"] if part["staging"] == staging]


def outputs(folder, context):
    manifest = yaml.safe_load((folder / "dialect.yaml").read_text())
    for output in manifest["outputs"]:
        made = environment(folder, output["kind"])
        plain = environment(folder, "text")
        for unit, segment, way in subjects(output["one_per"], context):
            short = way and {**way, "steps": [], "segments": []}
            scope = {**context, "unit": unit, "segment": segment, "way_back": short}
            path = plain.from_string(output["path"]).render(stack=context["stack"], unit=unit, segment=segment, way_back=way)
            text = made.get_template(output["template"]).render(scope)
            if not (output.get("optional") and not text.strip()):
                yield path, output["kind"], text


def main():
    folder, context, words, bundle = map(pathlib.Path, sys.argv[1:5])
    context = json.loads(context.read_text())
    faults, made = [], {}
    for path, kind, text in outputs(folder, context):
        made[path] = text
        file = bundle / path
        ours = file.read_text() if file.is_file() else None
        if ours is None:
            faults.append(f"{path} is not in the bundle")
        elif ours != text:
            lines = difflib.unified_diff(text.splitlines(), ours.splitlines(), "jinja2", "ringwright", n=0)
            faults.append(f"{path} differs:\n" + "\n".join(list(lines)[:12]))
    own = {"plan.json", "bundle.json"}
    there = {str(file.relative_to(bundle)) for file in bundle.rglob("*") if file.is_file()} - own
    faults += [f"{path} is in the bundle alone" for path in sorted(there - set(made))]
    plain = environment(folder, "text")
    heard = json.loads(words.read_text())
    for one in heard:
        text = plain.get_template(one["template"]).render(one["scope"])
        if text != one["text"]:
            faults.append(f"{one['template']} says {one['text']!r}, and with jinja2 {text!r}")
    for fault in faults:
        print(fault)
    if not made or not heard:
        print("nothing was rendered")
        return 1
    print(f"{len(made)} files and the words of {len(heard)} steps and facts", file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
