"""Facts about retraction and lift between beads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .found import Clerk
from .moves import Moves

STRETCH_MM = 10.0


def note_retractions(clerk: Clerk) -> None:
    """Write down retraction_count, retraction_mm, retraction_mm_s, retractions_on_10_mm and z_hop_mm."""
    moves = clerk.moves
    starts, lengths, fed = moves.retractions
    clerk.note("retraction_count", len(starts))
    if not len(starts):
        return
    clerk.note("retraction_mm", float(np.median(lengths)))
    clerk.note("retraction_mm_s", float(np.median(moves.toolpath.feed[starts])))
    count, first, last = densest(moves, starts, fed)
    clerk.note("retractions_on_10_mm", count, clerk.at_move(first, last))
    clerk.note("z_hop_mm", _lift(moves, starts))


def densest(moves: Moves, starts: NDArray[np.int64], fed_at: NDArray[np.float64]) -> tuple[int, int, int]:
    """Return the most retractions on any 10 mm of filament, with the first and last move of that stretch.

    Each retraction drags the same filament back and forth through the drive gear, so what counts is the
    filament position, not time or path. A retraction sits at the high-water mark of its tool.
    """
    tool = moves.toolpath.tool[starts]
    best = (0, int(starts[0]), int(starts[0]))
    for one in np.unique(tool):
        mine = starts[tool == one]
        fed = fed_at[tool == one]
        until = np.searchsorted(fed, fed + STRETCH_MM + 1e-4, side="right")
        counts = until - np.arange(len(mine))
        k = int(np.argmax(counts))
        if counts[k] > best[0]:
            best = (int(counts[k]), int(mine[k]), int(mine[until[k] - 1]))
    return best


def _lift(moves: Moves, starts: NDArray[np.int64]) -> float | None:
    """Median rise of the head over the bead before, between a retraction and the next bead of the same layer,
    mm.
    """
    beads = np.flatnonzero(moves.bead)
    after = np.searchsorted(beads, starts)
    within = (after > 0) & (after < len(beads))
    before, following = beads[after[within] - 1], beads[after[within]]
    layer = np.asarray(moves.layers.index)
    same = layer[before] == layer[following]
    before, following = before[same], following[same]
    if not len(before):
        return None
    z = moves.toolpath.z
    one, times = np.unique(before, return_index=True)[1], np.unique(before, return_counts=True)[1]
    before, following = before[one], following[one]  # a stretch once, however often it draws back
    highest = np.maximum.reduceat(z, np.column_stack([before, following]).ravel())[::2]
    return float(max(np.median(np.repeat(highest - z[before], times)), 0.0))
