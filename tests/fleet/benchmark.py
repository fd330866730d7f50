"""A fleet, measured: ours beside a script that only validates and renders, and beside copying what comes out.

    cargo build --release && target/venv/bin/python tests/fleet/benchmark.py [--stacks 2000] [--checks 10000] [--runs 3]

Needs jsonschema-rs, PyYAML and Jinja2 (`tests/run` installs them) and room in memory: everything lies on tmpfs. All that
is compared runs in turn, whole processes, and what counts is the median of the ratios of neighbours: these are the only
figures that mean something on another machine. Prints one line a comparison; exits 1 where one misses what was asked.
"""

import argparse
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
sys.path.insert(0, str(HERE))

import stacks  # noqa: E402


def run(arguments, memory=None):
    """Seconds from the start of a process to its end, its children included; it must end well."""
    start = time.perf_counter()
    process = subprocess.Popen([str(one) for one in arguments], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    spent = time.perf_counter() - start
    if status != 0:
        sys.exit(f"{arguments}: status {os.waitstatus_to_exitcode(status)}: {said.decode()[-500:]}")
    if memory is not None:
        memory.append(usage.ru_maxrss / 1024)
    return spent


def fresh(folder):
    shutil.rmtree(folder, ignore_errors=True)
    return folder


class Bench:
    def __init__(self, options, place):
        self.options, self.place, self.faults = options, place, 0
        self.script = [sys.executable, "-B", HERE / "script.py"]

    def ours(self, command, folder, *more, memory=None):
        out = [] if command == "check" else ["--out", self.place / "out"]
        return run([self.options.binary, command, folder, "--threads", "2", *out, *more], memory)

    def compare(self, name, ours, other, least=None, most=None):
        """The median of the ratios of neighbours: of the other to ours where more is better, else of ours to the other."""
        pairs = [(ours(), other()) for _ in range(self.options.runs)]
        if least is not None:
            ratio = statistics.median(two / one for one, two in pairs)
            fine, wanted = ratio >= least, f"at least {least}"
        else:
            ratio = statistics.median(one / two for one, two in pairs)
            fine, wanted = ratio <= most, f"at most {most}"
        self.faults += not fine
        one, two = (statistics.median(times) for times in zip(*pairs))
        print(f"{name}: {ratio:.2f} ({wanted}); {one:.2f} s and {two:.2f} s{'' if fine else '; MISSED'}", flush=True)


def contexts(binary, folder):
    """What the script renders, written beside each intent."""
    for intent in sorted(folder.rglob("intent.yaml")):
        with open(intent.parent / "context.json", "wb") as file:
            subprocess.run([binary, "dialect", "context", intent], stdout=file, check=True)


def main():
    parser = argparse.ArgumentParser(description="Measures a fleet.")
    parser.add_argument("--stacks", type=int, default=2000)
    parser.add_argument("--checks", type=int, default=10000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--binary", type=pathlib.Path, default=ROOT / "target/release/ringwright")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir="/dev/shm") as above:
        place = pathlib.Path(above)
        fleet, wide, single = place / "fleet", place / "wide", place / "single"
        stacks.write(options.stacks, 20261126, fleet)
        stacks.write(options.checks, 20261127, wide)
        stacks.write(2, 20261128, single)
        contexts(options.binary, fleet)
        contexts(options.binary, single)
        bench = Bench(options, place)
        dialect = ROOT / "templates/neutral"
        memory = []

        def everything(*more):
            fresh(place / "out")
            return bench.ours("compile", fleet, *more, memory=memory)

        def script(folder, processes, *more):
            fresh(place / "theirs")
            return run([*bench.script, "--processes", processes, *more, dialect, folder, place / "theirs"])

        def copied():
            fresh(place / "copy")
            return run(["cp", "-r", place / "out", place / "copy"])

        name = f"{options.stacks} intents, everything"
        bench.compare(f"{name}: the script with 2 processes takes so many times ours", everything, lambda: script(fleet, 2), least=3)
        bench.compare(f"{name}: the script with 1 process", everything, lambda: script(fleet, 1), least=3)
        bench.compare(f"{name}: without sharing takes so many times ours", everything, lambda: everything("--share-nothing"), least=1)
        bench.compare(f"{name}: ours takes so many times a copy of what comes out", everything, copied, most=3)
        bench.compare("nothing changed: so much of the first run", lambda: bench.ours("compile", fleet), everything, most=0.1)
        name = f"{options.checks} intents, check"
        bench.compare(
            f"{name}: the script with 2 processes takes so many times ours",
            lambda: bench.ours("check", wide, memory=memory),
            lambda: script(wide, 2, "--check"),
            least=6,
        )
        one = single / "site-000" / "mill-00001"
        bench.compare(
            "one intent, whole process: the script takes so many times ours",
            lambda: run([options.binary, "compile", one / "intent.yaml", "--out", fresh(place / "out1")]),
            lambda: script(one, 1),
            least=12,
        )
        print(f"the most memory: {max(memory):.0f} MB (at most 100){'; MISSED' if max(memory) > 100 else ''}")
        sys.exit(bool(bench.faults) or max(memory) > 100)


if __name__ == "__main__":
    main()
