"""Drying: how hot, and for how many hours, until what is left in the spool no longer shows.

Two resistances in series, the strand and the winding; their times add [Crank1975]. The winding's share is
derived and unmeasured: a factor of two either way. Spool shape where unknown: hub radius 45 mm, 60 mm wide
(common practice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadwright.knowledge.material_shapes import Material
from beadwright.physics.moisture import (
    diffusivity_at,
    oven_humidity_percent,
    pack_diffusivity,
    strand_number,
    winding_number,
)
from beadwright.remedy.target import Ask, Target, unless_there

HUB_MM, WIDTH_MM = 45.0, 60.0
FULL_SPOOL_G = 1000.0
PACKED = 0.9  # share of plastic in the winding
GOOD_SHARE = 0.2  # of the balance at 50 % RH, where no guide states a target; common practice
BEYOND_PRACTICE = 2.0  # the derived time is good to a factor of two: no more than that over what people do
REFERENCE_C = 23.0


@dataclass(frozen=True)
class Drying:
    """Water before and after [% of mass], and the hours that takes."""

    before: float
    after: float
    strand_h: float
    winding_h: float

    @property
    def hours(self) -> float:
        return self.strand_h + self.winding_h


def drying_temp(ask: Ask) -> Target | None:
    """Oven temperature of the material."""
    if ask.material is None:
        return None
    drying = ask.material.drying
    why = f"{ask.material.abbreviation} dries at that; above {drying.max_c:g} °C the turns fuse"
    return unless_there(ask, drying.temp_c, why, slack=2.0)


def drying_hours(ask: Ask) -> Target | None:
    """Hours until the mean water in the spool is down to the target; never under the least of practice."""
    if ask.material is None:
        return None
    grams = ask.given("spool_g_left", FULL_SPOOL_G)
    found = dry(ask.material, ask.material.drying.temp_c, ask.given("storage_rh", 50.0), grams)
    least, most = ask.material.drying.hours
    if found is None:
        return Target(most, f"{least:g}–{most:g} h is common practice for {ask.material.abbreviation}")
    longest = BEYOND_PRACTICE * most
    hours = float(math.ceil(min(max(found.hours, least), longest)))
    inside, through = _say(found.strand_h), _say(found.winding_h)
    why = (
        f"{found.before:.2g} % of water falls to {found.after:.2g} % in about {_say(found.hours)} at "
        f"{ask.material.drying.temp_c:g} °C: {inside} out of the strand, {through} out of {grams:g} g of "
        f"turns (a factor of two either way; practice: {least:g}–{most:g} h)"
    )
    if found.hours > longest:
        why += f"; after {longest:g} h the outer turns are dry, while the inner ones may want a looser rewind"
    return unless_there(ask, hours, why)


def _say(hours: float) -> str:
    return "under an hour" if hours < 1 else f"{hours:.0f} h"


def dry(material: Material, oven_c: float, storage_rh: float, grams: float) -> Drying | None:
    """Return the drying of a spool; None when it is dry enough to begin with, or holds next to nothing."""
    at_50 = material.moisture_50rh_percent.best
    before = at_50 * storage_rh / 50  # first order; fails above 70 % RH
    if material.moisture_saturation_percent is not None:
        before = min(before, material.moisture_saturation_percent.best)
    floor = at_50 * float(oven_humidity_percent(23.0, 50.0, oven_c)) / 50
    target = max(material.drying.target_percent or GOOD_SHARE * at_50, 1.05 * floor)
    if before <= target or grams <= 0:
        return None
    share = min((before - target) / (before - floor), 0.999)
    radius = 0.875e-3
    inside = float(
        diffusivity_at(
            material.water_diffusivity_m2_s.best,
            REFERENCE_C,
            material.water_activation_kj_mol.best * 1e3,
            oven_c,
        )
    )
    strand = float(strand_number(share)) * radius**2 / inside
    inner, outer = winding_radii_m(grams, material.density_kg_m3.best)
    through = float(pack_diffusivity(material.density_kg_m3.best, at_50, oven_c))
    winding = float(winding_number(max(share, 0.1), round(inner / outer, 2))) * (outer - inner) ** 2 / through
    return Drying(before, target, strand / 3600, winding / 3600)


def winding_radii_m(grams: float, density_kg_m3: float) -> tuple[float, float]:
    """Return hub and outer radius of what is wound on the spool [m]."""
    volume = grams * 1e-3 / density_kg_m3 / PACKED
    hub = HUB_MM * 1e-3
    return hub, math.sqrt(hub**2 + volume / (math.pi * WIDTH_MM * 1e-3))
