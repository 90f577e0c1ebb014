"""Rules about the closed shell of a part: solid layers below and above, walls, infill."""

from __future__ import annotations

import math

from beadwright.facts import Facts, Origin

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .limit_rule import Limit
from .windows import shell_needs

TABLE_LAYER_MM = 0.2  # the table's counts are for layers this high: the thickness is what must be kept


def _count_window(least: int, facts: Facts, source: str, end: str = "bottom") -> Window:
    """Least number of layers for the thickness that `least` layers of 0.2 mm give; never fewer than two.

    >>> _count_window(3, Facts(), "Practice").low
    3.0
    """
    height = _layer_height(facts, end)
    return Window(float(max(2, math.ceil(least * TABLE_LAYER_MM / height - 0.05))), None, source)


def _layer_height(facts: Facts, end: str) -> float:
    """Height of the layers at that end: their own where the file was measured, else the usual one."""
    thickness, count = facts.best(f"{end}_thickness_mm"), facts.best(f"{end}_solid_layers")
    if thickness and count and thickness.origin == count.origin == Origin.FILE and count.number > 0:
        return round(thickness.number / count.number, 3)
    return facts.number("layer_height_mm") or TABLE_LAYER_MM


def bottom_too_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Too few solid layers at the bottom: light, water and infill show through."""
    needs = shell_needs(context.material)
    window = _count_window(needs.bottom_layers, facts, needs.source)
    said = speaker("bottom_too_thin", "bottom_solid_layers", facts, context, window, "layers", ("bottom_too_thin",))
    if said is None or window.low is None:
        return None
    if said.value >= window.low:
        return said.quiet(f"{said.value:g} solid bottom layers", -1.5)
    text = (
        f"{_layers(said.value)} at the bottom{_how(facts, 'bottom_solid_layers')}; "
        f"{window.say('solid layers')} of {_layer_height(facts, 'bottom'):g} mm close it."
    )
    return said.find("fault" if said.value < window.low - 1 else "warn", text)


def top_too_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Too few solid layers on top: they sag into the infill and stay open."""
    needs = shell_needs(context.material)
    window = _count_window(needs.top_layers, facts, needs.source, "top")
    said = speaker("top_too_thin", "top_solid_layers", facts, context, window, "layers", ("top_too_thin",))
    if said is None or window.low is None:
        return None
    if said.value >= window.low:
        return said.quiet(f"{said.value:g} solid top layers", -1.5)
    text = (
        f"{_layers(said.value)} on top{_how(facts, 'top_solid_layers')}; "
        f"{window.say('solid layers')} of {_layer_height(facts, 'top'):g} mm close "
        f"over infill."
    )
    return said.find("fault" if said.value < window.low - 1 else "warn", text)


def bottom_thin_somewhere(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Enough solid layers at the bottom, except in a place."""
    return _thin_somewhere("bottom", shell_needs(context.material).bottom_layers, facts, context)


def top_thin_somewhere(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Enough solid layers on top, except in a place."""
    return _thin_somewhere("top", shell_needs(context.material).top_layers, facts, context)


def _thin_somewhere(end: str, least: int, facts: Facts, context: Context) -> Finding | Quiet | None:
    window = _count_window(least, facts, shell_needs(context.material).source, end)
    typical, place = facts.number(f"{end}_solid_layers"), facts.best(f"{end}_thin_at_mm")
    bears_on = (f"{end}_too_thin",)
    name = f"{end}_thinnest_layers"
    said = speaker(f"{end}_thin_somewhere", name, facts, context, window, "layers", bears_on)
    if said is None or window.low is None or typical is None or typical < window.low:
        return None  # thin all over: the plain rule's business
    if said.value >= window.low:
        return said.quiet(f"nowhere fewer than {said.value:g} solid layers", -0.3)
    share = facts.number(f"{end}_thin_percent") or 0.0
    at = f" about x {place.value[0]:g}, y {place.value[1]:g}" if place and isinstance(place.value, tuple) else ""
    text = (
        f"{_layers(said.value)} at the {end} over {share:.0f} % of its area{at}{where_text(context.where(name))}, "
        f"{typical:g} "
        f"elsewhere; {window.say('solid layers')} close it."
    )
    return said.find(
        "warn" if said.value < window.low - 1 else "note", text, clears=f"{window.say('solid layers')} there too"
    )


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
        f"Infill is {said.value:.0f} %{where_text(context.where('infill_percent'))}; a top rests on {window.say('%')}."
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


RULES: tuple[Rule, ...] = (
    bottom_too_thin,
    top_too_thin,
    infill_too_sparse,
    walls_too_few,
    bottom_thin_somewhere,
    top_thin_somewhere,
    Limit(
        "gap_under_top_wide", "gap_under_top_mm", "mm", ("infill_too_sparse", "top_too_thin"),
        "The first layer over the infill has to span gaps of {value} mm{where}; beyond 5 mm it sags and stays open.",
        "infill of 12 % and more under the top, or two more top layers",
        high=5.0, warn=9.0, when=lambda facts, _: (facts.number("infill_percent") or 0.0) >= 0.5,
    ),
    Limit(
        "wall_narrow", "narrow_wall_percent", "%", ("wall_thinner_than_bead",),
        "{value} % of the outer contour are laid much narrower than the typical bead{where}; walls there are thinner "
        "than a "
        "bead and stay weak or open.",
        "walls at least two beads thick in the model, or a smaller bore",
        high=4.0, warn=20.0,
    ),
)  # fmt: skip
