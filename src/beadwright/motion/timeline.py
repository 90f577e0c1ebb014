"""The print's clocks, each turned into any other: moves, seconds, layers, height, filament, path, source
lines.

A mark measured in a photo is known by its height, a dip in a heat log by its second, a snag of the spool by
filament fed; laid on one line they can be held against one another. The move is the hub: every clock is a
monotone function of the move position m, its whole part the move's index, its fraction the share of the
move that is done. Within one move seconds, path and filament are taken to run evenly; `Plan.position_at`
is exact where that matters.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadwright.motion.plan import Plan
from beadwright.toolpath.columns import FloatColumn, IntColumn, Toolpath

if TYPE_CHECKING:
    from beadwright.toolpath.layers import Layers

Clock = Literal["move", "s", "layer", "z", "filament", "path", "line"]
ROUNDING_S = 1e-7  # seconds that went to the hub and back
HEIGHT_SLACK_MM = 1e-4  # a height in a file and one typed by hand may differ by rounding


@dataclass(frozen=True)
class Timeline:
    """n moves and k layers on all clocks.

    move      0 … n; whole at the start of a move
    s         seconds of the motion plan, 0 … duration of the moves. It stands still at `unknown_waits`, where a real
              clock runs on for as long as heating, or a person, takes
    layer     0 … k; whole at the start of the layer's first bead, between them the share of the seconds until
              the next layer begins; so `floor` gives the 0-based layer
    z         mm, the bead height reached: a step up at the start of each higher layer. A height within a
    layer
              belongs to that layer, so z → s gives when the layer that holds the height begins, the first
              time
    filament  mm, highest net filament fed so far: drawing back does not turn it back
    path      mm the head has gone
    line      1-based source line of the move in progress; a line without a move stands for the next move
    """

    t: FloatColumn  # (n,) s, end of each move
    path: FloatColumn  # (n,) mm
    filament: FloatColumn  # (n,) mm
    line: IntColumn  # (n,) source line of each move
    lines: int  # in the file
    layer_s: FloatColumn  # (k + 1,) s, start of each layer and end of the last; empty without layers
    layer_z: FloatColumn  # (k,) mm, highest bead height up to and with each layer
    floor_z: float  # mm, where the first layer's beads lie on
    unknown_waits: IntColumn  # (w,) moves before which the machine waits for heat or a person: not in any clock

    @classmethod
    def build(cls, toolpath: Toolpath, plan: Plan, layers: Layers) -> Timeline:
        """Lay `toolpath` with its `plan` and `layers` on all clocks."""
        from beadwright.motion.plan_kernel import count_clocks

        path, filament = count_clocks(toolpath.x, toolpath.y, toolpath.z, toolpath.e, toolpath.tool, toolpath.start)
        first = np.asarray(layers.first_move, np.int64)
        starts = np.where(first > 0, plan.t[np.maximum(first - 1, 0)], 0.0)
        ends = plan.t[np.asarray(layers.last_move, np.int64)[-1:]]
        return cls(
            t=plan.t,
            path=path,
            filament=filament,
            line=toolpath.line,
            lines=toolpath.lines,
            layer_s=np.maximum.accumulate(np.concatenate([starts, ends])),
            layer_z=np.maximum.accumulate(np.asarray(layers.z_mm, np.float64)),
            floor_z=float(layers.z_mm[0] - layers.height_mm[0]) if len(layers.z_mm) else np.nan,
            unknown_waits=np.union1d(toolpath.events.heat_wait.move, toolpath.events.pause.move),
        )

    def __len__(self) -> int:
        return len(self.t)

    def convert(self, values: ArrayLike, from_: Clock, to: Clock) -> FloatColumn:
        """Return `values` of clock `from_` on clock `to`, same shape; NaN outside the clock's range.

        Where a clock stands still the earliest moment is meant. Raises ValueError for a name that is no
        clock.
        """
        for name in (from_, to):
            if name not in get_args(Clock):
                raise ValueError(f"{name!r} is no clock of a print; clocks are {', '.join(get_args(Clock))}")
        given = np.atleast_1d(np.asarray(values, np.float64))
        moves = self._to_moves(given, from_)
        out = given + 0.0 * moves if from_ == to and to != "z" else self._from_moves(moves, to)
        return out.reshape(np.shape(values))

    # to the hub ------------------------------------------------------------------------------------
    def _to_moves(self, values: FloatColumn, clock: Clock) -> FloatColumn:
        to: dict[str, Callable[[FloatColumn], FloatColumn]] = {
            "move": lambda v: np.where((v >= 0) & (v <= len(self)), v, np.nan),
            "s": lambda v: _reach(self.t, v),
            "filament": lambda v: _reach(self.filament, v),
            "path": lambda v: _reach(self.path, v),
            "layer": lambda v: _reach(self.t, self._layer_seconds(v)),
            "z": lambda v: _reach(self.t, self._layer_seconds(self._layer_of_height(v))),
            "line": self._moves_of_lines,
        }
        return to[clock](values)

    def _moves_of_lines(self, lines: FloatColumn) -> FloatColumn:
        at = np.searchsorted(self.line, np.floor(lines), side="left").astype(np.float64)
        return np.where((lines >= 1) & (lines < self.lines + 1), at, np.nan)

    def _layer_seconds(self, layers: FloatColumn) -> FloatColumn:
        return _interpolate(layers, np.arange(len(self.layer_s), dtype=np.float64), self.layer_s)

    def _layer_of_height(self, heights: FloatColumn) -> FloatColumn:
        layer = np.searchsorted(self.layer_z, heights - HEIGHT_SLACK_MM, side="left").astype(np.float64)
        known = (layer < len(self.layer_z)) & (heights > self.floor_z - HEIGHT_SLACK_MM)
        return np.where(known, layer, np.nan)

    # from the hub ----------------------------------------------------------------------------------
    def _from_moves(self, moves: FloatColumn, clock: Clock) -> FloatColumn:
        of: dict[str, Callable[[FloatColumn], FloatColumn]] = {
            "move": lambda m: m,
            "s": lambda m: _at(self.t, m),
            "filament": lambda m: _at(self.filament, m),
            "path": lambda m: _at(self.path, m),
            "layer": self._layer_at,
            "z": self._height_at,
            "line": self._line_at,
        }
        return of[clock](moves)

    def _layer_at(self, moves: FloatColumn) -> FloatColumn:
        """Whole exactly at a layer's start, where a plain interpolation might round to either side."""
        seconds = _at(self.t, moves)
        if not len(self.layer_s):
            return np.full(len(moves), np.nan)
        layer = np.searchsorted(self.layer_s, seconds + ROUNDING_S, side="right") - 1
        layer = np.clip(layer, 0, len(self.layer_s) - 2)
        begin, end = self.layer_s[layer], self.layer_s[layer + 1]
        share = (seconds - begin) / np.where(end > begin, end - begin, 1.0)
        inside = (seconds >= self.layer_s[0] - ROUNDING_S) & (seconds <= self.layer_s[-1] + ROUNDING_S)
        return np.where(inside, layer + np.clip(share, 0.0, 1.0), np.nan)

    def _height_at(self, moves: FloatColumn) -> FloatColumn:
        layer = self._layer_at(moves)
        known = np.isfinite(layer)
        if not len(self.layer_z):
            return layer
        index = np.minimum(np.where(known, layer, 0).astype(np.int64), len(self.layer_z) - 1)
        return np.where(known, self.layer_z[index], np.nan)

    def _line_at(self, moves: FloatColumn) -> FloatColumn:
        known = np.isfinite(moves)
        if not len(self):
            return np.full(len(moves), np.nan)
        index = np.minimum(np.where(known, moves, 0).astype(np.int64), len(self) - 1)
        return np.where(known, self.line[index].astype(np.float64), np.nan)


