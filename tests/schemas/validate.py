"""The published schemas by the library jsonschema (https://python-jsonschema.readthedocs.io), files read with PyYAML.

    python3 validate.py SCHEMAS LIST

SCHEMAS is the folder of the schemas; every one must be valid against the 2020-12 meta-schema. LIST has one
JSON object a line, `file` and `schema`; for each, one line `valid` or `invalid` is printed.
"""

import json
import pathlib
import re
import sys

import jsonschema
import yaml


class Core(yaml.SafeLoader):
    """YAML 1.2's core schema: no dates, no sexagesimals, no `yes` and `no`."""


Core.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("null", r"~|null|Null|NULL|", "~nN"),
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    Core.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{pattern})$"), [*first, ""])
Core.add_constructor("tag:yaml.org,2002:int", lambda loader, node: whole(loader.construct_scalar(node)))
Core.add_constructor("tag:yaml.org,2002:float", lambda loader, node: float(loader.construct_scalar(node)))


def whole(text):
    return int(text, {"0x": 16, "0o": 8}.get(text[:2], 10))


def main(folder, listed):
    validators = {}
    for path in sorted(pathlib.Path(folder).glob("*.schema.json")):
        schema = json.loads(path.read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator.check_schema(schema)
        validators[path.name] = jsonschema.Draft202012Validator(schema)
    for line in pathlib.Path(listed).read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        text = pathlib.Path(entry["file"]).read_text(encoding="utf-8")
        value = json.loads(text) if entry["file"].endswith(".json") else yaml.load(text, Core)
        print("valid" if validators[entry["schema"]].is_valid(value) else "invalid")


if __name__ == "__main__":
    main(*sys.argv[1:])
