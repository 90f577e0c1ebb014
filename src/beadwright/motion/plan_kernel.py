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
HEAD, BELTS, TOWERS = 0, 1, 2  # what the first three limits are limits of
Shares = tuple[float, float, float]


@njit(cache=True, nogil=True, error_model="numpy")
def hold(value: float, share: float, limit: float) -> float:
    """Return `value`, or less, so that `value` x `share` keeps within `limit`; any of them may be 0 or
    infinite.
    """
    return limit / share if value * share > limit else value


@njit(nogil=True, error_model="numpy", inline="always")
def drive_shares(x: float, y: float, z: float, at: tuple[float, float], drive: int, machine: Array) -> Shares:
    """Return what the three drives see of a head's step (x, y, z), or direction, at the place `at` (x, y).

    Drives of the head: x, y and z as they are. Two crossed belts: a = x + y, b = x − y, and z.
    """
    if drive == BELTS:
        return abs(x + y), abs(x - y), abs(z)
    if drive == TOWERS:
        return tower_shares(x, y, z, at, machine)
    return abs(x), abs(y), abs(z)


@njit(cache=True, nogil=True, error_model="numpy")
def arm_height(rx: float, ry: float, rod: float) -> float:
    """Return how far an arm reaches up when its foot is (rx, ry) off its tower; lying arms count as 0.05 rods high."""
    least = 0.05 * rod
    return float(np.sqrt(max(rod * rod - rx * rx - ry * ry, least * least)))


@njit(cache=True, nogil=True, error_model="numpy")
def tower_shares(x: float, y: float, z: float, at: tuple[float, float], machine: Array) -> Shares:
    """Return how far the carriages of three towers go when the head goes (x, y, z).

    A carriage stands at h = z + sqrt(L² − r²), r the head's place as seen from its tower; so dh = dz − r·d(x, y) / s,
    s the arm's height. `machine` is L, the towers' radius, and x, y of their centre; towers at 90°, 210°, 330°.
    """
    out = np.zeros(3)
    for tower in range(3):
        angle = np.pi * (0.5 + tower * 2.0 / 3.0)
        rx = at[0] - machine[2] - machine[1] * np.cos(angle)
        ry = at[1] - machine[3] - machine[1] * np.sin(angle)
        out[tower] = abs(z - (rx * x + ry * y) / arm_height(rx, ry, machine[0]))
    return out[0], out[1], out[2]


@njit(cache=True, nogil=True, error_model="numpy")
def tower_bends(x: float, y: float, at: tuple[float, float], machine: Array) -> Shares:
    """Return the carriages' acceleration per squared speed of a head that goes straight along (x, y) [1/mm].

    The second derivative of h along the path: (u² s² + (r·u)²) / s³ in size.
    """
    out = np.zeros(3)
    for tower in range(3):
        angle = np.pi * (0.5 + tower * 2.0 / 3.0)
        rx = at[0] - machine[2] - machine[1] * np.cos(angle)
        ry = at[1] - machine[3] - machine[1] * np.sin(angle)
        s = arm_height(rx, ry, machine[0])
        out[tower] = ((x * x + y * y) * s * s + (rx * x + ry * y) ** 2) / (s * s * s)
    return out[0], out[1], out[2]


@njit(cache=True, nogil=True, error_model="numpy")
def tower_caps(
    v: float, u: Shares, begin: Shares, end: Shares, most_v: Array, most_a: Array, machine: Array
) -> tuple[float, float]:
    """Return `v` [mm/s], or less, and the acceleration [mm/s²] at which all carriages keep their limits.

    The move's ends and middle are looked at, where what the carriages see is largest or nearly so. At most half of a
    carriage's acceleration goes into the bend of its path, the rest into speeding up.
    """
    accel = np.inf
    for part in (0.0, 0.5, 1.0):
        at = (begin[0] + part * (end[0] - begin[0]), begin[1] + part * (end[1] - begin[1]))
        share, bend = tower_shares(u[0], u[1], u[2], at, machine), tower_bends(u[0], u[1], at, machine)
        for tower in range(3):
            v = hold(v, share[tower], most_v[tower])
            if v * v * bend[tower] > 0.5 * most_a[tower]:
                v = np.sqrt(0.5 * most_a[tower] / bend[tower])
    for part in (0.0, 0.5, 1.0):
        at = (begin[0] + part * (end[0] - begin[0]), begin[1] + part * (end[1] - begin[1]))
        share, bend = tower_shares(u[0], u[1], u[2], at, machine), tower_bends(u[0], u[1], at, machine)
        for tower in range(3):
            accel = hold(accel, share[tower], most_a[tower] - v * v * bend[tower])
    return v, accel


