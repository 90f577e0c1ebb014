"""What every measurement in the file starts from: per move its layer, seconds, filament and plastic.

Units: mm, s, mm³. `bore` and filament section come from facts, so the same file can be held against another
spool.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from beadwright.motion.plan import Plan
from beadwright.toolpath.columns import Kind, Toolpath
from beadwright.toolpath.layers import Layers

DEFAULT_FILAMENT_MM = 1.75  # common practice; stated wherever it is used

MANY, BINS = 50_000, 8192

FloatColumn = NDArray[np.float64]
IntColumn = NDArray[np.int32]


@dataclass(frozen=True)
class Moves:
    """A toolpath with its layers and its plan, and the columns that measurements share."""

    toolpath: Toolpath
    layers: Layers
    plan: Plan
    filament_mm: float  # diameter

    def __len__(self) -> int:
        return len(self.toolpath)

    @property
    def layer(self) -> IntColumn:
        """Layer of each move, (n,), as `Layers.index`: travels belong to the layer of the next bead, −1 is
        none.
        """
        return self.layers.index

    @cached_property
    def laid(self) -> IntColumn:
        """Layer last laid in at each move, (n,): as `layer` for beads, for others that of the bead before, −1
        none.
        """
        index = np.where(self.bead, self.layers.index, -1)
        if not len(index):
            return index.astype(np.int32)
        last = np.maximum.accumulate(np.where(index >= 0, np.arange(len(index)), -1))
        return np.where(last >= 0, index[np.maximum(last, 0)], -1).astype(np.int32)

    @cached_property
    def bead(self) -> NDArray[np.bool_]:
        """Beads that belong to a layer, (n,)."""
        return self.toolpath.is_bead & (np.asarray(self.layers.index) >= 0)

    @cached_property
    def seconds(self) -> FloatColumn:
        """Time each move takes, any wait before it included, (n,) s."""
        return self.plan.seconds

    @cached_property
    def going(self) -> FloatColumn:
        """Time each move takes, waits left out, (n,) s: what flow and speed are reckoned with."""
        waits = self.plan.waits[self.plan.waits[:, 0] < len(self)]
        if not len(waits):
            return self.seconds
        out = self.seconds.copy()
        out[waits[:, 0].astype(np.int64)] -= waits[:, 1]
        return out

    @cached_property
    def volume(self) -> FloatColumn:
        """Plastic laid by each bead, (n,) mm³; 0 for other moves."""
        section = math.pi * self.filament_mm**2 / 4
        return np.where(self.toolpath.is_bead, self.toolpath.fed * section, 0.0)

    @cached_property
    def flow(self) -> FloatColumn:
        """Mean volumetric flow of each bead, acceleration included, (n,) mm³/s; 0 for other moves."""
        seconds = self.going
        return np.divide(self.volume, seconds, out=np.zeros(len(seconds)), where=seconds > 0)

    @cached_property
    def speed(self) -> FloatColumn:
        """Mean speed of each move, acceleration included, (n,) mm/s."""
        seconds = self.going
        return np.divide(self.toolpath.length, seconds, out=np.zeros(len(seconds)), where=seconds > 0)

    @cached_property
    def deposited(self) -> FloatColumn:
        """New filament each move brings to the nozzle, (n,) mm: what a retraction takes back and returns is
        not new.

        The filament position of each tool has a high-water mark; only what raises it counts.
        """
        path = self.toolpath
        out = np.zeros(len(path))
        for tool in np.unique(path.tool):
            mine = np.flatnonzero(path.tool == tool)
            mark = np.maximum.accumulate(np.maximum(path.e[mine], 0.0))
            out[mine] = np.diff(mark, prepend=0.0)
        return out

    @cached_property
    def retraction_starts(self) -> NDArray[np.int64]:
        """Moves at which a retraction begins, (r,): a run of backward feeding with no forward feed in
        between.
        """
        kind = self.toolpath.kind
        feeds = np.flatnonzero((kind == Kind.RETRACT) | (kind == Kind.BEAD) | (kind == Kind.UNRETRACT))
        back = kind[feeds] == Kind.RETRACT
        tool = self.toolpath.tool[feeds]
        begins = back.copy()
        begins[1:] &= ~back[:-1] | (tool[1:] != tool[:-1])
        starts: NDArray[np.int64] = feeds[begins]
        return starts

    @cached_property
    def layer_count(self) -> int:
        return len(self.layers.z_mm)


def weighted_quantiles(
    values: FloatColumn, weights: FloatColumn, shares: tuple[float, ...]
) -> tuple[float, ...]:
    """Return the values below which each share of the weight lies; NaN for no weight.

    >>> weighted_quantiles(np.array([3.0, 1.0, 2.0]), np.array([1.0, 1.0, 2.0]), (0.5, 0.95))
    (2.0, 3.0)
    """
    if len(values) > MANY:
        return tuple(_one_of_many(values, weights, share) for share in shares)
    order = np.argsort(values)
    running = np.cumsum(weights[order])
    if not len(order) or running[-1] <= 0:
        return tuple(math.nan for _ in shares)
    at = np.searchsorted(running, np.asarray(shares) * running[-1])
    return tuple(values[order[np.minimum(at, len(order) - 1)]].tolist())


def _one_of_many(values: FloatColumn, weights: FloatColumn, share: float) -> float:
    """The same without sorting all: the bin that holds the quantile is found first, only that is sorted."""
    low, high = float(values.min()), float(values.max())
    if not low < high:
        return low
    bins = np.minimum((values - low) * (BINS / (high - low)), BINS - 1).astype(np.int32)
    running = np.cumsum(np.bincount(bins, weights, BINS))
    if running[-1] <= 0:
        return math.nan
    wanted = share * running[-1]
    at = int(min(np.searchsorted(running, wanted), BINS - 1))
    inside = np.flatnonzero(bins == at)
    order = inside[np.argsort(values[inside])]
    before = running[at - 1] if at else 0.0
    place = np.searchsorted(before + np.cumsum(weights[order]), wanted)
    return float(values[order[min(int(place), len(order) - 1)]])
