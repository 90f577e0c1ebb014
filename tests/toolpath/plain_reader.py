"""A second reader, as plain as can be, to hold the kernel against: one line at a time, one command a line.

It knows G0, G1, G20, G21, G28, G90, G91, G92, M82, M83, M220, M221, T and comments; no arcs. Written from the
rules (NISTIR 6556 and the trade's E words, from memory), not from the kernel.
"""

from __future__ import annotations

import re

WORD = re.compile(r"([A-Za-z])\s*([+-]?\s*(?:\d+\.?\d*|\.\d+))")


class Machine:
    """Head and filament after each move, as lists."""

    def __init__(self) -> None:
        self.at = {"X": 0.0, "Y": 0.0, "Z": 0.0}
        self.zero = {"X": 0.0, "Y": 0.0, "Z": 0.0}  # machine position of the written 0
        self.e_count: dict[int, float] = {}
        self.fed: dict[int, float] = {}
        self.tool, self.feed, self.unit, self.speed, self.flow = 0, 25.0, 1.0, 1.0, 1.0
        self.g91 = False
        self.m83 = False  # what M82 or M83 said last
        self.e_relative = False
        self.rows: list[tuple[float, float, float, float, float, int, int]] = []

    def put(self, line: int, fed: float) -> None:
        """Note the state as a move of this line."""
        total = self.fed[self.tool] = self.fed.get(self.tool, 0.0) + fed
        place = (self.at["X"], self.at["Y"], self.at["Z"])
        self.rows.append((*place, total, self.feed * self.speed, line, self.tool))

    def move(self, line: int, words: dict[str, float]) -> None:
        """G0 and G1."""
        for axis in "XYZ":
            if axis in words:
                number = words[axis] * self.unit
                self.at[axis] = self.at[axis] + number if self.g91 else self.zero[axis] + number
        fed = 0.0
        if "E" in words:
            number, count = words["E"] * self.unit, self.e_count.get(self.tool, 0.0)
            fed = number if self.e_relative else number - count
            self.e_count[self.tool] = count + fed
        self.put(line, fed * self.flow)

    def home(self, line: int, words: dict[str, float]) -> None:
        """G28."""
        axes = [axis for axis in "XYZ" if axis in words] or list("XYZ")
        moved = any(self.at[axis] != 0.0 for axis in axes)
        for axis in axes:
            self.at[axis] = self.zero[axis] = 0.0
        if moved:
            self.put(line, 0.0)

    def reset(self, words: dict[str, float]) -> None:
        """G92."""
        for letter, number in (words or dict.fromkeys("XYZE", 0.0)).items():
            if letter == "E":
                self.e_count[self.tool] = number * self.unit
            else:
                self.zero[letter] = self.at[letter] - number * self.unit

    def mode(self, command: str) -> None:
        """The words that take no numbers."""
        if command in ("M82", "M83"):
            self.m83 = self.e_relative = command == "M83"
        elif command in ("G90", "G91"):
            self.g91 = command == "G91"
            self.e_relative = True if self.g91 else self.m83
        elif command in ("G20", "G21"):
            self.unit = 25.4 if command == "G20" else 1.0


def read(text: str) -> list[tuple[float, float, float, float, float, int, int]]:
    """Return x, y, z, e, feed, line and tool of each move."""
    machine = Machine()
    motion = "G1"
    for line, written in enumerate(text.splitlines(), 1):
        code = re.sub(r"\(.*?\)", "", written.split(";")[0].split("*")[0]).upper()
        words = [(letter, float(number.replace(" ", ""))) for letter, number in WORD.findall(code)]
        commands = [f"{letter}{number:g}" for letter, number in words if letter in "GM"]
        rest = {letter: number for letter, number in words if letter not in "GMN"}
        command = commands[0] if commands else ""
        if command in ("G0", "G1"):
            motion = command
        if command in ("", "G0", "G1"):
            if "T" in rest:
                machine.tool = int(rest["T"])
            if "F" in rest:
                machine.feed = rest["F"] * machine.unit / 60
            if set(rest) & set("XYZE"):
                machine.move(line, rest)
        elif command == "G28":
            machine.home(line, rest)
        elif command == "G92":
            machine.reset(rest)
        elif command == "M220":
            machine.speed = rest["S"] / 100
        elif command == "M221":
            machine.flow = rest["S"] / 100
        else:
            machine.mode(command)
    assert motion
    return machine.rows
