"""Kernels that cut the beads of a toolpath into chains: beads laid one after another without a travel.

A chain that comes back to its own start is closed there, and the next begins: so walls linked without a travel,
and the turns of a rising wall, fall apart into loops. Lengths mm; `fed` is filament.
"""

from __future__ import annotations

import math

import numpy as np

from beadwright.toolpath.compiled import compiled
from beadwright.toolpath.slots import Bytes, Floats, Shorts, Singles

BEAD = 1  # `columns.Kind`
APART_MM = 0.02  # a shorter step without filament parts no chain
REVERSED = -0.7  # cosine below which two rows run against each other
CLOSED_WITHIN = 0.6  # of a bead width
CLOSED_WITHIN_WIDE = 2.0  # the same for a chain that plainly encloses an area (coasting leaves the end open)
THINNEST = 0.35  # area over width and length: two rows of a raster enclose less
PLAIN = 1.0

# columns of the floats of a chain
LENGTH, FED, AREA, X0, Y0, X1, Y1, RISE, LONGEST = range(9)
# columns of its integers
FIRST, LAST, LAYER, CLOSED, REVERSALS, ROWS = range(6)


@compiled
def fed_per_mm(x: Floats, y: Floats, z: Floats, e: Floats, kind: Bytes, tool: Bytes, start: Floats) -> Singles:
    """Return mm of filament per mm of path of each bead, `(n,)` float32; 0 for other moves."""
    out = np.zeros(len(x), np.float32)
    before = np.zeros(256)
    px, py, pz = start[0], start[1], start[2]
    for i in range(len(x)):
        if kind[i] == BEAD:
            length = math.sqrt((x[i] - px) ** 2 + (y[i] - py) ** 2 + (z[i] - pz) ** 2)
            if length > 0:
                out[i] = (e[i] - before[tool[i]]) / length
        before[tool[i]] = e[i]
        px, py, pz = x[i], y[i], z[i]
    return out


@compiled
def find_chains(
    x: Floats, y: Floats, z: Floats, kind: Bytes, tool: Bytes, layer: Shorts, fed: Singles, start: Floats, width: float
) -> tuple[Shorts, Singles, Shorts]:
    """Return the chain of each move, `(n,)` or -1, and the chains' floats `(m, 9)` and integers `(m, 6)`."""
    chain = np.full(len(x), -1, np.int32)
    f = np.zeros((1024, 9), np.float32)
    k = np.zeros((1024, 6), np.int32)
    m = -1  # the chain being laid
    is_open = False
    ex = ey = ez = math.nan  # where its last bead ended
    sx = sy = 0.0  # where it began
    dx = dy = rows = 0.0  # direction of its last long bead
    area = length = 0.0
    for i in range(len(x)):
        if kind[i] != BEAD:
            continue
        ax, ay, az = start[0], start[1], start[2]
        if i > 0:
            ax, ay, az = x[i - 1], y[i - 1], z[i - 1]
        jump = abs(ax - ex) + abs(ay - ey) + abs(az - ez)
        if not (is_open and jump <= APART_MM and layer[i] == k[m, LAYER] and tool[i] == tool[k[m, FIRST]]):
            if is_open:
                _finish(f, k, m, area, length, math.hypot(ex - sx, ey - sy), width)
            m += 1
            if m == len(f):
                f, k = _grown(f, k)
            k[m, FIRST], k[m, LAYER] = i, layer[i]
            f[m, X0] = f[m, X1] = ax
            f[m, Y0] = f[m, Y1] = ay
            sx, sy, dx, dy, rows, area, length, is_open = ax, ay, 0.0, 0.0, 0.0, 0.0, 0.0, True
        ux, uy = x[i] - ax, y[i] - ay
        step = math.sqrt(ux * ux + uy * uy)
        length += step
        area += 0.5 * ((ax - sx) * (y[i] - sy) - (x[i] - sx) * (ay - sy))
        f[m, FED] += fed[i] * math.sqrt(step * step + (z[i] - az) ** 2)
        f[m, RISE] += abs(z[i] - az)
        f[m, LONGEST] = max(f[m, LONGEST], step)
        f[m, X0], f[m, X1] = min(f[m, X0], x[i]), max(f[m, X1], x[i])
        f[m, Y0], f[m, Y1] = min(f[m, Y0], y[i]), max(f[m, Y1], y[i])
        if step > 2.5 * width:
            ux, uy = ux / step, uy / step
            rows += 1
            if ux * dx + uy * dy < REVERSED:
                k[m, REVERSALS] += 1
            dx, dy = ux, uy
        k[m, ROWS] = rows
        k[m, LAST] = i + 1
        chain[i] = m
        ex, ey, ez = x[i], y[i], z[i]
        gap = math.hypot(ex - sx, ey - sy)
        if gap < CLOSED_WITHIN * width and length > 6 * width and abs(area) > THINNEST * width * length:
            _finish(f, k, m, area, length, gap, width)
            is_open = False
    if is_open:
        _finish(f, k, m, area, length, math.hypot(ex - sx, ey - sy), width)
    return chain, f[: m + 1].copy(), k[: m + 1].copy()


@compiled
def _finish(f: Singles, k: Shorts, m: int, area: float, length: float, gap: float, width: float) -> None:
    """Write length and area of chain `m` and whether it is a loop."""
    f[m, LENGTH], f[m, AREA] = length, area
    thick = abs(area) / max(width * length, 1e-9)
    near = gap < CLOSED_WITHIN * width or (gap < CLOSED_WITHIN_WIDE * width and gap < 0.1 * length)
    limit = THINNEST if gap < CLOSED_WITHIN * width else PLAIN
    k[m, CLOSED] = near and length > 6 * width and thick > limit


@compiled
def _grown(f: Singles, k: Shorts) -> tuple[Singles, Shorts]:
    """Return the tables with room for twice as many chains."""
    more_f = np.zeros((2 * len(f), f.shape[1]), np.float32)
    more_k = np.zeros((2 * len(k), k.shape[1]), np.int32)
    more_f[: len(f)] = f
    more_k[: len(k)] = k
    return more_f, more_k
