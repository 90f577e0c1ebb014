"""Rules about travels between beads."""

from __future__ import annotations

from beadwright.facts import Facts, Origin

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet

OFTEN_PER_LAYER = 10.0  # common practice, no source: prints without a lift cross a few beads a layer and do well


def no_lift_over_beads(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Travels at nozzle height across beads just laid."""
    layers = facts.number("layer_count")
    if not layers:
        return None
    window = Window(None, round(OFTEN_PER_LAYER * layers))
    bears_on = ("no_lift_on_travel",)
    said = speaker("no_lift_over_beads", "crossings_without_lift", facts, context, window, "travels", bears_on)
    if said is None:
        return None
    if said.value == 0:
        return said.quiet("no travel crosses a laid bead at its height", -1.5)
    each = said.value / layers
    text = (
        f"{said.value:.0f} travels cross beads of their own layer without a "
        f"lift{where_text(context.where('crossings_without_lift'))}, "
        f"{each:.1f} a layer; where lines stand proud, the nozzle strikes them."
    )
    return said.find(
        "warn" if each > OFTEN_PER_LAYER else "note",
        text,
        1.5 if each > OFTEN_PER_LAYER else 0.7,
        clears="a lift of 0.2–0.4 mm on travels, or travels kept off laid beads",
    )


def no_lift_set(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Settings that name a lift of zero, where no file could be counted."""
    if "crossings_without_lift" in facts:
        return None
    said = speaker("no_lift_set", "z_hop_mm", facts, context, Window(0.1, None), "mm", ("no_lift_on_travel",))
    if said is None or said.fact.origin == Origin.FILE:
        return None
    if said.value >= 0.1:
        return said.quiet(f"travels are lifted by {said.value:g} mm", -1.0)
    return said.find("note", "Travels are not lifted; where lines stand proud, the nozzle strikes them.")


RULES: tuple[Rule, ...] = (no_lift_over_beads, no_lift_set)
