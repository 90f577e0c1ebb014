"""A toolpath as columns: what every later floor reads.

Lengths in mm, speeds in mm/s, temperatures in °C. Positions are in the machine's own frame: `G92` shifts are
undone, inches converted, relative moves resolved. No per-move Python objects anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

FloatColumn = NDArray[np.float64]
IntColumn = NDArray[np.int32]


class Kind(IntEnum):
    """What a move does. A move is a bead when it feeds filament forward while the head travels."""

    TRAVEL = 0  # head travels (or stands), no filament
    BEAD = 1  # head travels in any axis, filament forward
    RETRACT = 2  # filament backward, head standing or travelling
    UNRETRACT = 3  # filament forward, head standing (priming too)
    DWELL = 4  # nothing moves


@dataclass(frozen=True)
class Events:
    """Values that change now and then. Entry i takes effect just before move `move[i]`."""

    move: IntColumn  # (k,) index into the move columns, 0 … n
    line: IntColumn  # (k,) source line, 1-based
    value: FloatColumn  # (k,) unit by table
    tool: IntColumn  # (k,) tool or fan number, -1 where the word named none

    def __len__(self) -> int:
        return len(self.move)

    def at_moves(self, count: int, before: float = np.nan) -> FloatColumn:
        """Return the value in force at each of `count` moves, `(count,)`; `before` where none was set yet."""
        out = np.full(count, before)
        if len(self):
            index = np.searchsorted(self.move, np.arange(count), side="right") - 1
            known = index >= 0
            out[known] = self.value[index[known]]
        return out


@dataclass(frozen=True)
class EventTables:
    """All sparse tables of a toolpath; units behind each."""

    nozzle_c: Events  # °C, M104 M109
    bed_c: Events  # °C, M140 M190
    chamber_c: Events  # °C, M141 M191
    fan_percent: Events  # 0 … 100, M106 M107
    acceleration: Events  # mm/s², beads (M204 P or S)
    travel_acceleration: Events  # mm/s², travels (M204 T or S)
    retract_acceleration: Events  # mm/s², filament alone (M204 R)
    axis_acceleration: Events  # mm/s², M201; `tool` holds the axis 0 x 1 y 2 z 3 e
    axis_speed: Events  # mm/s, M203; `tool` holds the axis
    corner: Events  # M205: `tool` 0 x 1 y 2 z 3 e: corner speed mm/s; 4: junction deviation mm
    heat_wait: Events  # M109 M190 M191: value is the M number; the machine stands until the heat is there
    pause: Events  # M0 M1 M25 M226 M600 M601: value is the M number
    tool_change: Events  # value is the new tool
    dwell_s: Events  # s, G4
    speed_percent: Events  # M220, already applied to `feed`
    flow_percent: Events  # M221, already applied to `e`
    comment: Events  # comments that partition the moves; `tool` indexes `Toolpath.comments`


@dataclass(frozen=True)
class Problem:
    """Something in the file that was not understood or cannot be right, and what was made of it."""

    line: int  # 1-based
    text: str  # the words as found, cut to 80 characters
    meaning: str  # one sentence: what it is and what was done with it
    count: int = 1  # how many lines share it


@dataclass(frozen=True)
class Toolpath:
    """A toolpath file as columns of equal length n, one entry a move (an arc is several chords)."""

    x: FloatColumn  # (n,) float64, mm, end of move
    y: FloatColumn
    z: FloatColumn
    e: FloatColumn  # (n,) float64, mm of filament fed so far by this move's tool, resets removed
    feed: NDArray[np.float32]  # (n,) mm/s commanded along the path
    kind: NDArray[np.uint8]  # (n,) Kind
    chord: NDArray[np.bool_]  # (n,) True where this move is a chord of an arc and not its first chord
    line: IntColumn  # (n,) 1-based source line
    tool: NDArray[np.uint8]  # (n,)
    start: FloatColumn  # (3,) where the head stood before the first move, mm
    events: EventTables
    comments: tuple[str, ...]  # distinct comment texts kept, indexed by `events.comment.tool`
    problems: tuple[Problem, ...]
    name: str
    bytes: int  # size as read, unpacked
    lines: int
    arcs: int  # G2 and G3 words
    extrusion: str  # "absolute" | "relative" | "mixed"
    units: str  # "mm" | "inch" | "mixed"
    truncated: bool  # the last line ends in the middle of a word

    def __len__(self) -> int:
        return len(self.x)

    @cached_property
    def fed(self) -> FloatColumn:
        """Filament fed in each move, mm, `(n,)`; negative where it is drawn back."""
        out = np.empty(len(self))
        for tool in np.unique(self.tool):
            mine = self.tool == tool
            out[mine] = np.diff(self.e[mine], prepend=0.0)
        return out

    @cached_property
    def delta(self) -> FloatColumn:
        """Travel of the head in each move, mm, `(n, 3)`."""
        ends = np.column_stack([self.x, self.y, self.z])
        return np.diff(ends, axis=0, prepend=self.start[None, :])

    @cached_property
    def length(self) -> FloatColumn:
        """Path length of each move, mm, `(n,)`; 0 where only filament moves."""
        delta = self.delta
        return np.asarray(np.sqrt(np.einsum("ij,ij->i", delta, delta)))

    @cached_property
    def is_bead(self) -> NDArray[np.bool_]:
        """True where filament is fed forward while the head travels, `(n,)`."""
        return np.equal(self.kind, Kind.BEAD)
