"""The per-layer table: one row a layer, as columns.

Time counts whole moves, travels and pauses included; flow and speed are over beads, each weighted by its
time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .history import nozzle_at, part_fan, value_at
from .moves import FloatColumn, Moves, weighted_quantiles


@dataclass(frozen=True)
class PerLayer:
    """Columns of length k, one entry a layer; NaN where a layer has no such value."""

    z_mm: FloatColumn
    height_mm: FloatColumn
    seconds: FloatColumn  # s, all moves of the layer
    filament_mm: FloatColumn  # new filament
    flow_median: FloatColumn  # mm³/s, by time over beads
    flow_p95: FloatColumn
    speed_median: FloatColumn  # mm/s, by time over beads
    speed_p95: FloatColumn
    nozzle_c: FloatColumn  # in force at the layer's first bead
    bed_c: FloatColumn
    fan_percent: FloatColumn
    retractions: NDArray[np.int64]
    bead_mm: FloatColumn  # length of beads
    first_line: NDArray[np.int64]  # source lines of the layer's first and last bead
    last_line: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.z_mm)


def per_layer(moves: Moves) -> PerLayer:
    """Summarise a toolpath layer by layer."""
    count, layer, path = moves.layer_count, moves.layer, moves.toolpath
    placed = layer >= 0
    beads = np.flatnonzero(moves.bead)
    bead_layer = np.asarray(moves.layers.index)[beads]
    if (np.diff(bead_layer) < 0).any():
        order = np.argsort(bead_layer, kind="stable")
        beads, bead_layer = beads[order], bead_layer[order]
    edges = np.searchsorted(bead_layer, np.arange(count + 1))
    flow, speed = (
        _quantiles(column[beads], moves.going[beads], edges) for column in (moves.flow, moves.speed)
    )

    def total(column: FloatColumn) -> FloatColumn:
        return np.bincount(layer[placed], column[placed], minlength=count).astype(float)

    first = np.where(edges[1:] > edges[:-1], beads[np.minimum(edges[:-1], max(len(beads) - 1, 0))], -1)
    last = np.where(edges[1:] > edges[:-1], beads[edges[1:] - 1], -1)
    starts = moves.retraction_starts
    return PerLayer(
        z_mm=np.asarray(moves.layers.z_mm, float),
        height_mm=np.asarray(moves.layers.height_mm, float),
        seconds=total(moves.seconds),
        filament_mm=total(moves.deposited),
        flow_median=flow[:, 0],
        flow_p95=flow[:, 1],
        speed_median=speed[:, 0],
        speed_p95=speed[:, 1],
        nozzle_c=nozzle_at(moves, first),
        bed_c=value_at(path.events.bed_c, first),
        fan_percent=value_at(part_fan(path.events.fan_percent), first, before=0.0),
        retractions=np.bincount(layer[starts][layer[starts] >= 0], minlength=count),
        bead_mm=np.bincount(bead_layer, path.length[beads], minlength=count).astype(float),
        first_line=np.where(first >= 0, path.line[first], 0),
        last_line=np.where(last >= 0, path.line[last], 0),
    )


def _quantiles(values: FloatColumn, weights: FloatColumn, edges: NDArray[np.int64]) -> FloatColumn:
    """Median and 95th percentile of each run between edges, (k, 2)."""
    pairs = zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
    return np.array([weighted_quantiles(values[a:b], weights[a:b], (0.5, 0.95)) for a, b in pairs]).reshape(
        -1, 2
    )
