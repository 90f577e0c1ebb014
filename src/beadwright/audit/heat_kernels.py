"""Kernels behind `heat_history`: the strand through the melt zone, the place below a bead, a column of layers.

Each walks the moves once, in order, with a few plan-sized or layer-sized arrays, so that time is linear in moves and
memory does not grow with layers. Lengths mm and times s over the moves; the column of layers is reckoned in SI.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.compiled import compiled

Array = NDArray[Any]

BEAD = 1  # `columns.Kind`
BINS_PER_K, LOWEST_C, BINS = 8, -50.0, 4800  # temperatures −50 … 550 °C
GAP_BINS_PER_OCTAVE, GAP_BINS = 24, 720  # 2⁻¹⁰ … 2²⁰ s
GROWTH = 1.2  # of one time step over the step before


@compiled
def strand_temperatures(
    t: Array, e: Array, tool: Array, kind: Array, wall: Array, zone_mm: float, per_s: float, inlet_c: float,
    table: Array, most_fo: float,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """Follow each tool's strand; return of each bead the residence [s], core and mean temperature [°C], (n,) float32.

    The strand at the nozzle in the middle of a bead entered the zone when the filament fed was `zone_mm` less: the time
    since then, standstill and travel included, is what it had to warm up. `per_s` = alpha / R²; `table` (2, m): theta
    of axis and section mean at m equal steps of Fo from 0 to `most_fo`. What was in the zone before the first move is
    as hot as the wall. Filament drawn back and returned counts once. NaN where no bead is laid.
    """
    n = len(t)
    out = np.full((3, n), np.nan, np.float32)
    mark = np.zeros(256)  # highest filament position of each tool
    behind = np.zeros(256)  # the same, at the pointer
    pointer = np.zeros(256, np.int64)
    steps = table.shape[1] - 1
    for i in range(n):
        q = tool[i]
        before = mark[q]
        after = max(before, e[i])
        mark[q] = after
        if kind[i] != BEAD:
            continue
        begin = t[i - 1] if i > 0 else 0.0
        middle = 0.5 * (before + after)
        entry = middle - zone_mm
        residence = np.inf
        if entry >= 0.0:
            j = pointer[q]
            while j < i and (tool[j] != q or max(behind[q], e[j]) < entry):
                if tool[j] == q:
                    behind[q] = max(behind[q], e[j])
                j += 1
            pointer[q] = j
            start = t[j - 1] if j > 0 else 0.0
            rise = max(behind[q], e[j]) - behind[q]
            share = min(max((entry - behind[q]) / rise, 0.0), 1.0) if rise > 0 else 0.0
            residence = max(0.5 * (begin + t[i]) - (start + share * (t[j] - start)), 0.0)
        place = min(residence * per_s / most_fo, 1.0) * steps
        low = min(int(place), steps - 1)
        part = place - low
        out[0, i] = residence
        for row in range(2):
            theta = table[row, low] + part * (table[row, low + 1] - table[row, low])
            out[1 + row, i] = wall[i] + (inlet_c - wall[i]) * theta
    return out[0], out[1], out[2]


@compiled
def times_since_below(
    x: Array, y: Array, start: Array, t: Array, kind: Array, layer: Array, corner: Array, cell_mm: float, shape: Array
) -> Array:
    """Return of each bead how long ago the layer below was laid in the same places [s], (n,) float32.

    Plan cells of `cell_mm` remember when the layer on top and the one under it were laid, on average. NaN for beads
    with nothing under them, and for other moves.
    """
    n, (nx, ny) = len(t), (shape[0], shape[1])
    per_mm = 1.0 / cell_mm
    out = np.full(n, np.nan, np.float32)
    level = np.full((nx, ny), -1, np.int32)
    when = np.full((nx, ny), np.nan)
    times = np.zeros((nx, ny), np.int32)
    under = np.full((nx, ny), np.nan)
    for i in range(n):
        k = layer[i]
        if kind[i] != BEAD or k < 0:
            continue
        x0, y0 = (x[i - 1], y[i - 1]) if i > 0 else (start[0], start[1])
        px, py = (x0 - corner[0]) * per_mm, (y0 - corner[1]) * per_mm
        qx, qy = (x[i] - corner[0]) * per_mm, (y[i] - corner[1]) * per_mm
        if not (0 <= px < nx and 0 <= py < ny and 0 <= qx < nx and 0 <= qy < ny):  # NaN too
            continue
        begin = t[i - 1] if i > 0 else 0.0
        count = int(max(abs(qx - px), abs(qy - py))) + 1
        total, known = 0.0, 0
        for m in range(count):
            share = (m + 0.5) / count
            a, b = int(px + share * (qx - px)), int(py + share * (qy - py))
            now = begin + share * (t[i] - begin)
            if level[a, b] != k:
                under[a, b] = when[a, b]
                level[a, b] = k
                when[a, b] = 0.0
                times[a, b] = 0
            times[a, b] += 1
            when[a, b] += (now - when[a, b]) / times[a, b]
            if under[a, b] == under[a, b]:
                total += now - under[a, b]
                known += 1
        if known:
            out[i] = total / known
    return out


@compiled
def layer_statistics(
    beads: Array, edges: Array, seconds: Array, residence: Array, core: Array, mean: Array, gap: Array, fan: Array,
    target_c: float,
) -> Array:  # fmt: skip
    """Summarise beads (indices sorted by layer, runs between `edges`) by the time they take, (k, 6).

    Columns: 5th percentile of core [°C], median of mean temperature [°C], harmonic mean of residence [s] (inf where all
    of it stood in the zone before the start), share of time
    with the core below `target_c`, median time since the layer below [s], mean fan [%]. NaN where nothing is known.
    """
    count = len(edges) - 1
    out = np.full((count, 6), np.nan)
    core_bins, mean_bins, gap_bins = np.zeros(BINS), np.zeros(BINS), np.zeros(GAP_BINS)
    for k in range(count):
        whole, cold, passing, rate, timed, blown = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        for at in range(edges[k], edges[k + 1]):
            i = beads[at]
            s = seconds[i]
            if not s > 0.0:
                continue
            timed += s
            blown += s * fan[i]
            if gap[i] > 0.0:
                place = int((math.log2(gap[i]) + 10.0) * GAP_BINS_PER_OCTAVE)
                gap_bins[min(max(place, 0), GAP_BINS - 1)] += s
            if core[i] == core[i]:
                whole += s
                cold += s if core[i] < target_c else 0.0
                if residence[i] < np.inf:
                    passing += s
                    rate += s / max(residence[i], 1e-6)
                core_bins[_bin(core[i])] += s
                mean_bins[_bin(mean[i])] += s
        if timed > 0.0:
            out[k, 5] = blown / timed
            octave = _quantile(gap_bins, 0.5)
            out[k, 4] = 2.0 ** (octave / GAP_BINS_PER_OCTAVE - 10.0)
        if whole > 0.0:
            out[k, 0] = LOWEST_C + _quantile(core_bins, 0.05) / BINS_PER_K
            out[k, 1] = LOWEST_C + _quantile(mean_bins, 0.5) / BINS_PER_K
            out[k, 2] = passing / rate if rate > 0.0 else np.inf
            out[k, 3] = cold / whole
        core_bins[:] = 0.0
        mean_bins[:] = 0.0
        gap_bins[:] = 0.0
    return out


@compiled
def mean_by_layer(layer: Array, kind: Array, seconds: Array, values: Array, count: int) -> Array:
    """Return the mean of a per-move column over the beads of each layer, by the time they take, (count,)."""
    total, time = np.zeros(count), np.zeros(count)
    for i in range(len(layer)):
        k = layer[i]
        if kind[i] == BEAD and k >= 0 and seconds[i] > 0.0:
            total[k] += seconds[i] * values[i]
            time[k] += seconds[i]
    out = np.full(count, np.nan)
    for k in range(count):
        if time[k] > 0.0:
            out[k] = total[k] / time[k]
    return out


@compiled
def _bin(value: float) -> int:
    return min(max(int((value - LOWEST_C) * BINS_PER_K), 0), BINS - 1)


@compiled
def _quantile(bins: Array, share: float) -> float:
    """Return where in the bins the share of the weight is reached, in bins, even within one; NaN without weight."""
    total = bins.sum()
    if not total > 0.0:
        return np.nan
    wanted, running = share * total, 0.0
    for b in range(len(bins)):
        if running + bins[b] >= wanted and bins[b] > 0.0:
            return float(b + (wanted - running) / bins[b])
        running += bins[b]
    return 1.0 * len(bins)


@compiled
def column_of_layers(
    thickness: Array, laid_c: Array, gap: Array, film: Array, edge: Array, body: Array, bed_c: float, air_c: float,
    rate: Array, rate_from_c: float, glass_c: float, depth: int, parts: int, steps: int,
) -> Array:  # fmt: skip
    """Lay layers on a column one by one, let each stand until covered; return what its joint goes through, (k, 4).

    thickness [m], laid_c [°C], gap [s] until the next is laid, film [W/(m² K)], edge: cooled perimeter over section of
    the layer [1/m], all (k,). body: density, heat capacity, conductivity. Heat goes along the column, off its top and
    off its flanks into air; the first layer lies on the bed, held at `bed_c`. Each layer is `parts` nodes; the top
    `depth` layers are reckoned, what lies deeper is held. Implicit Euler, `steps` growing steps a gap.

    `rate` gives healing per second at each kelvin from `rate_from_c` up. Columns: temperature of the layer below when
    covered [°C], of the joint at first touch [°C], healing (the integral of rate), time of the joint above `glass_c`.
    Joint k lies under layer k; the first is the one with the bed, NaN.
    """
    count = len(thickness)
    out = np.full((count, 4), np.nan)
    temp = np.zeros(count * parts)
    for k in range(count):
        low = max(k + 1 - depth, 0)  # first layer still reckoned
        temp[k * parts : (k + 1) * parts] = laid_c[k]
        if k > 0:
            out[k, 0] = temp[k * parts - 1]
            out[k, 1] = 0.5 * (temp[k * parts - 1] + laid_c[k])
            out[k, 2] = 0.0
            out[k, 3] = 0.0
        dt = gap[k] / (GROWTH**steps - 1.0) * (GROWTH - 1.0)
        for _ in range(steps):
            _cool(temp, thickness, film[k], edge, body, bed_c, air_c, low, k, parts, dt)
            for j in range(max(low, 1), k + 1):
                joint = 0.5 * (temp[j * parts - 1] + temp[j * parts])
                if joint > glass_c:
                    out[j, 3] += dt
                place = joint - rate_from_c
                if place >= 0.0:
                    at = min(int(place), len(rate) - 2)
                    out[j, 2] += dt * (rate[at] + min(place - at, 1.0) * (rate[at + 1] - rate[at]))
            dt *= GROWTH
    return out


@compiled
def _cool(
    temp: Array, thickness: Array, film: float, edge: Array, body: Array, bed_c: float, air_c: float, low: int,
    top: int, parts: int, dt: float,
) -> None:  # fmt: skip
    """Advance the nodes of layers low … top by dt: one tridiagonal solve, from the bottom up and back."""
    first, last = low * parts, (top + 1) * parts
    size = last - first
    lean, rest = np.empty(size), np.empty(size)  # of the forward sweep
    for m in range(size):
        layer = (first + m) // parts
        half = 0.5 * thickness[layer] / parts
        hold = body[0] * body[1] * 2 * half / dt
        loss = film * edge[layer] * 2 * half
        down = body[2] / half  # to the bed, or half way to the layer held below
        below = bed_c
        if first + m > 0:
            under = 0.5 * thickness[(first + m - 1) // parts] / parts
            down = body[2] / (half + under)
            below = temp[first + m - 1]
        up = 0.0
        if m < size - 1:
            up = body[2] / (half + 0.5 * thickness[(first + m + 1) // parts] / parts)
        else:
            loss += film
        diagonal, right = hold + loss + down + up, hold * temp[first + m] + loss * air_c
        if m == 0:
            right += down * below
        else:
            diagonal -= down * lean[m - 1]
            right += down * rest[m - 1]
        lean[m] = up / diagonal
        rest[m] = right / diagonal
    for m in range(size - 1, -1, -1):
        temp[first + m] = rest[m] + (lean[m] * temp[first + m + 1] if m < size - 1 else 0.0)
