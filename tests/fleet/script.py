"""What a script of PyYAML, jsonschema-rs and Jinja2 would do: validate intents, render contexts that are there already.

    script.py [--processes N] [--check] MANIFEST FOLDER OUT

It plans nothing and proves nothing: beside each `intent.yaml` lies `context.json`, which `ringwright dialect context`
wrote beforehand. With `--check` it only reads and validates. MANIFEST is the dialect's folder.
"""

import argparse
import json
import multiprocessing
import pathlib
import sys

import jsonschema_rs
import yaml

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "jinja"))

import render  # noqa: E402

made = {}


def begin(dialect, out, check):
    schema = json.loads((HERE.parent.parent / "schema/intent.schema.json").read_text())
    made.update(validator=jsonschema_rs.validator_for(schema), out=out, check=check, dialect=dialect)
    if check:
        return
    outputs = yaml.load((dialect / "dialect.yaml").read_text(), yaml.CSafeLoader)["outputs"]
    kinds = {output["kind"] for output in outputs}
    made.update(outputs=outputs, engines={kind: render.environment(dialect, kind) for kind in kinds | {"text"}})


def one(intent):
    """One intent: read, validated, and rendered from its context."""
    made["validator"].validate(yaml.load(intent.read_text(), yaml.CSafeLoader))
    if made["check"]:
        return
    context = json.loads((intent.parent / "context.json").read_text())
    place = made["out"] / context["stack"]["name"]
    plain = made["engines"]["text"]
    for output in made["outputs"]:
        template = made["engines"][output["kind"]].get_template(output["template"])
        for unit, segment, way in render.subjects(output["one_per"], context):
            short = way and {**way, "steps": [], "segments": []}
            scope = {**context, "unit": unit, "segment": segment, "way_back": short}
            path = plain.from_string(output["path"]).render(
                stack=context["stack"], unit=unit, segment=segment, way_back=way
            )
            text = template.render(scope)
            if not (output.get("optional") and not text.strip()):
                file = place / path
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_text(text)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("dialect", type=pathlib.Path)
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("out", type=pathlib.Path)
    options = parser.parse_args()
    intents = sorted(options.folder.rglob("intent.yaml"))
    begun = (options.dialect, options.out, options.check)
    if options.processes == 1:
        begin(*begun)
        for intent in intents:
            one(intent)
        return
    with multiprocessing.Pool(options.processes, begin, begun) as pool:
        for _ in pool.imap_unordered(one, intents, chunksize=8):
            pass


if __name__ == "__main__":
    main()
