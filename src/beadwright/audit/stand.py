"""Rules about how the part stands: necks, brim, raft, and whether the nozzle is filled before it begins. Common
practice, no source.
"""

from __future__ import annotations

from beadwright.facts import Facts

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .limit_rule import Limit

THIN_NECK = 8.0
WARPS_FROM = 4.0  # warp rank of the material table
SMALL_FOOT_MM2 = 400.0


def neck_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """So much height on so thin a place that it sways under the nozzle, or is knocked off."""
    window = Window(None, THIN_NECK)
    said = speaker("neck_thin", "neck_slenderness", facts, context, window, "", ("small_foothold",))
    if said is None or said.value < 1.2 * (facts.number("slenderness") or 0.0):  # the foot itself: `foothold_small`
        return None
    if said.value <= THIN_NECK:
        return said.quiet(f"above its thinnest place the part is {said.value:.1f} times as high as wide", -0.3)
    area = facts.number("neck_area_mm2") or 0.0
    text = (
        f"Above{where_text(context.where('neck_slenderness')).removeprefix(',')} the print rises {said.value:.0f} "
        "times the "
        f"root of that layer's area ({area:.0f} mm²); beyond {THIN_NECK:g} it sways and gets no time to set."
    )
    return said.find(
        "fault" if said.value > 30 else "warn" if said.value > 15 else "note", text,
        clears="a second part or a prop beside it, outer contours at half the speed above that layer",
    )  # fmt: skip


def brim_missing(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A polymer that shrinks hard, on a foot with neither brim nor raft."""
    material = context.material
    if material is None or material.warp_rank.best < WARPS_FROM:
        return None
    said = speaker(
        "brim_missing", "brim_mm", facts, context, Window(5.0, None), "mm", ("small_foothold", "shrinkage_warp")
    )
    area, slenderness = facts.number("contact_area_mm2"), facts.number("slenderness", 0.0) or 0.0
    if said is None or area is None:
        return None
    if said.value >= 3 or (facts.number("raft_layers") or 0) > 0:
        return said.quiet("a brim or raft holds the foot", -0.5)
    small = area < SMALL_FOOT_MM2 or slenderness > 2
    if not small:
        return said.quiet(f"{area:.0f} mm² hold on to the plate", -0.2)
    text = (
        f"{material.abbreviation} shrinks hard and stands on {area:.0f} mm² with no brim; corners pull up and the "
        "part may "
        "come loose."
    )
    return said.find("warn" if slenderness > 3 else "note", text, clears="a brim of 5–8 mm")


RULES: tuple[Rule, ...] = (
    neck_thin,
    brim_missing,
    Limit(
        "raft_gap_odd", "raft_gap_mm", "mm", ("support_gap_too_small", "support_gap_too_large"),
        "The gap between raft and part is {value} mm{where}; {window} lets go and still holds.",
        "a raft gap of 0.15–0.3 mm",
        low=0.09, high=0.45, warn=0.6, quiet_bits=-0.3,
    ),
    Limit(
        "not_primed", "primed_mm", "mm", ("fed_too_little",),
        "Only {value} mm of filament are fed before the part's first bead{where}; an empty nozzle leaves its start "
        "open.",
        "a skirt or a line beside the part that feeds at least 5 mm of filament",
        low=2.0, note_bits=0.2,
    ),
    Limit(
        "change_not_primed", "primed_after_change_mm", "mm", ("fed_too_little",),
        "After a change of tool only {value} mm of filament are fed before the part goes on{where}.",
        "at least 10 mm fed elsewhere (a wipe tower, a line beside the part) after each change of tool",
        low=5.0, warn=1.5,
    ),
)  # fmt: skip
