"""One intent, whole process: how many times `true` does `ringwright compile` take?

    cargo build --release && python3 tests/speed.py [--runs 51] [--most 10] [--binary target/release/ringwright]

Both are started by the same little loop and turn about, so that a busy machine slows both. What counts is the median of
the ratios of neighbours: a machine that is busy for a while moves the two medians apart. Two cases: a fresh folder each time, and a bundle that is up to
date. Exit status 0 if both are within the limit, 1 if not.
"""

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
EXAMPLE = os.path.join(HERE, "..", "examples", "ferry-terminal", "third-unit.intent.yaml")


def timed(path, arguments):
    """Milliseconds from the start of a process to its end; it says nothing and must end well."""
    quiet = [(os.POSIX_SPAWN_OPEN, one, os.devnull, os.O_WRONLY, 0) for one in (1, 2)]
    start = time.perf_counter_ns()
    process = os.posix_spawn(path, [path, *arguments], os.environ, file_actions=quiet)
    _, status = os.waitpid(process, 0)
    spent = time.perf_counter_ns() - start
    if status != 0:
        sys.exit(f"{path} {' '.join(arguments)} ended with status {os.waitstatus_to_exitcode(status)}")
    return spent / 1e6


def pairs(runs, true, compile_once):
    """So many pairs of neighbours, after a few that warm the caches."""
    for _ in range(5):
        timed(true, []), compile_once()
    return [(timed(true, []), compile_once()) for _ in range(runs)]


def report(name, measured, most):
    base = statistics.median(one for one, _ in measured)
    ours = statistics.median(other for _, other in measured)
    ratio = statistics.median(other / one for one, other in measured)
    print(f"{name}: {ours:.2f} ms against {base:.2f} ms, {ratio:.1f} times")
    return ratio <= most


def main():
    parser = argparse.ArgumentParser(description="Compares one whole run with `true`.")
    parser.add_argument("--runs", type=int, default=51)
    parser.add_argument("--most", type=float, default=10)
    parser.add_argument("--binary", default=os.path.join(HERE, "..", "target", "release", "ringwright"))
    options = parser.parse_args()
    true = shutil.which("true")
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=memory) as above:
        out = os.path.join(above, "out")
        arguments = ["compile", EXAMPLE, "--out", out]

        def afresh():
            shutil.rmtree(out, ignore_errors=True)
            return timed(options.binary, arguments)

        fresh = report("fresh folder", pairs(options.runs, true, afresh), options.most)
        again = report("up to date", pairs(options.runs, true, lambda: timed(options.binary, arguments)), options.most)
    return 0 if fresh and again else 1


if __name__ == "__main__":
    sys.exit(main())
