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

NOTHING_MM3 = 1e-9  # per pixel
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
def _cast(a, b, spread, volume, value, shelf, span):  # type: ignore[no-untyped-def]
    """Add the shadow of a level bead, columns `a` … `b`, to the shelf of its height; widen the shelf's touched span."""
    columns = shelf.shape[1] - 1
    left, run = min(a, b), abs(b - a)
    half = 0.5 * spread
    first, last = max(int(np.floor(left - half)), 0), min(int(np.floor(left + run + half)), columns - 1)
    if first > last:
        return
    flat_from = max(int(np.ceil(min(left + half, left + run - half))), first)  # between them the shadow is even
    flat_to = min(int(np.floor(max(left + half, left + run - half))), last + 1)
    even = volume / max(run, spread, 1e-9)
    if flat_to <= flat_from:
        flat_from = flat_to = last + 1
    before = _shadow(first - left, run, spread)
    for column in range(first, flat_from):
        after = _shadow(column + 1.0 - left, run, spread)
        shelf[0, column] += volume * (after - before)
        shelf[1, column] += volume * (after - before) * value
        before = after
    shelf[2, flat_from] += even  # rows 2 and 3: only where the even part begins and ends
    shelf[2, flat_to] -= even
    shelf[3, flat_from] += even * value
    shelf[3, flat_to] -= even * value
    before = _shadow(flat_to - left, run, spread)
    for column in range(flat_to, last + 1):
        after = _shadow(column + 1.0 - left, run, spread)
        shelf[0, column] += volume * (after - before)
        shelf[1, column] += volume * (after - before) * value
        before = after
    span[0], span[1] = min(span[0], first), max(span[1], last)


@njit(cache=True, nogil=True)
def _shelve(middle, half, shelf, span, plastic, weighted):  # type: ignore[no-untyped-def]
    """Move what lies on the shelf into the picture, rows `middle` ± `half`, and leave it empty."""
    rows = plastic.shape[0]
    even = even_weighted = 0.0
    for column in range(span[0], span[1] + 1):
        even += shelf[2, column]
        even_weighted += shelf[3, column]
        if even < NOTHING_MM3:  # what rounding leaves behind an end
            even = even_weighted = 0.0
        shelf[0, column] += even
        shelf[1, column] += even_weighted
    top, bottom = max(int(np.floor(middle - half)), 0), min(int(np.floor(middle + half)), rows - 1)
    over = _lens((top - middle) / half)
    for row in range(top, bottom + 1):
        under = _lens((row + 1.0 - middle) / half)
        for column in range(span[0], span[1] + 1):
            plastic[row, column] += shelf[0, column] * (under - over)
            weighted[row, column] += shelf[1, column] * (under - over)
        over = under
    shelf[:, max(span[0], 0) : span[1] + 2] = 0.0
    span[0], span[1] = shelf.shape[1], -1


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
def _lay_thread(px, py, qx, qy, volume, value, sums, rows, columns):  # type: ignore[no-untyped-def]
    """Lay a bead seen from above as a thread one pixel wide; `sums` holds volume and weighted volume by turns."""
    along, across, step, aside = columns, rows, 2, 2 * columns
    if abs(qx - px) < abs(qy - py):
        px, py, qx, qy = py, px, qy, qx
        along, across, step, aside = rows, columns, 2 * columns, 2
    if px > qx:
        px, py, qx, qy = qx, qy, px, py
    if qx - px < 1e-6:
        qx = px + 1e-6
    per_pixel = volume / (qx - px)
    slope = (qy - py) / (qx - px)
    for i in range(max(int(np.floor(px)), 0), min(int(np.floor(qx)), along - 1) + 1):
        start, end = max(px, float(i)), min(qx, i + 1.0)
        here = per_pixel * (end - start)
        middle = py + slope * (0.5 * (start + end) - px) - 0.5
        j = int(np.floor(middle))
        beyond = here * (middle - j)
        at = i * step + j * aside
        if 0 <= j < across:
            sums[at] += here - beyond
            sums[at + 1] += (here - beyond) * value
        if 0 <= j + 1 < across:
            sums[at + aside] += beyond
            sums[at + aside + 1] += beyond * value


