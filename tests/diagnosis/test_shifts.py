"""The shift decoder on the reference values: a 20-tooth pulley of 2 mm pitch, 1.8° motor, so 0.8 mm per
period.
"""

from itertools import product

import numpy as np
import pytest

from beadwright.diagnosis.densities import comb, flat, normal, two_sided
from beadwright.diagnosis.shifts import (
    BLUNDER,
    DEFAULT_U_MM,
    Drive,
    _anything,
    direction_u_mm,
    reading_advice,
    shift_ratios,
    shift_text,
    sign_links,
)

CROSSED, PLAIN = Drive(kinematics="corexy"), Drive(kinematics="cartesian")


def best(dx, dy, drive, u=0.05):
    ratios = shift_ratios(dx, dy, drive, u)
    return max(ratios, key=ratios.get)


def test_the_quantum_is_four_full_steps():
    """Reference facts, belts: 1.8°, 20 teeth, 2 mm: full step 0.2 mm, quantum 0.8 mm; 0.9° halves it."""
    assert CROSSED.quantum_mm == pytest.approx(0.8)
    assert Drive(step_deg=0.9).quantum_mm == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("dx", "dy", "drive", "cause"),
    [
        (0.4, 0.4, CROSSED, "one_motor_lost_steps"),  # belt a slips 0.8 mm: (0.4, 0.4), 45°
        (-1.2, 1.2, CROSSED, "one_motor_lost_steps"),
        (1.0, -1.0, CROSSED, "belt_tooth_jumped"),  # one tooth on belt b: (1, −1)
        (1.73, 1.73, CROSSED, "pulley_slips"),  # 4.3 periods, 1.7 pitches: neither
        (1.2, 0.4, CROSSED, "several_motors_lost_steps"),  # a 1.6, b 0.8
        (2.4, 0.0, CROSSED, "several_motors_lost_steps"),  # along X needs both belts alike
        (2.4, 0.0, PLAIN, "one_motor_lost_steps"),
        (0.0, -2.0, PLAIN, "belt_tooth_jumped"),
        (0.8, 1.6, PLAIN, "several_motors_lost_steps"),
    ],
)
def test_each_cause_is_told_by_its_own_shift(dx, dy, drive, cause):
    assert best(dx, dy, drive) == cause


def test_any_other_direction_speaks_for_none_of_the_drive():
    ratios = shift_ratios(3.31, 0.93, CROSSED, 0.03)
    assert all(ratios[cause] < 1 for cause in ("one_motor_lost_steps", "belt_tooth_jumped", "pulley_slips"))
    assert ratios["part_knocked"] == 1.0


def test_a_coarse_reading_tells_no_steps_from_a_slip_and_says_so():
    fine, coarse = (shift_ratios(1.2, 1.2, CROSSED, u) for u in (0.04, 0.4))
    tell = [one["one_motor_lost_steps"] / one["pulley_slips"] for one in (fine, coarse)]
    assert tell[0] > 3 * tell[1]
    assert "±0.1 mm or better" in reading_advice(CROSSED, 0.4)
    assert reading_advice(CROSSED, 0.05) == ""
    assert direction_u_mm(PLAIN) == pytest.approx(0.2)


@pytest.mark.parametrize("drive", [CROSSED, PLAIN])
def test_densities_over_the_plane_integrate_to_one(drive):
    """Ratio × background summed over a grid of the belts' travel, 1 mm apart and read to 1 mm.

    A sum of normal densities one standard error apart is their integral to eight digits. Teeth reach 12 mm
    and slips 15 mm, so ±21 mm holds all but a thousandth.
    """
    u = 1 / np.sqrt(2) if drive is CROSSED else 1.0
    travel = np.arange(-21.0, 22.0)
    total = {"pulley_slips": 0.0, "belt_tooth_jumped": 0.0}
    for a, b in product(travel, travel):
        dx, dy, area = ((a + b) / 2, (a - b) / 2, 0.5) if drive is CROSSED else (a, b, 1.0)
        ratios = shift_ratios(dx, dy, drive, u)
        for cause in total:
            total[cause] += (ratios[cause] - BLUNDER) / (1 - BLUNDER) * _anything(dx, dy, u) * area
    assert total == pytest.approx({"pulley_slips": 1.0, "belt_tooth_jumped": 1.0}, abs=2e-3)


def test_one_dimensional_densities_integrate_to_one():
    x = np.linspace(-60, 60, 24001)
    for density in (
        normal(x, 1.0, 0.3), flat(x, -15, 15, 0.2), comb(x, 0.8, 0.85, 40, 0.1), two_sided(x, 2.0, 0.3, 0.1),
    ):  # fmt: skip
        assert np.trapezoid(density, x) == pytest.approx(1.0, abs=1e-3)


def test_a_delta_gives_no_direction():
    assert set(shift_ratios(0.4, 0.4, Drive(kinematics="delta"), DEFAULT_U_MM).values()) == {1.0}


def test_words_count_periods():
    assert "exact diagonal" in shift_text(1.2, 1.21, CROSSED, 0.05)
    assert "3.00 times four full steps" in shift_text(2.4, 0.0, PLAIN, 0.05)


def test_the_kind_of_machine_decides_what_a_direction_means():
    """Common practice, no source: on two crossed belts an exact diagonal is one motor, any other direction
    both.
    """
    crossed, plain = sign_links("corexy"), sign_links("cartesian")
    assert crossed["shift_diagonal"]["one_motor_lost_steps"] > crossed["shift_diagonal"]["several_motors_lost_steps"]
    assert crossed["shift_one_axis"]["several_motors_lost_steps"] > crossed["shift_one_axis"]["one_motor_lost_steps"]
    assert plain["shift_one_axis"]["one_motor_lost_steps"] > 0.5
    assert sign_links(None) == {}
