"""The plan against an independent time-step integrator on random paths.

The integrator knows nothing of trapezoids or passes: each 2 µs it asks for the greatest speed from which
every later cap can still be met by braking (energy left along the path), and steps on. Corner caps come
from angles by arc cosine.
"""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit

from beadwright.motion.limits import Limits
from beadwright.motion.plan import plan
from specimens.columns import toolpath

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


def random_path(seed: int):
    """About 25 moves: short and long, beads and travels, some with z, two of filament alone."""
    rng = np.random.default_rng(seed)
    steps = rng.normal(size=(25, 3)) * rng.choice([0.3, 3.0, 12.0], size=(25, 1))
    steps[:, 2] *= rng.random(25) < 0.15
    steps[[8, 17]] = 0.0
    fed = np.where(rng.random(25) < 0.7, np.linalg.norm(steps, axis=1) * 0.05, 0.0)
    fed[8], fed[17] = -0.8, 0.8
    points = np.vstack([[100, 100, 1], [100, 100, 1] + np.cumsum(steps, axis=0)])
    return toolpath(points, e=np.cumsum(fed), feed=rng.choice([30.0, 80.0, 150.0], 25))


def caps(path, limits: Limits):
    """Length, top speed, acceleration of each move and the cap at its start, by the definitions."""
    ends = np.column_stack([path.x, path.y, path.z])
    step = np.diff(ends, axis=0, prepend=path.start[None])
    fed = np.diff(path.e, prepend=0.0)
    n = len(path)
    length, top, accel, cap = (np.zeros(n) for _ in range(4))
    most_v, most_a, (bead, travel, filament) = limits.max_speed[0], limits.max_accel[0], limits.accel[0]
    unit = np.zeros((n, 4))
    for i in range(n):
        head = np.linalg.norm(step[i])
        length[i] = head or abs(fed[i])
        share = np.append(step[i], fed[i]) / length[i]
        unit[i] = share
        used = np.abs(share) > 0
        top[i] = min([path.feed[i], *(most_v[used] / np.abs(share[used]))])
        own = (bead if fed[i] > 0 else travel) if head else filament
        accel[i] = min([own, *(most_a[used] / np.abs(share[used]))])
        if i and head and np.linalg.norm(step[i - 1]):
            cap[i] = min(
                top[i],
                top[i - 1],
                corner(unit[i - 1], share, length[i - 1 : i + 1], accel[i - 1 : i + 1], limits),
            )
    return length, top, accel, cap


def corner(old, new, lengths, accels, limits: Limits) -> float:
    theta = np.pi - np.arccos(np.clip(old[:3] @ new[:3], -1, 1))
    change = new - old
    across = np.abs(change[:3]) / np.linalg.norm(change[:3])
    side = min([accels.min(), *(limits.max_accel[0, :3][across > 0] / across[across > 0])])
    out = []
    if np.pi - theta < np.pi / 4:  # radius of the circle through the chord's ends, turning by (π − θ)
        out.append(np.sqrt(side * lengths.max() / (2 * np.sin((np.pi - theta) / 2))))
    if np.isnan(limits.junction_mm[0]):
        out += [
            jump / abs(c) for jump, c in zip(limits.corner_speed[0], change, strict=True) if abs(c) > 1e-6
        ]
    else:
        s = np.sin(theta / 2)
        out.append(np.sqrt(side * limits.junction_mm[0] * s / (1 - s)))
    return min(out)


@njit
def integrate(length, top, accel, cap, step):
    """Step through the path; return the distance run after each step."""
    n = len(length)
    ends = np.cumsum(length)
    # reach[i]: v² + all that braking took off may not exceed it, for the sake of any cap from move i on
    brake = np.concatenate((np.zeros(1), np.cumsum(2 * accel * length)))
    reach = brake.copy()
    for i in range(n - 1, -1, -1):
        reach[i] = min(reach[i + 1], brake[i] + cap[i] ** 2)
    runs = [0.0]
    run, v, i = 0.0, 0.0, 0
    while run < ends[-1] - 1e-6:
        while run >= ends[i]:
            i += 1
        left = reach[i + 1] - brake[i] - 2 * accel[i] * (run - ends[i] + length[i])
        v = min(v + accel[i] * step, top[i], np.sqrt(max(left, 0.0)) + 1e-4)
        run += v * step
        runs.append(run)
    return np.array(runs)


@pytest.mark.parametrize("limits", [JUNCTION, CORNER], ids=["junction", "corner speed"])
@pytest.mark.parametrize("seed", range(4))
def test_plan_agrees_with_fine_steps(seed: int, limits: Limits):
    path = random_path(seed)
    got = plan(path, limits)
    length, top, accel, cap = caps(path, limits)
    runs = integrate(length, top, accel, cap, STEP)
    times = STEP * np.arange(len(runs))
    assert got.duration == pytest.approx(times[-1], rel=0.005)
    assert got.v_in == pytest.approx(np.minimum(got.v_in, cap + 1e-3))
    # the head's place at each run of the path, filament moves standing still
    ends = np.vstack([path.start, np.column_stack([path.x, path.y, path.z])])
    marks = np.concatenate([[0.0], np.cumsum(length)])
    some = np.linspace(0, min(times[-1], got.duration), 400)
    run = np.interp(some, times, runs)
    place = np.column_stack([np.interp(run, marks, ends[:, axis]) for axis in range(3)])
    assert np.abs(got.position_at(some) - place).max() < 0.05
