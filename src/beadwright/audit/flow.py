"""Rules about how fast plastic is asked for against how fast it can be heated."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log2

from beadwright.facts import Facts
from beadwright.physics.bead import bead_flow_mm3_s
from beadwright.physics.melt import core_temperature, fourier_number, largest_flow

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .limit_rule import Limit

MELT_ZONE_MM = 12.0  # common practice for an ordinary hot end; stated where used
ROOM_C = 25.0
CLOSE_K = 10.0
COLDEST_C = 60.0  # below it the model has nothing to say
FAULT_AT = 1.3  # the model and the table are good to ±30 %
PLENTY = 0.6
FAULT_BITS, MOST_MORE_BITS = 3.5, 2.0  # three times what can be melted speaks louder than a third too much


@dataclass(frozen=True)
class MeltCapacity:
    """What the melt zone can heat.

    The trade's table gives the level, tried at the polymer's typical nozzle temperature (what the feed can
    push is in it too); the conduction model, whose level is doubtful and whose scaling is not, carries it to
    the temperature set.
    """

    best: float  # mm³/s, ±30 %
    tabled: float  # mm³/s, at the typical temperature
    modelled: float  # mm³/s, by conduction alone, at the temperature set
    core_c: float | None  # core temperature reached at the flow asked for
    core_target_c: float
    zone_mm: float
    zone_is_default: bool
    nozzle_c: float
    source: str


def melt_capacity(facts: Facts, context: Context, flow_mm3_s: float | None = None) -> MeltCapacity | None:
    """Return what the melt zone can heat for this polymer at the nozzle temperature that is set (typical, if
    unknown).

    None when no polymer is known. Where the nozzle is set hardly hotter than the core should become, the core
    is only asked to come within 10 K of it: `heat.py` speaks of nozzles that are too cold altogether.
    """
    material = context.material
    if material is None:
        return None
    zone = facts.number("melt_zone_mm")
    length = zone or MELT_ZONE_MM
    typical, target = material.nozzle_temp_c.typical, material.core_target_c.best
    nozzle = facts.number("nozzle_temp_c") or typical
    alpha, metres = material.melt_diffusivity_m2_s, length * 1e-3
    at_set, at_typical = (
        1e9 * float(largest_flow(alpha, metres, wall, ROOM_C, min(target, wall - CLOSE_K)))
        for wall in (max(nozzle, COLDEST_C), typical)
    )
    core = None
    if flow_mm3_s:
        core = float(core_temperature(nozzle, ROOM_C, fourier_number(alpha, metres, flow_mm3_s * 1e-9)))
    limit = material.max_flow_mm3_s
    tabled = limit.at(length)
    return MeltCapacity(
        tabled * at_set / at_typical,
        tabled,
        at_set,
        core,
        target,
        length,
        zone is None,
        nozzle,
        limit.source[0],
    )


def flow_above_melt_capacity(facts: Facts, context: Context) -> Finding | Quiet | None:
    """More plastic per second than the melt zone heats through."""
    flow = asked_flow(facts)
    capacity = melt_capacity(facts, context, flow)
    if capacity is None or flow is None:
        return None
    name = "flow_mm3_s" if "flow_mm3_s" in facts else "speed_mm_s"
    bears_on = ("flow_beyond_melt", "nozzle_too_cold")
    window = Window(None, round(capacity.best, 1), capacity.source)
    said = speaker("flow_above_melt_capacity", name, facts, context, window, "mm³/s", bears_on)
    if said is None:
        return None
    ratio = flow / capacity.best
    if ratio <= 1.0:
        return said.quiet(
            f"flow {flow:.1f} mm³/s is within the {capacity.best:.1f} mm³/s the melt zone can heat",
            -1.5 if ratio < PLENTY else -0.5,
        )
    zone = f"{capacity.zone_mm:g} mm melt zone" + (" (taken, not given)" if capacity.zone_is_default else "")
    text = (
        f"The print asks for {flow:.1f} mm³/s{where_text(context.where(name))}; a {zone} "
        f"at {capacity.nozzle_c:g} °C heats about {capacity.best:.1f} mm³/s (±30 %)."
    )
    if capacity.core_c is not None and capacity.core_c < capacity.core_target_c:
        text += (
            f" The core of the filament reaches {capacity.core_c:.0f} °C and should reach "
            f"{capacity.core_target_c:.0f} °C."
        )
    bits = FAULT_BITS + min(log2(ratio / FAULT_AT), MOST_MORE_BITS) if ratio > FAULT_AT else None
    clears = f"speed times {1 / ratio:.2f} ({capacity.best:.1f} mm³/s), or a longer melt zone"
    finding = said.find("fault" if ratio > FAULT_AT else "warn", text, bits, clears=clears)
    return replace(finding, value=round(flow, 3))


def asked_flow(facts: Facts) -> float | None:
    """Flow asked for, mm³/s: as measured in the file, else bead section times speed from settings; None if
    unknown.
    """
    measured = facts.number("flow_mm3_s")
    if measured is not None:
        return measured
    width, height, speed = (facts.number(name) for name in ("line_width_mm", "layer_height_mm", "speed_mm_s"))
    width = width if width is not None else facts.number("nozzle_mm")  # a line is at least as wide as the bore
    if not width or not height or not speed or width < height:
        return None
    return float(bead_flow_mm3_s(width, height, speed)) * (facts.number("flow_percent", 100.0) or 100.0) / 100


def flow_percent_odd(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A flow multiplier far from 100 %."""
    window = Window(88.0, 110.0)
    said = speaker(
        "flow_percent_odd",
        "flow_percent",
        facts,
        context,
        window,
        "%",
        ("fed_too_little", "fed_too_much", "diameter_set_wrong"),
    )
    if said is None:
        return None
    if 88.0 <= said.value <= 110.0:
        return said.quiet(f"flow {said.value:g} % is usual", -0.3)
    cause = ("fed_too_little",) if said.value < 88 else ("fed_too_much",)
    text = f"The flow is set to {said.value:g} %; once calibrated it lies at {window.say('%')}."
    return replace(said.find("warn", text), bears_on=(*cause, "diameter_set_wrong"))


