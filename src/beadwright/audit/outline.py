"""Kernels that follow the outline of the print from layer to layer on a coarse grid.

Of each layer the beads' centre lines are struck into plan cells; what cannot be reached from outside without crossing
one is inside. Two pictures are kept, of the layer and of the one below, so memory does not grow with layers.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.compiled import compiled

Array = NDArray[Any]


@compiled
def outline_by_layer(
    x: Array, y: Array, start: Array, beads: Array, edges: Array, volume: Array, windows: Array, corner: Array,
    cell_mm: float, shape: Array,
) -> Array:  # fmt: skip
    """Return per layer (k, 6): plastic [mm³], bead path [mm], beads, and on the grid, in mm: area inside, area of it
    farther than a cell from the inside of the layer below, length of its rim.

    `beads` are move indices sorted by layer in runs between `edges`; `windows` (k, 4) i0 i1 j0 j1 hold each layer's
    beads with two free cells all round.
    """
    count, per_mm = len(edges) - 1, 1.0 / cell_mm
    nx, ny = shape[0], shape[1]
    struck = np.zeros((nx, ny), np.uint8)
    inside = np.zeros((nx, ny), np.uint8)
    below = np.zeros((nx, ny), np.uint8)
    stack = np.zeros(4 * nx * ny + 8, np.int32)
    out = np.zeros((count, 6))
    for k in range(count):
        i0, i1, j0, j1 = windows[k]
        struck[i0:i1, j0:j1] = 0
        for at in range(edges[k], edges[k + 1]):
            m = beads[at]
            ax, ay = (x[m - 1], y[m - 1]) if m > 0 else (start[0], start[1])
            out[k, 0] += volume[m]
            out[k, 1] += np.sqrt((x[m] - ax) ** 2 + (y[m] - ay) ** 2)
            out[k, 2] += 1.0
            px, py = (ax - corner[0]) * per_mm, (ay - corner[1]) * per_mm
            _strike(struck, px, py, (x[m] - corner[0]) * per_mm, (y[m] - corner[1]) * per_mm)
        _fill(struck, inside, stack, i0, i1, j0, j1)
        area, beyond, rim = _against(inside, below, i0, i1, j0, j1)
        out[k, 3] = area * cell_mm * cell_mm
        out[k, 4] = beyond * cell_mm * cell_mm if k > 0 else 0.0
        out[k, 5] = rim * cell_mm
        if k > 0:
            a0, a1, b0, b1 = windows[k - 1]
            below[a0:a1, b0:b1] = 0
        below[i0:i1, j0:j1] = inside[i0:i1, j0:j1]
    return out


@compiled
def _strike(struck: Array, px: float, py: float, qx: float, qy: float) -> None:
    """Mark the cells that the segment p → q passes (cell units): samples at most a cell apart, and both ends."""
    nx, ny = struck.shape
    if not (0 <= px < nx and 0 <= py < ny and 0 <= qx < nx and 0 <= qy < ny):  # NaN too
        return
    count = int(max(abs(qx - px), abs(qy - py))) + 1
    for n in range(count + 1):
        share = n / count
        struck[int(px + share * (qx - px)), int(py + share * (qy - py))] = 1


@compiled
def _fill(struck: Array, inside: Array, stack: Array, i0: int, i1: int, j0: int, j1: int) -> None:
    """Mark as inside (1) the cells of the window that cannot be reached from its corner past struck ones."""
    inside[i0:i1, j0:j1] = 1
    stack[0], stack[1] = i0, j0
    top = 1
    while top > 0:
        top -= 1
        i, j = stack[2 * top], stack[2 * top + 1]
        if inside[i, j] == 0 or struck[i, j]:
            continue
        a, b = j, j
        while a > j0 and inside[i, a - 1] == 1 and not struck[i, a - 1]:
            a -= 1
        while b < j1 - 1 and inside[i, b + 1] == 1 and not struck[i, b + 1]:
            b += 1
        inside[i, a : b + 1] = 0
        for n in (i - 1, i + 1):
            if i0 <= n < i1:
                fresh = True
                for j in range(a, b + 1):
                    is_open = inside[n, j] == 1 and not struck[n, j]
                    if is_open and fresh:
                        stack[2 * top], stack[2 * top + 1] = n, j
                        top += 1
                    fresh = not is_open


@compiled
def _against(inside: Array, below: Array, i0: int, i1: int, j0: int, j1: int) -> tuple[int, int, int]:
    """Count cells inside, those of them with nothing below in the 3 × 3 cells about, and sides that face outside."""
    area, beyond, rim = 0, 0, 0
    for i in range(i0 + 1, i1 - 1):
        for j in range(j0 + 1, j1 - 1):
            if inside[i, j] == 0:
                continue
            area += 1
            rim += 4 - inside[i - 1, j] - inside[i + 1, j] - inside[i, j - 1] - inside[i, j + 1]
            if below[i, j]:
                continue
            held = False
            for a in range(i - 1, i + 2):
                for b in range(j - 1, j + 2):
                    held = held or below[a, b] == 1
            beyond += 0 if held else 1
    return area, beyond, rim
