"""Rules about the closed shell of a part: solid layers below and above, walls, infill."""

from __future__ import annotations

import math

from beadwright.facts import Facts, Origin

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .windows import shell_needs

TABLE_LAYER_MM = 0.2  # the table's counts are for layers this high: the thickness is what must be kept


def _count_window(least: int, facts: Facts, source: str) -> Window:
    """Least number of layers for the thickness that `least` layers of 0.2 mm give; never fewer than two.

    >>> _count_window(3, Facts(), "Practice").low
    3.0
    """
    height = facts.number("layer_height_mm") or TABLE_LAYER_MM
    return Window(float(max(2, math.ceil(least * TABLE_LAYER_MM / height - 0.05))), None, source)


def bottom_too_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Too few solid layers at the bottom: light, water and infill show through."""
    needs = shell_needs(context.material)
    window = _count_window(needs.bottom_layers, facts, needs.source)
    said = speaker(
        "bottom_too_thin", "bottom_solid_layers", facts, context, window, "layers", ("bottom_too_thin",)
    )
    if said is None or window.low is None:
        return None
    if said.value >= window.low:
        return said.quiet(f"{said.value:g} solid bottom layers", -1.5)
    text = (
        f"{_layers(said.value)} at the bottom{_how(facts, 'bottom_solid_layers')}; "
        f"{window.say('solid layers')} of {facts.number('layer_height_mm') or TABLE_LAYER_MM:g} mm close it."
    )
    return said.find("fault" if said.value < window.low - 1 else "warn", text)


def top_too_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Too few solid layers on top: they sag into the infill and stay open."""
    needs = shell_needs(context.material)
    window = _count_window(needs.top_layers, facts, needs.source)
    said = speaker("top_too_thin", "top_solid_layers", facts, context, window, "layers", ("top_too_thin",))
    if said is None or window.low is None:
        return None
    if said.value >= window.low:
        return said.quiet(f"{said.value:g} solid top layers", -1.5)
    text = (
        f"{_layers(said.value)} on top{_how(facts, 'top_solid_layers')}; "
        f"{window.say('solid layers')} of {facts.number('layer_height_mm') or TABLE_LAYER_MM:g} mm close "
        f"over infill."
    )
    return said.find("fault" if said.value < window.low - 1 else "warn", text)


def infill_too_sparse(facts: Facts, context: Context) -> Finding | Quiet | None:
    """So little infill that the top layers have nothing to bridge on."""
    window = Window(8.0, None)
    said = speaker("infill_too_sparse", "infill_percent", facts, context, window, "%", ("infill_too_sparse",))
    if said is None:
        return None
    if said.value < 0.5:
        return None  # hollow by design
    if said.value >= 8:
        return said.quiet(f"{said.value:.0f} % infill carries a top", -0.7)
    text = (
        f"Infill is {said.value:.0f} %{where_text(context.where('infill_percent'))}; a top rests on "
        f"{window.say('%')}."
    )
    return said.find("warn", text)


def walls_too_few(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A single wall line round a part with infill."""
    window = Window(2.0, None)
    said = speaker("walls_too_few", "wall_lines", facts, context, window, "lines", ("infill_too_sparse",))
    if said is None or said.value >= 2:
        return said.quiet(f"{said.value:g} wall lines", -0.2) if said else None
    if not (facts.number("infill_percent") or 0.0):
        return None  # a vase
    return said.find("note", f"Walls are {said.value:g} line thick; infill shows through fewer than two.")


def _layers(count: float) -> str:
    if count == 0:
        return "No solid layer lies"
    return "Only 1 solid layer lies" if count == 1 else f"Only {count:g} solid layers lie"


def _how(facts: Facts, name: str) -> str:
    fact = facts.best(name)
    return " (counted from the beads, away from the walls)" if fact and fact.origin == Origin.FILE else ""


RULES: tuple[Rule, ...] = (bottom_too_thin, top_too_thin, infill_too_sparse, walls_too_few)
