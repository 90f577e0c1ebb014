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

F8 = NDArray[np.float64]
F4 = NDArray[np.float32]
I4 = NDArray[np.int32]
U1 = NDArray[np.uint8]

UNKNOWN = -1


@njit(cache=True, nogil=True)
def _lay(px, py, qx, qy, volume, cell, vol, struck):  # type: ignore[no-untyped-def]
    """Spread `volume` evenly along the segment p → q (cell units); mark the cells its centre line passes."""
    span = max(abs(qx - px), abs(qy - py))
    count = int(span * 2.0) + 1  # samples at most half a cell apart: neighbours touch, so walls have no holes
    share = np.float32(volume / count)
    nx, ny = vol.shape
    for k in range(count):
        f = (k + 0.5) / count
        x = px + f * (qx - px)
        y = py + f * (qy - py)
        i = min(max(int(x), 0), nx - 1)
        j = min(max(int(y), 0), ny - 1)
        struck[i, j] = 1
        vol[i, j] += share
    for f in (0, 1):  # the ends too: consecutive beads then share a cell
        i = min(max(int(px + f * (qx - px)), 0), nx - 1)
        j = min(max(int(py + f * (qy - py)), 0), ny - 1)
        struck[i, j] = 1


@njit(cache=True, nogil=True)
def _crosses(px, py, qx, qy, clear, struck):  # type: ignore[no-untyped-def]
    """True when the segment passes a struck cell farther than `clear` cells from both ends."""
    length = np.sqrt((qx - px) ** 2 + (qy - py) ** 2)
    if length <= 2.0 * clear:
        return False
    count = int(length * 2.0) + 1
    nx, ny = struck.shape
    for k in range(count):
        along = (k + 0.5) / count * length
        if along < clear or length - along < clear:
            continue
        i = int(px + along / length * (qx - px))
        j = int(py + along / length * (qy - py))
        if 0 <= i < nx and 0 <= j < ny and struck[i, j]:
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
        if inside[i, j] == 0 or struck[i, j]:
            continue
        a = j
        while a > j0 and inside[i, a - 1] == 1 and not struck[i, a - 1]:
            a -= 1
        b = j
        while b < j1 - 1 and inside[i, b + 1] == 1 and not struck[i, b + 1]:
            b += 1
        for k in range(a, b + 1):
            inside[i, k] = 0
        for n in (i - 1, i + 1):
            if n < i0 or n >= i1:
                continue
            fresh = True
            for k in range(a, b + 1):
                open_cell = inside[n, k] == 1 and not struck[n, k]
                if open_cell and fresh:
                    stack[2 * top] = n
                    stack[2 * top + 1] = k
                    top += 1
                fresh = not open_cell


@njit(cache=True, nogil=True)
def _sums(source, table, i0, i1, j0, j1):  # type: ignore[no-untyped-def]
    """Fill `table[i, j]` with the sum of `source` over [i0, i) × [j0, j)."""
    for j in range(j0, j1 + 1):
        table[i0, j] = 0.0
    for i in range(i0, i1):
        row = 0.0
        table[i + 1, j0] = 0.0
        for j in range(j0, j1):
            row += source[i, j]
            table[i + 1, j + 1] = table[i, j + 1] + row


@njit(cache=True, nogil=True)
def _box(table, i, j, r, i0, i1, j0, j1):  # type: ignore[no-untyped-def]
    a, b = max(i - r, i0), min(i + r + 1, i1)
    c, d = max(j - r, j0), min(j + r + 1, j1)
    return table[b, d] - table[a, d] - table[b, c] + table[a, c]


# Column states of the bottom count.
_NOT_STARTED, _WAITING, _COUNTING, _DONE, _VOID = 0, 1, 2, 3, 4


