"""Rules about what is laid with nothing under it: overhangs, bridges, pieces in mid-air. Common practice, no source."""

from __future__ import annotations

from beadwright.facts import Facts

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Level, Quiet
from .limit_rule import Limit
from .windows import fan_window

STEEP_PERCENT = (3.0, 10.0, 40.0)  # of outer contours, beyond 60°: note, warn, fault
SHORT_SPAN_MM = 8.0  # over which hardly any polymer sags


def overhang_steep(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Contours leaning out by more than 60° with no support, and little air to set them."""
    window = Window(None, STEEP_PERCENT[0])
    bears_on = ("support_missing", "cooling_too_weak")
    said = speaker("overhang_steep", "overhang_60_percent", facts, context, window, "%", bears_on)
    if said is None:
        return None
    if said.value <= STEEP_PERCENT[0]:
        return said.quiet(f"{said.value:.1f} % of the outer contours lean out by more than 60°", -0.7)
    fan, wanted = facts.number("fan_percent"), fan_window(context.material)
    short_of_air = fan is not None and wanted is not None and wanted.low is not None and fan < wanted.low - 15
    levels: tuple[Level, ...] = ("note", "warn", "fault")
    grave = (said.value > STEEP_PERCENT[1]) + (said.value > STEEP_PERCENT[2]) + short_of_air
    text = (
        f"{said.value:.0f} % of the outer contours lean out by more than 60° with nothing under "
        f"them{where_text(context.where('overhang_60_percent'))}; beyond {STEEP_PERCENT[0]:g} % the edge sags or curls"
    )
    text += f", the more so with the part fan at {fan:g} %." if short_of_air else "."
    clears = "support under what leans out by more than 60°, or the part turned so that it lies lower"
    return said.find(levels[min(grave, 2)], text, clears=clears)


def bridge_little_air(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A bridge laid with less air than the polymer wants."""
    wanted = fan_window(context.material)
    if wanted is None or wanted.low is None or (facts.number("bridge_span_mm") or 0.0) < SHORT_SPAN_MM:
        return None
    said = speaker("bridge_little_air", "bridge_fan_percent", facts, context, wanted, "%", ("cooling_too_weak",))
    if said is None:
        return None
    if said.value >= wanted.low - 1:
        return said.quiet(f"bridges are laid with the fan at {said.value:g} %", -0.3)
    text = (
        f"Beads span {facts.number('bridge_span_mm'):.0f} mm of air{where_text(context.where('bridge_fan_percent'))} "
        "with "
        f"the part fan at {said.value:.0f} %; {wanted.say('%')} sets them before they sag."
    )
    top = f"{wanted.high:g} %" if wanted.high is not None else wanted.say("%")
    return said.find("warn" if said.value < wanted.low - 30 else "note", text, clears=f"part fan at {top} over bridges")


RULES: tuple[Rule, ...] = (
    overhang_steep,
    bridge_little_air,
    Limit(
        "contour_in_air", "contour_in_air_mm", "mm", ("support_missing",),
        "In one layer {value} mm of outer contour are laid over air and held at one end at most{where}; they fall.",
        "support under that layer, or the part turned",
        high=8.0, warn=25.0, fault=200.0, quiet_bits=-1.0,
    ),
    Limit(
        "island_in_air", "islands_in_air", "pieces", ("support_missing",),
        "{value} pieces of layers are begun in mid-air{where}: nothing lies under them.",
        "support under each piece, or the part turned so that it grows from below",
        high=0.0, warn=1.0, fault=1.0, quiet_bits=-0.7,
    ),
    Limit(
        "bridge_long", "bridge_span_mm", "mm", ("support_missing", "cooling_too_weak"),
        "Beads span {value} mm of air{where}; beyond 20 mm they sag more and more.",
        "support under spans of more than 20 mm, or the part turned",
        high=20.0, warn=45.0, fault=90.0,
    ),
    Limit(
        "bridge_fast", "bridge_speed_mm_s", "mm/s", ("speed_too_high",),
        "Beads over air are laid at {value} mm/s{where}; up to 80 mm/s the strand keeps its pull.",
        "30–50 mm/s over air",
        high=80.0, warn=130.0, fault=250.0,
        when=lambda facts, _: (facts.number("bridge_span_mm") or 0.0) > SHORT_SPAN_MM,
    ),
)  # fmt: skip
