"""Layers, gaps and heights: numbers that follow from layer height, bore and material.

Proportions marked "common practice" have no publication behind them.
"""

from __future__ import annotations

import math

from beadwright.remedy.target import Ask, Target, lower_to, raise_to, unless_there

TABLE_LAYER_MM = 0.2  # the material table counts solid layers at this height
HIGHEST_PER_BORE = 0.75  # a higher layer is not pressed flat; common practice, 0.75-0.8
FIRST_LAYER_PER_BORE = 0.5  # common practice
LIFT_MARGIN_MM = 0.2  # over the proud line; common practice
MOST_LIFT_MM = 0.8
FIRST_LAYER_MM_S = 20.0  # common practice
SLOWEST_MM_S = 10.0
GAP_STEP_MM = 0.05
WIDEST_GAP_MM = 0.4
DRY_FOR_DAYS = 2.0


def bottom_layers(ask: Ask) -> Target | None:
    """Solid layers that give the bottom its thickness."""
    if ask.material is None:
        return None
    count = ask.material.shell.bottom_solid_layers_min
    return _layers(ask, count * TABLE_LAYER_MM, "bottom")


def top_layers(ask: Ask) -> Target | None:
    """Solid layers that close the top over a sparse inside."""
    if ask.material is None:
        return None
    shell = ask.material.shell
    thickness = shell.top_thickness_min_mm or shell.top_solid_layers_min * TABLE_LAYER_MM
    return _layers(ask, thickness, "top")


def _layers(ask: Ask, thickness: float, side: str) -> Target | None:
    height = ask.given("layer_height_mm", TABLE_LAYER_MM)
    count = max(3, math.ceil(thickness / height - 1e-9))
    assert ask.material is not None
    name = ask.material.abbreviation
    why = f"a {side} of {name} wants {thickness:.1f} mm (common practice): {count} layers of {height:g} mm"
    return raise_to(ask, float(count), why)


def support_gap_wider(ask: Ask) -> Target | None:
    """The wide end of the material's gap, or a step beyond where that still held too fast."""
    if ask.material is None:
        return None
    low, high = _gap(ask)
    beyond = ask.now is not None and ask.now >= high - 1e-9
    goal = round((ask.now or 0.0) + GAP_STEP_MM, 3) if beyond else high
    if goal > WIDEST_GAP_MM:
        return None
    return raise_to(ask, goal, f"{_gap_text(ask, low, high)}{', and it still held too fast' if beyond else ''}")


def support_gap_closer(ask: Ask) -> Target | None:
    """The close end when the filament is freshly dried, else the middle; damp plastic bonds and sags
    worse."""
    if ask.material is None:
        return None
    low, high = _gap(ask)
    days = ask.number("dried_days_ago")
    dry = days is not None and days <= DRY_FOR_DAYS
    goal = low if dry else round((low + high) / 2, 3)
    state = "it was dried lately" if dry else "nothing says that it is dry"
    return lower_to(ask, goal, f"{_gap_text(ask, low, high)}, and {state}")


def _gap(ask: Ask) -> tuple[float, float]:
    assert ask.material is not None
    gap = ask.material.support_gap_mm
    return (gap.best if gap.min is None else gap.min, gap.best if gap.max is None else gap.max)


def _gap_text(ask: Ask, low: float, high: float) -> str:
    assert ask.material is not None
    return f"{ask.material.abbreviation} lets go of its support at {low:g}–{high:g} mm (common practice)"


def lift_for_proud_lines(ask: Ask) -> Target | None:
    """Lift of the nozzle on travels: over a line that stands one layer proud, and a margin."""
    height = ask.given("layer_height_mm", TABLE_LAYER_MM)
    goal = min(round(height + LIFT_MARGIN_MM, 2), MOST_LIFT_MM)
    why = f"a line standing proud by a whole layer of {height:g} mm is then cleared by {LIFT_MARGIN_MM:g} mm"
    return raise_to(ask, goal, why)


def slower_first_layer(ask: Ask) -> Target | None:
    """First-layer speed: 20 mm/s, or a third off where it is that slow already."""
    slow = ask.now is not None and ask.now <= FIRST_LAYER_MM_S + 2
    goal = max(SLOWEST_MM_S, round((ask.now or 0.0) * 0.7)) if slow else FIRST_LAYER_MM_S
    why = "the first line needs time to wet the plate; 15–25 mm/s is common practice"
    return lower_to(ask, float(goal), why)


def first_layer_height(ask: Ask) -> Target | None:
    """Half the bore: high enough for an uneven plate, low enough to be pressed on."""
    bore = ask.given("nozzle_mm", 0.4)
    why = f"half of the {bore:g} mm bore forgives an uneven plate and still presses on (common practice)"
    return unless_there(ask, round(FIRST_LAYER_PER_BORE * bore, 2), why, slack=0.02)


def layer_height_max(ask: Ask) -> Target | None:
    """The highest layer that a bore still presses flat."""
    bore = ask.given("nozzle_mm", 0.4)
    goal = math.floor(HIGHEST_PER_BORE * bore * 100 + 1e-9) / 100
    share = f"{HIGHEST_PER_BORE:g} of the {bore:g} mm bore"
    why = f"above {share} a line is not pressed onto the one below (common practice)"
    return lower_to(ask, goal, why)
