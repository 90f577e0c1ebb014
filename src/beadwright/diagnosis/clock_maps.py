"""The clocks of a print as functions of height, layer by layer: all of a toolpath that the clock test needs.

A few columns of one entry a layer, so that they may be kept when the columns of moves are let go.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadwright.motion.timeline import Timeline

Floats = NDArray[np.float64]
RhythmClock = Literal["z", "s", "filament", "path", "layer"]
CLOCKS: tuple[RhythmClock, ...] = get_args(RhythmClock)
UNITS = {"z": "mm", "s": "s", "filament": "mm", "path": "mm", "layer": "layers"}
NAMES = {
    "z": "height", "s": "seconds", "filament": "filament fed", "path": "path of the head", "layer": "layers"
}  # fmt: skip


@dataclass(frozen=True)
class PrintClocks:
    """What each clock shows at the bottom of each layer and at the top of the last; k layers of rising height."""

    z: Floats  # (k + 1,) mm
    s: Floats  # (k + 1,) seconds of the motion plan
    filament: Floats  # (k + 1,) mm fed
    path: Floats  # (k + 1,) mm gone

    @classmethod
    def of(cls, timeline: Timeline) -> PrintClocks | None:
        """Return the clocks of a print; None with fewer than three layers."""
        k = len(timeline.layer_z)
        if k < 3:
            return None
        z = np.concatenate([[timeline.floor_z], timeline.layer_z])
        rises = np.concatenate([[True], np.diff(z) > 1e-6])
        ends = np.minimum(timeline.layer_s, timeline.t[-1])
        columns = (ends, timeline.convert(ends, "s", "filament"), timeline.convert(ends, "s", "path"))
        if rises.sum() < 4 or not all(np.isfinite(column).all() for column in columns):
            return None
        s, filament, path = (np.maximum.accumulate(column)[rises] for column in columns)
        return cls(z[rises], s, filament, path)

    @property
    def layer(self) -> Floats:
        """Layers laid, `(k + 1,)`."""
        return np.arange(len(self.z), dtype=np.float64)

    @property
    def layer_height_mm(self) -> float:
        return float(np.median(np.diff(self.z)))

    def at(self, clock: RhythmClock, heights: ArrayLike) -> Floats:
        """Return what `clock` shows at `heights` [mm], even within a layer; the ends beyond the print."""
        return np.asarray(np.interp(np.asarray(heights, np.float64), self.z, getattr(self, clock)))

    def slope(self, clock: RhythmClock, heights: ArrayLike) -> Floats:
        """Return how fast `clock` runs at `heights`, its unit per mm of height; the mean of some layers there."""
        reach = 1.5 * self.layer_height_mm
        h = np.asarray(heights, np.float64)
        low, high = np.clip(h - reach, self.z[0], self.z[-1]), np.clip(h + reach, self.z[0], self.z[-1])
        rise = self.at(clock, high) - self.at(clock, low)
        return np.asarray(np.maximum(rise / np.maximum(high - low, 1e-9), 1e-9))

    def height(self, clock: RhythmClock, values: ArrayLike) -> Floats:
        """Return the height at which `clock` shows `values`."""
        return np.asarray(np.interp(np.asarray(values, np.float64), getattr(self, clock), self.z))
