"""What must hold for any path."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.motion.limits import Limits
from beadwright.motion.plan import plan
from specimens.columns import toolpath

coordinate = st.integers(-2000, 2000).map(lambda tenth: tenth / 10)
points = st.lists(st.tuples(coordinate, coordinate, st.sampled_from([0.2, 0.4])), min_size=2, max_size=40)
feeds = st.sampled_from([5.0, 40.0, 120.0, 400.0])
rules = st.sampled_from([{"junction_mm": 0.02}, {"junction_mm": None}])
RELATIVE = 2e-3  # speeds are kept in single precision: a move of 0.1 mm at 400 mm/s


@st.composite
def paths(draw):
    corners = draw(points)
    n = len(corners) - 1
    feed = draw(st.lists(feeds, min_size=n, max_size=n))
    fed = draw(st.lists(st.sampled_from([-0.5, 0.0, 0.3, 2.0]), min_size=n, max_size=n))
    return toolpath(corners, e=np.cumsum(fed), feed=feed)


@settings(max_examples=150, deadline=None)
@given(paths(), rules)
def test_limits_are_kept_and_speeds_join(path, rule):
    speeds, accels = (150.0, 80.0, 10.0, 30.0), (3000.0, 2000.0, 100.0, 4000.0)
    got = plan(path, Limits.uniform(2500.0, max_speed=speeds, max_accel=accels, **rule))
    step = np.column_stack([path.delta, path.fed])
    far = got.length > 0
    share = np.abs(step[far]) / got.length[far, None]
    assert (got.v_peak <= path.feed * (1 + 1e-6))[far].all()  # moves that go nowhere are passed through
    assert (got.v_peak[far, None] * share <= np.array(speeds) * (1 + 1e-5)).all()
    assert (got.accel[far, None] * share <= np.array(accels) * (1 + 1e-5)).all()
    assert (np.maximum(got.v_in, got.v_out)[far] <= got.v_peak[far] * (1 + 1e-6)).all()
    gained = np.abs(got.v_out.astype(float) ** 2 - got.v_in.astype(float) ** 2)[far]
    assert (gained <= 2 * got.accel[far] * got.length[far] * (1 + RELATIVE) + 1e-3).all()
    assert np.array_equal(got.v_out[:-1], got.v_in[1:])
    if rule["junction_mm"]:
        assert got.v[0] == got.v[-1] == 0.0
    else:  # at rest as at corners: no axis changes its speed by more
        assert (got.v[[0, -1]] <= 8.0 * np.sqrt(2) * (1 + 1e-6)).all()
    assert (np.diff(got.t, prepend=0.0) >= 0).all()
    assert np.isfinite(got.duration)


@settings(max_examples=60, deadline=None)
@given(paths(), st.data())
def test_every_end_is_reached_at_its_time(path, data):
    got = plan(path, Limits.uniform(2000.0))
    ends = np.column_stack([path.x, path.y, path.z])
    assert got.position_at(got.t) == pytest.approx(ends, abs=2e-3)


@settings(max_examples=60, deadline=None)
@given(points, st.floats(0.2, 0.8), st.integers(0, 100), rules)
def test_splitting_a_straight_move_changes_nothing(corners, share, which, rule):
    corners = np.array(corners)
    far = np.flatnonzero(np.linalg.norm(np.diff(corners, axis=0), axis=1) > 5.0)
    if not len(far):
        return
    cut = far[which % len(far)]
    between = corners[cut] + share * (corners[cut + 1] - corners[cut])
    limits = Limits.uniform(2000.0, **rule)
    whole = plan(toolpath(corners), limits).duration
    # chords look at the longer neighbour for their radius: corners of 45° and less keep to moves that are
    # cut evenly
    split = plan(toolpath(np.insert(corners, cut + 1, between, axis=0)), limits).duration
    assert split == pytest.approx(whole, rel=1e-2 if _has_soft_corner(corners) else 1e-5)


def _has_soft_corner(corners) -> bool:
    step = np.diff(corners, axis=0)
    step = step[np.linalg.norm(step, axis=1) > 0]
    unit = step / np.linalg.norm(step, axis=1)[:, None]
    return bool((np.einsum("ij,ij->i", unit[1:], unit[:-1]) > 0.7).any())


@settings(max_examples=40, deadline=None)
@given(points, st.sampled_from([0.5, 2.0, 4.0]))
def test_scaling(corners, factor):
    """All lengths (and the junction deviation), speeds and accelerations times k: the times stay as they
    are.
    """
    corners = np.array(corners)
    free = (np.inf,) * 4
    one = plan(toolpath(corners, feed=50.0), Limits.uniform(1000.0, max_speed=free, max_accel=free))
    grown = Limits.uniform(1000.0 * factor, junction_mm=0.02 * factor, max_speed=free, max_accel=free)
    other = plan(toolpath(corners * factor, feed=50.0 * factor), grown)
    assert other.t == pytest.approx(one.t, rel=1e-5, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(points)
def test_backwards_takes_as_long(corners):
    limits = Limits.uniform(1500.0, max_speed=(200.0, 100.0, 10.0, 50.0))
    ways = np.array(corners), np.array(corners)[::-1]
    there, back = (plan(toolpath(way), limits).duration for way in ways)
    assert back == pytest.approx(there, rel=1e-5)


@settings(max_examples=40, deadline=None)
@given(paths())
def test_more_acceleration_is_never_slower(path):
    slow, fast = (plan(path, Limits.uniform(accel)).duration for accel in (800.0, 4000.0))
    assert fast <= slow * (1 + 1e-6)