@njit(cache=True, nogil=True)
def scan_layers(  # type: ignore[no-untyped-def]
    x,
    y,
    z,
    start,
    kind,
    layer,
    volume,
    order,
    bounds,
    z_layer,
    height,
    windows,
    x0,
    y0,
    cell,
    shape,
    reach,
    margin,
    solid_from,
    wait,
    lift,
    clear,
    longest_free,
):
    """Walk the layers once; return counts per column, fill per layer and crossings per layer.

    Moves: `x y z` (n,) ends in mm, `start` (3,), `kind` (n,) (0 travel, 1 bead), `layer` (n,) 0-based or −1,
    `volume` (n,) mm³. Layers: `order` moves in layer order, those of layer k at `bounds[k]` … `bounds[k +
    1]`, `z_layer height` (k,) mm, `windows` (k, 4) cell ranges i0 i1 j0 j1 of its beads with a free rim.
    Grid: corner `x0 y0`, `cell` mm, `shape` (nx, ny). `reach`: half width of the square over which fill is
    averaged, `margin`: how far inside the layer a column must lie to be judged, both in cells. A place is
    solid when at least `solid_from` of its volume is plastic. `wait`: layers within which the first solid
    layer must begin (rafts). A travel crosses when it keeps within `lift` mm of the layer, is longer than
    `longest_free` mm and passes a laid bead more than `clear` mm away from its ends.

    Returns bottom, top (nx, ny) int16 (−1 unknown), sparse (k, 3) float64: plastic volume, room mm³ and cells
    of the judged places that are not solid, solid (k,) int64 judged places that are, crossings (k,) int64,
    crossing_move (k,) int64: first crossing move of the layer, −1 for none.
    """
    nx, ny = shape
    count = len(bounds) - 1
    vol = np.zeros((nx, ny), np.float32)
    struck = np.zeros((nx, ny), np.uint8)
    inside = np.zeros((nx, ny), np.uint8)
    was_inside = np.zeros((nx, ny), np.uint8)
    touched = np.zeros((nx, ny), np.uint8)
    fill_table = np.zeros((nx + 1, ny + 1), np.float64)
    in_table = np.zeros((nx + 1, ny + 1), np.float64)
    stack = np.zeros(4 * nx * ny + 8, np.int32)  # a cell is pushed at most once from each neighbouring row
    bottom = np.full((nx, ny), -1, np.int16)
    state = np.zeros((nx, ny), np.uint8)
    run = np.zeros((nx, ny), np.int16)  # solid layers in a row up to here
    sparse_below = np.zeros((nx, ny), np.uint8)  # a place that is not solid lies under the run
    judged = np.zeros((nx, ny), np.uint8)  # the column lay well inside at the last layer seen
    top = np.full((nx, ny), -1, np.int16)
    sparse = np.zeros((count, 3), np.float64)
    solid = np.zeros(count, np.int64)
    crossings = np.zeros(count, np.int64)
    crossing_move = np.full(count, -1, np.int64)
    p0, p1, q0, q1 = 0, 0, 0, 0  # window of the layer below
    for k in range(count):
        i0, i1, j0, j1 = windows[k, 0], windows[k, 1], windows[k, 2], windows[k, 3]
        for i in range(i0, i1):
            for j in range(j0, j1):
                vol[i, j] = 0.0
                struck[i, j] = 0
        for n in range(bounds[k], bounds[k + 1]):
            m = order[n]
            if m > 0:
                ax, ay, az = x[m - 1], y[m - 1], z[m - 1]
            else:
                ax, ay, az = start[0], start[1], start[2]
            px, py = (ax - x0) / cell, (ay - y0) / cell
            qx, qy = (x[m] - x0) / cell, (y[m] - y0) / cell
            if kind[m] == 1:
                if layer[m] == k:
                    _lay(px, py, qx, qy, volume[m], cell, vol, struck)
            elif (
                kind[m] == 0
                and max(az, z[m]) < z_layer[k] + lift
                and min(az, z[m]) > z_layer[k] - height[k] * 0.5
            ):
                long_enough = (x[m] - ax) ** 2 + (y[m] - ay) ** 2 > longest_free**2
                if long_enough and _crosses_in(px, py, qx, qy, clear / cell, struck, i0, i1, j0, j1):
                    crossings[k] += 1
                    if crossing_move[k] < 0:
                        crossing_move[k] = m
        _flood(struck, inside, stack, i0, i1, j0, j1)
        _sums(vol, fill_table, i0, i1, j0, j1)
        _sums(inside, in_table, i0, i1, j0, j1)
        if k > 0:  # columns that end below this layer
            for i in range(p0, p1):
                for j in range(q0, q1):
                    beyond = i < i0 or i >= i1 or j < j0 or j >= j1
                    if was_inside[i, j] and (beyond or not inside[i, j]):
                        _close(i, j, top, run, sparse_below, judged, state, touched)
                        was_inside[i, j] = 0
        whole = (2 * margin + 1) ** 2
        for i in range(i0, i1):
            for j in range(j0, j1):
                if not inside[i, j]:
                    continue
                if struck[i, j]:
                    touched[i, j] = 1
                well_in = (
                    i - margin >= i0
                    and i + margin < i1
                    and j - margin >= j0
                    and j + margin < j1
                    and _box(in_table, i, j, margin, i0, i1, j0, j1) > whole - 0.5
                )
                room = _box(in_table, i, j, reach, i0, i1, j0, j1) * cell * cell * height[k]
                is_solid = _box(fill_table, i, j, reach, i0, i1, j0, j1) >= solid_from * room
                _count(i, j, k, is_solid, well_in, was_inside, state, bottom, run, sparse_below, judged, wait)
                if not well_in or state[i, j] != _DONE:
                    continue  # beside a skirt nothing is laid, which is not infill: only over a bottom it is
                if is_solid:
                    solid[k] += 1
                else:
                    sparse[k, 0] += vol[i, j]
                    sparse[k, 1] += cell * cell * height[k]
                    sparse[k, 2] += 1
        p0, p1, q0, q1 = i0, i1, j0, j1
    for i in range(p0, p1):
        for j in range(q0, q1):
            if was_inside[i, j]:
                _close(i, j, top, run, sparse_below, judged, state, touched)
    for i in range(nx):
        for j in range(ny):
            if not touched[i, j] or state[i, j] != _DONE:
                bottom[i, j] = -1
            if not touched[i, j]:
                top[i, j] = -1
    return bottom, top, sparse, solid, crossings, crossing_move


