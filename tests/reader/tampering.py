"""A bundle with some of its texts changed -> what its reader then finds."""

import os
import shutil
import tempfile

from compare import differences
from stack import Unreadable


def found(dialect, bundle, plan, changes):
    """What differs from the plan after these changes, each (file, old text, new text), to a copy of the bundle."""
    with tempfile.TemporaryDirectory() as folder:
        copy = os.path.join(folder, "bundle")
        shutil.copytree(bundle, copy)
        for name, old, new in changes:
            path = os.path.join(copy, name)
            with open(path, encoding="utf-8") as file:
                text = file.read()
            if old not in text:
                raise AssertionError(f"{name} has no {old!r} to change")
            with open(path, "w", encoding="utf-8") as file:
                file.write(text.replace(old, new, 1))
        try:
            return differences(dialect.read_bundle(copy, plan, with_ways_back=True), plan)
        except Unreadable as fault:
            return [str(fault)]
