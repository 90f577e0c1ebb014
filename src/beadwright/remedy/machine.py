"""Numbers for the machine itself: acceleration, belt pitch, squareness."""

from __future__ import annotations

import math

from beadwright.physics.belts import string_frequency_hz, string_tension_n
from beadwright.physics.roundness import skew_from_diameters
from beadwright.remedy.target import Ask, Target, lower_to, unless_there

BELT_G_M = 8.0  # a belt 6 mm wide, 2 mm pitch: 7.8 g/m derived from its section; common practice 7.8-9
TENSION_N = 25.0  # for that belt; common practice, no source: 20-30 N
GOOD_BAND = 0.15  # of the pitch: 30 % in tension
ACCEL_STEP = 0.5
LOWEST_ACCEL = 500.0
AXIS_WITHIN_DEG = 20.0


def accel_lower(ask: Ask) -> Target | None:
    """Half the acceleration: ripples grow in proportion to it, and so does the pull on belts and motors."""
    if ask.now is None:
        return None
    goal = max(LOWEST_ACCEL, round(ask.now * ACCEL_STEP, -2))
    return lower_to(ask, goal, "ripple height and the pull on the motors go with acceleration, so both are halved")


def belt_hz_target(ask: Ask) -> Target | None:
    """Pitch of this span at a sensible tension."""
    span = ask.number("belt_span_mm")
    if span is None or span <= 0:
        return None
    mass = ask.given("belt_mass_g_m", BELT_G_M)
    if mass <= 0:
        return None
    goal = float(string_frequency_hz(span * 1e-3, TENSION_N, mass * 1e-3))
    why = f"a free span of {span:g} mm at {mass:g} g/m sounds so at {TENSION_N:g} N (common practice 20–30 N)"
    now = ask.now
    if now is not None and now > 0:
        why += f", while {now:g} Hz means {float(string_tension_n(now, span * 1e-3, mass * 1e-3)):.0f} N"
    return unless_there(ask, round(goal), why, slack=GOOD_BAND * goal)


def skew_correction(ask: Ask) -> Target | None:
    """Skew to take out, measured or from an oval whose long axis lies near 45°."""
    skew = ask.number("skew_deg")
    if skew is None:
        skew = _skew_of_oval(ask)
    if skew is None or skew == 0:
        return None
    shear = math.tan(math.radians(abs(skew))) * 100
    return Target(0.0, f"the axes stand {abs(skew):.2f}° off square, {shear:.2f} mm sideways in every 100 mm")


def _skew_of_oval(ask: Ask) -> float | None:
    longest, shortest, axis = (ask.number(name) for name in ("d_max_mm", "d_min_mm", "long_axis_deg"))
    if longest is None or shortest is None or axis is None or not longest > shortest > 0:
        return None
    folded = (axis + 90) % 180 - 90
    if abs(abs(folded) - 45) > AXIS_WITHIN_DEG:  # nearer 0 or 90 degrees it is scale or play, not skew
        return None
    return math.copysign(float(skew_from_diameters(longest, shortest)), folded)
