"""The plan against an independent time-step integrator on random paths.

The integrator knows nothing of trapezoids or passes: each 2 µs it asks for the greatest speed from which every later
cap can still be met by braking (energy left along the path), and steps on. Corner caps come from angles by arc cosine,
what belts see from a matrix, what a delta's carriages see from differences of their heights.
"""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit

from beadwright.motion.limits import Limits
from beadwright.motion.plan import plan
from specimens.columns import events, toolpath

STEP = 2e-6  # s; its error grows with the step, 0.1 mm at 20 µs
INF = np.inf
JUNCTION = Limits.uniform(
    (2000.0, 3000.0, 1500.0),
    junction_mm=0.03,
    max_speed=(120.0, 90.0, 10.0, 40.0),
    max_accel=(2500.0, 1800.0, 200.0, 900.0),
)
CORNER = Limits.uniform(
    (1500.0, 2500.0, 1000.0),
    junction_mm=None,
    corner_speed=(9.0, 7.0, 1.0, 2.0),
    max_speed=(INF, INF, 12.0, 60.0),
    max_accel=(INF, INF, 150.0, INF),
)
MOTORS = {"max_speed": (90.0, 110.0, 70.0, 50.0), "max_accel": (1800.0, 1500.0, 1600.0, 900.0), "axes": "motor"}
ARMS = {"rod_mm": 250.0, "tower_radius_mm": 120.0, "centre_mm": (90.0, 95.0)}
CHANGING = Limits(
    change=np.array([0, 7, 15], np.int32),
    max_speed=np.array([[150.0, 150, 10, 50], [60, 150, 10, 50], [150, 150, 10, 8]]),
    max_accel=np.array([[3000.0, 3000, 200, 900], [3000, 500, 200, 900], [3000, 3000, 200, 900]]),
    accel=np.array([[2000.0, 2500, 1000], [500, 2500, 1000], [4000, 800, 600]]),
    junction_mm=np.array([0.02, np.nan, 0.05]),
    corner_speed=np.array([[8.0, 8, 0.4, 5]] * 3),
)
LIMITS = {
    "junction": JUNCTION,
    "corner speed": CORNER,
    "belts": Limits.uniform(2500.0, junction_mm=0.02, kinematics="corexy", **MOTORS),
    "belts, corner speed": Limits.uniform(2500.0, junction_mm=None, kinematics="corexy", **MOTORS),
    "carriages": Limits.uniform(2500.0, junction_mm=0.02, kinematics="delta", **MOTORS, **ARMS),
    "short queue": Limits.uniform(800.0, junction_mm=0.05, lookahead_moves=3),
    "slow planner": Limits.uniform(3000.0, junction_mm=0.05, min_move_s=0.03),
    "changing": CHANGING,
}


def random_path(seed: int):
    """About 25 moves: short and long, beads and travels, some with z, two of filament alone; a dwell, a tool change."""
    rng = np.random.default_rng(seed)
    steps = rng.normal(size=(25, 3)) * rng.choice([0.3, 3.0, 12.0], size=(25, 1))
    steps[:, 2] *= rng.random(25) < 0.15
    steps[[8, 17]] = 0.0
    fed = np.where(rng.random(25) < 0.7, np.linalg.norm(steps, axis=1) * 0.05, 0.0)
    fed[8], fed[17] = -0.8, 0.8
    points = np.vstack([[100, 100, 1], [100, 100, 1] + np.cumsum(steps, axis=0)])
    stops = {"dwell_s": events((11, 0.05)), "tool_change": events((20, 0.0))}
    return toolpath(points, e=np.cumsum(fed), feed=rng.choice([30.0, 80.0, 150.0], 25), **stops)


def heights(place, limits: Limits):
    """Where the drives stand with the head at `place`: the head's own axes, two belts and z, or three carriages."""
    x, y, z = place
    if limits.axes == "motor" and limits.kinematics == "corexy":
        return np.array([x + y, x - y, z])
    if limits.axes == "motor":
        towers = limits.tower_radius_mm * np.exp(1j * np.radians([90, 210, 330])) + complex(*limits.centre_mm)
        return z + np.sqrt(limits.rod_mm**2 - np.abs(complex(x, y) - towers) ** 2)
    return np.array(place)