@njit(nogil=True, error_model="numpy", inline="always")  # a third faster than a call
def corner_cap(
    cx: float, cy: float, cz: float, ce: float, share: Shares, chord: float, accel: float, row: int, most: Array,
    junction: Array, jump: Array,
) -> float:  # fmt: skip
    """Return the squared speed [mm²/s²] at which the change of direction (cx, cy, cz), filament ce, may be passed.

    `share` is what the drives see of the change, `chord` the longer of the two moves [mm], `accel` what both allow,
    `most` (4,) the drives' own limits [mm/s²], `junction` the allowed miss of the corner [mm] or NaN, `jump` (4,) the
    allowed sudden change of speed [mm/s].
    """
    cap = np.inf
    turn = cx * cx + cy * cy + cz * cz  # 4 sin²(half the turn)
    if turn > STRAIGHT:
        inverse = 1.0 / np.sqrt(turn)
        side = hold(hold(accel, share[0] * inverse, most[row, 0]), share[1] * inverse, most[row, 1])
        side = hold(side, share[2] * inverse, most[row, 2])
        if turn < CURVE:  # a curve of radius chord / (2 sin(half the turn))
            cap = side * chord * inverse
        if not np.isnan(junction[row]):
            # s = sin(θ/2) with θ = 180° - turn; 1 - s is taken as (1 - s²)/(1 + s): it keeps its digits
            s = np.sqrt(max(0.0, 1.0 - 0.25 * turn))
            cap = min(cap, side * junction[row] * s * (1.0 + s) * 4.0 * inverse * inverse)
    if np.isnan(junction[row]):
        v = hold(hold(hold(np.sqrt(cap), share[0], jump[row, 0]), share[1], jump[row, 1]), share[2], jump[row, 2])
        if abs(ce) > FEED_NOISE:
            v = hold(v, abs(ce), jump[row, 3])
        cap = v * v
    return cap


@njit(cache=True, nogil=True, error_model="numpy")
def rest_cap(share: Shares, e: float, row: int, junction: Array, jump: Array) -> float:
    """Return the squared speed at which a move may begin from rest, or end in it.

    Where the sudden change of speed rules, it does so at rest too; a junction deviation allows none there.
    """
    if not np.isnan(junction[row]):
        return 0.0
    v = hold(hold(hold(np.inf, share[0], jump[row, 0]), share[1], jump[row, 1]), share[2], jump[row, 2])
    v = hold(v, e, jump[row, 3]) if e > FEED_NOISE else v
    return v * v


