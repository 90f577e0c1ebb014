"""How wet a spool is, outer wraps and core, as a multiple of what the nozzle turns to steam that one sees."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from beadwright.physics.moisture import pack_diffusivity, winding_uptake

if TYPE_CHECKING:
    from beadwright.knowledge.material_shapes import Material
    from beadwright.virtual.world import Spool

SECONDS_A_DAY = 86400.0
WINDING_M = 0.05  # depth of a full winding
HUB_RATIO = 0.5
DRIED_TO = 0.12  # share of the balance left by a drying: judgement, no source
SHIPPED_AT_RH = 12.0
SHOWS_AT_RANK = {0: 9.0, 1: 2.5, 2: 1.6, 3: 1.15, 4: 0.75, 5: 0.5}  # share of the 50 % RH balance; judgement


def water_ratio(spool: Spool, stuff: Material) -> tuple[float, float]:
    """Return the water of the outer wraps and of the whole winding over what begins to show."""
    days = spool.opened_days if spool.dried_days_ago is None else min(spool.dried_days_ago, spool.opened_days)
    start = SHIPPED_AT_RH / 50 if spool.dried_days_ago is None else DRIED_TO
    whole = start + (spool.storage_rh / 50 - start) * _share(stuff, days, WINDING_M * spool.g_left / 1000 + 0.004)
    outer = start + (spool.storage_rh / 50 - start) * _share(stuff, days, 0.008)
    shows = SHOWS_AT_RANK[round(stuff.moisture_rank.best)]
    return outer / shows, whole / shows


def _share(stuff: Material, days: float, depth_m: float) -> float:
    """Share of the balance reached in a layer of wraps open on its outer face."""
    spread = float(pack_diffusivity(stuff.density_kg_m3.best, stuff.moisture_50rh_percent.best, 23.0))
    number = spread * days * SECONDS_A_DAY / depth_m**2
    if number < 0.002:
        return float(2 * np.sqrt(max(number, 0.0) / np.pi))
    return float(winding_uptake(number, HUB_RATIO))
