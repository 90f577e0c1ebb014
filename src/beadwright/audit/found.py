"""A fact read from the file together with its place, and the small clerk that writes both down."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import Fact, Origin, Value

from .findings import Where, say_range
from .moves import Moves


@dataclass
class Clerk:
    """Collects facts of one file; provenance reads "part.gcode, layers 2–40"."""

    moves: Moves
    first_line: NDArray[np.int64]  # (k,) source line of each layer's first bead, 0 for none
    last_line: NDArray[np.int64]
    facts: list[Fact] = field(default_factory=list)
    places: dict[str, Where] = field(default_factory=dict)

    def note(self, name: str, value: Value | None, where: Where | None = None, *, u: float | None = None) -> None:
        """Write a fact down; None and NaN are not known, so nothing is written."""
        if value is None or (isinstance(value, float) and not np.isfinite(value)):
            return
        where = where or Where()
        if isinstance(value, float):
            value = float(np.round(value, 6))
        self.facts.append(Fact(name, value, Origin.FILE, self.words(where), u))
        self.places[name] = where

    def words(self, where: Where) -> str:
        """Say a place: file, then layers or lines."""
        name = self.moves.toolpath.name
        if where.layers:
            return f"{name}, {say_range('layer', where.layers)}"
        return f"{name}, {say_range('line', where.lines)}" if where.lines else name

    def layers(self, first: int, last: int) -> Where:
        """The place of layers first … last (0-based, inclusive)."""
        z = self.moves.layers.z_mm
        low, high = self.first_line[first : last + 1], self.last_line[first : last + 1]
        low = low[low > 0]
        return Where(
            layers=(first + 1, last + 1),
            lines=(int(low.min()), int(high.max())) if len(low) else None,
            z_mm=(float(z[first]), float(z[last])),
        )

    def at_move(self, move: int, last: int | None = None) -> Where:
        """The place of one move, or of a stretch of moves."""
        last = move if last is None else last
        path, layer = self.moves.toolpath, self.moves.layer
        lines = (int(path.line[move]), int(path.line[last]))
        if layer[move] < 0:
            return Where(lines=lines)
        z = self.moves.layers.z_mm
        low, high = int(layer[move]), int(max(layer[move], layer[last]))
        return Where((low + 1, high + 1), lines, (float(z[low]), float(z[high])))
