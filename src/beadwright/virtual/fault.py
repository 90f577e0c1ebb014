"""A fault: how it changes a world, how common it is in a shop, where it lives, what its history tells."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field

import numpy as np

from beadwright.virtual.world import World

Rng = np.random.Generator
Change = Callable[[World, float, Rng], None]

# Weights: how often a shop of a few machines meets a fault. Judgement of our own, no source.
DAILY, OFTEN, NOW_AND_THEN, SELDOM = 6.0, 4.0, 2.0, 1.0


@dataclass(frozen=True)
class Fault:
    """`change` alters a copy of the world by a severity of 0 (hardly) to 1 (gross); `fits` says where it can occur."""

    id: str
    family: str
    lives_in: str
    weight: float
    change: Change
    fits: Callable[[World], bool] = lambda world: True
    history: Mapping[str, float] = field(default_factory=dict)  # sign -> chance that the sender can tell it

    @property
    def place(self) -> str:
        """Where attempts would find it: what one file or model alone does is told apart from settings used for all."""
        return "model" if self.family in ("file", "support", "model") else self.lives_in

    def applied(self, world: World, severity: float, rng: Rng) -> World:
        """Return a copy of the world with the fault in it."""
        changed = deepcopy(world)
        self.change(changed, severity, rng)
        for sign, chance in self.history.items():
            changed.history[sign] = max(changed.history.get(sign, 0.0), chance)
        return changed


def between(low: float, high: float, severity: float) -> float:
    """Return the value at a severity."""
    return low + (high - low) * severity
