"""Motion against numbers that were not computed by this project's code.

Sources, each named where it is used. "From memory" means that the page was not at hand when this was written.
"""

from __future__ import annotations

import numpy as np
import pytest

from beadwright.motion.limits import Limits
from beadwright.motion.plan import Plan, plan
from specimens.columns import toolpath

FREE = (np.inf,) * 4


def line(d: float, v0: float, vm: float, v1: float, a: float) -> Plan:
    """A move of `d` entered at v0 and left at v1, framed by long moves at those speeds; the middle one is
    wanted.
    """
    lengths = [200.0] * (v0 > 0) + [d] + [200.0] * (v1 > 0)
    feeds = [v0] * (v0 > 0) + [vm] + [v1] * (v1 > 0)
    x = np.concatenate([[0.0], np.cumsum(lengths)])
    limits = Limits.uniform(a, junction_mm=0.02, max_speed=FREE, max_accel=FREE)
    return plan(toolpath(np.column_stack([x, 0 * x]), feed=feeds), limits)


@pytest.mark.parametrize(
    ("d", "v0", "vm", "v1", "a", "seconds"),
    [
        (100, 0, 100, 0, 1000, 1.1),
        (5, 0, 100, 0, 1000, 0.141421),
        (10, 20, 100, 10, 3000, 0.1241667),
        (2, 20, 100, 10, 3000, 0.0427046),
        (50, 10, 150, 5, 5000, 0.3604167),
    ],
)
def test_trapezoids_worked_by_hand(d, v0, vm, v1, a, seconds):
    """Uniformly accelerated motion; the form as in Biagiotti and Melchiorri, *Trajectory Planning for
    Automatic Machines and Robots*, Springer 2008, ch. 3 (from memory); numbers worked by hand from it."""
    assert line(d, v0, vm, v1, a).seconds[1 if v0 else 0] == pytest.approx(seconds, rel=5e-6)


@pytest.mark.parametrize(
    ("degrees", "wide", "fine"),
    [
        (60, 7.74597, 4.41588),
        (90, 12.03548, 6.86128),
        (120, 19.69381, 11.22720),
        (135, 26.98563, 15.38418),
        (170, 125.3295, 71.4487),
    ],
)
def test_corner_speeds_worked_by_hand(degrees, wide, fine):
    """v = sqrt(a δ s/(1 − s)), s = sin(θ/2): elementary geometry of a circle tangent to both segments,
    worked by hand for δ 0.02 mm, a 3000 mm/s² and δ 0.013 mm, a 1500. A cornering tolerance set by the
    user is the idea of Sencer, Ishizaki and Shamoto, Int. J. Adv. Manuf. Technol.,
    doi:10.1007/s00170-014-6386-2; the closed form is not theirs."""
    turn = np.pi - np.radians(degrees)
    path = toolpath([[0, 0], [100, 0], [100 + 100 * np.cos(turn), 100 * np.sin(turn)]], feed=400.0)
    for junction, a, expected in ((0.02, 3000.0, wide), (0.013, 1500.0, fine)):
        limits = Limits.uniform(a, junction_mm=junction, max_speed=FREE, max_accel=FREE)
        assert plan(path, limits).v_out[0] == pytest.approx(expected, rel=1e-5)


def test_triangle_peaks_at_twice_the_average():
    """D. Collins, *How to calculate velocity from triangular and trapezoidal move profiles*,
    linearmotiontips.com/how-to-calculate-velocity (read): the peak of a triangular profile is twice the
    average."""
    got = line(40.0, 0, 1e4, 0, 1000.0)
    assert got.v_peak[0] == pytest.approx(2 * 40.0 / got.duration, rel=1e-6)


@pytest.mark.parametrize(("deceleration", "distance"), [(7.00, 64.3), (5.00, 90.0)])
def test_stopping_distance_of_a_car(deceleration, distance):
    """OpenStax, *College Physics*, worked example on stopping distances (from memory): from 30.0 m/s a car
    stops in 64.3 m on dry concrete (7.00 m/s²) and in 90.0 m on wet (5.00 m/s²). Metres stand for
    millimetres here."""
    got = line(1000.0, 0, 30.0, 0, deceleration)
    braking = got.duration - 30.0 / deceleration
    assert got.speed_at([braking - 0.5, braking + 0.5]) == pytest.approx([30, 30 - deceleration / 2], rel=1e-4)
    assert 1000.0 - got.position_at(braking)[0] == pytest.approx(distance, abs=0.05)


def test_speed_in_a_bend():
    """OpenStax, *College Physics*, example on centripetal acceleration (from memory): a curve of 500 m
    radius at 25.0 m/s needs 1.25 m/s². So a curve of 500 mm with 1.25 mm/s² allowed is taken at 25 mm/s."""
    angle = np.linspace(0, np.pi, 2001)
    limits = Limits.uniform(1.25, junction_mm=1e9, max_speed=FREE, max_accel=FREE)
    got = plan(toolpath(500 * np.column_stack([np.cos(angle), np.sin(angle)]), feed=100.0), limits)
    assert got.v.max() == pytest.approx(25.0, rel=1e-3)


def test_two_belts_move_as_the_transform_says():
    """a = x + y, b = x − y: fab.cba.mit.edu, university fabrication course page on the two-belt layout
    (read). The head moved by (3, 1) turns the belts by (4, 2): belt a leads, so 100 mm/s of belt allow
    sqrt(10)/4 of it to the head."""
    limits = Limits.uniform(
        1e6, max_speed=(100.0, 100.0, np.inf, np.inf), max_accel=FREE, kinematics="corexy", axes="motor"
    )
    got = plan(toolpath([[0, 0], [30, 10]], feed=500.0), limits)
    assert got.v_peak[0] == pytest.approx(100 * np.sqrt(10) / 4, rel=1e-6)
