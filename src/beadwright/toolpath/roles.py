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
WIDTH_DEFAULT_MM = 0.45
HIGHEST_MM = 2.0  # of a layer
SAMPLED = 200_000
GAP_FROM = 1.25


def find_roles(toolpath: Toolpath, layers: Layers, *, filament_mm: float | None = None) -> Roles:
    """Return what each bead of `toolpath` is for.

    `filament_mm` is the diameter for bead widths; left out, it is whichever of the usual two makes beads wider than
    they are high. Any toolpath is taken; where geometry says nothing the role is UNKNOWN.
    """
    from beadwright.toolpath.roles_chains import fed_per_mm

    levels, high = laid_heights(layers)
    path = toolpath
    fed = fed_per_mm(path.x, path.y, path.z, path.e, path.kind, path.tool, path.start)
    diameter = filament_mm or _diameter(fed, high)
    section = math.pi / 4 * diameter**2
    typical = _typical(_widths(*_some(fed, high), section))
    filled = without_gaps(fed, layers, levels, typical, section)
    low = filled < levels
    if low.any():
        index = np.asarray(layers.index)
        high = np.where((index >= 0) & low[index], filled[index], high).astype(np.float32)
        typical = _typical(_widths(*_some(fed, high), section))
    verdict = judge(toolpath, layers, filled, fed, np.float32(section) * fed / high, typical)
    return with_comments(
        toolpath,
        Roles(
            role=verdict.role,
            width_mm=_widths(fed, high, section),
            island=verdict.island,
            chain=verdict.chain,
            reason=verdict.reason,
            height_mm=filled,
            bead_width_mm=typical,
            filament_mm=diameter,
            from_comments=0.0,
            agreement=math.nan,
            disagreements=(),
            comments_trusted=False,
        ),
    )


def laid_heights(layers: Layers) -> tuple[NDArray[np.float64], NDArray[np.float32]]:
    """Return the height of each layer, `(k,)`, and of each move, `(n,)`, above what the same object had before, mm.

    Objects printed one by one may have levels of their own between those of another, and share others; so the layer
    before in time counts, where it lies lower.
    """
    z = np.asarray(layers.z_mm, np.float64)
    index = np.asarray(layers.index)
    out = _plausible(np.asarray(layers.height_mm, np.float64))
    begin = np.flatnonzero(np.diff(index, prepend=-2))
    run = index[begin]
    inside = np.flatnonzero(run >= 0)
    if not len(inside):
        return out, np.full(len(index), HEIGHT_DEFAULT_MM, np.float32)
    level = run[inside]
    step = z[level] - np.append(np.inf, z[level[:-1]])
    is_step = (step > 0.01) & (step < HIGHEST_MM)
    seen, first = np.unique(level, return_index=True)
    out[seen] = np.where(is_step[first], step[first], out[seen])
    of_run = np.full(len(run), np.median(out))
    of_run[inside] = np.where(is_step, step, out[level])
    return out, np.repeat(of_run.astype(np.float32), np.diff(np.append(begin, len(index))))


def _plausible(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return heights, those that cannot be replaced by the median of the others."""
    good = np.isfinite(heights) & (heights > 0.01) & (heights < HIGHEST_MM)
    return np.where(good, heights, np.median(heights[good]) if good.any() else HEIGHT_DEFAULT_MM)


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


def _some(fed: NDArray[np.float32], high: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return feed and height of beads spread over the file, as many as a median needs."""
    beads = np.flatnonzero(fed > 0)
    beads = beads[:: max(1, len(beads) // SAMPLED)]
    return fed[beads], high[beads]


def _widths(fed: NDArray[np.float32], high: NDArray[np.float32], section: float) -> NDArray[np.float32]:
    """Return the width of stadium beads, mm; 0 where nothing is fed."""
    width = fed * np.float32(section) / high + np.float32(ROUND_LOSS) * high
    width[fed <= 0] = 0.0
    return width


def _typical(widths: NDArray[np.float32]) -> float:
    return float(np.clip(np.median(widths), *WIDTH_RANGE_MM)) if len(widths) else WIDTH_DEFAULT_MM


def _diameter(fed: NDArray[np.float32], high: NDArray[np.float32]) -> float:
    """Return the usual filament diameter with which beads come out wider than high."""
    fed, high = _some(fed, high)
    ratio = _widths(fed, high, math.pi / 4 * FILAMENTS_MM[0] ** 2) / high
    return FILAMENTS_MM[1] if len(ratio) and np.median(ratio) < 1.1 else FILAMENTS_MM[0]


def warm() -> None:
    """Compile the kernels of roles, or load them from their cache."""
    from beadwright.toolpath.layers import find_layers
    from beadwright.toolpath.read import read_toolpath

    square = b"G1 X10 E1 F600\nG1 Y10 E2\nG1 X0 E3\nG1 Y0 E4\nG0 X2 Y2\nG1 X8 E5\nG1 Y8 E6\nG1 X2 E7\n"
    path = read_toolpath(b"G1 Z.2 F600\n" + square + b"G92 E0\nG1 Z.4\n" + square)
    assert (path.kind == Kind.BEAD).any()
    find_roles(path, find_layers(path))