def seen(place, step, limits: Limits):
    """How far the drives go for a small part of `step` at `place`, per that part; and the second derivative."""
    part = 1e-3
    before, here, after = (heights(place + k * part * step, limits) for k in (-1, 0, 1))
    return (after - before) / (2 * part), (after - 2 * here + before) / part**2


def caps(path, limits: Limits):
    """Length, top speed, acceleration of each move and the cap at its start (and the last end), by the definitions."""
    ends = np.vstack([path.start, np.column_stack([path.x, path.y, path.z])])
    step = np.diff(ends, axis=0)
    fed = np.diff(path.e, prepend=0.0)
    row = limits.row_of(np.arange(len(path)))
    n = len(path)
    length, top, accel = (np.zeros(n) for _ in range(3))
    cap, rest = np.zeros(n + 1), np.zeros(n)
    unit = np.zeros((n, 4))
    for i in range(n):
        most_v, most_a, (bead, travel, filament) = (
            table[row[i]] for table in (limits.max_speed, limits.max_accel, limits.accel)
        )
        head = np.linalg.norm(step[i])
        length[i] = head or abs(fed[i])
        unit[i] = np.append(step[i], fed[i]) / length[i]
        top[i] = path.feed[i]
        accel[i] = (bead if fed[i] > 0 else travel) if head else filament
        looks = [seen(ends[i] + k * step[i], unit[i, :3], limits) for k in (0.0, 0.5, 1.0)]
        for share, bend in looks if head else []:
            for drive in range(3):
                top[i] = min(top[i], most_v[drive] / max(abs(share[drive]), 1e-12))
                if limits.kinematics == "delta":
                    top[i] = min(top[i], np.sqrt(0.5 * most_a[drive] / abs(bend[drive])))
        top[i] = min(top[i], most_v[3] / max(abs(unit[i, 3]), 1e-12))
        for share, bend in looks if head else []:
            spent = np.abs(bend) * top[i] ** 2 if limits.kinematics == "delta" else np.zeros(3)
            accel[i] = min(accel[i], *((most_a[:3] - spent) / np.maximum(np.abs(share), 1e-12)))
        accel[i] = min(accel[i], most_a[3] / max(abs(unit[i, 3]), 1e-12))
        if limits.min_move_s:
            top[i] = min(top[i], length[i] / limits.min_move_s)
        if np.isnan(limits.junction_mm[row[i]]):
            used = np.append(looks[0][0] if head else np.zeros(3), unit[i, 3])
            rest[i] = np.min(limits.corner_speed[row[i]] / np.maximum(np.abs(used), 1e-12))
        cap[i] = min(rest[i], top[i], *((rest[i - 1], top[i - 1]) if i else ()))
        stopped = {*path.events.dwell_s.move.tolist(), *path.events.tool_change.move.tolist()}
        if i and head and np.linalg.norm(step[i - 1]) and i not in stopped:
            turn = corner(ends[i], unit[i - 1 : i + 1], length[i - 1 : i + 1], accel[i - 1 : i + 1], limits, row[i])
            cap[i] = min(top[i], top[i - 1], turn)
    cap[n] = min(rest[-1], top[-1])
    return length, top, accel, cap


def corner(place, unit, lengths, accels, limits: Limits, row: int) -> float:
    theta = np.pi - np.arccos(np.clip(unit[0, :3] @ unit[1, :3], -1, 1))
    change = unit[1] - unit[0]
    size = np.linalg.norm(change[:3])
    across = np.abs(seen(place, change[:3] / size, limits)[0])
    side = min(accels.min(), np.min(limits.max_accel[row, :3] / np.maximum(across, 1e-12)))
    out = []
    if np.pi - theta < np.pi / 4:  # radius of the circle through the chord's ends, turning by (π − θ)
        out.append(np.sqrt(side * lengths.max() / (2 * np.sin((np.pi - theta) / 2))))
    if np.isnan(limits.junction_mm[row]):
        jumps = np.append(across * size, abs(change[3]))
        out += [jump / c for jump, c in zip(limits.corner_speed[row], jumps, strict=True) if c > 1e-6]
    else:
        s = np.sin(theta / 2)
        out.append(np.sqrt(side * limits.junction_mm[row] * s / (1 - s)))
    return min(out)


