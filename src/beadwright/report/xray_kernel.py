"""Kernels that lay beads on a picture, seen through from one side.

Every bead spreads its volume over the pixels it covers, so the sum over the picture is the plastic in the print. Across
itself a bead is a lens: thick in the middle, nothing at its rim (a parabola, whose running integral is a cubic, so each
pixel gets its exact share and no sample is taken). Two pictures are kept: volume, and volume times the quantity; their
ratio is the mean of the quantity along the line of sight.

Everything here is in pixels, rows counted downwards from the top left corner; volumes in mm³.
"""

from __future__ import annotations

import numpy as np
from numba import njit

MOST_PIECES = 4096  # a bead that climbs steeply is cut into level pieces, at most this many


@njit(cache=True, nogil=True, inline="always")
def _lens(u):  # type: ignore[no-untyped-def]
    """Share of a lens of half width 1 that lies left of `u`."""
    if u <= -1.0:
        return 0.0
    if u >= 1.0:
        return 1.0
    return 0.5 + 0.75 * u - 0.25 * u * u * u


@njit(cache=True, nogil=True, inline="always")
def _shadow(t, run, spread):  # type: ignore[no-untyped-def]
    """Share left of `t` of a rectangle's shadow: a box 0 … `run` smeared by a box of width `spread`."""
    if spread < 1e-3:  # too sharp to tell apart
        return min(max(t / max(run, 1e-9), 0.0), 1.0)
    if run < 1e-3:
        return min(max(t / spread + 0.5, 0.0), 1.0)
    half = 0.5 * spread
    a, b = max(t + half, 0.0), max(t - half, 0.0)
    c, d = max(t - run + half, 0.0), max(t - run - half, 0.0)
    return min(max((a * a - b * b - c * c + d * d) / (2.0 * run * spread), 0.0), 1.0)


@njit(cache=True, nogil=True)
def _lay_level(a, b, middle, half, spread, volume, value, plastic, weighted):  # type: ignore[no-untyped-def]
    """Lay a level piece of a bead seen from the side: columns `a` … `b`, rows `middle` ± `half`."""
    rows, columns = plastic.shape
    left, run = min(a, b), abs(b - a)
    first = max(int(np.floor(left - 0.5 * spread)), 0)
    last = min(int(np.floor(left + run + 0.5 * spread)), columns - 1)
    top, bottom = max(int(np.floor(middle - half)), 0), min(int(np.floor(middle + half)), rows - 1)
    before = _shadow(first - left, run, spread)
    for column in range(first, last + 1):
        after = _shadow(column + 1.0 - left, run, spread)
        here = volume * (after - before)
        before = after
        if here <= 0.0:
            continue
        over = _lens((top - middle) / half)
        for row in range(top, bottom + 1):
            under = _lens((row + 1.0 - middle) / half)
            share = here * (under - over)
            over = under
            plastic[row, column] += share
            weighted[row, column] += share * value


@njit(cache=True, nogil=True)
def _lay_steep(a, b, height_a, height_b, half, spread, volume, value, plastic, weighted):  # type: ignore[no-untyped-def]
    """Lay a bead seen from the side whose ends lie at different heights, as level pieces."""
    pieces = int(min(abs(height_b - height_a) * 2.0, MOST_PIECES - 1.0)) + 1
    for n in range(pieces):
        p, q = n / pieces, (n + 1.0) / pieces
        middle = height_a + (height_b - height_a) * (n + 0.5) / pieces
        _lay_level(a + (b - a) * p, a + (b - a) * q, middle, half, spread, volume / pieces, value, plastic, weighted)


@njit(cache=True, nogil=True)
def _lay_plan(px, py, qx, qy, width, volume, value, plastic, weighted):  # type: ignore[no-untyped-def]
    """Lay a bead seen from above: a stroke p → q, cut off square to the picture's nearer axis.

    The stroke is scanned along that axis; in each column (or row) it is a lens `width` wide, measured aslant. Strokes
    that go on from one another then neither overlap nor gape.
    """
    rows, columns = plastic.shape
    flat = abs(qx - px) >= abs(qy - py)
    if not flat:
        px, py, qx, qy = py, px, qy, qx
    if px > qx:
        px, py, qx, qy = qx, qy, px, py
    along, across = (columns, rows) if flat else (rows, columns)
    run = qx - px
    if run < 1e-3:  # straight up, or next to nothing: a dab as long as it is wide
        px -= 0.5 * width
        run += width
        qx = px + run
        qy = py
    slope = (qy - py) / run
    half = 0.5 * width * np.sqrt(1.0 + slope * slope)
    first, last = max(int(np.floor(px)), 0), min(int(np.floor(qx)), along - 1)
    for i in range(first, last + 1):
        start, end = max(px, float(i)), min(qx, i + 1.0)
        here = volume * (end - start) / run
        middle = py + slope * (0.5 * (start + end) - px)
        low, high = max(int(np.floor(middle - half)), 0), min(int(np.floor(middle + half)), across - 1)
        before = _lens((low - middle) / half)
        for j in range(low, high + 1):
            after = _lens((j + 1.0 - middle) / half)
            share = here * (after - before)
            before = after
            row, column = (j, i) if flat else (i, j)
            plastic[row, column] += share
            weighted[row, column] += share * value


@njit(cache=True, nogil=True)
def lay_beads(beads, moves, heights, values, side, frame, plastic, weighted):  # type: ignore[no-untyped-def]
    """Lay the moves `beads` (m,) onto the picture `plastic` (rows, columns) mm³ and `weighted`, both added to.

    moves: ends x, y, z (n,) mm of every move, `start` (3,) where the first begins, volume (n,) mm³.
    heights: (m,) mm, how tall each bead lies. values: (m,) the quantity.
    side: 0 from the front (x, z), 1 from the right (y, z), 2 from above (x, y).
    frame: left mm, top mm, pixel mm, narrowest and widest bead mm that is believed.
    """
    x, y, z, start, volume = moves
    left, top, pixel, narrow, wide = frame
    for k in range(len(beads)):
        i = beads[k]
        ax, ay, az = (x[i - 1], y[i - 1], z[i - 1]) if i > 0 else (start[0], start[1], start[2])
        bx, by, bz = x[i], y[i], z[i]
        plan = np.hypot(bx - ax, by - ay)
        length = np.hypot(plan, bz - az)
        v, h, value = volume[i], heights[k], values[k]
        if not (v > 0.0 and length > 0.0 and h > 0.0 and np.isfinite(length) and value == value):
            continue
        width = min(max(v / (length * h), narrow), wide)
        if side == 2:
            px, py, qx, qy = (ax - left) / pixel, (top - ay) / pixel, (bx - left) / pixel, (top - by) / pixel
            _lay_plan(px, py, qx, qy, width / pixel, v, value, plastic, weighted)
            continue
        a, b, across = (ax, bx, by - ay) if side == 0 else (ay, by, bx - ax)
        spread = width * (abs(across) / plan if plan > 0.0 else 1.0) / pixel
        half = 0.5 * h / pixel
        a, b = (a - left) / pixel, (b - left) / pixel
        over, under = (top - az) / pixel + half, (top - bz) / pixel + half
        if over == under:
            _lay_level(a, b, over, half, spread, v, value, plastic, weighted)
        else:
            _lay_steep(a, b, over, under, half, spread, v, value, plastic, weighted)