@njit(cache=True, nogil=True, error_model="numpy")
def cap_moves(
    x: Array, y: Array, z: Array, e: Array, feed: Array, kind: Array, tool: Array, start: Array, change: Array,
    max_speed: Array, max_accel: Array, accel: Array, junction: Array, corner: Array, drive: int, machine: Array,
    least_s: float, stops: Array,
) -> tuple[Array, Array, Array, Array]:  # fmt: skip
    """Return per move the length [mm], acceleration, squared top speed, and squared cap at its entry and the last end.

    Length is the head's path, or the filament's where the head stands. `least_s` is the time no move falls below [s],
    `stops` (m,) are moves entered at rest.
    """
    n = len(x)
    length, a = np.empty(n, np.float32), np.empty(n, np.float32)
    top, entry = np.empty(n, np.float32), np.empty(n + 1, np.float32)
    last_e = np.zeros(256)
    px, py, pz = start[0], start[1], start[2]
    row, next_stop, at_rest = 0, 0, True
    ox, oy, oz, oe = 0.0, 0.0, 0.0, 0.0  # direction of the last move that went anywhere, and its other values
    old_top, old_a, old_d, old_rest = np.inf, 1.0, 0.0, np.inf
    nothing = (0.0, 0.0, 0.0)
    for i in range(n):
        while row + 1 < len(change) and change[row + 1] <= i:
            row += 1
        while next_stop < len(stops) and stops[next_stop] <= i:
            at_rest = True
            next_stop += 1
        dx, dy, dz, de = x[i] - px, y[i] - py, z[i] - pz, e[i] - last_e[tool[i]]
        begin = (px, py, pz)
        px, py, pz, last_e[tool[i]] = x[i], y[i], z[i], e[i]
        d = np.sqrt(dx * dx + dy * dy + dz * dz)
        if d > TINY:
            inverse = 1.0 / d
            ux, uy, uz, ue = dx * inverse, dy * inverse, dz * inverse, de * inverse
            share = drive_shares(ux, uy, uz, (begin[0], begin[1]), drive, machine)
            v = hold(hold(float(feed[i]), share[0], max_speed[row, 0]), share[1], max_speed[row, 1])
            v = hold(hold(v, share[2], max_speed[row, 2]), abs(ue), max_speed[row, 3])
            acc = accel[row, 0] if kind[i] == BEAD else accel[row, 1]
            acc = hold(hold(acc, share[0], max_accel[row, 0]), share[1], max_accel[row, 1])
            acc = hold(hold(acc, share[2], max_accel[row, 2]), abs(ue), max_accel[row, 3])
            if drive == TOWERS:
                u, end = (ux, uy, uz), (px, py, pz)
                v, bound = tower_caps(v, u, begin, end, max_speed[row], max_accel[row], machine)
                acc = min(acc, bound)
            if v * least_s > d:
                v = d / least_s
            rest = rest_cap(share, abs(ue), row, junction, corner)
            if at_rest:
                cap = min(old_rest, rest)
            else:
                cx, cy, cz = ux - ox, uy - oy, uz - oz
                share = drive_shares(cx, cy, cz, (begin[0], begin[1]), drive, machine)
                longer, weaker = max(d, old_d), min(acc, old_a)
                cap = corner_cap(cx, cy, cz, ue - oe, share, longer, weaker, row, max_accel, junction, corner)
            cap = min(cap, min(old_top, v * v))
            ox, oy, oz, oe = ux, uy, uz, ue
            old_top, old_a, old_d, old_rest = v * v, acc, d, rest
            at_rest = False
            length[i], a[i], top[i], entry[i] = d, acc, v * v, cap
        elif abs(de) > TINY:
            v = min(float(feed[i]), max_speed[row, 3])
            v = abs(de) / least_s if v * least_s > abs(de) else v
            rest = rest_cap(nothing, 1.0, row, junction, corner)
            length[i], a[i], top[i] = abs(de), min(accel[row, 2], max_accel[row, 3]), v * v
            entry[i] = min(min(old_rest, rest), min(old_top, v * v))
            old_top, old_rest = v * v, rest
            at_rest = True
        else:  # goes nowhere: a dwell is a stop, any other is passed through at speed
            at_rest = at_rest or kind[i] == DWELL
            length[i], a[i], top[i], entry[i] = 0.0, 1.0, np.inf, np.inf
    entry[n] = min(old_rest, old_top) if old_top < np.inf else 0.0
    return length, a, top, entry


@njit(cache=True, nogil=True, error_model="numpy")
def stop_within(length: Array, a: Array, entry: Array, known: int) -> None:
    """Lower `entry` so that the head can stop within the moves a queue of `known` holds, the one under way included.

    While a move is under way the machine knows known − 1 more, and must be able to stand at the end of the last.
    """
    n = len(length)
    far, held, reach = n, 0, 0.0
    for i in range(n - 1, -1, -1):
        if length[i] > 0.0:
            reach += 2.0 * float(a[i]) * float(length[i])
            held += 1
        while held > known - 1:
            far -= 1
            if length[far] > 0.0:
                reach -= 2.0 * float(a[far]) * float(length[far])
                held -= 1
        if far < n:
            entry[i] = min(float(entry[i]), max(reach, 0.0))


@njit(cache=True, nogil=True, error_model="numpy")
def plan_moves(length: Array, a: Array, top: Array, entry: Array, waits: Array) -> Array:
    """Turn caps into speeds: `entry` becomes the speed at each move's start, `top` its peak, both in mm/s.

    `waits` (m, 2): move index and seconds spent standing before it. Returns t (n,) float64 [s], the end of
    each move.
    """
    n = len(length)
    after = float(entry[n])
    for i in range(n - 1, -1, -1):
        after = min(float(entry[i]), after + 2.0 * float(a[i]) * float(length[i]))
        entry[i] = after
    t = np.empty(n, np.float64)
    now, next_wait = 0.0, 0
    before = float(entry[0])
    v0 = np.sqrt(before)
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
