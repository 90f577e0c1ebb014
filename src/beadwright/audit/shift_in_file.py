"""A shift that the file itself commands: the box of the beads jumps sideways and stays there, its size
unchanged.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .found import Clerk
from .shell_count import layer_boxes

STEADY_LAYERS = 3  # on either side of the jump
SAME_MM = 0.05
LEAST_MM = 0.3


def note_shift(clerk: Clerk) -> None:
    """Write down file_shift_mm (dx, dy) where the beads' box jumps, (0, 0) where it can be said that it never
    does.
    """
    boxes = layer_boxes(clerk.moves)
    if len(boxes) < 2 * STEADY_LAYERS:
        return
    found = jump(boxes)
    if found is None:
        clerk.note("file_shift_mm", (0.0, 0.0))
    else:
        layer, dx, dy = found
        clerk.note("file_shift_mm", (round(dx, 3), round(dy, 3)), clerk.layers(layer, layer))


def jump(boxes: NDArray[np.float64]) -> tuple[int, float, float] | None:
    """Return (0-based layer, dx, dy) of the largest jump, or None. `boxes` (k, 4) x0 y0 x1 y1 mm.

    Conservative on purpose: three layers before agree with one another, three after do, and both low and high
    edges moved alike. Steps in the part, brims, and growing shapes change the box's size and do not count.
    """
    step = boxes[1:] - boxes[:-1]
    steady = np.abs(step).max(axis=1) < SAME_MM
    rigid = np.abs(step[:, :2] - step[:, 2:]).max(axis=1) < SAME_MM
    size = np.hypot(step[:, 0], step[:, 1])
    best: tuple[int, float, float] | None = None
    need = STEADY_LAYERS - 1
    for k in np.flatnonzero(rigid & (size > LEAST_MM)).tolist():
        calm_before = k >= need and steady[k - need : k].all()
        calm_after = k + need < len(steady) and steady[k + 1 : k + 1 + need].all()
        if calm_before and calm_after and (best is None or size[k] > np.hypot(*best[1:])):
            best = (k + 1, float(step[k, 0]), float(step[k, 1]))
    return best
