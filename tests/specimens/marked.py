"""Parts whose clocks run differently, and the marks that a source of known clock and period leaves on them.

Invented. Tapered and stepped parts tell clocks apart, a constant one cannot. Marks are placed through the motion
plan's own Timeline, event by event, not through the columns that the clock test uses.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from beadwright.motion.limits import limits_from
from beadwright.motion.plan import plan
from beadwright.motion.timeline import Timeline
from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath

from .recipe import Recipe
from .regions import Region
from .toolpaths import Specimen, _stack, build

KINDS = ("tapered", "stepped", "constant")


def part(kind: str, rng: np.random.Generator, height_mm: float | None = None) -> Specimen:
    """A round part of random size: a cone, a stack of rings of other widths, or a plain bar."""
    tall = float(rng.uniform(45, 75)) if height_mm is None else height_mm
    settings: dict[str, Any] = {
        "layer_height_mm": float(rng.choice([0.2, 0.25, 0.3])),
        "infill_percent": float(rng.choice([10, 15, 25])),
        "speed_mm_s": float(rng.choice([50, 80, 120])),
        "bottom_solid_layers": 3, "top_solid_layers": 3, "wall_lines": int(rng.choice([2, 3])),
    }  # fmt: skip
    recipe = Recipe(**settings)
    count = round(tall / recipe.layer_height_mm)
    up = np.linspace(0, 1, count)
    wide, narrow = float(rng.uniform(32, 46)), float(rng.uniform(12, 20))
    if kind == "tapered":
        widths = wide + (narrow - wide) * (up if rng.random() < 0.5 else up[::-1])
    elif kind == "stepped":
        steps = int(rng.integers(2, 5))
        sizes = np.where(np.arange(steps + 1) % 2 == rng.integers(2), wide, narrow) * rng.uniform(0.9, 1.1, steps + 1)
        edges = np.sort((np.arange(1, steps + 1) + rng.uniform(-0.25, 0.25, steps)) / (steps + 1))
        widths = sizes[np.searchsorted(edges, up)]
    else:
        widths = np.full(count, (wide + narrow) / 2)
    discs = [Region(*recipe.centre_mm, w, w, w / 2, 48) for w in widths.round(2).tolist()]
    return build(recipe, _stack(recipe, discs))


def timeline_of(specimen: Specimen) -> Timeline:
    toolpath = read_toolpath(specimen.data, name="specimen")
    return Timeline.build(toolpath, plan(toolpath, limits_from(toolpath)), find_layers(toolpath))


def span_of(timeline: Timeline, clock: str) -> tuple[float, float]:
    """What the clock shows at the start of the first layer and at the end of the last."""
    if clock == "z":
        return float(timeline.floor_z), float(timeline.layer_z[-1])
    low, high = timeline.convert(np.minimum(timeline.layer_s[[0, -1]], timeline.t[-1]), "s", clock)
    return float(low), float(high)


def marks_on(
    timeline: Timeline, clock: str, period: float, rng: np.random.Generator, *,
    missed: float = 0.15, strewn: int = 2, u_mm: float = 0.15,
) -> np.ndarray:  # fmt: skip
    """Heights [mm] as a person reads them: the middle of the layer of each event, some missed, some false, ± `u_mm`."""
    low, high = span_of(timeline, clock)
    events = np.arange(low + rng.random() * period, high, period)
    tops = timeline.convert(events, clock, "z")
    tops = tops[np.isfinite(tops)]
    heights = tops - np.median(np.diff(timeline.layer_z)) / 2
    heights = heights[rng.random(len(heights)) >= missed]
    heights = np.concatenate([heights, rng.uniform(timeline.layer_z[0], timeline.layer_z[-1], strewn)])
    return np.clip(heights + rng.normal(0, u_mm, len(heights)), 0.0, timeline.layer_z[-1])
