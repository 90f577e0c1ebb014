"""Rules about the gap between support and part."""

from __future__ import annotations

from beadwright.facts import Facts

from .ask import Context, Rule, speaker
from .findings import Finding, Quiet
from .limit_rule import Limit
from .windows import support_window


def support_gap_small(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Support so close that it welds to the part."""
    window = support_window(context.material)
    if window is None:
        return None
    said = speaker("support_gap_small", "support_gap_mm", facts, context, window, "mm", ("support_gap_too_small",))
    if said is None or window.low is None:
        return None
    if said.value >= window.low - 1e-6:
        return said.quiet(f"support gap {said.value:g} mm", -1.5)
    text = f"The gap over support is {said.value:g} mm; {_name(context)} comes off cleanly with {window.say('mm')}."
    return said.find("fault" if said.value < 0.6 * window.low else "warn", text)


def support_gap_large(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Support so far away that what rests on it hangs."""
    window = support_window(context.material)
    if window is None:
        return None
    said = speaker("support_gap_large", "support_gap_mm", facts, context, window, "mm", ("support_gap_too_large",))
    if said is None or window.high is None:
        return None
    allowed = max(window.high, 1.0 * (facts.number("layer_height_mm") or 0.0))  # a gap is at least one layer
    if said.value <= allowed + 1e-6:
        return said.quiet(f"support gap {said.value:g} mm", -1.5)
    text = f"The gap over support is {said.value:g} mm; {_name(context)} is carried with {window.say('mm')}."
    return said.find("fault" if said.value > 1.8 * allowed else "warn", text)


def _name(context: Context) -> str:
    return context.material.abbreviation if context.material else "this polymer"


RULES: tuple[Rule, ...] = (
    support_gap_small,
    support_gap_large,
    Limit(
        "support_wall_close", "support_gap_xy_mm", "mm", ("support_gap_too_small",),
        "Support stands {value} mm beside the part{where}; nearer than 0.25 mm it welds to the walls.",
        "0.4–0.8 mm between support and walls",
        low=0.25, warn=0.08, quiet_bits=-0.5,
    ),
    Limit(
        "support_fast", "support_speed_mm_s", "mm/s", ("support_unstable",),
        "Support is laid at {value} mm/s{where}; tall thin support is knocked over beyond 150 mm/s.",
        "support at 40–80 mm/s",
        high=150.0, note_bits=0.3,
    ),
)  # fmt: skip
