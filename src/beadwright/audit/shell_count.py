"""Solid layers under and over the print, infill, and travels over laid beads: read off the beads themselves.

A settings page claims "4 bottom layers"; only the beads tell what is laid. Each layer is rastered (see
`grid.py`); a place is solid when at least three quarters of its volume, averaged over a few bead widths, is
plastic. Counts are taken per column of cells, away from the walls, and reported as the median over the area.

Left out: raft layers under a part count as part of its bottom; a full-height shield around the print is told
apart only because nothing is laid in the gap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .moves import Moves

CELL_MM = 0.45  # about one bead
COARSEST_MM = 1.3  # coarser cells blur walls into infill: then nothing is said about shells
MOST_CELLS = 1_500_000  # in one plan
MOST_VISITS = 25_000_000  # cells times layers
MOST_SAMPLES = 80_000_000
REACH_MM = 1.2  # half width over which fill is averaged
WALLS_MM = 1.7  # walls thicker than this are judged as filling
SOLID_FROM = 0.75
RAFT_LAYERS = 4
CLEAR_MM = 1.2  # a travel always starts and ends on a bead
LIFT_MM = 0.1
LONGEST_FREE_MM = 2.0


@dataclass(frozen=True)
class ShellCount:
    """What the raster says. Counts are None where the print offers no place to judge."""

    bottom: int | None  # solid layers from the plate up, median over the judged area
    bottom_thin: int | None  # the fewest that at least a tenth of that area has
    top: int | None
    top_thin: int | None
    infill_percent: float | None  # of the places that are not solid
    infill_layers: tuple[int, int] | None  # 0-based first and last layer with such places
    crossings: NDArray[np.int64]  # (k,) travels over laid beads without a lift
    crossing_move: NDArray[np.int64]  # (k,) first such move, −1 for none
    cell_mm: float


def count_shells(moves: Moves) -> ShellCount | None:
    """Raster all layers once. None without beads in layers, or where the print is too large to resolve."""
    from .grid import BOTTOM, TOP, scan_layers  # numba is imported only where a file is read

    if not moves.layer_count or not moves.bead.any():
        return None
    frame = _frame(moves)
    if frame is None:
        return None
    path, layers, cell = moves.toolpath, moves.layers, frame.cell
    rules = (
        max(1, round(REACH_MM / cell)),
        max(2, round((REACH_MM + WALLS_MM) / cell)),
        SOLID_FROM,
        RAFT_LAYERS,
        LIFT_MM,
        max(CLEAR_MM, 1.5 * cell),
        LONGEST_FREE_MM,
    )
    column, sparse, crossings = scan_layers(
        (path.x, path.y, path.z, path.start, path.kind, moves.layer, moves.volume, *_in_layer_order(moves)),
        (np.asarray(layers.z_mm, np.float64), _heights(moves), frame.windows),
        (frame.x0, frame.y0, cell, *frame.shape),
        rules,
    )
    with_sparse = np.flatnonzero(sparse[:, 1] > 0)
    room = float(sparse[:, 1].sum())
    return ShellCount(
        *_typical_and_thin(column[:, :, BOTTOM]),
        *_typical_and_thin(column[:, :, TOP]),
        infill_percent=100 * float(sparse[:, 0].sum()) / room if room > 0 else None,
        infill_layers=(int(with_sparse[0]), int(with_sparse[-1])) if len(with_sparse) else None,
        crossings=crossings[:, 0],
        crossing_move=crossings[:, 1],
        cell_mm=cell,
    )


def _typical_and_thin(counts: NDArray[np.int16]) -> tuple[int | None, int | None]:
    """Median and tenth percentile over the judged columns; None for fewer than 30 cells (≈ 6 mm²)."""
    known = counts[counts >= 0]
    if len(known) < 30:
        return None, None
    thin, typical = np.percentile(known, [10, 50], method="inverted_cdf")
    return int(typical), int(thin)


def _heights(moves: Moves) -> NDArray[np.float64]:
    """Layer heights for volumes, mm; a height that is not positive is taken as the median of the others."""
    height = np.asarray(moves.layers.height_mm, np.float64).copy()
    good = np.isfinite(height) & (height > 0)
    height[~good] = np.median(height[good]) if good.any() else 0.2
    return height


def _in_layer_order(moves: Moves) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Moves sorted by the layer last laid in, in printing order within one, and where each layer begins, (k +
    1,).
    """
    laid = moves.laid
    order = np.arange(len(laid), dtype=np.int64)
    if (np.diff(laid) < 0).any():  # several objects printed one after the other
        order = np.argsort(laid, kind="stable").astype(np.int64)
        laid = laid[order]
    return order, np.searchsorted(laid, np.arange(moves.layer_count + 1)).astype(np.int64)


@dataclass(frozen=True)
class _Frame:
    x0: float
    y0: float
    cell: float
    shape: tuple[int, int]
    windows: NDArray[np.int64]  # (k, 4) i0 i1 j0 j1 per layer, one free cell all round


def _frame(moves: Moves) -> _Frame | None:
    """Choose the cell size that bounds memory and time; None where that is too coarse."""
    box = layer_boxes(moves)
    low, high = np.nanmin(box[:, :2], axis=0), np.nanmax(box[:, 2:], axis=0)
    if not (np.isfinite(low).all() and np.isfinite(high).all()):
        return None
    size = np.maximum(high - low, 1.0)
    layer_size = np.nan_to_num(np.maximum(box[:, 2:] - box[:, :2], 1.0), nan=1.0)
    travelled = float(moves.toolpath.length[moves.bead].sum())
    cell = max(
        CELL_MM,
        float(np.sqrt(size.prod() / MOST_CELLS)),
        float(np.sqrt(layer_size.prod(axis=1).sum() / MOST_VISITS)),
        travelled / MOST_SAMPLES,
    )
    if cell > COARSEST_MM:
        return None
    x0, y0 = (low - 2 * cell).tolist()
    nx, ny = (np.ceil((high - low) / cell).astype(int) + 5).tolist()
    with np.errstate(invalid="ignore"):
        corner = np.floor((box - [x0, y0, x0, y0]) / cell)
    corner = np.nan_to_num(corner, nan=1.0).astype(np.int64)
    windows = np.column_stack([corner[:, 0] - 1, corner[:, 2] + 2, corner[:, 1] - 1, corner[:, 3] + 2])
    return _Frame(x0, y0, cell, (nx, ny), windows)


def layer_boxes(moves: Moves) -> NDArray[np.float64]:
    """Box of each layer's beads, starts and ends, (k, 4) x0 y0 x1 y1 mm; NaN for a layer without beads."""
    path = moves.toolpath
    at = np.flatnonzero(moves.bead)
    layer = np.asarray(moves.layers.index)[at]
    if (np.diff(layer) < 0).any():
        order = np.argsort(layer, kind="stable")
        at, layer = at[order], layer[order]
    present, first = np.unique(layer, return_index=True)
    out = np.full((moves.layer_count, 4), np.nan)
    for axis, values in enumerate((path.x, path.y)):
        ends = values[at]
        starts = np.where(at > 0, values[at - 1], path.start[axis])
        out[present, axis] = np.minimum.reduceat(np.minimum(starts, ends), first)
        out[present, axis + 2] = np.maximum.reduceat(np.maximum(starts, ends), first)
    return out
