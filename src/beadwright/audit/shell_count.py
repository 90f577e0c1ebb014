"""Solid layers under and over the part, infill, and travels over laid beads: read off the beads themselves.

A settings page claims "4 bottom layers"; only the beads tell what is laid. Each layer is rastered (see
`grid.py`); a place is solid when at least three quarters of its volume, averaged over a few bead widths, is
plastic. Counts are taken per column of cells, away from the walls: the median over the area is what the part
has, and where a column has fewer, the place is told. Beads of support, skirt, brim, raft and tower count for
travels only.

Left out: walls that lie flat, such as the roof of a narrow slot: too small to judge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.roles_model import Role, Roles

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
LEAST_CELLS = 30
LEAST_UNDER_TOP_MM2 = 300.0  # over three layers
INTERLEAVED_SHARE = 0.2  # of the layers
THIN_SHARE = 1 / 30  # of the judged area


@dataclass(frozen=True)
class Shell:
    """Solid layers at one kind of end, below or above. None where the print offers no place to judge."""

    layers: int | None = None  # median over the judged area
    thin: int | None = None  # the fewest that at least a thirtieth of that area has
    thin_percent: float = 0.0  # share of the judged area that has no more than `thin`, where that is below the median
    thin_at_mm: tuple[float, float] | None = None  # middle of that area
    thin_layers: tuple[int, int] | None = None  # 0-based, where its ends lie


@dataclass(frozen=True)
class ShellCount:
    """What the raster says."""

    below: Shell
    above: Shell
    infill_share: float | None  # plastic over room, of the places that are not solid
    infill_layers: tuple[int, int] | None  # 0-based first and last layer with such places
    infill_share_under_top: float | None  # the same in the last three of those layers
    crossings: NDArray[np.int64]  # (k,) travels over laid beads without a lift
    crossing_move: NDArray[np.int64]  # (k,) first such move, −1 for none
    cell_mm: float

    @property
    def bottom(self) -> int | None:
        return self.below.layers

    @property
    def bottom_thin(self) -> int | None:
        return self.below.thin

    @property
    def top(self) -> int | None:
        return self.above.layers

    @property
    def top_thin(self) -> int | None:
        return self.above.thin


def count_shells(moves: Moves, roles: Roles | None = None) -> ShellCount | None:
    """Raster all layers once. None without beads in layers, or where the print is too large to resolve."""
    from .grid import BOTTOM, BOTTOM_AT, TOP, TOP_AT, scan_layers  # numba is imported only where a file is read

    if not moves.layer_count or not moves.bead.any():
        return None
    grid = frame(moves, CELL_MM, COARSEST_MM)
    if grid is None:
        return None
    path, layers, cell = moves.toolpath, moves.layers, grid.cell
    rules = (
        max(1, round(REACH_MM / cell)), max(2, round((REACH_MM + WALLS_MM) / cell)), SOLID_FROM, RAFT_LAYERS, LIFT_MM,
        max(CLEAR_MM, 1.5 * cell), LONGEST_FREE_MM,
    )  # fmt: skip
    is_part, outer = _marks(moves, roles)
    column, sparse, crossings = scan_layers(
        (
            path.x,
            path.y,
            path.z,
            path.start,
            path.kind,
            moves.layer,
            moves.volume,
            is_part,
            outer,
            *_in_layer_order(moves),
        ),
        (np.asarray(layers.z_mm, np.float64), _heights(moves, roles), grid.windows),
        (grid.x0, grid.y0, cell, *grid.shape),
        rules,
    )
    with_sparse = np.flatnonzero(sparse[:, 1] > 0)
    return ShellCount(
        _shell(column[:, :, BOTTOM], column[:, :, BOTTOM_AT], grid),
        _shell(column[:, :, TOP], column[:, :, TOP_AT], grid),
        _share(sparse),
        (int(with_sparse[0]), int(with_sparse[-1])) if len(with_sparse) else None,
        _share_under_top(sparse, with_sparse, _heights(moves, roles)),
        crossings[:, 0], crossings[:, 1], cell,
    )  # fmt: skip


def _share(sparse: NDArray[np.float64]) -> float | None:
    """Plastic over room, None without room."""
    room = float(sparse[:, 1].sum())
    return float(sparse[:, 0].sum()) / room if room > 0 else None


def _share_under_top(
    sparse: NDArray[np.float64], layers: NDArray[np.int64], height: NDArray[np.float64]
) -> float | None:
    """Plastic over room in the last sparse layers; None where they offer less than some hundred square millimetres:
    between two lines of a small place anything may lie.
    """
    last = layers[-3:]
    area = float((sparse[last, 1] / height[last]).sum())
    return _share(sparse[last]) if area > LEAST_UNDER_TOP_MM2 else None


def _shell(counts: NDArray[np.int16], at: NDArray[np.int16], grid: Frame) -> Shell:
    """Median and thinnest over the judged columns; nothing for fewer than 30 cells (≈ 6 mm²)."""
    known = counts[counts >= 0]
    if len(known) < LEAST_CELLS:
        return Shell()
    typical = int(np.percentile(known, 50, method="inverted_cdf"))
    enough = max(LEAST_CELLS, THIN_SHARE * len(known))
    thin = int(np.sort(known)[min(math.ceil(enough), len(known)) - 1])
    if thin >= typical:
        return Shell(typical, typical)
    i, j = np.nonzero((counts >= 0) & (counts <= thin))
    ends = at[i, j]
    middle = (
        round(grid.x0 + grid.cell * (float(np.median(i)) + 0.5), 1),
        round(grid.y0 + grid.cell * (float(np.median(j)) + 0.5), 1),
    )
    return Shell(typical, thin, round(100 * len(i) / len(known), 1), middle, (int(ends.min()), int(ends.max())))


def _marks(moves: Moves, roles: Roles | None) -> tuple[NDArray[np.bool_], NDArray[np.int32]]:
    """Of each move whether it lays the part, and the number of its outer contour or −1, (n,)."""
    if roles is None:
        return np.ones(len(moves), np.bool_), np.full(len(moves), -1, np.int32)
    outer = np.where(roles.role == Role.OUTER, roles.chain, np.int32(-1)).astype(np.int32)
    return roles.role < Role.SUPPORT, outer


def interleaved(moves: Moves, roles: Roles) -> bool:
    """Whether objects printed one by one have levels of their own between those of others: then a layer's neighbour
    by height is another object's.
    """
    level, laid = np.asarray(moves.layers.height_mm, float)[1:], np.asarray(roles.height_mm, float)[1:]
    return len(level) > 0 and float(np.mean(np.abs(level - laid) > 0.2 * laid)) > INTERLEAVED_SHARE


def _heights(moves: Moves, roles: Roles | None) -> NDArray[np.float64]:
    """Layer heights for volumes, mm; a height that is not positive is taken as the median of the others."""
    height = np.asarray(moves.layers.height_mm, np.float64).copy()
    good = np.isfinite(height) & (height > 0)
    typical = float(np.median(height[good])) if good.any() else 0.2
    height[~good] = typical
    if roles is not None:  # the first layer over a raft stands off it: the gap is no plastic
        raft = np.flatnonzero(np.bincount(moves.layer[roles.role == Role.RAFT] + 1, minlength=len(height) + 1)[1:])
        if len(raft) and raft[-1] + 1 < len(height):
            height[raft[-1] + 1] = min(height[raft[-1] + 1], typical)
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
class Frame:
    """A plan grid that holds all beads."""

    x0: float
    y0: float
    cell: float
    shape: tuple[int, int]
    windows: NDArray[np.int64]  # (k, 4) i0 i1 j0 j1 per layer, `rim` free cells all round


def frame(moves: Moves, finest: float, coarsest: float, most_visits: float = MOST_VISITS, rim: int = 1) -> Frame | None:
    """Choose the cell size that bounds memory and time; None where that is too coarse."""
    box = layer_boxes(moves)
    low, high = np.nanmin(box[:, :2], axis=0), np.nanmax(box[:, 2:], axis=0)
    if not (np.isfinite(low).all() and np.isfinite(high).all()):
        return None
    size = np.maximum(high - low, 1.0)
    layer_size = np.nan_to_num(np.maximum(box[:, 2:] - box[:, :2], 1.0), nan=1.0)
    travelled = float(moves.length[moves.bead].sum())
    cell = max(
        finest,
        float(np.sqrt(size.prod() / MOST_CELLS)),
        float(np.sqrt(layer_size.prod(axis=1).sum() / most_visits)),
        travelled / MOST_SAMPLES,
    )
    if cell > coarsest:
        return None
    x0, y0 = (low - (rim + 1) * cell).tolist()
    nx, ny = (np.ceil((high - low) / cell).astype(int) + 2 * rim + 3).tolist()
    with np.errstate(invalid="ignore"):
        corner = np.floor((box - [x0, y0, x0, y0]) / cell)
    corner = np.nan_to_num(corner, nan=float(rim)).astype(np.int64)
    first, last = corner - rim, corner + rim + 1
    windows = np.column_stack([first[:, 0], last[:, 2], first[:, 1], last[:, 3]])
    return Frame(x0, y0, cell, (nx, ny), windows)


def layer_boxes(moves: Moves) -> NDArray[np.float64]:
    """Box of each layer's beads, starts and ends, (k, 4) x0 y0 x1 y1 mm; NaN for a layer without beads."""
    from .move_kernels import layer_boxes as boxes

    path = moves.toolpath
    out: NDArray[np.float64] = boxes(path.x, path.y, path.start, *moves.bead_runs)
    return out
