"""Rules about how the print goes: steps between layers, contours against fillings, how it ends. Common practice, no
source, unless the text says otherwise.
"""

from __future__ import annotations

from math import ceil, floor

from beadwright.facts import Facts, Origin

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .limit_rule import Limit
from .limits import moving_bed

OUTER_MM_S = {"y": 120.0, "z": 250.0, "none": 250.0}
OUTER_MM_S2 = {"y": 3500.0, "z": 10000.0, "none": 10000.0}
TRAVEL_MM_S = {"y": 300.0, "z": 600.0, "none": 600.0}
SHORT_LAYER_S = 10.0


def _by_bed(rule: str, fact: str, unit: str, most: dict[str, float], bears_on: tuple[str, ...], what: str) -> Rule:
    """A rule whose upper end depends on what carries the part."""

    def ask(facts: Facts, context: Context) -> Finding | Quiet | None:
        bed = moving_bed(facts)
        if bed is None:
            return None
        end = most[bed]
        said = speaker(rule, fact, facts, context, Window(None, end), unit, bears_on)
        if said is None:
            return None
        if said.value <= end:
            return said.quiet(f"{what} {said.value:g} {unit}", -0.3)
        kind = "a machine whose bed carries the part to and fro" if bed == "y" else "a machine of this kind"
        said_at = f"{said.value:g} {unit}{where_text(context.where(fact))}"
        text = f"{what} {said_at}; {kind} does it cleanly up to {end:g} {unit}."
        return said.find("warn" if said.value > 1.6 * end else "note", text, clears=f"at most {end:g} {unit}")

    ask.__name__ = rule
    return ask


