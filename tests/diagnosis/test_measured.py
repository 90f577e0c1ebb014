"""Measured values: which way each one leans, and that a value in order speaks against its cause."""

import pytest

from beadwright.diagnosis.measured import measured_items
from beadwright.facts import Fact, Facts, Origin


def ratios(**values):
    facts = Facts([Fact(name, value, Origin.MEASURED) for name, value in values.items()])
    (item,) = measured_items(facts)
    return item.ratios


def test_a_circle_long_at_45_degrees_is_skew_and_at_0_play():
    """Reference facts, roundness: skew puts the long axis near ±45°, scale or play near 0° or 90°."""
    slant = ratios(d_max_mm=50.4, d_min_mm=50.0, long_axis_deg=-44.0)
    square = ratios(d_max_mm=50.4, d_min_mm=50.0, long_axis_deg=89.0)
    assert slant["axes_not_square"] > 2 > 1 > slant["axis_play"]
    assert square["axis_play"] > 2 > 1 > square["axes_not_square"]


def test_a_round_circle_speaks_against_all_of_them():
    assert all(ratio < 1 for ratio in ratios(d_max_mm=50.02, d_min_mm=50.0, long_axis_deg=45.0).values())


def test_unequal_belts_are_only_in_question_on_two_crossed_belts():
    oval = {"d_max_mm": 50.4, "d_min_mm": 50.0, "long_axis_deg": 45.0}
    assert ratios(**oval, kinematics="corexy")["belts_unequal"] > 2
    assert "belts_unequal" not in ratios(**oval, kinematics="cartesian")


def test_tension_from_pitch():
    """Reference facts, plucked belt: 100 Hz on 0.15 m at 8 g/m is 7.2 N (slack); 166.67 Hz 20 N (right)."""
    assert ratios(belt_hz=60.0, belt_span_mm=150.0)["belt_slack"] > 3
    assert ratios(belt_hz=166.67, belt_span_mm=150.0)["belt_slack"] < 0.2
    assert (
        ratios(belt_hz=100.0, belt_span_mm=150.0)["belt_slack"]
        > ratios(belt_hz=120.0, belt_span_mm=150.0)["belt_slack"]
    )


def test_pitch_without_a_span_says_nothing():
    assert measured_items(Facts([Fact("belt_hz", 100.0, Origin.MEASURED)])) == []


@pytest.mark.parametrize("names", [("wall_mm", "wall_expected_mm"), ("mass_g", "expected_mass_g")])
def test_amounts_lean_the_right_way(names):
    thin, right, thick = (ratios(**dict(zip(names, (share * 10, 10.0), strict=True))) for share in (0.8, 1.0, 1.2))
    assert thin["fed_too_little"] > 2 > 1 > thin["fed_too_much"]
    assert thick["fed_too_much"] > 2 > 1 > thick["fed_too_little"]
    assert max(right.values()) < 1


def test_a_swinging_heater_and_a_steady_one():
    assert ratios(swing_c=12.0)["heater_loop_swings"] > 5
    assert ratios(swing_c=1.0)["heater_loop_swings"] < 0.5
    assert ratios(skew_deg=0.8)["axes_not_square"] > 5