def _reach(ends: FloatColumn, values: FloatColumn) -> FloatColumn:
    """First move position at which a rising column reaches `values`; `ends` (n,), 0 before the first move."""
    n = len(ends)
    if n == 0:
        return np.full(len(values), np.nan)
    inside = (values >= 0) & (values <= ends[-1])
    wanted = np.where(inside, values, 0.0)
    move = np.searchsorted(ends, wanted, side="left")
    begin = np.where(move > 0, ends[np.maximum(move - 1, 0)], 0.0)
    step = ends[move] - begin
    share = np.where(wanted > begin, (wanted - begin) / np.where(step > 0, step, 1.0), 0.0)
    return np.where(inside, move + share, np.nan)


def _at(ends: FloatColumn, moves: FloatColumn) -> FloatColumn:
    """Value of a column at move positions; linear within a move."""
    n = len(ends)
    if n == 0:
        return np.full(len(moves), np.nan)
    known = np.isfinite(moves)
    position = np.where(known, moves, 0.0)
    move: NDArray[np.int64] = np.minimum(position.astype(np.int64), n - 1)
    begin = np.where(move > 0, ends[np.maximum(move - 1, 0)], 0.0)
    return np.where(known, begin + (position - move) * (ends[move] - begin), np.nan)


def _interpolate(values: FloatColumn, x: FloatColumn, y: FloatColumn) -> FloatColumn:
    if not len(x):
        return np.full(len(values), np.nan)
    known = np.isfinite(values)
    out = np.interp(np.where(known, values, 0.0), x, y, left=np.nan, right=np.nan)
    return np.where(known, out, np.nan)