@njit
def integrate(length, top, accel, cap, known, step):
    """Step through the path; return the distance run after each step. A queue holds `known` moves."""
    n = len(length)
    ends = np.cumsum(length)
    # reach[i]: v² + all that braking took off may not exceed it, for the sake of any cap from move i on
    brake = np.concatenate((np.zeros(1), np.cumsum(2 * accel * length)))
    reach = brake + cap**2
    for i in range(n - 1, -1, -1):
        reach[i] = min(reach[i + 1], brake[i] + cap[i] ** 2)
    runs = [0.0]
    run, v, i = 0.0, cap[0], 0
    v = np.sqrt(min(v * v, reach[0]))
    while run < ends[-1] - 1e-6:
        while run >= ends[i]:
            i += 1
            v = min(v, cap[i] + 1e-4)
        gone = brake[i] + 2 * accel[i] * (run - ends[i] + length[i])
        left = reach[i + 1] - gone
        if i + known < n:
            left = min(left, brake[i + known] - gone)
        v = min(v + accel[i] * step, top[i], np.sqrt(max(left, 0.0)) + 1e-4)
        run += v * step
        runs.append(run)
    return np.array(runs)


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize("seed", range(4))
def test_plan_agrees_with_fine_steps(seed: int, name: str):
    limits = LIMITS[name]
    path = random_path(seed)
    got = plan(path, limits)
    length, top, accel, cap = caps(path, limits)
    runs = integrate(length, top, accel, cap, limits.lookahead_moves or len(length), STEP)
    marks = np.concatenate([[0.0], np.cumsum(length)])
    times = STEP * np.arange(len(runs))
    times += 0.05 * (runs > marks[11] + 1e-9)  # the dwell
    assert got.duration == pytest.approx(times[-1], rel=0.005)
    assert got.v == pytest.approx(np.minimum(got.v, cap * (1 + 1e-4) + 1e-3))
    # the head's place at each run of the path, filament moves standing still
    ends = np.vstack([path.start, np.column_stack([path.x, path.y, path.z])])
    some = np.linspace(0, min(times[-1], got.duration), 400)
    run = np.interp(some, times, runs)
    place = np.column_stack([np.interp(run, marks, ends[:, axis]) for axis in range(3)])
    assert np.abs(got.position_at(some) - place).max() < 0.05


def test_the_carriages_of_a_delta_keep_their_limits():
    """Positions of the plan, 0.2 ms apart, through the arms: no carriage is faster, none speeds up harder on the way.

    At corners the head turns at once, so only accelerations within a move are held against the limit.
    """
    limits = Limits.uniform(1e5, junction_mm=0.02, kinematics="delta", **MOTORS, **ARMS)
    points = np.array([[90, 95], [150, 40], [20, 60], [95, 170], [90, 95], [100, 95.0]])
    got = plan(toolpath(points, feed=400.0), limits)
    times = np.arange(0, got.duration, 2e-4)
    place = got.position_at(times)
    carriages = np.array([heights(at, limits) for at in place])
    speed = np.diff(carriages, axis=0) / 2e-4
    assert (np.abs(speed).max(axis=0) <= np.array(MOTORS["max_speed"][:3]) * 1.001).all()
    assert np.abs(speed).max() > 85.0  # and one of them is what holds the head back
    accel = np.diff(speed, axis=0) / 2e-4
    move = np.searchsorted(got.t, times)
    within = (move[2:] == move[:-2]) & (np.abs(times[1:-1, None] - got.t).min(axis=1) > 1e-3)
    assert (np.abs(accel[within]).max(axis=0) <= np.array(MOTORS["max_accel"][:3]) * 1.02).all()