@njit(cache=True, nogil=True)
def lay_from_side(beads, moves, heights, values, side, frame, plastic, weighted):  # type: ignore[no-untyped-def]
    """Lay the moves `beads` (m,) onto the picture `plastic` (rows, columns) mm³ and `weighted`, both added to.

    moves: ends x, y, z (n,) mm of every move, `start` (3,) where the first begins, volume (n,) mm³.
    heights: (m,) mm, how tall each bead lies. values: (m,) the quantity.
    side: 0 from the front (x across, z up), 1 from the right (y across, z up).
    frame: left mm, top mm, pixel mm, narrowest and widest bead mm that is believed.
    """
    x, y, z, start, volume = moves
    left, top, pixel, narrow, wide = frame
    shelf, span = np.zeros((4, plastic.shape[1] + 1)), np.array([plastic.shape[1] + 1, -1])
    shelf_at, shelf_half = 0.0, 1.0
    for k in range(len(beads)):
        i = beads[k]
        ax, ay, az = (x[i - 1], y[i - 1], z[i - 1]) if i > 0 else (start[0], start[1], start[2])
        dx, dy = x[i] - ax, y[i] - ay
        plan, rise = np.sqrt(dx * dx + dy * dy), z[i] - az
        length = np.sqrt(plan * plan + rise * rise)
        v, h, value = volume[i], heights[k], values[k]
        if not (v > 0.0 and length > 0.0 and h > 0.0 and length < np.inf and abs(value) < np.inf):
            continue
        width = min(max(v / (length * h), narrow), wide)
        begin, run, across = (ax, dx, abs(dy)) if side == 0 else (ay, dy, abs(dx))
        spread = width * (across / plan if plan > 0.0 else 1.0) / pixel
        half = 0.5 * h / pixel
        pieces = int(min(abs(rise) / pixel * 2.0, MOST_PIECES - 1.0)) + 1
        for n in range(pieces):
            a, b = begin + run * (n / pieces), begin + run * ((n + 1.0) / pieces)
            middle = (top - (az + rise * ((n + 0.5) / pieces))) / pixel + half
            if middle != shelf_at or half != shelf_half:
                _shelve(shelf_at, shelf_half, shelf, span, plastic, weighted)
                shelf_at, shelf_half = middle, half
            _cast((a - left) / pixel, (b - left) / pixel, spread, v / pieces, value, shelf, span)
    _shelve(shelf_at, shelf_half, shelf, span, plastic, weighted)


@njit(cache=True, nogil=True)
def lay_from_above(beads, moves, heights, values, frame, plastic, weighted):  # type: ignore[no-untyped-def]
    """Lay beads as `lay_from_side` does, seen from above (x across, y up), each as wide as it is."""
    x, y, z, start, volume = moves
    left, top, pixel, narrow, wide = frame
    for k in range(len(beads)):
        i = beads[k]
        ax, ay, az = (x[i - 1], y[i - 1], z[i - 1]) if i > 0 else (start[0], start[1], start[2])
        length = np.sqrt((x[i] - ax) ** 2 + (y[i] - ay) ** 2 + (z[i] - az) ** 2)
        v, h, value = volume[i], heights[k], values[k]
        if v > 0.0 and length > 0.0 and h > 0.0 and length < np.inf and abs(value) < np.inf:
            width = min(max(v / (length * h), narrow), wide) / pixel
            px, py, qx, qy = (ax - left) / pixel, (top - ay) / pixel, (x[i] - left) / pixel, (top - y[i]) / pixel
            _lay_plan(px, py, qx, qy, width, v, value, plastic, weighted)


@njit(cache=True, nogil=True)
def lay_threads(beads, moves, values, frame, picture):  # type: ignore[no-untyped-def]
    """Lay beads seen from above onto `picture` (rows, columns, 2) as threads, to be thickened all at once."""
    x, y, _, start, volume = moves
    left, top, pixel = frame[0], frame[1], frame[2]
    rows, columns, sums = picture.shape[0], picture.shape[1], picture.reshape(-1)
    for k in range(len(beads)):
        i = beads[k]
        ax, ay = (x[i - 1], y[i - 1]) if i > 0 else (start[0], start[1])
        v, value = volume[i], values[k]
        if v > 0.0 and abs(value) < np.inf and abs(x[i] - ax) < np.inf and abs(y[i] - ay) < np.inf:
            px, py, qx, qy = (ax - left) / pixel, (top - ay) / pixel, (x[i] - left) / pixel, (top - y[i]) / pixel
            _lay_thread(px, py, qx, qy, v, value, sums, rows, columns)


@njit(cache=True, nogil=True)
def reach(beads, end, start):  # type: ignore[no-untyped-def]
    """Return the least and the greatest value that a column takes at either end of the beads; `start` before move 0."""
    low, high = np.inf, -np.inf
    for k in range(len(beads)):
        i = beads[k]
        a, b = end[i - 1] if i > 0 else start, end[i]
        low, high = min(low, a, b), max(high, a, b)
    return low, high
