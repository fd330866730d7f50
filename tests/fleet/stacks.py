"""Intents of many stacks of a mill company, half of them changes of stacks that stand: stacks.py COUNT SEED FOLDER

Every stack has names and serial numbers of its own.
"""

import pathlib
import random
import sys


def intent(stack, members, ring, legs, origin):
    lines = ["format: 1", f"stack: {stack}", "dialect: neutral", f"topology: {'ring' if ring else 'chain'}", "members:"]
    for number in range(1, members + 1):
        role = ", role: primary" if number == 1 else ", role: standby" if number == 2 else ""
        lines.append(f"  - {{name: {stack}-{number}, id: {number}{role}, model: agg-48, serial: TM{stack[5:]}-{number}}}")
    lines += ["uplink_pairs:", "  - name: shore", "    legs:"]
    far = f"shore-{stack[5:]}"
    lines += [f'      - {{member: {stack}-{leg}, port: "47", far: {{device: {far}-{leg}, port: "12"}}}}' for leg in legs]
    lines.append("split_guard: shore")
    if origin:
        lines.append(f"change: {{from: {origin}}}")
    return "\n".join(lines) + "\n"


def write(count, seed, folder):
    """Stacks of 4 to 8 members; every second one is grown by a member from the stack as it stands."""
    dice = random.Random(seed)
    for number in range(count):
        place = folder / f"site-{number // 100:03}" / f"mill-{number:05}"
        place.mkdir(parents=True)
        members, ring = dice.randint(4, 8), dice.random() < 0.5
        stack, legs = f"mill-{number:05}", (1, 2)
        if number % 2:
            (place / "as-built.yaml").write_text(intent(stack, members - 1, ring, legs, None))
        (place / "intent.yaml").write_text(intent(stack, members, ring, legs, "as-built.yaml" if number % 2 else None))


if __name__ == "__main__":
    write(int(sys.argv[1]), int(sys.argv[2]), pathlib.Path(sys.argv[3]))
