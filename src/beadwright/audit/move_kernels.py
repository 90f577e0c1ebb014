"""Kernels that make the columns measurements share, and quantiles over many moves, without temporaries.

The rule at the bottom of all of them: one pass, single precision where a value is only ever summed or compared.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.compiled import compiled

Array = NDArray[Any]
BEAD = 1  # `columns.Kind`
BINS = 2048


@compiled
def move_columns(
    e: Array, kind: Array, tool: Array, index: Array, t: Array, waits: Array, section: float
) -> tuple[Array, Array, Array, Array, Array]:
    """Return beads that belong to a layer (n,) bool, and float32 columns (n,): seconds without waits; plastic of each
    bead [mm³]; its mean flow [mm³/s]; filament that is new at the nozzle [mm].

    `t` end of each move [s]; `waits` (m, 2) move and seconds stood before it; `section` of the filament [mm²]. The
    filament position of each tool has a high-water mark; only what raises it is new.
    """
    n = len(e)
    bead = np.zeros(n, np.bool_)
    going = np.empty(n, np.float32)
    volume = np.zeros(n, np.float32)
    flow = np.zeros(n, np.float32)
    deposited = np.zeros(n, np.float32)
    position, mark = np.zeros(256), np.zeros(256)
    before, wait = 0.0, 0
    for i in range(n):
        seconds = t[i] - before
        before = t[i]
        while wait < len(waits) and waits[wait, 0] < i:
            wait += 1
        if wait < len(waits) and waits[wait, 0] == i:
            seconds -= waits[wait, 1]
        going[i] = max(seconds, 0.0)
        own = tool[i]
        if kind[i] == BEAD:
            bead[i] = index[i] >= 0
            volume[i] = (e[i] - position[own]) * section
            if seconds > 0:
                flow[i] = volume[i] / seconds
        position[own] = e[i]
        if e[i] > mark[own]:
            deposited[i] = e[i] - mark[own]
            mark[own] = e[i]
    return bead, going, volume, flow, deposited


@compiled
def quantiles_by_run(values: Array, weights: Array, members: Array, edges: Array, shares: Array) -> Array:
    """Quantiles of the values of each run of members, `(k, len(shares))`; NaN for a run without weight.

    `members` are indices in runs between `edges` (k + 1,). Each is the mean of that of 2048 equal bins which holds it:
    exact for values that repeat, within 1/2048 of the span otherwise.
    """
    count = len(edges) - 1
    out = np.full((count, len(shares)), math.nan)
    mass, moment = np.zeros(BINS), np.zeros(BINS)
    for k in range(count):
        low, high, total = math.inf, -math.inf, 0.0
        for at in range(edges[k], edges[k + 1]):
            i = members[at]
            low, high = min(low, values[i]), max(high, values[i])
            total += weights[i]
        if not total > 0:
            continue
        if not low < high:
            out[k] = low
            continue
        mass[:] = 0.0
        moment[:] = 0.0
        scale = BINS / (high - low)
        for at in range(edges[k], edges[k + 1]):
            i = members[at]
            b = min(int((values[i] - low) * scale), BINS - 1)
            mass[b] += weights[i]
            moment[b] += weights[i] * values[i]
        running, b = 0.0, -1
        for s in range(len(shares)):
            while b < BINS - 1 and (b < 0 or running < shares[s] * total * (1 - 1e-12)):
                b += 1
                running += mass[b]
            last = b
            while mass[last] == 0.0 and last > 0:
                last -= 1
            out[k, s] = moment[last] / mass[last] if mass[last] > 0 else low
    return out


@compiled
def sums_by_layer(layer: Array, t: Array, deposited: Array, count: int) -> Array:
    """Seconds with waits and new filament of each layer, `(count, 2)`."""
    out = np.zeros((count, 2))
    before = 0.0
    for i in range(len(layer)):
        k = layer[i]
        if k >= 0:
            out[k, 0] += t[i] - before
            out[k, 1] += deposited[i]
        before = t[i]
    return out


@compiled
def laid_before(bead: Array, index: Array) -> Array:
    """Layer last laid in at each move, (n,): for beads their own, for others that of the bead before, −1 none."""
    out = np.empty(len(index), np.int32)
    last = -1
    for i in range(len(index)):
        if bead[i]:
            last = index[i]
        out[i] = last
    return out


@compiled
def layer_boxes(x: Array, y: Array, start: Array, beads: Array, edges: Array) -> Array:
    """Box of each layer's beads, starts and ends, (k, 4) x0 y0 x1 y1 mm; NaN for a layer without beads."""
    out = np.full((len(edges) - 1, 4), math.nan)
    for k in range(len(edges) - 1):
        x0 = y0 = math.inf
        x1 = y1 = -math.inf
        for at in range(edges[k], edges[k + 1]):
            m = beads[at]
            ax, ay = (x[m - 1], y[m - 1]) if m > 0 else (start[0], start[1])
            x0, x1 = min(x0, ax, x[m]), max(x1, ax, x[m])
            y0, y1 = min(y0, ay, y[m]), max(y1, ay, y[m])
        if x0 <= x1:
            out[k, 0], out[k, 1], out[k, 2], out[k, 3] = x0, y0, x1, y1
    return out


