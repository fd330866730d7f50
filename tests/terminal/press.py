"""Runs a program in a pseudo-terminal, presses keys, and says as JSON what the screen showed and how it was left.

Reads one JSON object: `argv`, `columns`, `rows`, `env` (added to the own one), `press`: a list of objects with
`keys`, `signal` or `hang_up`, and `until`: text that the screen must show then (left out: the program must end).
After `hang_up` only whether and how the program ended is said. Standard library only.
"""

import fcntl
import json
import os
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time

PATIENCE = 60.0
SEQUENCE = re.compile(r"\x1b\[([?0-9;]*)([A-Za-z])")


class Screen:
    """As much of a terminal as is needed to see what a person would see."""

    def __init__(self, columns, rows):
        self.columns, self.rows = columns, rows
        self.alternate, self.cursor, self.overflow, self.colours = False, True, False, set()
        self.pages = {False: self.blank(), True: self.blank()}
        self.row = self.column = 0
        self.unread = ""

    def blank(self):
        return [[" "] * self.columns for _ in range(self.rows)]

    def feed(self, text):
        text, self.unread, at = self.unread + text, "", 0
        while at < len(text):
            if text[at] != "\x1b":
                self.put(text[at])
                at += 1
                continue
            found = SEQUENCE.match(text, at)
            if found is None:
                self.unread = text[at:]
                return
            self.obey(*found.groups())
            at = found.end()

    def obey(self, numbers, letter):
        if letter == "H":
            row, _, column = (numbers or "1;1").partition(";")
            self.row, self.column = int(row or 1) - 1, int(column or 1) - 1
        elif letter == "J":
            self.pages[self.alternate] = self.blank()
        elif letter == "m":
            self.colours.add(numbers)
        elif numbers == "?1049":
            self.alternate = letter == "h"
        elif numbers == "?25":
            self.cursor = letter == "h"

    def put(self, one):
        if one == "\r":
            self.column = 0
        elif one == "\n":
            self.row += 1
        elif self.row < self.rows and self.column < self.columns:
            self.pages[self.alternate][self.row][self.column] = one
            self.column += 1
        else:
            self.overflow = True

    def text(self):
        return "\n".join("".join(row).rstrip() for row in self.pages[self.alternate])


def settings(terminal):
    return [part for part in termios.tcgetattr(terminal)]


def main():
    wanted = json.load(sys.stdin)
    columns, rows = wanted["columns"], wanted["rows"]
    keyboard, terminal = os.openpty()
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    before = settings(terminal)
    environment = {**os.environ, "TERM": "xterm-256color", **wanted.get("env", {})}
    environment = {name: value for name, value in environment.items() if value is not None}
    # a session of its own, so that the pseudo-terminal is the one that it knows
    program = subprocess.Popen(
        wanted["argv"], stdin=terminal, stdout=terminal, stderr=terminal, env=environment,
        cwd=wanted.get("cwd"), start_new_session=True,
    )
    screen = Screen(columns, rows)

    def listen(until):
        deadline = time.monotonic() + PATIENCE
        while time.monotonic() < deadline:
            if select.select([keyboard], [], [], 0.05)[0]:
                screen.feed(os.read(keyboard, 65536).decode("utf-8", "replace"))
            elif until is None and program.poll() is not None:
                return True
            elif until is not None and until in screen.text():
                # nothing more comes: the page is whole
                return True
        return False

    screens = []
    for press in wanted["press"]:
        raw = settings(terminal) != before
        if "hang_up" in press:
            # as when the window is closed: nobody holds the terminal any more
            os.close(terminal)
            os.close(keyboard)
            try:
                program.wait(timeout=PATIENCE / 4)
            except subprocess.TimeoutExpired:
                program.kill()
            json.dump({"ended": program.poll() is not None, "status": program.wait()}, sys.stdout)
            return
        if "signal" in press:
            program.send_signal(getattr(signal, press["signal"]))
        if "size" in press:
            screen.columns, screen.rows = press["size"]
            screen.pages[True] = screen.blank()
            fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", screen.rows, screen.columns, 0, 0))
            program.send_signal(signal.SIGWINCH)
        os.write(keyboard, press.get("keys", "").encode())
        seen = listen(press.get("until"))
        screens.append({"seen": seen, "text": screen.text(), "raw": raw})
        if not seen:
            break
    ended = program.poll() is not None
    if not ended:
        program.kill()
        program.wait()
    json.dump({
        "screens": screens, "ended": ended, "status": program.returncode, "restored": settings(terminal) == before,
        "alternate": screen.alternate, "cursor": screen.cursor, "overflow": screen.overflow,
        "colours": sorted(screen.colours), "left": screen.text(),
    }, sys.stdout)


main()
