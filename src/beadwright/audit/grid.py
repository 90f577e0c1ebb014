"""Kernels that lay beads on a plan grid, one layer at a time.

Why: whether a layer is solid, sparse or empty at a place, and whether the nozzle crosses what it has just
laid, cannot be read off moves one by one. Each layer is rastered into cells; three pictures of it are kept
only while it is the current layer: *volume* (mm³ of plastic per cell), *struck* (a bead's centre line
passes), and *inside* (not reachable from outside the layer without crossing a bead). Per column of cells a
small state machine carries the counts upward, so memory is a few plan-sized arrays, whatever the number of
layers.

Lengths in mm, volumes in mm³. Cells are square; cell (i, j) covers x0 + i·cell … x0 + (i + 1)·cell.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .contour_kernels import cross

F8 = NDArray[np.float64]
F4 = NDArray[np.float32]
I4 = NDArray[np.int32]
U1 = NDArray[np.uint8]


@njit(cache=True, nogil=True)
def _lay(px, py, qx, qy, volume, vol, struck):  # type: ignore[no-untyped-def]
    """Spread `volume` of the part evenly along the segment p → q (cell units); mark the cells it passes."""
    nx, ny = vol.shape
    inside = 0 <= px < nx and 0 <= py < ny and 0 <= qx < nx and 0 <= qy < ny
    if not inside:  # NaN too
        return
    dx, dy = qx - px, qy - py
    count = int(max(abs(dx), abs(dy))) + 1  # samples at most a cell apart touch, at a corner at least: no holes
    struck[int(px), int(py)] = 1  # both ends: consecutive beads then share a cell
    struck[int(qx), int(qy)] = 1
    share = np.float32(volume / count)
    dx /= count
    dy /= count
    x, y = px + 0.5 * dx, py + 0.5 * dy
    for _ in range(count):
        i, j = int(x), int(y)
        struck[i, j] = 1
        vol[i, j] += share
        x += dx
        y += dy


@njit(cache=True, nogil=True)
def _lay_other(px, py, qx, qy, struck):  # type: ignore[no-untyped-def]
    """Mark the cells that a bead of support, skirt or tower passes (2): a travel can cross it, it is no part."""
    nx, ny = struck.shape
    if not (0 <= px < nx and 0 <= py < ny and 0 <= qx < nx and 0 <= qy < ny):  # NaN too
        return
    count = int(max(abs(qx - px), abs(qy - py))) + 1
    for n in range(count + 1):
        i, j = int(px + n * (qx - px) / count), int(py + n * (qy - py) / count)
        if struck[i, j] == 0:
            struck[i, j] = 2


@njit(cache=True, nogil=True)
def _crosses(px, py, qx, qy, clear, struck, window):  # type: ignore[no-untyped-def]
    """True when the segment passes a struck cell of the window farther than `clear` cells from both ends."""
    i0, i1, j0, j1 = window
    length = np.sqrt((qx - px) ** 2 + (qy - py) ** 2)
    if not length > 2.0 * clear:  # NaN too
        return False
    count = int(min(length * 2.0, 1e5)) + 1
    for n in range(count):
        share = (n + 0.5) / count
        if share * length < clear or (1.0 - share) * length < clear:
            continue
        x, y = px + share * (qx - px), py + share * (qy - py)
        if i0 <= x < i1 and j0 <= y < j1 and struck[int(x), int(y)]:
            return True
    return False


@njit(cache=True, nogil=True)
def _flood(struck, inside, stack, i0, i1, j0, j1):  # type: ignore[no-untyped-def]
    """Mark as outside (0) every cell of the window reachable from its rim through cells not struck; the rest
    is inside.

    The window carries a rim one cell wide that no bead touches, so one seed reaches all round.
    """
    for i in range(i0, i1):
        for j in range(j0, j1):
            inside[i, j] = 1
    top = 0
    stack[0] = i0
    stack[1] = j0
    top = 1
    while top > 0:
        top -= 1
        i = stack[2 * top]
        j = stack[2 * top + 1]
        if inside[i, j] == 0 or struck[i, j] == 1:
            continue
        a = j
        while a > j0 and inside[i, a - 1] == 1 and struck[i, a - 1] != 1:
            a -= 1
        b = j
        while b < j1 - 1 and inside[i, b + 1] == 1 and struck[i, b + 1] != 1:
            b += 1
        for k in range(a, b + 1):
            inside[i, k] = 0
        for n in (i - 1, i + 1):
            if n < i0 or n >= i1:
                continue
            fresh = True
            for k in range(a, b + 1):
                open_cell = inside[n, k] == 1 and struck[n, k] != 1
                if open_cell and fresh:
                    stack[2 * top] = n
                    stack[2 * top + 1] = k
                    top += 1
                fresh = not open_cell


@njit(cache=True, nogil=True)
def _outline(k, moves, grid, inside, struck, window):  # type: ignore[no-untyped-def]
    """Fill the closed outer contours of layer k by even and odd crossings, so that holes are outside; their own cells
    are inside. False, and nothing done, where no contour is known.
    """
    x, y, _, start, kind, layer, _, _, outer, order, bounds = moves
    x0, y0, cell = grid[0], grid[1], grid[2]
    i0, i1, j0, j1 = window
    inside[i0:i1, j0:j1] = 0
    known = False
    first = -1
    sx = sy = 0.0
    ex = ey = 0.0
    for n in range(bounds[k], bounds[k + 1]):
        m = order[n]
        if kind[m] != 1 or layer[m] != k or outer[m] < 0:
            continue
        if m > 0:
            ax, ay = (x[m - 1] - x0) / cell, (y[m - 1] - y0) / cell
        else:
            ax, ay = (start[0] - x0) / cell, (start[1] - y0) / cell
        qx, qy = (x[m] - x0) / cell, (y[m] - y0) / cell
        if outer[m] != first:
            if first >= 0:
                cross(inside, ex, ey, sx, sy)
            first, sx, sy = outer[m], ax, ay
        cross(inside, ax, ay, qx, qy)
        ex, ey = qx, qy
        known = True
    if not known:
        return False
    cross(inside, ex, ey, sx, sy)  # what coasting left open
    for i in range(i0, i1):
        within = 0
        for j in range(j0, j1):
            within ^= inside[i, j]
            inside[i, j] = 1 if within or struck[i, j] == 1 else 0
    return True


@njit(cache=True, nogil=True)
def _sums(source, table, i0, i1, j0, j1):  # type: ignore[no-untyped-def]
    """Fill `table[i, j]` with the sum of `source` over [i0, i) × [j0, j)."""
    for j in range(j0, j1 + 1):
        table[i0, j] = 0
    for i in range(i0, i1):
        row = source[i, j0] - source[i, j0]  # zero of the source's own type
        table[i + 1, j0] = 0
        for j in range(j0, j1):
            row += source[i, j]
            table[i + 1, j + 1] = table[i, j + 1] + row


@njit(cache=True, nogil=True)
def _square(table, i, j, r):  # type: ignore[no-untyped-def]
    """Sum over the square of half width `r` about a cell; it must lie within the table."""
    return table[i + r + 1, j + r + 1] - table[i - r, j + r + 1] - table[i + r + 1, j - r] + table[i - r, j - r]


@njit(cache=True, nogil=True)
def _box(table, i, j, r, i0, i1, j0, j1):  # type: ignore[no-untyped-def]
    a, b = max(i - r, i0), min(i + r + 1, i1)
    c, d = max(j - r, j0), min(j + r + 1, j1)
    return table[b, d] - table[a, d] - table[b, c] + table[a, c]


# What is kept of a column of cells, by index into the last axis of `column` (nx, ny, 12) int16.
INSIDE = 0  # the column lay inside the part at the last layer seen
STATE = 1  # of the bottom count, see below
COUNT = 2  # solid layers of the bottom that is being counted
RUN = 3  # solid layers in a row up to here
OVER_SPARSE = 4  # a place that is not solid lies under that run
WELL_IN = 5  # far from any wall at the last layer seen
TOUCHED = 6  # a bead passed here once: tells the part from an opening through it
TOP = 7  # solid layers below the thinnest of the column's upper ends, −1 where none says anything
TOP_AT = 8  # the layer of that end
BOTTOM = 9  # solid layers over the thinnest of the column's lower ends, −1 where none says anything
BOTTOM_AT = 10  # the layer of that end
BEGAN = 11  # the layer at which the count in hand began

NOT_STARTED, WAITING, COUNTING, DONE, VOID = 0, 1, 2, 3, 4  # waiting: for the first solid layer over a raft


@njit(cache=True, nogil=True)
def scan_layers(moves, layers, grid, rules):  # type: ignore[no-untyped-def]
    """Walk the layers once; return counts per column, filling and crossings per layer.

    moves: x, y, z (n,) ends in mm; start (3,); kind (n,) 0 travel, 1 bead; layer (n,) 0-based or −1; volume (n,)
        mm³; is_part (n,) False for beads of support, skirt, brim, raft, tower; outer (n,) number of the closed outer
        contour a bead belongs to or −1; order (m,) moves in layer order; bounds (k + 1,): where each
        layer begins in it.
    layers: z, height (k,) mm; windows (k, 4) cell ranges i0 i1 j0 j1 of each layer's beads with a free rim.
    grid: x0, y0 mm, corner; cell mm; nx; ny.
    rules: reach, half width of the square over which filling is averaged, and margin, how far inside a column
    must lie
        to be judged, in cells, margin ≥ reach; solid_from, least share of plastic in a solid place; wait,
        layers within which the first solid one must begin (rafts); lift mm, clear mm, longest_free mm: a
        travel crosses when it stays within `lift` of the layer, is longer than `longest_free`, and passes a
        laid bead more than `clear` from its ends.

    Returns column (nx, ny, 12) int16, see above; sparse (k, 2) float64: plastic and room, mm³, of the judged
    places over a bottom that are not solid; crossings (k, 2) int64: how many, and the first such move or −1.
    """
    windows = layers[2]
    nx, ny = grid[3], grid[4]
    count = len(windows)
    vol = np.zeros((nx, ny), np.float32)
    struck = np.zeros((nx, ny), np.uint8)
    inside = np.zeros((nx, ny), np.uint8)
    fill_sums = np.zeros((nx + 1, ny + 1), np.float64)
    in_sums = np.zeros((nx + 1, ny + 1), np.int32)
    stack = np.zeros(4 * nx * ny + 8, np.int32)  # a cell is pushed at most once from each neighbouring row
    column = np.zeros((nx, ny, 12), np.int16)
    column[:, :, TOP] = -1
    column[:, :, BOTTOM] = -1
    sparse = np.zeros((count, 2), np.float64)
    crossings = np.zeros((count, 2), np.int64)
    below = windows[0]
    for k in range(count):
        window = windows[k]
        vol[window[0] : window[1], window[2] : window[3]] = 0
        struck[window[0] : window[1], window[2] : window[3]] = 0
        _lay_layer(k, moves, layers, grid, rules, vol, struck, crossings)
        if not _outline(k, moves, grid, inside, struck, window):
            _flood(struck, inside, stack, window[0], window[1], window[2], window[3])
        _sums(vol, fill_sums, window[0], window[1], window[2], window[3])
        _sums(inside, in_sums, window[0], window[1], window[2], window[3])
        _close_ended(column, inside, below, window, k)
        slab = grid[2] * grid[2] * layers[1][k]
        _judge(k, window, slab, rules, vol, struck, inside, fill_sums, in_sums, column, sparse)
        below = window
    _close_ended(column, inside, below, np.zeros(4, np.int64), count)
    _forget(column)
    return column, sparse, crossings


@njit(cache=True, nogil=True)
def _lay_layer(k, moves, layers, grid, rules, vol, struck, crossings):  # type: ignore[no-untyped-def]
    """Lay the beads of layer k in printing order; count travels that cross what is laid so far."""
    x, y, z, start, kind, layer, volume, is_part, _, order, bounds = moves
    z_layer, height, windows = layers
    x0, y0, cell, _, _ = grid
    lift, clear, longest_free = rules[4], rules[5], rules[6]
    per_mm = 1.0 / cell
    high, low = z_layer[k] + lift, z_layer[k] - 0.5 * height[k]
    crossings[k, 1] = -1
    for n in range(bounds[k], bounds[k + 1]):
        m = order[n]
        if kind[m] > 1:
            continue
        if m > 0:
            ax, ay, az = x[m - 1], y[m - 1], z[m - 1]
        else:
            ax, ay, az = start[0], start[1], start[2]
        px, py = (ax - x0) * per_mm, (ay - y0) * per_mm
        qx, qy = (x[m] - x0) * per_mm, (y[m] - y0) * per_mm
        if kind[m] == 1:
            if layer[m] == k:
                if is_part[m]:
                    _lay(px, py, qx, qy, volume[m], vol, struck)
                else:
                    _lay_other(px, py, qx, qy, struck)
        elif max(az, z[m]) < high and min(az, z[m]) > low:
            if (x[m] - ax) ** 2 + (y[m] - ay) ** 2 <= longest_free**2:
                continue
            if _crosses(px, py, qx, qy, clear * per_mm, struck, windows[k]):
                crossings[k, 0] += 1
                if crossings[k, 1] < 0:
                    crossings[k, 1] = m


@njit(cache=True, nogil=True)
def _close_ended(column, inside, below, window, k):  # type: ignore[no-untyped-def]
    """End the columns that lay inside at the layer below and do not in this one.

    A bottom count still running then never saw what lies over the bottom (a brim, a solid part): it says
    nothing.
    """
    i0, i1, j0, j1 = window
    for i in range(below[0], below[1]):
        for j in range(below[2], below[3]):
            at = column[i, j]
            if at[INSIDE] == 0:
                continue
            if i0 <= i < i1 and j0 <= j < j1 and inside[i, j]:
                continue
            at[INSIDE] = 0
            if at[WELL_IN] and at[OVER_SPARSE] and (at[TOP] < 0 or at[RUN] <= at[TOP]):
                at[TOP] = at[RUN]
                at[TOP_AT] = k - 1
            if at[STATE] == WAITING or at[STATE] == COUNTING:
                at[STATE] = VOID


@njit(cache=True, nogil=True)
def _judge(k, window, slab, rules, vol, struck, inside, fill_sums, in_sums, column, sparse):  # type: ignore[no-untyped-def]
    """Say of each place inside layer k whether it is solid, and carry its column through the layer."""
    i0, i1, j0, j1 = window
    reach, margin, solid_from, wait = rules[0], rules[1], rules[2], rules[3]
    whole = (2 * margin + 1) ** 2
    for i in range(i0, i1):
        for j in range(j0, j1):
            if not inside[i, j]:
                continue
            at = column[i, j]
            if struck[i, j] == 1:
                at[TOUCHED] = 1
            if i0 + margin <= i < i1 - margin and j0 + margin <= j < j1 - margin:
                well_in = _square(in_sums, i, j, margin) == whole
                room = _square(in_sums, i, j, reach) * slab
                fill = _square(fill_sums, i, j, reach)
            else:
                well_in = False
                room = _box(in_sums, i, j, reach, i0, i1, j0, j1) * slab
                fill = _box(fill_sums, i, j, reach, i0, i1, j0, j1)
            is_solid = fill >= solid_from * room
            _carry(at, k, is_solid, well_in, wait)
            if well_in and not is_solid and at[STATE] == DONE:  # beside a skirt nothing is laid: that is no infill
                sparse[k, 0] += vol[i, j]
                sparse[k, 1] += slab


@njit(cache=True, nogil=True)
def _carry(at, k, is_solid, well_in, wait):  # type: ignore[no-untyped-def]
    """Carry one column through one layer in which it lies inside the print."""
    if at[INSIDE] == 0:
        at[INSIDE] = 1
        at[RUN] = 0
        at[OVER_SPARSE] = 0
        at[STATE] = WAITING if k < wait else COUNTING
        at[COUNT] = 0
        at[BEGAN] = k
    at[WELL_IN] = well_in
    if is_solid:
        at[RUN] += 1
    else:
        at[RUN] = 0
        at[OVER_SPARSE] = 1
    if at[STATE] != WAITING and at[STATE] != COUNTING:
        return
    if not well_in:
        at[STATE] = VOID
        return
    if at[STATE] == WAITING and (is_solid or k >= wait):
        at[STATE] = COUNTING
    if at[STATE] != COUNTING:
        return
    if is_solid:
        at[COUNT] += 1
        return
    at[STATE] = DONE
    if at[BOTTOM] < 0 or at[COUNT] < at[BOTTOM]:
        at[BOTTOM] = at[COUNT]
        at[BOTTOM_AT] = at[BEGAN]


@njit(cache=True, nogil=True)
def _forget(column):  # type: ignore[no-untyped-def]
    """Take back counts of columns no bead of the part ever passed."""
    for i in range(column.shape[0]):
        for j in range(column.shape[1]):
            at = column[i, j]
            if at[TOUCHED] == 0:
                at[BOTTOM] = -1
                at[TOP] = -1
