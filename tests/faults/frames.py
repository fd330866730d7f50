"""Which members still reach each other after link faults, asked with real frames, against a list of findings.

    python3 tests/faults/frames.py PLAN.json FINDINGS.json [PLAN.json FINDINGS.json ...]

Builds a plan's finished stack from Linux network namespaces, one a member, each with a bridge, and a veth pair for each
stack link; spanning tree is off. For every single link fault and every pair of them, each two members must reach each
other by ping exactly where the list says that they are one island. Addresses are those of RFC 5737 and RFC 9542.

Nothing closes a loop: where the finished stack has one, its last link is the spare. It stays down while every other link
works, since the others reach everybody then, and it is brought up as soon as one of them fails: the loop is open there.
So what frames reach is what the working links connect. A lab of more loops, or of parallel cables, is refused.

Needs root, `ip` and `bridge` (iproute2) and `ping` (iputils-ping): without them it fails. Names hold the number of the
process; all is removed at the end, after a failure, and when it is interrupted or told to end.
"""

import itertools
import json
import os
import shutil
import signal
import subprocess
import sys
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

import effects
from shape import ShapeError, read_plan

PACKAGES = {"ip": "iproute2", "bridge": "iproute2", "ping": "iputils-ping"}
# seconds that a ping waits, try after try; who is expected to be cut off is asked as often as the first list says
UNEXPECTED = (0.4, 0.4)
EXPECTED = (0.4, 1, 2, 4, 4)
READY_WITHIN = 15
ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
# a number of seconds is read with a point, and what a tool says is in English
PLAIN = {**os.environ, "LC_ALL": "C"}


class LabError(Exception):
    """The lab cannot be built or is not as it should be; the message says why."""


def run(*command, text=None):
    """Runs a tool that must end well."""
    ended = subprocess.run(command, input=text, capture_output=True, text=True, env=PLAIN)
    if ended.returncode:
        raise LabError(f"`{' '.join(command)}` failed: {ended.stderr.strip() or ended.stdout.strip()}\n"
                       "(the lab makes network namespaces: that takes root, or CAP_SYS_ADMIN and CAP_NET_ADMIN)")
    return ended.stdout


def need_tools():
    for command, package in PACKAGES.items():
        if shutil.which(command) is None:
            raise LabError(f"`{command}` is missing: install {package}")


class Lab:
    """Namespaces for members, cables for links; `links` maps a link's name to its two members, the last may be spare."""

    def __init__(self, members, links):
        self.members, self.links = list(members), dict(links)
        self.spaces = {name: f"stack{os.getpid()}-{place}" for place, name in enumerate(self.members)}
        self.cables = {link: f"cable{place}" for place, link in enumerate(self.links)}
        self.spare = self.find_spare()
        self.asking, self.made = [], []

    def find_spare(self):
        """The link without which nothing closes a loop, or None; the others must form one tree or several."""
        piece = {name: frozenset((name,)) for name in self.members}
        closing = []
        for link, (one, other) in self.links.items():
            if piece[one] is piece[other]:
                closing.append(link)
            else:
                whole = piece[one] | piece[other]
                piece.update(dict.fromkeys(whole, whole))
        if len(closing) > 1:
            raise LabError(f"the lab keeps one link spare, and {', '.join(closing)} each close a loop")
        # a ring, and nothing beside it: whichever of the others fails, the spare takes its place
        ends = [name for pair in self.links.values() for name in pair]
        if closing and any(ends.count(name) != 2 for name in self.members):
            raise LabError("the lab keeps a link spare in a ring of all members only")
        return closing[0] if closing else None

    def __enter__(self):
        try:
            self.build()
        except BaseException:
            self.remove()
            raise
        return self

    def __exit__(self, *_):
        self.remove()

    def build(self):
        for place, (name, space) in enumerate(self.spaces.items(), 1):
            # noted first: an interrupt may fall between the two
            self.made.append(space)
            run("ip", "netns", "add", space)
            run("ip", "-n", space, "-batch", "-", text="\n".join([
                f"link add br0 address 00:00:5e:00:53:{place:02x} type bridge stp_state 0 forward_delay 0 mcast_snooping 0",
                "link set br0 addrgenmode none", f"address add 192.0.2.{place}/24 dev br0", "link set br0 up"]))
        for link, (one, other) in self.links.items():
            cable = self.cables[link]
            run("ip", "link", "add", cable, "netns", self.spaces[one], "type", "veth",
                "peer", "name", cable, "netns", self.spaces[other])
            for name in (one, other):
                run("ip", "-n", self.spaces[name], "-batch", "-",
                    text=f"link set {cable} addrgenmode none\nlink set {cable} master br0")
        self.up = set()

    def remove(self):
        """Takes everything away; goes on past what is gone already. A signal meanwhile waits until that is done."""
        before = signal.pthread_sigmask(signal.SIG_BLOCK, ENDING)
        try:
            self.remove_all()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    def remove_all(self):
        for process in self.asking:
            process.kill()
            process.wait()
        left = []
        for space in self.made:
            ended = subprocess.run(["ip", "netns", "del", space], capture_output=True, text=True)
            if ended.returncode and os.path.exists(f"/run/netns/{space}"):
                left.append(ended.stderr.strip())
        self.made = []
        if left:
            raise LabError(f"namespaces are left over: {'; '.join(left)}")

    def cable_up(self, broken):
        """Cuts what is broken and repairs the rest, as a person at the rack would; the spare only where it is needed."""
        working = [link for link in self.links if link not in broken]
        wanted = {link for link in working if link != self.spare}
        if self.spare in working and len(wanted) < len(self.links) - 1:
            wanted.add(self.spare)
        self.recable(wanted)

    def recable(self, wanted):
        """Has exactly these links up, with no memory of where anybody was; down first, so that no loop closes meanwhile."""
        for links, state in ((self.up - wanted, "down"), (wanted - self.up, "up")):
            for link in sorted(links):
                for name in self.links[link]:
                    run("ip", "-n", self.spaces[name], "link", "set", self.cables[link], state)
        self.up = set(wanted)
        self.wait_until_forwarding()
        for space in self.spaces.values():
            run("ip", "-n", space, "-batch", "-", text="link set br0 type bridge fdb_flush\nneigh flush dev br0")

    def wait_until_forwarding(self):
        """A link that is up forwards on both bridges: only then does silence mean anything."""
        ends = {(name, self.cables[link]) for link in self.up for name in self.links[link]}
        deadline = time.monotonic() + READY_WITHIN
        while True:
            ready = set()
            for name, space in self.spaces.items():
                ports = json.loads(run("bridge", "-n", space, "-json", "link") or "[]")
                ready |= {(name, port["ifname"]) for port in ports if port.get("state") == "forwarding"
                          and {"UP", "LOWER_UP"} <= set(port["flags"])}
            if ready == ends:
                return
            if time.monotonic() > deadline:
                raise LabError(f"ports that should forward and do not, or the other way about: {sorted(ready ^ ends)}")
            time.sleep(0.02)

    def ask(self, pairs, seconds):
        """Which of these pairs answer, all asked at once."""
        address = {name: f"192.0.2.{place}" for place, name in enumerate(self.members, 1)}
        self.asking = []
        for one, other in pairs:
            self.asking.append(subprocess.Popen(
                ["ip", "netns", "exec", self.spaces[one], "ping", "-n", "-q", "-c", "1", "-W", str(seconds), address[other]],
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=PLAIN))
        answered = set()
        for pair, process in zip(pairs, self.asking):
            told, _ = process.communicate()
            # 0 an answer, 1 none; anything else is no silence but a fault of the lab
            if process.returncode not in (0, 1):
                raise LabError(f"ping from {pair[0]} to {pair[1]} failed: {told.strip()}")
            if process.returncode == 0:
                answered.add(pair)
        self.asking = []
        return answered

    def reached(self, expected):
        """The pairs that reach each other. Who is expected to is asked longer before it is believed that it does not."""
        silent, answered = list(itertools.combinations(self.members, 2)), set()
        for turn, seconds in enumerate(EXPECTED):
            asked = [pair for pair in silent if turn < len(UNEXPECTED) or frozenset(pair) in expected]
            if not asked:
                break
            now = self.ask(asked, seconds)
            answered |= {frozenset(pair) for pair in now}
            silent = [pair for pair in silent if pair not in now]
        return answered


