"""Retraction, and the flow ratio from what was weighed or measured."""

from __future__ import annotations

from beadwright.physics.bead import bead_area_mm2
from beadwright.remedy.target import Ask, Target, lower_to, raise_to

# retraction in mm, direct drive and long tube: where to start, a step, the least, the most; common practice,
# no source
START = {"direct": 0.8, "bowden": 4.5}
STEP = {"direct": 0.3, "bowden": 1.0}
LEAST = {"direct": 0.3, "bowden": 2.0}
MOST = {"direct": 2.0, "bowden": 7.0}
CALLIPER_MM = 0.02  # standard uncertainty of a wall measured with callipers
SCALE_SHARE = 0.01  # of a weighed mass, purge and strings included
TRUSTED = (80.0, 120.0)  # percent; beyond it something else is wrong


def retraction_more(ask: Ask) -> Target | None:
    """A step longer, up to what grinds or clogs."""
    kind = _extruder(ask)
    goal = START[kind] if ask.now is None else min(round(ask.now + STEP[kind], 2), MOST[kind])
    return raise_to(ask, goal, _text(kind))


def retraction_less(ask: Ask) -> Target | None:
    """A third shorter, down to what still relieves the pressure."""
    kind = _extruder(ask)
    goal = START[kind] if ask.now is None else max(round(ask.now * 2 / 3, 2), LEAST[kind])
    return lower_to(ask, goal, _text(kind))


def _extruder(ask: Ask) -> str:
    kind = ask.facts.text("extruder") or "direct"
    return kind if kind in START else "direct"


def _text(kind: str) -> str:
    way = "the drive sits on the nozzle" if kind == "direct" else "the strand is pushed through a tube"
    return f"where {way}, {LEAST[kind]:g}–{MOST[kind]:g} mm is common practice"


def flow_ratio_from_wall(ask: Ask) -> Target | None:
    """Flow percentage from a measured single-line wall through its section, else from weighed and expected
    mass.

    None while the difference stays within the uncertainty, or calls for more than the ratio can mend.
    """
    found = _from_wall(ask) or _from_mass(ask)
    if found is None:
        return None
    laid, u, text = found
    now = ask.given("flow_percent", 100.0)
    goal = round(now / laid, 1)
    if abs(1 - laid) <= u or not TRUSTED[0] <= goal <= TRUSTED[1]:
        return None
    return Target(goal, f"{text} is {laid * 100:.0f} % of the plastic expected (± {u * 100:.0f} %)")


def _from_wall(ask: Ask) -> tuple[float, float, str] | None:
    wall, height = ask.number("wall_mm"), ask.number("layer_height_mm")
    expected = ask.number("wall_expected_mm", ask.number("line_width_mm"))
    if wall is None or expected is None or height is None or not 0 < height <= min(wall, expected):
        return None
    area, expected_area = float(bead_area_mm2(wall, height)), float(bead_area_mm2(expected, height))
    fact = ask.facts.best("wall_mm")
    u = (fact.u if fact is not None and fact.u else CALLIPER_MM) * height / expected_area
    return area / expected_area, u, f"a wall of {wall:g} mm where {expected:g} mm was meant"


def _from_mass(ask: Ask) -> tuple[float, float, str] | None:
    mass, expected = ask.number("mass_g"), ask.number("expected_mass_g")
    if mass is None or expected is None or not mass > 0 or not expected > 0:
        return None
    fact = ask.facts.best("mass_g")
    u = SCALE_SHARE if fact is None or not fact.u else fact.u / expected
    return mass / expected, u, f"a part of {mass:g} g where {expected:g} g was meant"
