"""What each bead is for, from its shape and surroundings; comments confirm or overrule.

Steps: bead widths; chains of beads without a travel (`roles_chains`); how each chain lies in its layer and over what
was laid before (`roles_plan`); which pieces those make and what each is (`roles_pieces`); what comments say
(`roles_words`). The rules are our own; common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import Kind, Toolpath
from beadwright.toolpath.layers import HEIGHT_DEFAULT_MM, Layers
from beadwright.toolpath.roles_comments import with_comments
from beadwright.toolpath.roles_model import REASONS, Role, Roles
from beadwright.toolpath.roles_pieces import judge

__all__ = ["REASONS", "Role", "Roles", "find_roles", "warm"]

FILAMENTS_MM = (1.75, 2.85)  # the diameters the trade sells
ROUND_LOSS = 1 - math.pi / 4  # a stadium against its box, in units of height²
WIDTH_RANGE_MM = (0.15, 2.5)
SAMPLED = 200_000
GAP_FROM = 1.25


def find_roles(toolpath: Toolpath, layers: Layers, *, filament_mm: float | None = None) -> Roles:
    """Return what each bead of `toolpath` is for.

    `filament_mm` is the diameter for bead widths; left out, it is whichever of the usual two makes beads wider than
    they are high. Any toolpath is taken; where geometry says nothing the role is UNKNOWN.
    """
    from beadwright.toolpath.roles_chains import fed_per_mm

    heights = laid_heights(layers)
    path = toolpath
    fed = fed_per_mm(path.x, path.y, path.z, path.e, path.kind, path.tool, path.start)
    diameter, width, typical = _widths(fed, layers.index, heights, filament_mm)
    filled = without_gaps(fed, layers, heights, typical, math.pi / 4 * diameter**2)
    if not np.array_equal(filled, heights):
        heights = filled
        diameter, width, typical = _widths(fed, layers.index, heights, diameter)
    verdict = judge(toolpath, layers, heights, fed, typical, math.pi / 4 * diameter**2)
    return with_comments(
        toolpath,
        Roles(
            role=verdict.role,
            width_mm=width,
            island=verdict.island,
            chain=verdict.chain,
            reason=verdict.reason,
            height_mm=heights,
            bead_width_mm=typical,
            filament_mm=diameter,
            from_comments=0.0,
            agreement=math.nan,
            disagreements=(),
            comments_trusted=False,
        ),
    )


def laid_heights(layers: Layers) -> NDArray[np.float64]:
    """Return the height of each layer above what the same object had before, mm, `(k,)`.

    Objects printed one by one may have levels of their own between those of another; so the layer before in time
    counts, where it lies lower.
    """
    count = len(layers.z_mm)
    z = np.asarray(layers.z_mm, np.float64)
    out = np.asarray(layers.height_mm, np.float64).copy()
    index = np.asarray(layers.index)
    run = index[np.flatnonzero(np.diff(index, prepend=-2))]
    run = run[run >= 0]
    if len(run):
        seen, first = np.unique(run, return_index=True)
        before = np.where(first > 0, run[np.maximum(first - 1, 0)], -1)
        lower = (before >= 0) & (before < seen)
        out[seen[lower]] = z[seen[lower]] - z[before[lower]]
    good = np.isfinite(out) & (out > 0.01) & (out < 2.0)
    out[~good] = np.median(out[good]) if good.any() else HEIGHT_DEFAULT_MM
    return out if count else np.empty(0)


def without_gaps(
    fed: NDArray[np.float32], layers: Layers, heights: NDArray[np.float64], width: float, section: float
) -> NDArray[np.float64]:
    """Return heights with the air taken out that a layer leaves below itself, as the first one over a raft does.

    Such a layer steps up more than its like, and its beads are too thin to fill the step at the usual width.
    """
    index = np.asarray(layers.index)
    laid = np.flatnonzero((fed > 0) & (index >= 0))
    laid = laid[:: max(1, len(laid) // SAMPLED)]
    if not len(laid):
        return heights
    count = np.bincount(index[laid], minlength=len(heights))
    area = section * np.bincount(index[laid], fed[laid], len(heights)) / np.maximum(count, 1)
    inside = np.maximum(width**2 - 4 * ROUND_LOSS * area, 0)
    filled = (width - np.sqrt(inside)) / (2 * ROUND_LOSS)  # solves area = (width - loss · h) · h
    too_high = (count > 0) & (heights > GAP_FROM * filled) & (heights > GAP_FROM * np.median(heights))
    return np.where(too_high, filled, heights)


def _widths(
    fed: NDArray[np.float32], index: NDArray[np.int32], heights: NDArray[np.float64], filament_mm: float | None
) -> tuple[float, NDArray[np.float32], float]:
    """Return the filament's diameter, the stadium width of each bead, and the typical width, mm."""
    height = np.append(heights, HEIGHT_DEFAULT_MM if not len(heights) else np.median(heights)).astype(np.float32)[index]
    is_bead = np.flatnonzero(fed > 0)
    some = is_bead[:: max(1, len(is_bead) // SAMPLED)]
    diameter = filament_mm or FILAMENTS_MM[0]
    if not len(some):
        return diameter, np.zeros(len(fed), np.float32), 0.45

    def width_of(feed: NDArray[np.float32], high: NDArray[np.float32]) -> NDArray[np.float32]:
        section = np.float32(math.pi / 4 * diameter**2)
        return feed * section / high + np.float32(ROUND_LOSS) * high

    if filament_mm is None and np.median(width_of(fed[some], height[some]) / height[some]) < 1.1:
        diameter = FILAMENTS_MM[1]
    typical = float(np.clip(np.median(width_of(fed[some], height[some])), *WIDTH_RANGE_MM))
    width = width_of(fed, height)
    width[fed <= 0] = 0.0
    return diameter, width, typical


def warm() -> None:
    """Compile the kernels of roles, or load them from their cache."""
    from beadwright.toolpath.layers import find_layers
    from beadwright.toolpath.read import read_toolpath

    square = b"G1 X10 E1 F600\nG1 Y10 E2\nG1 X0 E3\nG1 Y0 E4\nG0 X2 Y2\nG1 X8 E5\nG1 Y8 E6\nG1 X2 E7\n"
    path = read_toolpath(b"G1 Z.2 F600\n" + square + b"G92 E0\nG1 Z.4\n" + square)
    assert (path.kind == Kind.BEAD).any()
    find_roles(path, find_layers(path))
