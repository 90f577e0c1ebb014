"""Temperatures and flow: the nozzle as hot as the flow needs, or the flow no greater than the nozzle can
heat.

Two figures bound the flow: conduction into the strand (±30 %), and what people print at (common practice),
which also knows what the feed can push. They are taken together as the audit does: their middle while they
agree within doubt, else the smaller. Physics then carries that figure from the typical temperature to any
other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadwright.knowledge.material_shapes import Material
from beadwright.knowledge.material_table import load_nozzle_metals
from beadwright.physics.bead import bead_flow_mm3_s
from beadwright.physics.melt import core_temperature, fourier_number, largest_flow, wall_for_core
from beadwright.remedy.target import Ask, Target, unless_there

MELT_ZONE_MM = 12.0  # common practice for an ordinary hot end
ROOM_C = 25.0
DOUBT = 1.3  # the model is good to ±30 %
STEP_C = 5.0  # nobody sets single degrees
SMALL_MOVE_C = 3.0
COOLER_BY_C = 10.0  # one step down that shows; common practice
ROOM_ABOVE = 0.9  # cap the flow a little under the limit


@dataclass(frozen=True)
class MeltZone:
    """What one melt zone does to one material."""

    material: Material
    length_mm: float

    @property
    def core_c(self) -> float:
        return self.material.core_target_c.best

    def modelled(self, nozzle_c: float) -> float:
        """The largest flow by conduction alone [mm³/s]; 0 at or below the core's target."""
        if nozzle_c <= self.core_c:
            return 0.0
        alpha = self.material.melt_diffusivity_m2_s
        return 1e9 * float(largest_flow(alpha, self.length_mm * 1e-3, nozzle_c, ROOM_C, self.core_c))

    @property
    def factor(self) -> float:
        """What the trade's figure makes of the modelled one."""
        ratio = self.material.max_flow_mm3_s.at(self.length_mm) / self.modelled(self.material.nozzle_temp_c.typical)
        return math.sqrt(ratio) if 1 / DOUBT <= ratio <= DOUBT else min(ratio, 1.0)

    def capacity(self, nozzle_c: float) -> float:
        """The largest flow to count on [mm³/s]."""
        return self.factor * self.modelled(nozzle_c)

    def core(self, nozzle_c: float, flow_mm3_s: float) -> float:
        """The core's temperature by conduction alone [°C]."""
        alpha = self.material.melt_diffusivity_m2_s
        return float(
            core_temperature(nozzle_c, ROOM_C, fourier_number(alpha, self.length_mm * 1e-3, flow_mm3_s * 1e-9))
        )

    def temperature_for(self, flow_mm3_s: float) -> float:
        """The lowest nozzle temperature in the material's window that carries the flow, else its top [°C]."""
        window = self.material.nozzle_temp_c
        alpha, metres = self.material.melt_diffusivity_m2_s, self.length_mm * 1e-3
        fo = fourier_number(alpha, metres, flow_mm3_s / self.factor * 1e-9)
        wall = float(wall_for_core(self.core_c, ROOM_C, fo))
        return window.max if math.isnan(wall) else window.clamp(wall)


def melt_zone(ask: Ask) -> MeltZone | None:
    return None if ask.material is None else MeltZone(ask.material, ask.given("melt_zone_mm", MELT_ZONE_MM))


def asked_flow(ask: Ask) -> float | None:
    """Return the flow asked for [mm³/s]: measured in the file, else width × height × speed of the
    settings."""
    flow = ask.number("flow_mm3_s")
    if flow is not None:
        return flow
    speed, width, height = (ask.number(name) for name in ("speed_mm_s", "line_width_mm", "layer_height_mm"))
    width = ask.number("nozzle_mm") if width is None else width
    if speed is None or width is None or height is None or not 0 < height <= width or speed <= 0:
        return None
    return float(bead_flow_mm3_s(width, height, speed))


def heat_for_flow(ask: Ask) -> Target | None:
    """Nozzle temperature at which the melt zone carries the flow asked for; the typical one when no flow is
    known."""
    zone, flow = melt_zone(ask), asked_flow(ask)
    if zone is None or flow is None or flow <= 0:
        return window_nozzle(ask)
    window, name = zone.material.nozzle_temp_c, zone.material.abbreviation
    extra = _metal_offset(ask)
    goal = window.clamp(_in_steps(zone.temperature_for(flow)) + extra)
    if ask.now is not None and goal <= ask.now + SMALL_MOVE_C:
        return None
    why = f"{name} must reach {zone.core_c:g} °C at the strand's core, and {_at_present(ask.now, zone, flow)}"
    if extra:
        why += f"; a nozzle of {_metal(ask)} takes {extra:g} °C more than brass"
    if zone.factor < 1:
        limit, typical = zone.material.max_flow_mm3_s.at(zone.length_mm), window.typical
        why += f"; the trade runs it at {limit:g} mm³/s at {typical:g} °C in such a zone"
    enough = zone.capacity(goal - extra)
    if enough < flow:
        why += f". Even {goal:g} °C, the top for {name}, carries only {enough:.1f} mm³/s: slow down as well"
    return Target(goal, why)


