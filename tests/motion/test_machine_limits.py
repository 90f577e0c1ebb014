"""Limits that come from the machine behind the head, worked by hand: carriages, queues, stops under a corner speed."""

from __future__ import annotations

import numpy as np
import pytest

from beadwright.facts import Fact, Facts, Origin
from beadwright.motion.limits import BELTS, HEAD, TOWERS, Limits, limits_from
from beadwright.motion.plan import plan
from beadwright.motion.timeline import Timeline
from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath
from specimens.columns import events, toolpath

FREE = (np.inf,) * 4
ARMS = {"rod_mm": 250.0, "tower_radius_mm": 150.0}  # level 150, so the arms stand 200 high in the middle: 3-4-5


def line(*lengths: float, **more: object):
    x = np.concatenate([[0.0], np.cumsum(lengths)])
    return toolpath(np.column_stack([x, 0 * x]), **more)


def record(**values) -> Facts:
    return Facts(Fact(name, value, Origin.RECORD, "[printer]") for name, value in values.items())


def carriages(speed: float = np.inf, accel: float = np.inf, **more) -> Limits:
    return Limits.uniform(
        more.pop("along", 1e6), max_speed=(speed,) * 3 + (np.inf,), max_accel=(accel,) * 3 + (np.inf,),
        kinematics="delta", axes="motor", **ARMS, **more,
    )  # fmt: skip


@pytest.mark.parametrize(("along", "share"), [((0, 1, 0), 0.75), ((1, 0, 0), 0.75 * np.sqrt(3) / 2), ((0, 0, 1), 1.0)])
def test_what_a_carriage_sees_in_the_middle(along, share):
    """dh = −r·u / s: along y the tower at 90° sees 150 / 200; along x those at 210° and 330° that times cos 30°; up,
    all see as much as the head goes."""
    step = 1e-3 * np.array([along, np.zeros(3), along])
    step[0] *= -1
    got = plan(toolpath(step[[0, 2]] + [0, 0, 50], feed=500.0), carriages(speed=60.0, along=1e9))
    assert got.v_peak[0] == pytest.approx(60.0 / share, rel=1e-4)


def test_a_delta_is_slower_where_an_arm_lies_flat():
    """Toward y = −75 the arm of the tower at 90° is level 225 of 250, so its carriage sees 225 / sqrt(250² − 225²)."""
    limits = carriages(speed=60.0, along=1e9)
    out = plan(toolpath([[0, -75.001], [0, -74.999]], feed=500.0), limits)
    assert out.v_peak[0] == pytest.approx(60.0 / (225 / np.sqrt(250**2 - 225**2)), rel=1e-4)


def test_a_carriage_keeps_some_acceleration_for_the_bend_of_its_path():
    """In the middle along x the tower at 90° sees nothing at first, and h'' = −1 / 200 per mm: at 1000 mm/s² half of
    it may bend the path, so v² ≤ 500 · 200."""
    got = plan(toolpath([[-0.001, 0], [0.001, 0]], feed=5000.0), carriages(accel=1000.0, along=1e12))
    bend = (1 + (0.75 * np.sqrt(3) / 2) ** 2) / 200  # the other two see more: (1 + g²) / s
    assert got.v_peak[0] <= np.sqrt(500 / bend) * (1 + 1e-4)
    assert got.accel[0] == pytest.approx((1000 - 500) / (0.75 * np.sqrt(3) / 2), rel=1e-3)


def test_arms_out_of_reach_are_slow_not_endless():
    got = plan(toolpath([[0, 0], [5000, 0]]), carriages(speed=60.0))
    assert np.isfinite(got.duration)


@pytest.mark.parametrize(
    ("facts", "drive"),
    [
        ({"kinematics": "corexy"}, HEAD),
        ({"kinematics": "corexy", "limits_of": "motors"}, BELTS),
        ({"kinematics": "cartesian", "limits_of": "motors"}, HEAD),
        ({"kinematics": "delta", "limits_of": "motors"}, HEAD),
        ({"kinematics": "delta", "limits_of": "motors", "delta_rod_mm": 250.0, "delta_radius_mm": 120.0}, TOWERS),
        ({"kinematics": "delta", "delta_rod_mm": 250.0, "delta_radius_mm": 120.0}, HEAD),
    ],
)
def test_what_the_limits_are_limits_of(facts, drive):
    limits = limits_from(line(1.0), record(**facts))
    assert limits.drive == drive
    assert {HEAD: "head", BELTS: "belts", TOWERS: "carriages"}[drive] in limits.origins["limits"]


def test_the_middle_of_a_delta_is_that_of_its_travel():
    facts = record(kinematics="delta", travel_mm=(200.0, 180.0, 300.0), origin_mm=(-20.0, 10.0))
    assert limits_from(line(1.0), facts).centre_mm == (80.0, 100.0)