@njit(cache=True, nogil=True)
def _crosses_in(px, py, qx, qy, clear, struck, i0, i1, j0, j1):  # type: ignore[no-untyped-def]
    """`_crosses`, looking only into the layer's own window (cells outside it hold older layers)."""
    return _crosses(px - i0, py - j0, qx - i0, qy - j0, clear, struck[i0:i1, j0:j1])


@njit(cache=True, nogil=True)
def _count(i, j, k, is_solid, well_in, was_inside, state, bottom, run, sparse_below, judged, wait):  # type: ignore[no-untyped-def]
    """Carry one column through one layer in which it lies inside the print."""
    if not was_inside[i, j]:
        run[i, j] = 0
        sparse_below[i, j] = 0
        was_inside[i, j] = 1
    judged[i, j] = 1 if well_in else 0
    if is_solid:
        run[i, j] += 1
    else:
        run[i, j] = 0
        sparse_below[i, j] = 1
    if k == 0:
        state[i, j] = _WAITING if well_in else _VOID
    elif not well_in and (state[i, j] == _WAITING or state[i, j] == _COUNTING):
        state[i, j] = _VOID  # a skirt made it look well inside on the first layer only
    if state[i, j] == _WAITING:
        if is_solid:
            state[i, j] = _COUNTING
            bottom[i, j] = 0
        elif k >= wait:
            state[i, j] = _DONE
            bottom[i, j] = 0
    if state[i, j] == _COUNTING:
        if is_solid:
            bottom[i, j] += 1
        else:
            state[i, j] = _DONE


@njit(cache=True, nogil=True)
def _close(i, j, top, run, sparse_below, judged, state, touched):  # type: ignore[no-untyped-def]
    """The column ends: note its top count; a bottom count still running never saw an inside, so it says
    nothing.
    """
    top[i, j] = run[i, j] if judged[i, j] and sparse_below[i, j] else -1
    if state[i, j] == _WAITING or state[i, j] == _COUNTING:
        state[i, j] = _VOID