def _at_present(now: float | None, zone: MeltZone, flow: float) -> str:
    asked = f"at {flow:.1f} mm³/s in a {zone.length_mm:g} mm melt zone"
    if now is None:
        return f"{asked} that takes this much (±30 % in flow)"
    core = zone.core(now, flow)
    if core < zone.core_c - 2:  # nearer than that the model cannot tell
        return f"{asked} under {now:g} °C it reaches only {core:.0f} °C"
    able = zone.capacity(now)
    return f"{now:g} °C carries about {able:.1f} mm³/s (±30 %), while {flow:.1f} mm³/s are asked for"


def cap_flow(ask: Ask) -> Target | None:
    """The largest flow at the present temperature, or the speed scaled to it."""
    zone, flow = melt_zone(ask), asked_flow(ask)
    if zone is None or flow is None or flow <= 0:
        return None
    nozzle = ask.given("nozzle_temp_c", zone.material.nozzle_temp_c.typical)
    room = ROOM_ABOVE * zone.capacity(nozzle)
    if not 0 < room < flow:
        return None
    name, able = zone.material.abbreviation, zone.capacity(nozzle)
    why = (
        f"{nozzle:g} °C in a {zone.length_mm:g} mm melt zone heats about {able:.1f} mm³/s of {name} through "
        f"(±30 %), while {flow:.1f} mm³/s are asked for"
    )
    if ask.fact in ("flow_mm3_s", "flow_max_mm3_s"):
        return Target(round(room, 1), why)
    if ask.now is None or not ask.fact.endswith("speed_mm_s"):
        return None
    seconds = ask.number("print_seconds")
    if seconds:
        why += f"; the print takes up to {seconds * (flow / room - 1) / 60:.0f} minutes longer"
    return Target(float(math.floor(ask.now * room / flow)), why)


def window_nozzle(ask: Ask) -> Target | None:
    """The temperature to start from with this material."""
    if ask.material is None:
        return None
    window = ask.material.nozzle_temp_c
    return unless_there(ask, window.typical, _window_text(ask.material, window.min, window.max), SMALL_MOVE_C)


def cool_nozzle(ask: Ask) -> Target | None:
    """Down by a step that shows, not below the window nor below what the flow needs."""
    if ask.material is None or ask.now is None:
        return None
    window, zone, flow = ask.material.nozzle_temp_c, melt_zone(ask), asked_flow(ask)
    floor = window.min if zone is None or flow is None else max(window.min, zone.temperature_for(flow))
    wanted = window.typical if ask.now > window.max else ask.now - COOLER_BY_C
    goal = max(wanted, _in_steps(floor))
    if goal > ask.now - SMALL_MOVE_C:
        return None
    why = f"{_window_text(ask.material, window.min, window.max)}, and less heat keeps the melt stiffer"
    if goal > wanted:
        why += f"; below {goal:g} °C the flow would no longer melt through"
    return Target(goal, why)


def window_bed(ask: Ask) -> Target | None:
    """The bed temperature to start from with this material."""
    if ask.material is None:
        return None
    window = ask.material.bed_temp_c
    return unless_there(ask, window.typical, _window_text(ask.material, window.min, window.max), SMALL_MOVE_C)


def nozzle_hardened(ask: Ask) -> Target | None:
    """A nozzle harder than the filler; no number, a reason."""
    soft, hard = (load_nozzle_metals()[key].hardness_vickers_hv.best for key in ("brass", "hardened_steel"))
    offset = load_nozzle_metals()["hardened_steel"].temperature_offset_c
    hotter = "" if offset is None else f"; set it {offset.min:g}–{offset.max:g} °C hotter, steel conducts less"
    return Target(None, f"hardened steel has {hard:g} HV against {soft:g} HV of brass, which filler cuts{hotter}")


def _in_steps(temp_c: float) -> float:
    """Round up to a step, a degree over it being within the model's doubt."""
    return math.ceil((temp_c - 1.0) / STEP_C) * STEP_C


def _window_text(material: Material, low: float, high: float) -> str:
    return f"{material.abbreviation} works at {low:g}–{high:g} °C (common practice)"


def _metal(ask: Ask) -> str:
    return (ask.facts.text("nozzle_material") or "").replace("_", " ")


def _metal_offset(ask: Ask) -> float:
    """Return how much hotter the block must be than with brass [K], in steps that people set."""
    metal = load_nozzle_metals().get(ask.facts.text("nozzle_material") or "")
    return 0.0 if metal is None or metal.temperature_offset_c is None else metal.temperature_offset_c.best
