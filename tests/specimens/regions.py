"""The plane shapes specimens are made of: convex, so that insetting and hatching stay one-liners."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Region:
    """A rectangle (`radius` None) or a disc, mm."""

    x: float
    y: float
    width: float
    depth: float
    radius: float | None = None
    segments: int = 72

    def inset(self, by: float) -> Region:
        radius = None if self.radius is None else self.radius - by
        return replace(self, width=self.width - 2 * by, depth=self.depth - 2 * by, radius=radius)

    @property
    def is_empty(self) -> bool:
        return min(self.width, self.depth) <= 0.05

    @property
    def area(self) -> float:
        return self.width * self.depth if self.radius is None else math.pi * self.radius**2

    def outline(self) -> Points:
        """Closed, counter-clockwise, `(k, 2)`; the first point is repeated at the end."""
        if self.radius is None:
            signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]])
            return np.array([self.x, self.y]) + signs * [self.width / 2, self.depth / 2]
        angle = np.linspace(0, 2 * np.pi, self.segments + 1)
        return np.column_stack([self.x + self.radius * np.cos(angle), self.y + self.radius * np.sin(angle)])

    def rows(self, angle_deg: float, spacing: float) -> list[Points]:
        """Parallel lines across the region, one `(2, 2)` each, ends alternating as a zigzag runs."""
        if self.is_empty:
            return []
        along = np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
        across = np.array([-along[1], along[0]])
        ring = self.outline()
        s, t = ring @ along, ring @ across
        count = int((t.max() - t.min()) / spacing)
        first = (t.max() + t.min()) / 2 - (count - 1) * spacing / 2
        out = []
        for k in range(count):
            level = first + k * spacing
            cut = np.flatnonzero((t[:-1] - level) * (t[1:] - level) < 0)
            if len(cut) < 2:
                continue
            share = (level - t[cut]) / (t[cut + 1] - t[cut])
            ends = np.sort(s[cut] + share * (s[cut + 1] - s[cut]))[[0, -1]]
            if ends[1] - ends[0] > 0.2:
                row = ends[:, None] * along + level * across
                out.append(row if k % 2 == 0 else row[::-1])
        return out
