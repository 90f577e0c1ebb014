"""Overhang, air, bridges and gaps over support, measured on the contours themselves (see `contour_kernels.py`)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.roles_model import Roles

from .moves import Moves
from .shell_count import frame

FINEST_MM, COARSEST_MM = 0.25, 1.0
MOST_VISITS = 40_000_000
LEAST_ISLAND_MM = 3.0  # of bead; shorter ones may be a seam's overlap
LEAST_CELLS = 20  # over which a gap is told


@dataclass(frozen=True)
class Contours:
    """What lies below each layer's beads. Per layer (k,), lengths mm; angles from the vertical."""

    area_mm2: NDArray[np.float64]  # enclosed by outer contours, their own width included
    outer_mm: NDArray[np.float64]  # outer contour that could be judged
    over_45_mm: NDArray[np.float64]  # outer contour steeper than 45°, with nothing under it
    over_60_mm: NDArray[np.float64]
    in_air_mm: NDArray[np.float64]  # outer contour farther out than the eye of the layer below reaches
    span_mm: NDArray[np.float64]  # longest bead over air, held at both ends
    bridged_mm: NDArray[np.float64]  # beads with such a span
    support_aside_mm: NDArray[np.float64]  # least clear distance of support beside the part, NaN without
    angle_deg: NDArray[np.float32]  # (n,) overhang of each outer bead, 0 upright, 90 over air, NaN not judged
    bead_span_mm: NDArray[np.float32]  # (n,)
    support_gap_mm: float | None  # median height of the gap between support and what rests on it
    raft_gap_mm: float | None
    islands_in_air: NDArray[np.int64]  # (k,) pieces of a layer with nothing under them
    cell_mm: float


def hold_contours(moves: Moves, roles: Roles) -> Contours | None:
    """Hold each layer against what was laid below. None without beads, or where the print is too large to resolve."""
    if not moves.layer_count or not moves.bead.any():
        return None
    grid = frame(moves, FINEST_MM, COARSEST_MM, MOST_VISITS, rim=3)
    if grid is None:
        return None
    from .contour_kernels import (
        AREA,
        BRIDGED,
        IN_AIR,
        JUDGED,
        OUTER_MM,
        OVER_45,
        OVER_60,
        SPAN,
        XY_GAP,
        hold_against_below,
    )

    path, (beads, edges) = moves.toolpath, moves.bead_runs
    islands = int(roles.island.max(initial=-1)) + 1
    height = np.asarray(roles.height_mm, np.float64)
    table, angle, span, gaps, held = hold_against_below(
        path.x, path.y, path.start, roles.role, roles.chain, roles.island, roles.width_mm, beads, edges,
        np.asarray(moves.layers.z_mm, np.float64), height, grid.windows, np.array([grid.x0, grid.y0]), grid.cell,
        np.array(grid.shape), islands,
    )  # fmt: skip
    column = table.T
    return Contours(
        column[AREA] + 0.5 * roles.bead_width_mm * column[OUTER_MM],
        column[JUDGED], column[OVER_45], column[OVER_60], column[IN_AIR], column[SPAN], column[BRIDGED], column[XY_GAP],
        angle, span, _typical(gaps[0]), _typical(gaps[1]), _islands(roles, beads, edges, held), grid.cell,
    )  # fmt: skip


def _typical(counts: NDArray[np.int64]) -> float | None:
    """Median of gaps counted in steps of 0.01 mm."""
    if counts.sum() < LEAST_CELLS:
        return None
    middle = int(np.searchsorted(np.cumsum(counts), counts.sum() / 2))
    return round(0.01 * middle, 3)


def _islands(
    roles: Roles, beads: NDArray[np.int64], edges: NDArray[np.int64], held: NDArray[np.float32]
) -> NDArray[np.int64]:
    """Count per layer the islands above the first layer of which nothing rests on anything."""
    count = len(edges) - 1
    floating = np.flatnonzero((held[:, 0] > LEAST_ISLAND_MM) & (held[:, 1] < 0.01 * held[:, 0]))
    if not len(floating):
        return np.zeros(count, np.int64)
    island = roles.island[beads]
    first = np.flatnonzero(np.isin(island, floating))
    _, where = np.unique(island[first], return_index=True)
    layer = np.searchsorted(edges, first[where], side="right") - 1
    return np.bincount(layer[layer > 0], minlength=count).astype(np.int64)
