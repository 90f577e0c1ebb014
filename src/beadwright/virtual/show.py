"""From a world to what it shows: one strength a sign, in just noticeable steps (1: half the readers see it)."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from beadwright.virtual.melt import Melt, melt_of
from beadwright.virtual.show_bed import Hold, bed_shown, circumstances, hold_of, shape_shown
from beadwright.virtual.show_flow import flow_shown, melt_shown
from beadwright.virtual.show_motion import motion_shown, shift_shown
from beadwright.virtual.world import World


@dataclass(frozen=True)
class Shown:
    """What a print shows, and the states behind it."""

    strength: dict[str, float]
    melt: Melt
    hold: Hold


def shown(world: World) -> Shown:
    """Print the world. The same world shows the same, chance included."""
    melt = melt_of(world)
    hold = hold_of(world, melt)
    total: Counter[str] = Counter()
    for part in (
        flow_shown(world, melt),
        melt_shown(world, melt),
        bed_shown(world, hold),
        shape_shown(world, melt, hold),
        shift_shown(world),
        motion_shown(world, melt, hold.strikes),
        circumstances(world, np.random.default_rng(world.seed)),
    ):
        total.update({name: float(value) for name, value in part.items() if value > 0})
    return Shown(dict(total), melt, hold)


def chance_seen(strength: float) -> float:
    """Return the chance that an attentive reader sees a sign of that strength: Weibull, 1 by half, slope 2.5.

    >>> chance_seen(0.0), round(chance_seen(1.0), 3), round(chance_seen(2.0), 2)
    (0.0, 0.5, 0.98)
    """
    return float(1 - 2 ** -(max(strength, 0.0) ** 2.5))
