"""A kernel that picks the beads out of the move columns."""

from __future__ import annotations

import math

import numpy as np

from beadwright.toolpath.compiled import compiled
from beadwright.toolpath.slots import Bytes, Floats, Shorts

BEAD = 1  # `columns.Kind`


@compiled
def bead_columns(x: Floats, y: Floats, z: Floats, kind: Bytes, start: Floats) -> tuple[Shorts, Floats, Floats, Floats]:
    """Return of each bead its move, z at its start, z at its end, and length [mm]."""
    count = 0
    for i in range(len(kind)):
        if kind[i] == BEAD:
            count += 1
    move = np.empty(count, np.int32)
    low, high, length = np.empty(count), np.empty(count), np.empty(count)
    row = 0
    for i in range(len(kind)):
        if kind[i] != BEAD:
            continue
        x0, y0, z0 = start[0], start[1], start[2]
        if i > 0:
            x0, y0, z0 = x[i - 1], y[i - 1], z[i - 1]
        move[row] = i
        low[row] = z0
        high[row] = z[i]
        length[row] = math.sqrt((x[i] - x0) ** 2 + (y[i] - y0) ** 2 + (z[i] - z0) ** 2)
        row += 1
    return move, low, high, length


@compiled
def bead_box(
    x: Floats, y: Floats, kind: Bytes, start: Floats, first: int, end: int
) -> tuple[float, float, float, float]:
    """Return x and y low, x and y high of the beads from move `first` up to `end` [mm]."""
    x0, y0, x1, y1 = math.inf, math.inf, -math.inf, -math.inf
    for i in range(first, end):
        if kind[i] == BEAD:
            px, py = (x[i - 1], y[i - 1]) if i > 0 else (start[0], start[1])
            x0, x1 = min(x0, x[i], px), max(x1, x[i], px)
            y0, y1 = min(y0, y[i], py), max(y1, y[i], py)
    return x0, y0, x1, y1
