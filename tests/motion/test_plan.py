"""The motion plan on cases that can be worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from beadwright.motion.limits import Limits
from beadwright.motion.plan import plan
from specimens.columns import events, toolpath

FREE = (np.inf, np.inf, np.inf, np.inf)
LOOSE = Limits.uniform(1000.0, junction_mm=1e9, max_speed=FREE, max_accel=FREE)
TIGHT = Limits.uniform(1000.0, junction_mm=1e-12, max_speed=FREE, max_accel=FREE)


def straight(*lengths: float, **more: object):
    x = np.concatenate([[0.0], np.cumsum(lengths)])
    return toolpath(np.column_stack([x, 0 * x]), **more)


def test_collinear_moves_run_through():
    """0 → 60 → 100 along x: as one move of 100 mm, 1.1 s at 100 mm/s and 1000 mm/s²."""
    got = plan(straight(60.0, 40.0), LOOSE)
    assert got.duration == pytest.approx(1.1, rel=1e-6)
    assert got.v_out[0] == pytest.approx(100.0)


def test_reversal_stops():
    """0 → 50 → 0: two moves from rest to rest, each 0.1 + 0.4 + 0.1 s."""
    got = plan(toolpath([[0, 0], [50, 0], [0, 0]]), Limits.uniform(1000.0, junction_mm=0.02))
    assert got.duration == pytest.approx(2 * 0.6, rel=1e-6)
    assert got.v_out[0] == 0.0


def test_slow_move_brakes_the_one_before():
    """100 mm/s then 20 mm/s on one line: the first move leaves at 20, braking within itself."""
    got = plan(straight(50.0, 50.0, feed=[100.0, 20.0]), LOOSE)
    first = 0.1 + 0.08 + (50 - 5 - 4.8) / 100
    second = 0.02 + (50 - 0.2) / 20
    assert got.v_out[0] == pytest.approx(20.0)
    assert got.t == pytest.approx([first, first + second], rel=1e-6)


def test_braking_reaches_over_several_short_moves():
    """Ten moves of 0.5 mm end at rest: 100 mm/s needs 5 mm, so braking fills them all."""
    got = plan(straight(100.0, *[0.5] * 10), LOOSE)
    remaining = 0.5 * np.arange(10, -1, -1)
    assert got.v_out == pytest.approx(np.sqrt(2 * 1000 * remaining), rel=1e-5)


def test_axis_speed_limit_counts_along_the_direction():
    """A 3-4-5 move with 30 mm/s allowed in x and 30 in y: y leads, 30 / 0.8 = 37.5 mm/s along the path."""
    limits = Limits.uniform(1e6, max_speed=(30.0, 30.0, np.inf, np.inf), max_accel=FREE)
    assert plan(toolpath([[0, 0], [30, 40]]), limits).v_peak[0] == pytest.approx(37.5)


def test_axis_acceleration_limit_counts_along_the_direction():
    """The same move, 600 mm/s² in x and 400 in y: min(600 / 0.6, 400 / 0.8) = 500."""
    limits = Limits.uniform(5000.0, max_speed=FREE, max_accel=(600.0, 400.0, np.inf, np.inf))
    assert plan(toolpath([[0, 0], [30, 40]]), limits).accel[0] == pytest.approx(500.0)


def test_filament_limits_a_bead():
    """2 mm of filament on 10 mm of path, 5 mm/s of filament allowed: 25 mm/s along the path."""
    limits = Limits.uniform(1000.0, max_speed=(np.inf, np.inf, np.inf, 5.0), max_accel=FREE)
    assert plan(straight(10.0, e=[2.0]), limits).v_peak[0] == pytest.approx(25.0)


def test_filament_alone_stops_the_head_and_takes_its_own_time():
    """10 mm, 1 mm back at 20 mm/s and 1000 mm/s², 10 mm on: three profiles from rest to rest."""
    path = toolpath([[0, 0], [10, 0], [10, 0], [20, 0]], e=[0, -1, -1], feed=[100, 20, 100])
    head = 2 * np.sqrt(10 / 1000)
    filament = 2 * 0.02 + (1 - 0.4) / 20
    assert plan(path, LOOSE).seconds == pytest.approx([head, filament, head], rel=1e-5)


def test_beads_travels_and_filament_have_their_own_acceleration():
    path = toolpath([[0, 0], [10, 0], [20, 0], [20, 0]], e=[1, 1, 0])
    assert plan(path, Limits.uniform((1000.0, 2000.0, 3000.0))).accel == pytest.approx([1000, 2000, 3000])


def test_corner_speed_rule_at_a_right_angle():
    """8 mm/s allowed suddenly in x and in y: x falls from v to 0, so v = 8."""
    limits = Limits.uniform(1000.0, junction_mm=None, corner_speed=(8.0, 8.0, 1.0, 5.0))
    got = plan(toolpath([[0, 0], [50, 0], [50, 50]]), limits)
    assert got.v_out[0] == pytest.approx(8.0)


def test_corner_speed_rule_counts_the_filament():
    """A bead of 0.1 mm/mm into a travel on one line: the filament stops at once, 0.5 mm/s allowed, so v =
    5.
    """
    limits = Limits.uniform(1000.0, junction_mm=None, corner_speed=(8.0, 8.0, 1.0, 0.5))
    got = plan(straight(50.0, 50.0, e=[5.0, 5.0]), limits)
    assert got.v_out[0] == pytest.approx(5.0)


def test_two_belts_share_a_diagonal():
    """Along +45° belt a alone moves, by sqrt(2) times the path; along x both belts move as the head does."""
    motor = {"max_speed": (100.0, 100.0, np.inf, np.inf), "max_accel": FREE, "kinematics": "corexy"}
    diagonal, along = toolpath([[0, 0], [70, 70]], feed=300.0), toolpath([[0, 0], [70, 0]], feed=300.0)
    belts = Limits.uniform(1e5, axes="motor", **motor)
    assert plan(diagonal, belts).v_peak[0] == pytest.approx(100 / np.sqrt(2))
    assert plan(along, belts).v_peak[0] == pytest.approx(100.0)
    assert plan(diagonal, Limits.uniform(1e5, **motor)).v_peak[0] == pytest.approx(100 * np.sqrt(2))


def test_curve_of_short_chords_obeys_the_centripetal_limit():
    """A 5 mm circle of 0.05 mm chords: v² ≤ a r, 70.7 mm/s at 1000 mm/s²."""
    angle = np.linspace(0, 6 * np.pi, 1885)
    circle = np.column_stack([5 * np.cos(angle), 5 * np.sin(angle)])
    got = plan(toolpath(circle, feed=300.0), LOOSE)
    assert got.v.max() == pytest.approx(np.sqrt(1000 * 5), rel=2e-3)


def test_dwell_stops_and_counts():
    """A G4 of 2 s between two collinear moves: two profiles from rest to rest, the wait before the second."""
    got = plan(straight(10.0, 10.0, dwell_s=events((1, 2.0))), LOOSE)
    assert got.seconds == pytest.approx([0.2, 2.2], rel=1e-5)
    assert got.position_at([0.2, 1.0, 2.2])[:, 0] == pytest.approx([10.0, 10.0, 10.0], abs=1e-6)
    assert got.speed_at([1.0])[0] == 0.0


def test_dwell_after_the_last_move_counts():
    got = plan(straight(10.0, dwell_s=events((1, 3.0))), LOOSE)
    assert got.duration == pytest.approx(3.2)
    assert got.position_at(3.0)[0] == 10.0


def test_pause_and_tool_change_stop_the_head():
    for name in ("pause", "tool_change"):
        got = plan(straight(10.0, 10.0, **{name: events((1, 1.0))}), LOOSE)
        assert got.v_out[0] == 0.0


def test_a_move_that_goes_nowhere_does_not_stop_the_head():
    assert plan(straight(60.0, 0.0, 40.0), LOOSE).duration == pytest.approx(1.1, rel=1e-6)


def test_feed_of_nothing_ends():
    """No feed was ever commanded: slow, but not forever."""
    got = plan(straight(1.0, feed=0.0), LOOSE)
    assert got.duration == pytest.approx(10.0, rel=1e-2)


def test_limits_may_change_between_moves():
    limits = Limits(
        change=np.array([0, 1], np.int32),
        max_speed=np.array([FREE, FREE]),
        max_accel=np.array([FREE, FREE]),
        accel=np.array([[1000.0] * 3, [4000.0] * 3]),
        junction_mm=np.array([0.02, 0.02]),
        corner_speed=np.array([FREE, FREE]),
    )
    assert plan(straight(10.0, 10.0), limits).accel.tolist() == [1000.0, 4000.0]


def test_position_and_speed_follow_the_profile():
    """100 mm at 100 mm/s, 1000 mm/s²: 1.25 mm and 50 mm/s at 0.05 s; 50 mm half-way; at rest at the ends."""
    got = plan(straight(100.0), TIGHT)
    assert got.position_at([0.0, 0.05, 0.55, 1.05, 1.1])[:, 0] == pytest.approx([0, 1.25, 50, 98.75, 100], abs=1e-4)
    assert got.speed_at([0.0, 0.05, 0.55, 1.05, 1.1]) == pytest.approx([0, 50, 100, 50, 0], abs=1e-3)
    assert np.isnan(got.speed_at([-0.1, 1.2])).all()
    assert np.isnan(got.position_at(2.0)).all()


def test_one_time_and_many_take_the_same_path():
    got = plan(straight(100.0), TIGHT)
    assert got.position_at(0.3).shape == (3,)
    assert got.position_at(0.3).tolist() == got.position_at([0.1, 0.3])[1].tolist()
    assert got.position_at(np.zeros((2, 2))).shape == (2, 2, 3)


def test_limits_refuse_what_cannot_be():
    with pytest.raises(ValueError, match="accel must be positive"):
        Limits.uniform(0.0)
    with pytest.raises(ValueError, match="junction_mm"):
        Limits.uniform(1000.0, junction_mm=-1.0)
