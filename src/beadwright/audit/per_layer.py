"""The per-layer table: one row a layer, as columns.

Time counts whole moves, travels and pauses included; flow and speed are over beads, each weighted by its
time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .history import nozzle_at, part_fan, value_at
from .moves import Column, FloatColumn, Moves


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
    from .move_kernels import quantiles_by_run, sums_by_layer

    count, layer, path = moves.layer_count, moves.layer, moves.toolpath
    beads, edges = moves.bead_runs
    shares = np.array([0.5, 0.95])
    flow = quantiles_by_run(moves.flow, moves.going, beads, edges, shares)
    speed = quantiles_by_run(moves.speed, moves.going, beads, edges, shares)
    sums = sums_by_layer(layer, moves.plan.t, moves.deposited, count)

    first = np.where(edges[1:] > edges[:-1], beads[np.minimum(edges[:-1], max(len(beads) - 1, 0))], -1)
    last = np.where(edges[1:] > edges[:-1], beads[edges[1:] - 1], -1)
    starts = moves.retraction_starts
    return PerLayer(
        z_mm=np.asarray(moves.layers.z_mm, float),
        height_mm=np.asarray(moves.layers.height_mm, float),
        seconds=sums[:, 0],
        filament_mm=sums[:, 1],
        flow_median=flow[:, 0],
        flow_p95=flow[:, 1],
        speed_median=speed[:, 0],
        speed_p95=speed[:, 1],
        nozzle_c=nozzle_at(moves, first),
        bed_c=value_at(path.events.bed_c, first),
        fan_percent=value_at(part_fan(path.events.fan_percent), first, before=0.0),
        retractions=np.bincount(layer[starts][layer[starts] >= 0], minlength=count),
        bead_mm=_sum_runs(moves.length, beads, edges),
        first_line=np.where(first >= 0, path.line[first], 0),
        last_line=np.where(last >= 0, path.line[last], 0),
    )


def _sum_runs(values: Column, members: NDArray[np.int64], edges: NDArray[np.int64]) -> FloatColumn:
    """Sum of the values of each run of members between edges, (k,)."""
    out = np.zeros(len(edges) - 1)
    filled = np.flatnonzero(np.diff(edges) > 0)
    if len(filled):
        out[filled] = np.add.reduceat(values[members], edges[filled], dtype=np.float64)
    return out
