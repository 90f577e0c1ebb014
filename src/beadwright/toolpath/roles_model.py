"""What a bead is for, and the columns that say so."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import IntColumn


class Role(IntEnum):
    """What a bead is for."""

    UNKNOWN = 0
    OUTER = 1  # outer contour: air on one side, holes included
    INNER = 2  # inner contour
    SOLID = 3  # solid raster
    SPARSE = 4  # sparse raster
    BRIDGE = 5  # raster laid over air between two holds
    SUPPORT = 6
    BRIM = 7
    SKIRT = 8  # a loop around everything, a shield, a priming line
    RAFT = 9
    WIPE_TOWER = 10

    @property
    def words(self) -> str:
        """The role as the trade says it."""
        return WORDS[self]


WORDS = {
    Role.UNKNOWN: "unknown",
    Role.OUTER: "outer contour",
    Role.INNER: "inner contour",
    Role.SOLID: "solid raster",
    Role.SPARSE: "sparse raster",
    Role.BRIDGE: "bridge",
    Role.SUPPORT: "support",
    Role.BRIM: "brim",
    Role.SKIRT: "skirt",
    Role.RAFT: "raft",
    Role.WIPE_TOWER: "wipe tower",
}

REASONS = (
    "no bead, or the plan is too large to be laid out",
    "closed loop with air beside it",
    "closed loop between other walls",
    "raster lines that lie side by side",
    "raster lines with room between them",
    "raster lines over air, held at both ends",
    "a raster no wall holds, under another piece",
    "a detached piece that ends just below another",
    "loops of the first layer only, against the piece's outline",
    "loops that touch nothing and hold no raster",
    "a line of the lowest layer that nothing goes on from",
    "a raster below everything else",
    "a detached piece visited after nearly every change of tool",
    "single line without a loop",
    "wall that rises all the way round",
    "a comment names it",
)


@dataclass(frozen=True)
class Roles:
    """The role of every move and what it was concluded from."""

    role: NDArray[np.uint8]  # (n,) Role; UNKNOWN for moves that are no beads
    width_mm: NDArray[np.float32]  # (n,) of the bead from its filament, path and layer height; 0 for other moves
    island: IntColumn  # (n,) connected piece of a layer's plan view, numbered through all layers; -1 for none
    chain: IntColumn  # (n,) beads laid without a travel between; a loop is one chain; -1 for none
    reason: NDArray[np.uint8]  # (n,) index into REASONS
    height_mm: NDArray[np.float64]  # (k,) layer height as laid: above the layer the same object had before
    bead_width_mm: float  # typical; median by length
    filament_mm: float  # diameter the widths were reckoned with
    from_comments: float  # share of bead length whose role comments name
    agreement: float  # share of that length where the beads alone tell the same; NaN where comments name none
    disagreements: tuple[tuple[Role, Role, float], ...]  # from the beads, from comments, share of named length
    comments_trusted: bool  # comments part the moves and mostly agree: they overrule
