"""The print's clocks against one another.

Six moves on lines 1 … 6, at constant 10 mm/s (acceleration without bound), in two layers:
  0  travel 10 mm         1  bead 10 mm, 1 mm of filament (layer 0, z 0.2)    2  filament back 0.5 mm
  3  travel 10 mm up to layer 1, filament back in 4       5  bead 10 mm, 1 mm of filament (layer 1, z 0.4)
"""

from __future__ import annotations

import itertools
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.motion.limits import Limits
from beadwright.motion.plan import plan
from beadwright.motion.timeline import Clock, Timeline
from specimens.columns import layers, toolpath

FAST = Limits.uniform(1e9, junction_mm=1e9, max_speed=(np.inf,) * 4, max_accel=(np.inf,) * 4)
CLOCKS = get_args(Clock)


@pytest.fixture(scope="module")
def small() -> Timeline:
    points = [[0, 0, 0.2], [10, 0, 0.2], [20, 0, 0.2], [20, 0, 0.2], [10, 0, 0.4], [10, 0, 0.4], [0, 0, 0.4]]
    path = toolpath(points, e=[0, 1, 0.5, 0.5, 1, 2], feed=10.0)
    return Timeline.build(path, plan(path, FAST), layers([1, 5], [1, 5], [0.2, 0.4], 6))


@pytest.mark.parametrize(
    ("from_", "value", "to", "expected"),
    [
        ("move", 1.5, "s", 1.5),
        ("move", 1.5, "filament", 0.5),
        ("move", 1.5, "path", 15.0),
        ("move", 3.0, "filament", 1.0),  # half a millimetre is drawn back, the clock stands
        ("s", 1.5, "line", 2),
        ("s", 1.5, "z", 0.2),
        ("s", 0.5, "z", np.nan),  # nothing laid yet
        ("s", 1.001, "layer", 0.0),
        ("layer", 1.0, "line", 6),
        ("layer", 1.0, "move", 5.0),
        ("z", 0.2, "move", 1.0),
        ("z", 0.1, "move", 1.0),  # within the first layer
        ("z", 0.3, "layer", 1.0),  # within the second
        ("z", 0.4, "move", 5.0),
        ("z", 0.5, "s", np.nan),
        ("z", -0.1, "s", np.nan),
        ("filament", 1.0, "move", 2.0),  # first reached at the end of move 1
        ("filament", 1.5, "path", None),
        ("path", 15.0, "filament", 0.5),
        ("line", 2, "s", 1.0),
        ("line", 6, "z", 0.4),
        ("line", 7, "s", np.nan),
        ("line", 0, "s", np.nan),
        ("s", -1.0, "move", np.nan),
        ("s", 1e9, "move", np.nan),
        ("s", np.nan, "line", np.nan),
    ],
)
def test_known_moments(small: Timeline, from_, value, to, expected):
    if expected is None:  # half of the last bead: 5 mm before the end of the path
        expected = small.path[-1] - 5.0
    got = small.convert(value, from_, to)
    assert got == pytest.approx(expected, abs=2e-3, nan_ok=True)


def test_one_and_many_take_the_same_path(small: Timeline):
    assert small.convert(1.5, "s", "path").shape == ()
    assert small.convert([[0.5, 1.5]], "s", "path").shape == (1, 2)
    assert small.convert([0.5, 1.5], "s", "path")[1] == small.convert(1.5, "s", "path")


def test_a_name_that_is_no_clock_is_refused(small: Timeline):
    with pytest.raises(ValueError, match="'hours' is no clock of a print; clocks are move, s, layer"):
        small.convert(1.0, "hours", "s")  # type: ignore[arg-type]


def test_a_layer_lasts_until_the_next_begins(small: Timeline):
    begin, end = small.convert([0.0, 1.0], "layer", "s")
    assert small.convert((begin + end) / 2, "s", "layer") == pytest.approx(0.5)
    assert small.convert(2.0, "layer", "s") == pytest.approx(small.t[-1])


def test_a_later_lower_object_does_not_turn_the_height_back():
    """Two objects one after the other: heights 0.2 0.4 then 0.2 0.4; the height clock stays at 0.4."""
    points = [[x, 0, z] for x, z in [(0, 0.2), (10, 0.2), (20, 0.4), (30, 0.2), (40, 0.4)]]
    path = toolpath(points, e=[1, 2, 3, 4], feed=10.0)
    line = Timeline.build(path, plan(path, FAST), layers([0, 1, 2, 3], [0, 1, 2, 3], [0.2, 0.4, 0.2, 0.4], 4))
    assert line.convert([0.2, 0.4], "z", "move").tolist() == [0.0, 1.0]
    assert line.convert([0.5, 1.5, 2.5, 3.5], "move", "z").tolist() == [0.2, 0.4, 0.4, 0.4]


def test_without_layers_their_clocks_are_unknown():
    path = toolpath([[0, 0], [10, 0]], feed=10.0)
    line = Timeline.build(path, plan(path, FAST), layers([], [], [], 1))
    for there, back in itertools.product(("layer", "z"), ("s", "line")):
        assert np.isnan(line.convert(0.0, there, back))
        assert np.isnan(line.convert(1.0, back, there))


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10_000), st.floats(0, 1))
def test_round_trips_and_order(seed: int, share: float):
    rng = np.random.default_rng(seed)
    n = 40
    points = np.column_stack([rng.uniform(0, 50, (n + 1, 2)), np.repeat(np.arange(1, n // 8 + 2), 8)[: n + 1] * 0.2])
    path = toolpath(points, e=np.cumsum(rng.choice([-0.4, 0.0, 0.6], n)), feed=60.0)
    got = plan(path, Limits.uniform(1000.0))
    firsts = list(range(0, n, 8))
    line = Timeline.build(
        path, got, layers(firsts, [first + 7 for first in firsts], [0.2 * k + 0.2 for k in range(5)], n)
    )
    for clock, top in (
        ("s", got.duration),
        ("path", line.path[-1]),
        ("filament", line.filament[-1]),
        ("layer", 5.0),
    ):
        value = share * top
        for via in ("move", "s"):
            back = line.convert(line.convert(value, clock, via), via, clock)
            assert back == pytest.approx(value, rel=1e-6, abs=1e-6)
    some = np.linspace(0, got.duration, 50)
    for clock in CLOCKS:
        there = line.convert(some, "s", clock)
        assert (np.diff(there[np.isfinite(there)]) >= -1e-9).all()
