"""Random finished stacks as intents: chains and rings of 2 to 8 members, 1 to 4 parallel cables, one or two uplink
pairs, with and without split guard.

    python3 tests/faults/stacks.py [--habits] COUNT SEED FOLDER

writes FOLDER/<number>/intent.yaml; the same seed gives the same files. Names, numbers and places in the row are drawn
apart, so that natural order, order by number and order of cabling differ. With `--habits` each stack stands on one of
several made-up platforms, its `dialect.yaml` in FOLDER/<number>/ours/.
"""

import os
import random
import sys

# free names of ports, where no model says which there are
PORTS = (["7", "8", "9", "10", "11", "12", "13", "14"], ["1/8", "1/9", "1/10", "1/11", "2/1", "2/2", "2/9", "2/10"])
# (model, its stacking ports, the ports for uplinks)
MODELS = (("agg-48", [str(port) for port in range(49, 55)], [str(port) for port in range(9, 49)]),
          ("edge-24", [str(port) for port in range(25, 29)], [str(port) for port in range(9, 25)]))


# what settles otherwise than on neutral's platform; in each of them the roles win as they do there
HABITS = (
    "joining: {loser: waits}", "joining: {loser: absorbed}", "joining: {loser: restarts, preempts: true}",
    "priority: {range: [1, 100], factory: 100, wins: lowest}", "election: [uptime, priority, lowest-mac]",
    "election: {boot: [priority, uptime, lowest-mac], merge: [size, priority, lowest-id]}",
    "standby: sticky", "priority: {range: [1, 100], factory: 1, wins: highest, takes_effect: next-election}",
    "admission: id", "stored: {id: at-once, priority: at-once, binding: at-once}",
)


def widths(dice, count, ring):
    """How many cables each stack link has: the same everywhere, or each its own number."""
    links = count if ring else count - 1
    if dice.random() < 0.5:
        return [dice.choice((1, 1, 2, 3, 4))] * links
    return [dice.randint(1, 4) for _ in range(links)]


def hardware(dice, needed):
    """A model whose stacking ports are enough, or ports of no known model."""
    fitting = [entry for entry in MODELS if len(entry[1]) >= needed]
    if fitting and dice.random() < 0.7:
        return dice.choice(fitting)
    return None, dice.choice(PORTS), [str(port) for port in range(31, 49)]


def sides(dice, model_ports, widths_here):
    """Ports for the two sides of one member, west and east, drawn without order."""
    drawn = dice.sample(model_ports, sum(widths_here))
    return drawn[:widths_here[0]], drawn[widths_here[0]:]


def uplinks(dice, names, free):
    """One or two pairs of two or three legs on at least two members, and the guard or None."""
    taken, pairs = set(), []
    for pair in dice.sample(("border", "hall-2", "hall-10", "yard"), dice.choice((1, 1, 2))):
        homes = dice.sample(names, 2)
        if dice.random() < 0.3:
            homes.append(dice.choice(names))
        legs = []
        for home in homes:
            port = dice.choice([port for port in free if (home, port) not in taken])
            taken.add((home, port))
            legs.append((home, port))
        pairs.append((pair, legs))
    return pairs, dice.choice((None, *(pair for pair, _ in pairs)))


def priorities(dice, members):
    """Explicit priorities for plain members of some stacks; equal ones need addresses to decide."""
    if dice.random() < 0.7:
        return {}
    given = {name: dice.choice((20, 30, 40, 50)) for name in members}
    return {name: (priority, f"00-00-5E-00-53-{dice.randrange(16) * 16 + place:02X}")
            for place, (name, priority) in enumerate(given.items())}


def quoted(ports):
    return "[" + ", ".join(f'"{port}"' for port in ports) + "]"


def draw(dice, number):
    """One intent as text."""
    count, ring = dice.randint(2, 8), dice.random() < 0.5
    cables = widths(dice, count, ring)
    around = [(cables[at - 1] if ring or at > 0 else 0, cables[at] if at < len(cables) else 0) for at in range(count)]
    model, stacking, free = hardware(dice, max(map(sum, around)))
    word = dice.choice(("ramp", "quay", "berth", "mill", "gate"))
    names = [f"{word}-{at}" for at in dice.sample(range(1, 13), count)]
    ids = dice.sample(range(1, 17), count)
    lead, second = dice.sample(names, 2)
    roles = {lead: "primary", **({second: "standby"} if dice.random() < 0.7 else {})}
    given = priorities(dice, [name for name in names if name not in roles])
    lines = ["format: 1", f"stack: stack-{number:03}", "dialect: neutral", f"topology: {'ring' if ring else 'chain'}",
             "members:"]
    for at, name in enumerate(names):
        west, east = sides(dice, stacking, around[at])
        parts = [f"name: {name}", f"id: {ids[at]}", *([f"role: {roles[name]}"] if name in roles else []),
                 *([f"model: {model}"] if model else []), f"sides: {{west: {quoted(west)}, east: {quoted(east)}}}"]
        if name in given:
            parts += [f"priority: {given[name][0]}", f"mac: {given[name][1]}"]
        lines.append(f"  - {{{', '.join(parts)}}}")
    pairs, guard = uplinks(dice, names, free)
    lines.append("uplink_pairs:")
    for pair, legs in pairs:
        lines += [f"  - name: {pair}", "    legs:"]
        lines += [f'      - {{member: {home}, port: "{port}"}}' for home, port in legs]
    if guard:
        lines.append(f"split_guard: {guard}")
    return "\n".join(lines) + "\n"


def platform(number):
    """A dialect that has neutral's words and another habit."""
    return (f'format: 1\nname: made-up-{number}\nversion: "0.1.0"\nsummary: a made-up platform\nextends: neutral\n'
            f"platform:\n  {HABITS[number % len(HABITS)]}\n")


def write(count, seed, folder, habits=False):
    """Writes that many intents; one stack does not depend on how many are drawn."""
    for number in range(count):
        place, text = os.path.join(folder, f"{number:03}"), draw(random.Random(f"{seed} {number}"), number)
        os.makedirs(place, exist_ok=True)
        if habits:
            text = text.replace("dialect: neutral", "dialect: ./ours")
            os.makedirs(os.path.join(place, "ours"), exist_ok=True)
            with open(os.path.join(place, "ours", "dialect.yaml"), "w", encoding="utf-8") as file:
                file.write(platform(number))
        with open(os.path.join(place, "intent.yaml"), "w", encoding="utf-8") as file:
            file.write(text)


def main(arguments):
    habits = arguments[:1] == ["--habits"]
    arguments = arguments[habits:]
    if len(arguments) != 3 or not arguments[0].isdigit() or not arguments[1].isdigit():
        print(__doc__, file=sys.stderr)
        return 2
    write(int(arguments[0]), int(arguments[1]), arguments[2], habits)
    print(f"{arguments[0]} intents")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
