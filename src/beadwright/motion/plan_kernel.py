"""Speed profiles in three passes over the moves: caps forward, look-ahead backward, speeds and times forward.

Squared speeds are carried from pass to pass, so that v² ≤ v'² + 2 a d needs no root (Biagiotti and
Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, ch. 3; from memory). Units mm, s.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[Any]

DWELL = 4  # `columns.Kind`
BEAD = 1
TINY = 1e-9  # mm; shorter moves go nowhere
STRAIGHT = 1e-12  # squared change of direction below which a path goes straight on
# squared change of direction at 45°: a sharper turn between two chords is a corner, not part of a curve
CURVE = 2 - np.sqrt(2)
FEED_NOISE = 1e-6  # mm/mm; smaller changes of the filament's share are rounding


@njit(cache=True, nogil=True, error_model="numpy")
def hold(value: float, share: float, limit: float) -> float:
    """Return `value`, or less, so that `value` x `share` keeps within `limit`; any of them may be 0 or
    infinite.
    """
    return limit / share if value * share > limit else value


@njit(cache=True, nogil=True, error_model="numpy")
def belt_shares(x: float, y: float, belts: bool) -> tuple[float, float]:
    """Return the shares of a direction that the two motors in the plane see: x and y, or a = x + y and b =
    x - y.
    """
    if belts:
        return abs(x + y), abs(x - y)
    return abs(x), abs(y)


@njit(nogil=True, error_model="numpy", inline="always")  # a third faster than a call
def corner_cap(
    cx: float,
    cy: float,
    cz: float,
    ce: float,
    chord: float,
    accel: float,
    row: int,
    most: Array,
    junction: Array,
    jump: Array,
    belts: bool,
) -> float:
    """Return the squared speed [mm²/s²] at which the change of direction (cx, cy, cz), filament ce, may be
    passed.

    `chord` is the longer of the two moves [mm], `accel` what both allow, `most` (4,) the axes' own limits
    [mm/s²], `junction` the allowed miss of the corner [mm] or NaN, `jump` (4,) the allowed sudden change
    of speed [mm/s].
    """
    cap = np.inf
    turn = cx * cx + cy * cy + cz * cz  # 4 sin²(half the turn)
    kx, ky = belt_shares(cx, cy, belts)
    if turn > STRAIGHT:
        inverse = 1.0 / np.sqrt(turn)
        side = hold(hold(accel, kx * inverse, most[row, 0]), ky * inverse, most[row, 1])
        side = hold(side, abs(cz) * inverse, most[row, 2])
        if turn < CURVE:  # a curve of radius chord / (2 sin(half the turn))
            cap = side * chord * inverse
        if not np.isnan(junction[row]):
            # s = sin(θ/2) with θ = 180° - turn; 1 - s is taken as (1 - s²)/(1 + s): it keeps its digits
            s = np.sqrt(max(0.0, 1.0 - 0.25 * turn))
            cap = min(cap, side * junction[row] * s * (1.0 + s) * 4.0 * inverse * inverse)
    if np.isnan(junction[row]):
        v = hold(hold(hold(np.sqrt(cap), kx, jump[row, 0]), ky, jump[row, 1]), abs(cz), jump[row, 2])
        if abs(ce) > FEED_NOISE:
            v = hold(v, abs(ce), jump[row, 3])
        cap = v * v
    return cap


@njit(cache=True, nogil=True, error_model="numpy")
def cap_moves(
    x: Array,
    y: Array,
    z: Array,
    e: Array,
    feed: Array,
    kind: Array,
    tool: Array,
    start: Array,
    change: Array,
    max_speed: Array,
    max_accel: Array,
    accel: Array,
    junction: Array,
    corner: Array,
    belts: bool,
    stops: Array,
) -> tuple[Array, Array, Array, Array]:
    """Return per move the length [mm], acceleration, squared top speed, and squared cap at its entry.

    Length is the head's path, or the filament's where the head stands. `stops` (m,) are moves entered at
    rest.
    """
    n = len(x)
    length = np.empty(n, np.float32)
    a = np.empty(n, np.float32)
    top = np.empty(n, np.float32)
    entry = np.empty(n + 1, np.float32)
    last_e = np.zeros(256)
    px, py, pz = start[0], start[1], start[2]
    row, next_stop, at_rest = 0, 0, True
    ox, oy, oz, oe = 0.0, 0.0, 0.0, 0.0  # direction of the last move that went anywhere, and its other values
    old_top, old_a, old_d = 0.0, 1.0, 0.0
    for i in range(n):
        while row + 1 < len(change) and change[row + 1] <= i:
            row += 1
        while next_stop < len(stops) and stops[next_stop] <= i:
            at_rest = True
            next_stop += 1
        dx, dy, dz, de = x[i] - px, y[i] - py, z[i] - pz, e[i] - last_e[tool[i]]
        px, py, pz, last_e[tool[i]] = x[i], y[i], z[i], e[i]
        d = np.sqrt(dx * dx + dy * dy + dz * dz)
        if d > TINY:
            inverse = 1.0 / d
            ux, uy, uz, ue = dx * inverse, dy * inverse, dz * inverse, de * inverse
            bx, by = belt_shares(ux, uy, belts)
            v = hold(hold(float(feed[i]), bx, max_speed[row, 0]), by, max_speed[row, 1])
            v = hold(hold(v, abs(uz), max_speed[row, 2]), abs(ue), max_speed[row, 3])
            acc = accel[row, 0] if kind[i] == BEAD else accel[row, 1]
            acc = hold(hold(acc, bx, max_accel[row, 0]), by, max_accel[row, 1])
            acc = hold(hold(acc, abs(uz), max_accel[row, 2]), abs(ue), max_accel[row, 3])
            cap = 0.0
            if not at_rest:
                cap = corner_cap(
                    ux - ox,
                    uy - oy,
                    uz - oz,
                    ue - oe,
                    max(d, old_d),
                    min(acc, old_a),
                    row,
                    max_accel,
                    junction,
                    corner,
                    belts,
                )
                cap = min(cap, min(old_top, v * v))
            ox, oy, oz, oe = ux, uy, uz, ue
            old_top, old_a, old_d = v * v, acc, d
            at_rest = False
            length[i], a[i], top[i], entry[i] = d, acc, v * v, cap
        elif abs(de) > TINY:
            v = min(float(feed[i]), max_speed[row, 3])
            length[i], a[i], top[i], entry[i] = abs(de), min(accel[row, 2], max_accel[row, 3]), v * v, 0.0
            at_rest = True
        else:  # goes nowhere: a dwell is a stop, any other is passed through at speed
            at_rest = at_rest or kind[i] == DWELL
            length[i], a[i], top[i], entry[i] = 0.0, 1.0, np.inf, 0.0 if at_rest else np.inf
    entry[n] = 0.0
    return length, a, top, entry


@njit(cache=True, nogil=True, error_model="numpy")
def plan_moves(length: Array, a: Array, top: Array, entry: Array, waits: Array) -> Array:
    """Turn caps into speeds: `entry` becomes the speed at each move's start, `top` its peak, both in mm/s.

    `waits` (m, 2): move index and seconds spent standing before it. Returns t (n,) float64 [s], the end of
    each move.
    """
    n = len(length)
    after = 0.0
    for i in range(n - 1, -1, -1):
        after = min(float(entry[i]), after + 2.0 * float(a[i]) * float(length[i]))
        entry[i] = after
    t = np.empty(n, np.float64)
    now, next_wait = 0.0, 0
    before = 0.0
    v0 = 0.0
    for i in range(n):
        while next_wait < len(waits) and waits[next_wait, 0] <= i:
            now += waits[next_wait, 1]
            next_wait += 1
        d, acc = float(length[i]), float(a[i])
        reach = 2.0 * acc * d
        out = min(float(entry[i + 1]), before + reach)
        v1 = np.sqrt(out)
        peak2 = max(min(float(top[i]), 0.5 * (reach + before + out)), max(before, out))
        peak = np.sqrt(peak2)
        if d > 0.0 and peak > 0.0:
            cruise = max(0.0, d - (2.0 * peak2 - before - out) / (2.0 * acc))
            now += (2.0 * peak - v0 - v1) / acc + cruise / peak
        t[i] = now
        entry[i], top[i] = v0, peak
        before, v0 = out, v1
    entry[n] = v0
    return t


@njit(cache=True, nogil=True, error_model="numpy")
def count_clocks(x: Array, y: Array, z: Array, e: Array, tool: Array, start: Array) -> tuple[Array, Array]:
    """Return at the end of each move the path [mm] and the highest net filament so far [mm], both `(n,)`."""
    n = len(x)
    path = np.empty(n, np.float64)
    filament = np.empty(n, np.float64)
    last_e = np.zeros(256)
    p0, p1, p2 = start[0], start[1], start[2]
    run, net, high = 0.0, 0.0, 0.0
    for i in range(n):
        dx, dy, dz = x[i] - p0, y[i] - p1, z[i] - p2
        run += np.sqrt(dx * dx + dy * dy + dz * dz)
        net += e[i] - last_e[tool[i]]
        last_e[tool[i]] = e[i]
        high = max(high, net)
        p0, p1, p2 = x[i], y[i], z[i]
        path[i], filament[i] = run, high
    return path, filament
