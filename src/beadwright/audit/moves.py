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
from beadwright.toolpath.columns import Toolpath
from beadwright.toolpath.layers import Layers

DEFAULT_FILAMENT_MM = 1.75  # common practice; stated wherever it is used

MANY, BINS = 50_000, 8192

FloatColumn = NDArray[np.float64]
IntColumn = NDArray[np.int32]
Column = NDArray[np.float32]


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
        return np.asarray(self.layers.index, np.int32)

    @cached_property
    def laid(self) -> IntColumn:
        """Layer last laid in at each move, (n,): as `layer` for beads, for others that of the bead before, −1
        none.
        """
        from .move_kernels import laid_before

        return laid_before(self.bead, self.layer)

    @property
    def seconds(self) -> FloatColumn:
        """Time each move takes, any wait before it included, (n,) s."""
        return self.plan.seconds

    @cached_property
    def _columns(self) -> tuple[NDArray[np.bool_], Column, Column, Column, Column]:
        from .move_kernels import move_columns  # numba is imported only where a file is read

        path, section = self.toolpath, math.pi * self.filament_mm**2 / 4
        return move_columns(path.e, path.kind, path.tool, self.layer, self.plan.t, self.plan.waits, section)

    @property
    def bead(self) -> NDArray[np.bool_]:
        """Beads that belong to a layer, (n,)."""
        return self._columns[0]

    @property
    def going(self) -> Column:
        """Time each move takes, waits left out, (n,) s: what flow and speed are reckoned with."""
        return self._columns[1]

    @property
    def volume(self) -> Column:
        """Plastic laid by each bead, (n,) mm³; 0 for other moves."""
        return self._columns[2]

    @property
    def flow(self) -> Column:
        """Mean volumetric flow of each bead, acceleration included, (n,) mm³/s; 0 for other moves."""
        return self._columns[3]

    @property
    def deposited(self) -> Column:
        """New filament each move brings to the nozzle, (n,) mm: what a retraction takes back and returns is
        not new.
        """
        return self._columns[4]

    @property
    def length(self) -> Column:
        """Path of each move, (n,) mm; of filament where the head stands."""
        return self.plan.length

    @property
    def speed(self) -> Column:
        """Mean speed of each move, acceleration included, (n,) mm/s."""
        return np.divide(self.length, self.going, out=np.zeros(len(self), np.float32), where=self.going > 0)

    @cached_property
    def bead_runs(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Beads sorted by layer, (m,), in printing order within one, and where each layer begins, (k + 1,)."""
        beads = np.flatnonzero(self.bead)
        layer = self.layer[beads]
        if len(layer) and (layer[1:] < layer[:-1]).any():  # several objects printed one after the other
            order = np.argsort(layer, kind="stable")
            beads, layer = beads[order], layer[order]
        return beads, np.searchsorted(layer, np.arange(self.layer_count + 1)).astype(np.int64)

    @cached_property
    def retractions(self) -> tuple[NDArray[np.int64], FloatColumn, FloatColumn]:
        """Of each retraction, the move it begins at, what it draws back, and the new filament of its tool before it,
        (r,) mm. A retraction is a run of backward feeding with no forward feed in between.
        """
        from .move_kernels import find_retractions

        path = self.toolpath
        return find_retractions(path.kind, path.e, path.tool, self.deposited)

    @property
    def retraction_starts(self) -> NDArray[np.int64]:
        """Moves at which a retraction begins, (r,)."""
        return self.retractions[0]

    @cached_property
    def layer_count(self) -> int:
        return len(self.layers.z_mm)


def weighted_quantiles(values: FloatColumn, weights: FloatColumn, shares: tuple[float, ...]) -> tuple[float, ...]:
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
