"""Draws whole virtual cases: a print with one or two faults, what it shows, and what its sender tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.virtual.fault import Fault, Rng
from beadwright.virtual.faults import FAULTS
from beadwright.virtual.healthy import sound_world
from beadwright.virtual.observe import Habits, Told, seen_signs, told_of
from beadwright.virtual.show import Shown, shown
from beadwright.virtual.world import World

TWO_FAULTS = 0.15  # share of prints with a second fault
TRIES = 400
LEAST_TOLD = 2  # a sender has at least so much to tell
LEAST_GAIN = 0.8  # just noticeable steps that a fault must add to some sign


@dataclass(frozen=True)
class VirtualCase:
    """A print made to fail. `causes` holds what is really wrong, the graver first."""

    number: int
    causes: tuple[str, ...]
    family: str
    world: World
    result: Shown
    seen: frozenset[str]
    told: Told


def draw_case(number: int, habits: Habits | None = None, only: str | None = None) -> VirtualCase:
    """Return case `number`, the same each time; `only`: with that fault and no other."""
    rng = np.random.default_rng([2024, number])
    habits = habits or Habits()
    for _ in range(TRIES):
        faults = _faults(rng, only)
        world = _fitting(faults, rng)
        if world is None:
            continue
        severities = rng.beta(1.8, 1.3, len(faults))
        before = shown(world)
        if not all(_bites(fault, world, before, float(s), rng) for fault, s in zip(faults, severities, strict=True)):
            continue
        for fault, severity in zip(faults, severities, strict=True):
            world = fault.applied(world, float(severity), rng)
        result = shown(world)
        seen = seen_signs(result, rng)
        told = told_of(world, result, seen, tuple(f.place for f in faults), habits, rng)
        if sum(present for _, present, _ in told.signs) + bool(told.measured) >= LEAST_TOLD:
            return VirtualCase(number, tuple(f.id for f in faults), faults[0].family, world, result, seen, told)
    raise RuntimeError(f"case {number}: no failing print in {TRIES} draws ({only or 'any fault'})")


def _faults(rng: Rng, only: str | None) -> list[Fault]:
    if only is not None:
        return [fault for fault in FAULTS if fault.id == only]
    weights = np.array([fault.weight for fault in FAULTS])
    count = 2 if rng.random() < TWO_FAULTS else 1
    picked = rng.choice(len(FAULTS), count, replace=False, p=weights / weights.sum())
    return [FAULTS[int(at)] for at in picked]


def _fitting(faults: list[Fault], rng: Rng) -> World | None:
    """Return a sound print in which all the faults can occur."""
    for _ in range(300):
        world = sound_world(rng)
        if all(fault.fits(world) for fault in faults):
            return world
    return None


def _bites(fault: Fault, world: World, before: Shown, severity: float, rng: Rng) -> bool:
    """Whether the fault alone shows anything that was not there: one that shows nothing brings nobody to write."""
    after = shown(fault.applied(world, severity, rng)).strength
    told_anyway = set(fault.history)
    gain = [strength - before.strength.get(name, 0.0) for name, strength in after.items() if name not in told_anyway]
    return max(gain, default=0.0) > LEAST_GAIN
