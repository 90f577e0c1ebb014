"""Measured values as likelihoods: one small function per quantity, each `(facts) -> Likelihood | None`.

A cause's density is held against that of a failed print with another cause, which is mostly a print where
this quantity is in order. The spreads are judgement ("common practice, no source") unless a line says
otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import exp, log

from beadwright.diagnosis.densities import normal
from beadwright.diagnosis.items import Likelihood
from beadwright.diagnosis.shifts import DEFAULT_U_MM, Drive, reading_advice, shift_ratios, shift_text
from beadwright.facts import Fact, Facts
from beadwright.physics.belts import string_tension_n

FAULTY_SHARE = 0.05  # failed prints with another cause in which the quantity is off all the same


def _against(faulty: float, ordinary: float) -> float:
    """Return the density under the cause over that without it; at most 1 / FAULTY_SHARE."""
    return faulty / max(FAULTY_SHARE * faulty + (1 - FAULTY_SHARE) * ordinary, 1e-12)


def _size(value: float, ordinary: float, faulty: float) -> float:
    """Return the ratio for a size that is about `ordinary` in order and about `faulty` out of order."""
    size = abs(value)
    return _against(exp(-size / faulty) / faulty, exp(-size / ordinary) / ordinary)


def drive_of(facts: Facts) -> Drive:
    """Return the drive's numbers, the trade's usual ones where nothing is known."""
    return Drive(
        pitch_mm=facts.number("belt_pitch_mm", 2.0) or 2.0,
        teeth=facts.number("pulley_teeth", 20.0) or 20.0,
        step_deg=facts.number("motor_step_deg", 1.8) or 1.8,
        kinematics=facts.text("kinematics") or "other",
    )


def _pair(fact: Fact | None) -> tuple[float, float] | None:
    if fact is None or not isinstance(fact.value, tuple) or len(fact.value) != 2:
        return None
    return fact.value[0], fact.value[1]


def shift_u(facts: Facts) -> float:
    """Return the standard error of a measured shift [mm]."""
    fact = facts.best("shift_mm")
    stated = facts.number("shift_u_mm") or (fact.u if fact is not None else None)
    return max(stated or DEFAULT_U_MM, 0.005)


def shift(facts: Facts) -> Likelihood | None:
    """A measured layer shift, decoded by the drive's numbers."""
    moved = _pair(facts.best("shift_mm"))
    if moved is None:
        return None
    drive, u = drive_of(facts), shift_u(facts)
    return Likelihood("measured:shift_mm", shift_text(*moved, drive, u), shift_ratios(*moved, drive, u))


def shift_advice(facts: Facts) -> str:
    """Say how well a shift must be measured, when it was measured too coarsely to tell."""
    return "" if _pair(facts.best("shift_mm")) is None else reading_advice(drive_of(facts), shift_u(facts))


def roundness(facts: Facts) -> Likelihood | None:
    """How far a circle is out of round, and along which direction it is long.

    Skew makes it long near ±45°, unequal scale or play near 0° or 90° (reference facts on roundness). On a
    two-belt machine unequal belts act like skew, and a slack belt may show either way.
    """
    largest, smallest = facts.number("d_max_mm"), facts.number("d_min_mm")
    if largest is None or smallest is None:
        return None
    out = largest - smallest
    size = _size(out, 0.08, 0.4)
    axis = facts.number("long_axis_deg")
    slant, square = (1.0, 1.0) if axis is None or out < 0.08 else _directions(axis)
    ratios = {"axes_not_square": size * slant, "axis_play": size * square}
    if facts.text("kinematics") == "corexy":
        ratios |= {"belts_unequal": size * slant, "belt_slack": size}
    else:
        ratios |= {"belt_slack": size * square}
    along = "" if axis is None else f", longest at {axis:g}°"
    return Likelihood("measured:roundness", f"circle out of round by {out:.2f} mm{along}", ratios)


