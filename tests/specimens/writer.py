"""Writes the words of a specimen and keeps the truth about each line as it goes."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import Any

from .recipe import Recipe
from .regions import Points

INCH = 25.4


class Writer:
    """A pen that knows where it is. Positions handed in are in the machine's frame, mm."""

    def __init__(self, recipe: Recipe) -> None:
        self.recipe = recipe
        self.out: list[str] = []
        self.x = self.y = self.z = 0.0
        self.shift = (0.0, 0.0)
        self.speed = -1.0  # last F written, mm/s
        self.e_asked = self.e_written = self.e_base = self.e_top = 0.0
        self.drawn = 0.0  # filament drawn back now
        self.layer = -1
        self.height = recipe.first_layer_height_mm
        self.roles: dict[int, str] = {}
        self.layer_of_line: dict[int, int] = {}
        self.role_mm: dict[str, float] = defaultdict(float)
        self.role_filament_mm: dict[str, float] = defaultdict(float)
        self.counts = dict.fromkeys(("moves", "beads", "travels", "retractions", "arcs"), 0)
        self.bead_ends: list[tuple[float, float, float]] = []
        self.move_ends: list[tuple[float, float, float]] = []
        self.retraction_lines: list[int] = []
        self.marks: dict[str, list[tuple[int, float]]] = defaultdict(list)  # table -> (line, value)

    # words -------------------------------------------------------------------------------------
    def write(self, text: str) -> int:
        """Append one line; return its 1-based number."""
        self.out.append(text)
        return len(self.out)

    def mark(self, table: str, value: float, text: str) -> None:
        self.marks[table].append((self.write(text), value))

    def say(self, text: str) -> None:
        if self.recipe.comments:
            self.write(f"; {text}")

    def _number(self, value: float, digits: int) -> str:
        if self.recipe.inch:
            value, digits = value / INCH, digits + 2
        text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text

    def _feed(self, speed: float) -> str:
        if speed == self.speed:
            return ""
        self.speed = speed
        return f" F{self._number(speed * 60, 1)}"

    def _extrude(self, by: float) -> str:
        self.e_asked += by
        digits = 5 + 2 * self.recipe.inch
        unit = INCH if self.recipe.inch else 1.0
        if self.recipe.relative_extrusion:
            word = round((self.e_asked - self.e_written) / unit, digits)
            self.e_written += word * unit
        else:
            word = round((self.e_asked - self.e_base) / unit, digits)
            self.e_written = self.e_base + word * unit
        self.e_top = max(self.e_top, self.e_written)
        return f" E{word:.{digits}f}"

    def reset_e(self) -> None:
        """G92 E0; the next word counts from here."""
        self.write("G92 E0")
        self.e_base = self.e_written

    # moves -------------------------------------------------------------------------------------
    def _head(self, x: float, y: float, z: float) -> str:
        words = ""
        if x != self.x:
            words += f" X{self._number(x + self.shift[0], 3)}"
        if y != self.y:
            words += f" Y{self._number(y + self.shift[1], 3)}"
        if z != self.z:
            words += f" Z{self._number(z, 3)}"
        self.x, self.y, self.z = x, y, z
        self.move_ends.append((x, y, z))
        self.counts["moves"] += 1
        return words

    def move(self, x: float, y: float, z: float | None = None, speed: float | None = None) -> None:
        """Head only, no retraction."""
        x, y, z = float(round(x, 3)), float(round(y, 3)), self.z if z is None else float(round(z, 3))
        if (x, y, z) == (self.x, self.y, self.z):
            return
        self.counts["travels"] += 1
        words = self._head(x, y, z)
        line = self.write(f"G0{words}{self._feed(speed or self.recipe.travel_speed_mm_s)}")
        self.layer_of_line[line] = self.layer

    def bead(self, x: float, y: float, role: str, speed: float, z: float | None = None, scale: float = 1.0) -> None:
        """A straight bead from where the pen is."""
        x, y, z = float(round(x, 3)), float(round(y, 3)), self.z if z is None else float(round(z, 3))
        length = math.dist((x, y, z), (self.x, self.y, self.z))
        if length == 0:
            return
        self.bead_ends.append((self.x, self.y, self.z))
        words = self._head(x, y, z)
        self._lay("G1" + words, length, role, speed, scale)

    def circle(self, cx: float, cy: float, role: str, speed: float) -> None:
        """A full turn about (cx, cy), counter-clockwise, by one G3."""
        radius = math.dist((self.x, self.y), (cx, cy))
        self.bead_ends += [(cx + s * radius, cy + s * radius, self.z) for s in (-1, 1)]
        self.move_ends += self.bead_ends[-2:]
        self.counts["arcs"] += 1
        self.counts["moves"] += 1
        x, y = self._number(self.x + self.shift[0], 3), self._number(self.y + self.shift[1], 3)
        i, j = self._number(cx - self.x, 3), self._number(cy - self.y, 3)
        self._lay(f"G3 X{x} Y{y} I{i} J{j}", 2 * math.pi * radius, role, speed, 1.0)

    def _lay(self, words: str, length: float, role: str, speed: float, scale: float) -> None:
        fed = length * self.recipe.feed_per_mm(self.height) * scale
        line = self.write(f"{words}{self._extrude(fed)}{self._feed(speed)}")
        self.bead_ends.append((self.x, self.y, self.z))
        self.counts["beads"] += 1
        self.roles[line] = role
        self.layer_of_line[line] = self.layer
        self.role_mm[role] += length
        self.role_filament_mm[role] += fed

    def filament(self, by: float, speed: float | None = None) -> None:
        """Filament alone: forward or back."""
        self.counts["moves"] += 1
        self.move_ends.append((self.x, self.y, self.z))
        if by < 0:
            self.counts["retractions"] += 1
        line = self.write(f"G1{self._extrude(by)}{self._feed(speed or self.recipe.retraction_mm_s)}")
        self.layer_of_line[line] = self.layer
        if by < 0:
            self.retraction_lines.append(line)
        self.drawn -= by

    def go(self, x: float, y: float) -> None:
        """Travel as the recipe says: draw back, lift, travel, lower, return."""
        recipe, z = self.recipe, self.z
        far = math.dist((x, y), (self.x, self.y)) > recipe.retract_beyond_mm
        if far and recipe.retraction_mm > 0 and self.drawn < 1e-9:
            self.filament(-recipe.retraction_mm)
        if far and recipe.z_hop_mm > 0:
            self.move(self.x, self.y, z + recipe.z_hop_mm)
        self.move(x, y)
        self.move(x, y, z)
        if self.drawn > 1e-9:
            self.filament(self.drawn)

    def path(self, points: Points, role: str, speed: float) -> None:
        """Travel to the first point, lay beads through the others."""
        self.go(*points[0])
        for x, y in points[1:].tolist():
            self.bead(x, y, role, speed)

    # result ------------------------------------------------------------------------------------
    def text(self) -> str:
        recipe = self.recipe
        lines = self.out
        if recipe.lower:
            lines = [line if line.startswith(";") else line.lower() for line in lines]
        if recipe.squeezed:
            lines = [line if line.startswith(";") else line.replace(" ", "") for line in lines]
        if recipe.numbered:
            lines = [checked(number, line) for number, line in enumerate(lines, 1)]
        end = "\r\n" if recipe.crlf else "\n"
        text = end.join(lines) + end
        return text if recipe.cut_short >= 1 else text[: int(len(text) * recipe.cut_short)]

    def truth(self) -> dict[str, Any]:
        def box(ends: list[tuple[float, float, float]]) -> list[list[float]]:
            return [[f(axis) for axis in zip(*ends, strict=True)] for f in (min, max)]

        return {
            **self.counts,
            "lines": len(self.out),
            "filament_mm": self.e_top,
            "bead_box": box(self.bead_ends),
            "move_box": box(self.move_ends),
            "roles": self.roles,
            "role_mm": dict(self.role_mm),
            "role_filament_mm": dict(self.role_filament_mm),
            "layer_of_line": self.layer_of_line,
            "retraction_lines": self.retraction_lines,
            "events": {name: list(pairs) for name, pairs in self.marks.items()},
        }


def checked(number: int, line: str) -> str:
    """The line with an N word and the exclusive-or checksum of all characters before the `*`."""
    if line.startswith(";"):
        return line
    body = f"N{number} {line}"
    total = 0
    for character in body.encode():
        total ^= character
    return f"{body}*{total}"