@compiled
def quantile(values: Array, weights: Array, which: Array, share: float) -> float:
    """The value below which `share` of the weight of the chosen moves lies; NaN for no weight.

    Exact: the bin that holds it is found first, and only what lies there is sorted.
    """
    low, high, total = math.inf, -math.inf, 0.0
    for i in range(len(values)):
        if which[i]:
            low, high = min(low, values[i]), max(high, values[i])
            total += weights[i]
    if not total > 0:
        return math.nan
    if not low < high:
        return low
    bins = 8192
    mass, inside = np.zeros(bins), np.zeros(bins, np.int64)
    scale = bins / (high - low)
    for i in range(len(values)):
        if which[i]:
            b = min(int((values[i] - low) * scale), bins - 1)
            mass[b] += weights[i]
            inside[b] += 1
    running, at = 0.0, 0
    while at < bins - 1 and running + mass[at] < share * total:
        running += mass[at]
        at += 1
    while inside[at] == 0 and at > 0:
        at -= 1
    picked, weight = np.empty(inside[at], np.float64), np.empty(inside[at], np.float64)
    n = 0
    for i in range(len(values)):
        if which[i] and min(int((values[i] - low) * scale), bins - 1) == at:
            picked[n], weight[n] = values[i], weights[i]
            n += 1
    order = np.argsort(picked, kind="mergesort")  # the other sort goes quadratic on rising values
    for j in order:
        running += weight[j]
        if running >= share * total:
            return float(picked[j])
    return float(picked[order[-1]])


@compiled
def find_retractions(kind: Array, e: Array, tool: Array, deposited: Array) -> tuple[Array, Array, Array]:
    """Return where retractions begin (r,), how much each draws back, and the new filament of its tool fed before, mm.

    A retraction is a run of backward feeding with no forward feed in between; kinds as `columns.Kind`.
    """
    starts = np.empty(1024, np.int64)
    drawn, fed_at = np.empty(1024), np.empty(1024)
    position, fed = np.zeros(256), np.zeros(256)
    found, back, last_tool = 0, False, -1
    for i in range(len(kind)):
        own = tool[i]
        fed[own] += deposited[i]
        if kind[i] == 2:
            if not back or own != last_tool:
                if found == len(starts):
                    starts = np.append(starts, np.empty(found, np.int64))
                    drawn, fed_at = np.append(drawn, np.empty(found)), np.append(fed_at, np.empty(found))
                starts[found], drawn[found], fed_at[found] = i, 0.0, fed[own]
                found += 1
            drawn[found - 1] += position[own] - e[i]
            back, last_tool = True, own
        elif kind[i] == 1 or kind[i] == 3:
            back, last_tool = False, own
        position[own] = e[i]
    return starts[:found].copy(), drawn[:found].copy(), fed_at[:found].copy()