def _directions(axis_deg: float) -> tuple[float, float]:
    """Return the ratios for a long axis near ±45° and near 0° or 90°, over any direction alike."""
    folded = axis_deg % 90.0  # both families repeat every 90°
    near_slant = float(normal(folded, 45.0, 9.0)) * 90
    near_square = float(normal(folded, 0.0, 9.0) + normal(folded, 90.0, 9.0)) * 90
    return 0.9 * near_slant + 0.1, 0.9 * near_square + 0.1


def skew(facts: Facts) -> Likelihood | None:
    """A measured angle between X and Y, off by so much."""
    angle = facts.number("skew_deg")
    if angle is None:
        return None
    return Likelihood(
        "measured:skew_deg", f"axes off square by {angle:g}°", {"axes_not_square": _size(angle, 0.08, 0.5)}
    )


def heater_swing(facts: Facts) -> Likelihood | None:
    """How far the nozzle temperature swings, peak to peak."""
    swing = facts.number("swing_c")
    if swing is None:
        return None
    ratio = _size(swing, 1.2, 9.0)
    return Likelihood(
        "measured:swing_c", f"nozzle temperature swings by {swing:g} °C",
        {"heater_loop_swings": ratio, "temperature_sensor_fault": ratio},
    )  # fmt: skip


def belt_pitch(facts: Facts) -> Likelihood | None:
    """The pitch of a plucked belt span, as a tension: some 10–40 N keep a 6 mm belt right."""
    hertz, span = facts.number("belt_hz"), facts.number("belt_span_mm")
    if hertz is None or span is None:
        return None
    mass = facts.number("belt_mass_g_m", 8.0) or 8.0  # 6 mm wide, 2 mm pitch, glass cord: 8 ± 1 g/m, derived
    tension = float(string_tension_n(hertz, span / 1000, mass / 1000))
    x = log(max(tension, 1e-3))
    ordinary = float(normal(x, log(20.0), 0.55))
    slack = _against(float(normal(x, log(4.0), 0.7)), ordinary)
    return Likelihood(
        "measured:belt_hz", f"belt pulled with about {tension:.0f} N", {"belt_slack": slack,
        "belts_unequal": slack**0.5}
    )  # fmt: skip


_TOO_LITTLE = (
    "fed_too_little", "diameter_set_wrong", "nozzle_partly_blocked", "flow_beyond_melt", "filament_ground",
    "idler_pressure_wrong",
)  # fmt: skip
_TOO_MUCH = ("fed_too_much", "diameter_set_wrong")


def _amount(share: float, u: float, what: str, evidence: str) -> Likelihood:
    x = log(max(share, 0.05))
    ordinary = 0.9 * float(normal(x, 0.0, u)) + 0.1 * float(normal(x, 0.0, 0.3))
    little = _against(float(normal(x, -0.2, 0.12)), ordinary)
    much = _against(float(normal(x, 0.15, 0.1)), ordinary)
    ratios = dict.fromkeys(_TOO_LITTLE, little) | dict.fromkeys(_TOO_MUCH, much)
    ratios["diameter_set_wrong"] = (little + much) / 2
    return Likelihood(evidence, f"{what} is {100 * share:.0f} % of what was asked for", ratios)


def wall(facts: Facts) -> Likelihood | None:
    """A single wall's thickness against the width that was asked for."""
    value, expected = facts.number("wall_mm"), facts.number("wall_expected_mm")
    if value is None or not expected:
        return None
    return _amount(value / expected, 0.06, "the wall's thickness", "measured:wall_mm")


def mass(facts: Facts) -> Likelihood | None:
    """The part's mass against what the file feeds."""
    value, expected = facts.number("mass_g"), facts.number("expected_mass_g")
    if value is None or not expected:
        return None
    return _amount(value / expected, 0.04, "the part's mass", "measured:mass_g")


READERS: tuple[Callable[[Facts], Likelihood | None], ...] = (
    shift, roundness, skew, heater_swing, belt_pitch, wall, mass,
)  # fmt: skip


def measured_items(facts: Facts, readers: Iterable[Callable[[Facts], Likelihood | None]] = READERS) -> list[Likelihood]:
    """Return one likelihood per quantity that was measured."""
    return [item for reader in readers if (item := reader(facts)) is not None]