def layer_above_bore(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A layer so high that the bead is not pressed on the one below."""
    bore = facts.number("nozzle_mm")
    if not bore:
        return None
    window = Window(None, round(0.8 * bore, 3))
    said = speaker(
        "layer_above_bore",
        "layer_height_mm",
        facts,
        context,
        window,
        "mm",
        ("layer_too_thick", "nozzle_bore_mismatch"),
    )
    if said is None:
        return None
    if said.value <= 0.8 * bore + 0.005:
        return said.quiet(f"layers of {said.value:g} mm suit a {bore:g} mm bore", -0.7)
    text = (
        f"Layers are {said.value:g} mm high{where_text(context.where('layer_height_mm'))}, more than four "
        f"fifths of the "
        f"{bore:g} mm bore; such beads are laid down round and hardly weld."
    )
    return said.find("fault" if said.value > bore else "warn", text)


def line_narrower_than_bore(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Beads narrower than the bore are stretched, or the machine carries another nozzle than the file was
    made for.
    """
    bore = facts.number("nozzle_mm")
    if not bore:
        return None
    window = Window(round(0.85 * bore, 3), round(2.0 * bore, 3))
    said = speaker(
        "line_width_odd",
        "line_width_mm",
        facts,
        context,
        window,
        "mm",
        ("nozzle_bore_mismatch", "machine_profile_wrong"),
    )
    if said is None or window.low is None or window.high is None:
        return None
    if window.low <= said.value <= window.high:
        return said.quiet(f"lines of {said.value:g} mm suit a {bore:g} mm bore", -1.0)
    text = (
        f"Lines are {said.value:.2f} mm wide{where_text(context.where('line_width_mm'))}; a {bore:g} mm bore "
        f"lays "
        f"{window.say('mm')}. The file may have been made for another nozzle."
    )
    return said.find("fault" if said.value < 0.7 * bore or said.value > 2.5 * bore else "warn", text)


def layer_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Layers so thin that hardly anything flows, and a dirty plate or a gear's play shows."""
    bore = facts.number("nozzle_mm")
    if not bore:
        return None
    window = Window(round(0.15 * bore, 3), None)
    said = speaker("layer_thin", "layer_height_mm", facts, context, window, "mm", ("heat_creep", "filament_ground"))
    if said is None or window.low is None:
        return None
    if said.value >= window.low - 1e-6:
        return said.quiet(f"layers of {said.value:g} mm", -0.1)
    text = f"Layers are {said.value:.3g} mm high; with a {bore:g} mm bore {window.say('mm')} flow evenly."
    return said.find("note", text, 0.3)


RULES: tuple[Rule, ...] = (
    layer_thin,
    Limit(
        "outer_starved", "outer_flow_percent", "%", ("fed_too_little",),
        "Outer contours carry {value} % of the plastic that a bead of the width set holds{where}; {window} fill it.",
        "one flow, 95–105 %, for all that is seen",
        low=85.0, warn=75.0, quiet_bits=-0.3,
    ),
    Limit(
        "first_layer_flow_odd", "first_layer_flow_percent", "%", ("fed_too_little", "fed_too_much"),
        "The first layer carries {value} % of the plastic that its beads hold{where}; {window} join without ploughing.",
        "first layer at 100 % flow, its width set by the line width",
        low=78.0, high=190.0, note_bits=0.4,
    ),
    flow_above_melt_capacity,
    flow_percent_odd,
    layer_above_bore,
    line_narrower_than_bore,
)  # fmt: skip
