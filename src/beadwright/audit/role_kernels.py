"""Kernels that sum over beads by role, in one pass over the moves.

Rows are layers, columns roles as `toolpath.roles_model.Role` numbers them.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.compiled import compiled

Array = NDArray[Any]
ROLES = 11
LENGTH, VOLUME, SPEED, SECONDS = range(4)  # mm; mm³; mm · mm/s; s
SPEED_STEP = 0.05  # mm/s, of the histogram of commanded speeds
SPEED_BINS = 40_000


@compiled
def sum_by_role(
    role: Array, layer: Array, length: Array, volume: Array, feed: Array, seconds: Array, count: int
) -> tuple[Array, Array]:
    """Return sums by layer and role, `(count, 11, 4)`, and bead length by role and commanded speed, first layer apart,
    `(2, 11, 40000)`: row 0 the first layer, row 1 the others.

    `role`, `layer`, `length` [mm], `volume` [mm³], `feed` [mm/s], `seconds` (n,) per move; only beads have volume.
    """
    out = np.zeros((count, ROLES, 4))
    speeds = np.zeros((2, ROLES, SPEED_BINS), np.float32)
    for i in range(len(role)):
        k = layer[i]
        if k < 0 or not volume[i] > 0:
            continue
        r = role[i]
        out[k, r, LENGTH] += length[i]
        out[k, r, VOLUME] += volume[i]
        out[k, r, SPEED] += length[i] * feed[i]
        out[k, r, SECONDS] += seconds[i]
        at = feed[i] / SPEED_STEP
        if at < SPEED_BINS - 1:
            speeds[min(k, 1), r, int(at + 0.5)] += length[i]
    return out, speeds


@compiled
def count_loops(
    role: Array, layer: Array, chain: Array, x: Array, y: Array, start: Array, count: int
) -> tuple[Array, Array]:
    """Return how many chains of each role each layer has, `(count, 11)`, and the first bead of each outer contour.

    `chain` (n,) as `Roles.chain`; a chain counts where its role begins.
    """
    chains = np.zeros((count, ROLES), np.int32)
    starts = np.empty(len(role), np.int32)
    found = 0
    last_chain, last_role = -1, -1
    for i in range(len(role)):
        if chain[i] < 0 or layer[i] < 0:
            continue
        if chain[i] != last_chain or role[i] != last_role:
            chains[layer[i], role[i]] += 1
            if role[i] == 1 and chain[i] != last_chain:
                starts[found] = i
                found += 1
            last_chain, last_role = chain[i], role[i]
    return chains, starts[:found].copy()


@compiled
def steps_between_starts(x: Array, y: Array, layer: Array, most: int) -> Array:
    """Distance of each start to the nearest start of the layer below, `(m,)` mm; NaN where that layer has none.

    `x`, `y`, `layer` (m,), sorted by layer. At most `most` starts of a layer are looked at.
    """
    out = np.full(len(x), math.nan)
    below_from = below_to = mine_from = 0
    for i in range(len(x)):
        if i and layer[i] != layer[i - 1]:
            if layer[i] == layer[i - 1] + 1:
                below_from, below_to = mine_from, i
            else:
                below_from = below_to = i
            mine_from = i
        best = math.inf
        for j in range(below_from, min(below_to, below_from + most)):
            best = min(best, (x[j] - x[i]) ** 2 + (y[j] - y[i]) ** 2)
        if best < math.inf:
            out[i] = math.sqrt(best)
    return out
