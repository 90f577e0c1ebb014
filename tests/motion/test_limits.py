"""Where limits come from."""

from __future__ import annotations

import numpy as np

from beadwright.facts import Fact, Facts, Origin
from beadwright.motion.limits import BEAD, DEFAULT_ACCEL, DEFAULT_JUNCTION_MM, FILAMENT, TRAVEL, limits_from
from specimens.columns import events, toolpath

FIVE = [[0, 0], [1, 0], [2, 0], [3, 0], [4, 0], [5, 0]]


def record(**values) -> Facts:
    return Facts(Fact(name, value, Origin.RECORD, "[printer]") for name, value in values.items())


def test_nothing_known_gives_the_stated_default():
    limits = limits_from(toolpath(FIVE))
    assert limits.accel.tolist() == [list(DEFAULT_ACCEL)]
    assert limits.junction_mm.tolist() == [DEFAULT_JUNCTION_MM]
    assert {limits.origins[name] for name in ("accel", "max_accel", "max_speed", "corner")} == {
        "default, common practice"
    }
    assert limits.origins["limits"] == "taken as those of the head"
    assert limits.origins["lookahead"] == "taken as knowing all moves ahead"


def test_the_printer_record_is_used():
    facts = record(accel_mm_s2=4000.0, max_speed_mm_s=(300.0, 250.0, 15.0), corner_speed_mm_s=12.0, kinematics="corexy")
    limits = limits_from(toolpath(FIVE), facts)
    assert limits.accel.tolist() == [[4000.0] * 3]
    assert limits.max_speed[0, :3].tolist() == [300.0, 250.0, 15.0]
    assert np.isnan(limits.junction_mm[0])
    assert limits.corner_speed[0, :2].tolist() == [12.0, 12.0]
    assert limits.kinematics == "corexy"
    assert limits.origins["accel"] == "accel_mm_s2 = 4000, [printer]"


def test_one_speed_is_for_x_and_y():
    assert limits_from(toolpath(FIVE), record(max_speed_mm_s=200.0)).max_speed[0].tolist() == [
        200,
        200,
        20,
        80,
    ]


def test_junction_on_record_beats_corner_speed():
    assert limits_from(toolpath(FIVE), record(junction_mm=0.05, corner_speed_mm_s=9.0)).junction_mm.tolist() == [0.05]


def test_delta_lifts_as_fast_as_it_travels():
    limits = limits_from(toolpath(FIVE), record(kinematics="delta", max_speed_mm_s=250.0))
    assert limits.max_speed[0, 2] == 250.0


def test_the_file_wins_from_its_place_on():
    """Acceleration 500 for beads from move 2, 900 from move 4; travels 2000 from move 2; before that the
    record.
    """
    path = toolpath(
        FIVE,
        acceleration=events((2, 500.0), (4, 900.0)),
        travel_acceleration=events((2, 2000.0)),
        retract_acceleration=events((3, 700.0)),
    )
    limits = limits_from(path, record(accel_mm_s2=4000.0))
    row = limits.row_of(np.arange(5))
    assert limits.accel[row, BEAD].tolist() == [4000, 4000, 500, 500, 900]
    assert limits.accel[row, TRAVEL].tolist() == [4000, 4000, 2000, 2000, 2000]
    assert limits.accel[row, FILAMENT].tolist() == [4000, 4000, 4000, 700, 700]
    assert limits.origins["accel"] == "file, line 3: M204 and later"


def test_axis_limits_of_the_file():
    path = toolpath(FIVE, axis_speed=events((0, 250.0, 0), (0, 8.0, 2)), axis_acceleration=events((1, 99.0, 2)))
    limits = limits_from(path)
    row = limits.row_of(np.arange(2))
    assert limits.max_speed[row[1]].tolist() == [250.0, np.inf, 8.0, 80.0]
    assert limits.max_accel[row, 2].tolist() == [300.0, 99.0]
    assert limits.origins["max_speed"] == "file, line 1: M203 and later"


def test_the_corner_rule_named_last_wins():
    path = toolpath(FIVE, corner=events((0, 0.04, 4), (2, 6.0, 0), (4, 0.01, 4)))
    limits = limits_from(path)
    junction = limits.junction_mm[limits.row_of(np.arange(5))]
    assert junction[[0, 1, 4]].tolist() == [0.04, 0.04, 0.01]
    assert np.isnan(junction[[2, 3]]).all()


def test_values_that_cannot_be_are_passed_over():
    path = toolpath(FIVE, acceleration=events((0, 0.0), (1, -5.0), (2, np.nan)))
    limits = limits_from(path, record(accel_mm_s2=-1.0))
    assert (limits.accel == DEFAULT_ACCEL).all()