def lab_of(plan):
    """A lab for a plan's finished stack; its links bear the names that their faults have."""
    stack = effects.finished(plan)
    links = {}
    for fault in stack.singles():
        if fault.kind == "link":
            if len(fault.cables) > 1:
                raise LabError(f"the lab lays one cable a link, and {fault} has {len(fault.cables)}")
            links[str(fault)] = [effects.end_parts(end)[0] for end in next(iter(fault.cables))]
    if len({frozenset(ends) for ends in links.values()}) < len(links):
        raise LabError("the lab lays one link between two members")
    return Lab(sorted(stack.members, key=effects.natural), links)


def islands_told(findings, links):
    """Set of broken links -> islands, from the entries of link faults alone; each set must be there once."""
    told = {}
    for entry in findings:
        broken = frozenset(entry["faults"])
        if broken <= set(links):
            if broken in told:
                raise LabError(f"{' and '.join(sorted(broken))} stands twice in the findings")
            told[broken] = entry["islands"]
    return told


def differences(lab, findings):
    """Where the lab and the findings differ, as sentences; the healthy stack must be one island."""
    told, found = islands_told(findings, lab.links), []
    wanted = [frozenset(links) for count in (0, 1, 2) for links in itertools.combinations(lab.links, count)]
    for broken in wanted:
        title = " and ".join(sorted(broken)) or "nothing broken"
        islands = told.get(broken) if broken else [lab.members]
        if islands is None:
            found.append(f"{title}: not in the findings")
            continue
        expected = {frozenset(pair) for island in islands for pair in itertools.combinations(island, 2)}
        lab.cable_up(broken)
        reached = lab.reached(expected)
        for pair in sorted(map(sorted, reached ^ expected)):
            does = "reach" if frozenset(pair) in reached else "do not reach"
            found.append(f"{title}: {pair[0]} and {pair[1]} {does} each other, and the islands are {islands}")
    known = set(wanted)
    return found + [f"{' and '.join(sorted(broken))}: in the findings, and not in the lab"
                    for broken in told if broken not in known]


def interrupted(number, _):
    # a second signal must not stop the cleaning up
    for each in ENDING:
        signal.signal(each, signal.SIG_IGN)
    raise SystemExit(128 + number)


def load(path):
    with open(path, encoding="utf-8") as file:
        return json.load(file)


def main(arguments):
    if not arguments or len(arguments) % 2:
        print(__doc__, file=sys.stderr)
        return 2
    for number in ENDING:
        signal.signal(number, interrupted)
    status = 0
    try:
        need_tools()
        for plan, findings in zip(arguments[::2], arguments[1::2]):
            begun = time.monotonic()
            lab = lab_of(read_plan(load(plan)))
            with lab:
                found = differences(lab, load(findings))
            print("\n".join(f"{plan}: {text}" for text in found) or
                  f"{plan}: frames agree: {len(lab.links)} links, every one and every two of them broken, "
                  f"{time.monotonic() - begun:.0f} s")
            status = 1 if found else status
    except (LabError, ShapeError, OSError, ValueError) as error:
        print(f"the lab has failed: {error}", file=sys.stderr)
        return 1
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