def outer_faster(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The contour that is seen laid faster than those behind it."""
    inner = facts.number("inner_speed_mm_s")
    if not inner:
        return None
    window = Window(None, inner)
    said = speaker("outer_faster", "outer_speed_mm_s", facts, context, window, "mm/s", ("ringing", "speed_too_high"))
    if said is None:
        return None
    if said.value <= 1.05 * inner:
        return said.quiet(f"outer contours at {said.value:g} mm/s, inner ones at {inner:g} mm/s", -0.3)
    text = (
        f"Outer contours are laid at {said.value:g} mm/s and inner ones at {inner:g} mm/s; the contour that is seen "
        "wants "
        "the slower hand."
    )
    level = "warn" if said.value > 1.5 * inner else "note"
    return said.find(level, text, clears=f"outer contours at {0.6 * inner:.0f}–{inner:.0f} mm/s")  # type: ignore[arg-type]


def layer_not_whole_steps(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Layers that are no whole number of the Z motor's full steps: their heights are then rounded unevenly.

    full step = lead · step angle / 360.
    """
    lead, step = facts.best("screw_lead_mm"), facts.number("motor_step_deg", 1.8) or 1.8
    if lead is None or lead.origin < Origin.CLAIM or lead.number <= 0:
        return None
    full = lead.number * step / 360
    height = facts.number("layer_height_mm") or 0.0
    low, high = round(floor(height / full + 1e-6) * full, 4), round(ceil(height / full - 1e-6) * full, 4)
    said = speaker(
        "layer_not_whole_steps", "layer_height_mm", facts, context, Window(low, high), "mm", ("screw_wobble",)
    )  # fmt: skip
    if said is None:
        return None
    if min(abs(said.value - low), abs(said.value - high)) < 0.06 * full:
        return said.quiet(f"layers of {said.value:g} mm are whole steps of {full:g} mm", -0.1)
    text = (
        f"Layers of {said.value:g} mm are no whole number of the Z motor's full steps ({full:g} mm); their heights "
        "then "
        "differ a little in turn."
    )
    return said.find("note", text, 0.2, clears=f"layers of {low:g} or {high:g} mm")


def heat_left_on(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The file ends and leaves nozzle or bed hot."""
    bed = facts.number("bed_end_c") or 0.0
    name = "nozzle_end_c" if (facts.number("nozzle_end_c") or 0.0) > 0 else "bed_end_c"
    said = speaker("heat_left_on", name, facts, context, Window(None, 0.0), "°C", ("machine_profile_wrong",))
    if said is None:
        return None
    if said.value <= 0:
        return said.quiet("nozzle and bed are switched off at the end", -0.1)
    hot = "the nozzle" if name == "nozzle_end_c" else "the bed"
    also = f" and the bed to {bed:g} °C" if name == "nozzle_end_c" and bed > 0 else ""
    text = (
        f"When the file ends {hot} is still set to {said.value:g} °C{also}. Unless the machine switches off by "
        "itself, do "
        "not leave it alone: hot plastic chars, and heat left on can start a fire."
    )
    clears = "M104 S0 and M140 S0 after the last bead"
    return said.find("warn" if name == "nozzle_end_c" else "note", text, 0.2, clears=clears)


def no_lift_at_end(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The hot nozzle is left standing on the finished part."""
    said = speaker("no_lift_at_end", "end_lift_mm", facts, context, Window(2.0, None), "mm", ("machine_profile_wrong",))
    if said is None:
        return None
    away = facts.number("end_away_mm") or 0.0
    if said.value >= 1 or away > 20:
        return said.quiet(f"the head leaves the part: up {said.value:g} mm, aside {away:.0f} mm", -0.1)
    text = "The file ends with the nozzle standing on the part; it melts a mark into the last layer and sticks there."
    return said.find("note", text, 0.2, clears="a rise of at least 2 mm, then a move aside, after the last bead")


def _short_layers(facts: Facts, context: Context) -> bool:
    return (facts.number("min_layer_seconds") or 0.0) < SHORT_LAYER_S


RULES: tuple[Rule, ...] = (
    outer_faster,
    layer_not_whole_steps,
    heat_left_on,
    no_lift_at_end,
    _by_bed(
        "outer_fast", "outer_speed_mm_s", "mm/s", OUTER_MM_S, ("ringing", "speed_too_high"),
        "Outer contours are laid at",
    ),
    _by_bed(
        "outer_accel_high", "outer_accel_mm_s2", "mm/s²", OUTER_MM_S2, ("ringing", "acceleration_too_high"),
        "Outer contours are accelerated at",
    ),
    _by_bed(
        "travel_fast", "travel_speed_mm_s", "mm/s", TRAVEL_MM_S, ("acceleration_too_high",), "Travels are driven at"
    ),
    Limit(
        "fan_jumps", "fan_jumps", "layers", ("cooling_too_strong",),
        "In the course of the print the part fan changes by 40 % or more at {value} layers{where}; each leaves a band.",
        "one fan value from layer 4 on",
        high=0.0, note_bits=0.2,
    ),
    Limit(
        "nozzle_changes", "nozzle_step_c", "°C", ("nozzle_too_cold", "nozzle_too_hot"),
        "In the course of the print the nozzle is set {value} °C hotter or colder from one layer to the next{where}; "
        "gloss, "
        "flow and weld change there.",
        "one nozzle temperature from layer 4 on",
        high=4.0, warn=12.0, note_bits=0.3,
    ),
    Limit(
        "layer_time_jumps", "layer_time_ratio", "times", ("layer_time_too_short",),
        "One layer takes {value} times as long as its neighbour{where}; where layers are short that leaves a band.",
        "a shortest layer time of 10–15 s, or a second part beside it",
        high=5.0, note_bits=0.3, when=_short_layers,
    ),
    Limit(
        "outer_speed_steps", "outer_speed_steps", "layers", ("layer_time_too_short",),
        "The speed of outer contours steps by 40 % or more at {value} layers{where}; gloss and width change there.",
        "outer contours at one speed: a shortest layer time kept by pausing beside the part, not by slowing down",
        high=2.0, note_bits=0.3,
    ),
    Limit(
        "flow_steps", "flow_step_ratio", "times", ("pressure_lags",),
        "Within a layer fillings flow {value} times as fast as outer contours{where}; the pressure in the melt zone "
        "lags "
        "behind such steps and leaves the start fat and the end thin.",
        "filling speed brought down, or outer speed up, until flows differ no more than threefold",
        high=4.0, note_bits=0.5,
    ),
    Limit(
        "moves_dense", "moves_per_second", "moves", ("speed_too_high",),
        "{value} moves fall within one second{where}; many controllers run short of moves beyond 1000 and stutter.",
        "a coarser export of curves (chords of 0.1 mm and more), or arcs",
        high=1000.0, warn=3000.0, note_bits=0.3,
    ),
    Limit(
        "pause_in_print", "pause_count", "pauses", ("heat_creep",),
        "The print pauses {value} times{where}; each leaves a mark, and heat creeps up the cold end meanwhile.",
        "no pause, or one kept under a few minutes with the nozzle moved aside",
        high=0.0, note_bits=0.1,
    ),
    Limit(
        "seam_scattered", "seam_scattered_percent", "%", ("retraction_too_little",),
        "{value} % of the outer contours start more than 2 mm from any start of the layer below; each start shows as "
        "a dot.",
        "starts lined up in a corner or on the back",
        high=50.0, note_bits=0.1, quiet_bits=-0.05,
    ),
    Limit(
        "above_machine", "above_machine_mm", "mm", ("file_moves_outside", "machine_profile_wrong"),
        "The head is sent {value} mm higher than the machine reaches{where}; it runs into its end there.",
        "a lower lift at the end, or the part cut in two",
        high=0.0, warn=0.01, fault=1.0, quiet_bits=-0.3,
    ),
)  # fmt: skip