def test_a_queue_of_one_stops_at_every_move():
    """Four moves of 1 mm at 1000 mm/s²: each from rest to rest, 2 sqrt(1 / 1000)."""
    got = plan(line(1.0, 1.0, 1.0, 1.0), Limits.uniform(1000.0, lookahead_moves=1))
    assert got.seconds == pytest.approx([2 * np.sqrt(1e-3)] * 4, rel=1e-5)


@pytest.mark.parametrize("known", [2, 3, 5])
def test_a_queue_must_be_able_to_stop_within_what_it_knows(known):
    """Hundred moves of 0.5 mm on a line: after a move, known − 1 are left to stop in, v² = 2 a · 0.5 (known − 1)."""
    got = plan(line(*[0.5] * 100), Limits.uniform(1000.0, lookahead_moves=known))
    assert got.v_out[:-known].max() == pytest.approx(np.sqrt(1000 * (known - 1)), rel=1e-5)
    assert plan(line(*[0.5] * 100), Limits.uniform(1000.0, lookahead_moves=200)).v.max() == pytest.approx(100.0)


def test_moves_that_go_nowhere_take_no_place_in_the_queue():
    few, more = line(*[0.5] * 20), line(*[0.5, 0.0, 0.0] * 20)
    limits = Limits.uniform(1000.0, lookahead_moves=3)
    assert plan(more, limits).duration == pytest.approx(plan(few, limits).duration, rel=1e-6)


def test_no_move_takes_less_than_the_planner_needs():
    """Moves of 0.1 mm with 2 ms each: 50 mm/s, whatever is commanded."""
    got = plan(line(*[0.1] * 500), Limits.uniform(5000.0, min_move_s=0.002))
    assert got.v.max() == pytest.approx(50.0, rel=1e-5)
    assert (got.seconds >= 0.002 * (1 - 1e-5)).all()


def test_facts_of_the_queue():
    limits = limits_from(line(1.0), record(lookahead_moves=16.0, min_move_s=0.001))
    assert (limits.lookahead_moves, limits.min_move_s) == (16, 0.001)
    assert limits.origins["lookahead"] == "lookahead_moves = 16, [printer]"
    assert limits_from(line(1.0), record(lookahead_moves=0.0)).lookahead_moves is None


def test_under_a_corner_speed_a_stop_is_as_sudden_as_a_corner():
    """8 mm/s allowed at once: 100 mm at 100 mm/s and 1000 mm/s² speed up from 8, (100 − 8) / 1000 s over 4.968 mm."""
    limits = Limits.uniform(1000.0, junction_mm=None, corner_speed=(8.0, 8.0, 0.4, 5.0))
    got = plan(line(100.0), limits)
    assert got.duration == pytest.approx(2 * 0.092 + (100 - 2 * 4.968) / 100, rel=1e-6)
    assert got.v.tolist() == [8.0, 8.0]


def test_filament_alone_begins_at_its_own_corner_speed():
    """1 mm back at 5 mm/s allowed at once, 1000 mm/s²: up to sqrt(25 + 1000) and down again. The head before it ends
    at 5 too, for the two share one speed."""
    limits = Limits.uniform(1000.0, junction_mm=None, corner_speed=(8.0, 8.0, 0.4, 5.0))
    got = plan(toolpath([[0, 0], [10, 0], [10, 0]], e=[0, -1], feed=100.0), limits)
    assert got.seconds[1] == pytest.approx(2 * (np.sqrt(1025) - 5) / 1000, rel=1e-5)


def test_acceleration_may_change_on_the_way():
    """Two beads of 10 mm on a line, 1000 then 250 mm/s²: the second brakes from v² = 2 · 250 · 10 all along; the first
    goes up to v² = (2 · 1000 · 10 + 5000) / 2 and down to that."""
    path = line(10.0, 10.0, feed=1000.0, acceleration=events((0, 1000.0), (1, 250.0)), e=[1, 2])
    got = plan(path, limits_from(path))
    v, peak = np.sqrt(5000.0), np.sqrt(12_500.0)
    assert got.v_out[0] == pytest.approx(v, rel=1e-5)
    assert got.seconds == pytest.approx([(2 * peak - v) / 1000, v / 250], rel=1e-5)


HEATED = b"M104 S200\nM140 S60\nM190 S60\nM109 S200\nG1 X9 Y9 Z.2 F600\nG1 X50 E1\nM109 S210\nM0\nG1 X90 E2\nM104 S0\n"


def test_waits_for_heat_are_told_from_temperatures_that_are_only_set():
    path = read_toolpath(HEATED)
    wait = path.events.heat_wait
    assert (wait.line.tolist(), wait.move.tolist(), wait.value.tolist()) == ([3, 4, 7], [0, 0, 2], [190, 109, 109])
    assert path.events.nozzle_c.line.tolist() == [1, 4, 7, 10]


def test_the_head_stands_while_it_waits_and_the_clocks_say_where():
    path = read_toolpath(HEATED)
    got = plan(path, limits_from(path))
    assert got.v[2] == 0.0
    line = Timeline.build(path, got, find_layers(path))
    assert line.unknown_waits.tolist() == [0, 2]
    assert line.convert(line.unknown_waits, "move", "line").tolist() == [5, 9]
