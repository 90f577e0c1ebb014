"""From chains and islands to pieces, and from pieces to roles.

A piece is all that grows together upward: the part, a support, a skirt, a tower. What a piece is decides over what
its chains look like: a dense raster that no wall holds and that ends just below the part is support, not filling.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import IntColumn, Toolpath
from beadwright.toolpath.layers import Layers
from beadwright.toolpath.roles_model import Role

Bools = NDArray[np.bool_]
F4 = NDArray[np.float32]
I4 = NDArray[np.int32]

CELL_WIDTHS = 0.9  # cell size in bead widths: lines side by side touch, lines two widths apart do not
COARSEST_WIDTHS = 4.0  # coarser cells tell nothing
MOST_CELLS = 3_000_000  # of the whole plan
MOST_VISITS = 40_000_000  # cells times layers
MOST_SAMPLES = 30_000_000
LARGEST_MM = 1e7
RIM = 4  # free cells around a layer
SOLID_FROM = 0.72  # plastic in the room the raster has
UNDER_SHARE = 0.15  # of the last layer's cells, for a raster no wall holds
UNDER_SHARE_WALLED = 0.5
RAFT_LAYERS = 8
UNCOVERED = 0.4
SHORT_WIDTHS = 6.0  # a shorter open line is filling of a corner
TOWER_VISITS = 0.75
EVEN_FILL = 0.25
(
    NONE,
    BESIDE_AIR,
    BETWEEN_WALLS,
    CLOSE_ROWS,
    WIDE_ROWS,
    OVER_AIR,
    NO_WALL,
    BELOW_ANOTHER,
    FIRST_LOOPS,
    TOUCHES_NOTHING,
    LONE_LINE,
    BELOW_ALL,
    AFTER_CHANGES,
    SINGLE_LINE,
    RISING,
) = range(15)  # `REASONS`


@dataclass(frozen=True)
class Verdict:
    """What geometry says of each move; as the fields of `Roles`."""

    role: NDArray[np.uint8]
    island: IntColumn
    chain: IntColumn
    reason: NDArray[np.uint8]


def judge(
    toolpath: Toolpath, layers: Layers, heights: NDArray[np.float64], fed: F4, cover: F4, width: float
) -> Verdict:
    """Return roles from geometry.

    `heights` (k,) mm; per move (n,) `fed` mm of filament per mm and `cover` mm² of plan per mm at its layer's height;
    `width` mm, typical.
    """
    from beadwright.toolpath.roles_chains import find_chains

    path = toolpath
    index = np.asarray(layers.index, np.int32)
    chain, f, k = find_chains(path.x, path.y, path.z, path.kind, path.tool, index, fed, path.start, width)
    n = len(path)
    blank = Verdict(np.zeros(n, np.uint8), np.full(n, -1, np.int32), chain, np.zeros(n, np.uint8))
    if not len(f):
        return blank
    plan = _plan(f, k, len(layers), width)
    if plan is None:
        return blank
    found = _walk(toolpath, layers, heights, cover, width, (chain, f, k), plan)
    roles, reasons = _Judge(toolpath, layers, found, heights, width).roles()
    return _spread(found, roles, reasons)


@dataclass(frozen=True)
class Found:
    """Chains, islands and what was measured of them."""

    chain: IntColumn  # (n,)
    f: F4  # (m, 9) see `roles_chains`
    k: I4  # (m, 6)
    got: F4  # (m, 7) see `roles_plan`
    island: I4  # (m,)
    island_k: I4  # (s, 7)
    island_f: F4  # (s, 2)
    piece: I4  # (s,) of each island, 0 … p - 1
    chain_piece: I4  # (m,) of each chain; -1 outside the layers
    bridge: NDArray[np.uint8]  # (n,)


@dataclass(frozen=True)
class _Plan:
    x0: float
    y0: float
    cell: float
    nx: int
    ny: int
    order: I4  # chains by layer
    bounds: NDArray[np.int64]  # (k + 1,)
    windows: NDArray[np.int64]  # (k, 4)


def _plan(f: F4, k: I4, count: int, width: float) -> _Plan | None:
    """Lay out the grid; None where the print is too large to be resolved."""
    from beadwright.toolpath.roles_chains import LAYER, LENGTH, X0, X1, Y0, Y1

    layer = k[:, LAYER]
    order = np.argsort(layer, kind="stable").astype(np.int32)
    order = order[np.searchsorted(layer[order], 0) :]
    if not len(order):
        return None
    bounds = np.searchsorted(layer[order], np.arange(count + 1)).astype(np.int64)
    present, first = np.unique(layer[order], return_index=True)
    box = np.zeros((count, 4))
    for column, (source, reduce) in enumerate(((X0, np.minimum), (Y0, np.minimum), (X1, np.maximum), (Y1, np.maximum))):
        box[present, column] = reduce.reduceat(f[order, source], first)
    low, high = box[present, :2].min(axis=0), box[present, 2:].max(axis=0)
    if not np.isfinite(box).all() or np.abs(box).max() > LARGEST_MM:
        return None
    size = high - low + 10 * width
    sides = box[present, 2:] - box[present, :2] + 10 * width
    cell = max(
        CELL_WIDTHS * width,
        float(np.sqrt(size.prod() / MOST_CELLS)),
        float(np.sqrt(sides.prod(axis=1).sum() / MOST_VISITS)),
        float(f[order, LENGTH].astype(np.float64).sum()) / MOST_SAMPLES,
    )
    if cell > COARSEST_WIDTHS * width:
        return None
    x0, y0 = (low - (RIM + 1) * cell).tolist()
    nx, ny = (np.ceil((high - low) / cell).astype(int) + 2 * RIM + 4).tolist()
    corner = np.floor((box - [x0, y0, x0, y0]) / cell).astype(np.int64)
    windows = np.column_stack([corner[:, 0] - RIM, corner[:, 2] + RIM + 1, corner[:, 1] - RIM, corner[:, 3] + RIM + 1])
    return _Plan(x0, y0, cell, nx, ny, order, bounds, windows)


def _walk(
    toolpath: Toolpath,
    layers: Layers,
    heights: NDArray[np.float64],
    cover: F4,
    width: float,
    chains: tuple[IntColumn, F4, I4],
    plan: _Plan,
) -> Found:
    from beadwright.toolpath.roles_grid import Beads, Chains, Islands, Plan
    from beadwright.toolpath.roles_plan import walk_layers

    def ends(axis: NDArray[np.float64], start: float) -> F4:
        out = np.empty(len(axis) + 1, np.float32)
        out[0], out[1:] = start, axis
        return out

    chain, f, k = chains
    path, m = toolpath, len(f)
    numbers = np.arange(m, dtype=np.int32)
    measured = Chains(
        f, k, numbers.copy(), np.full(m, -1, np.int32), np.zeros((m, 7), np.float32), np.full((m, 2), -1, np.int32)
    )
    measured.above[:, 1] = 0
    islands = Islands(np.zeros((m, 7), np.int32), np.zeros((m, 2), np.float32), numbers)
    count, bridge = walk_layers(
        Beads(ends(path.x, path.start[0]), ends(path.y, path.start[1]), cover, chain),
        measured,
        islands,
        Plan(plan.x0, plan.y0, plan.cell, plan.nx, plan.ny),
        (np.asarray(layers.z_mm, np.float64), heights, plan.windows),
        (plan.order, plan.bounds),
        width,
    )
    tree = islands.tree[:count]
    while not np.array_equal(tree[tree], tree):
        tree = tree[tree]
    piece, chain_piece = _grown_together(tree, measured.island, measured.above[:, 0], f)
    return Found(
        chain, f, k, measured.got, measured.island, islands.k[:count], islands.f[:count], piece, chain_piece, bridge
    )


def _grown_together(tree: I4, island: I4, above: I4, f: F4) -> tuple[I4, I4]:
    """Return the piece of each island and of each chain.

    A chain of the first layer belongs to what stands on it; one on which nothing stands (brim, skirt) goes with most
    of its island.
    """
    from beadwright.toolpath.roles_chains import LENGTH

    root = tree.copy()
    covered = np.flatnonzero(above >= 0)
    if len(covered):
        pair = island[covered].astype(np.int64) * (len(tree) + 1) + tree[above[covered]]
        pairs, at = np.unique(pair, return_inverse=True)
        most = np.argsort(np.bincount(at, f[covered, LENGTH]), kind="stable")  # the longest is written last
        root[pairs[most] // (len(tree) + 1)] = pairs[most] % (len(tree) + 1)
    chain_root = np.where(above >= 0, tree[np.maximum(above, 0)], root[np.maximum(island, 0)])
    names, piece = np.unique(root, return_inverse=True)
    chain_piece = np.where(island >= 0, np.searchsorted(names, chain_root), -1)
    return piece.astype(np.int32), chain_piece.astype(np.int32)


class _Judge:
    """Decides on pieces, then on chains."""

    def __init__(
        self, toolpath: Toolpath, layers: Layers, found: Found, heights: NDArray[np.float64], width: float
    ) -> None:
        from beadwright.toolpath import roles_chains as c
        from beadwright.toolpath import roles_grid as g
        from beadwright.toolpath import roles_plan as p

        self.toolpath, self.layers, self.found, self.heights, self.width = toolpath, layers, found, heights, width
        piece, k, chain_k = found.piece, found.island_k, found.k
        self.count = int(piece.max()) + 1
        self.layer = chain_k[:, c.LAYER]
        self.closed = chain_k[:, c.CLOSED] == 1
        self.reversals = chain_k[:, c.REVERSALS]
        self.length = found.f[:, c.LENGTH]
        self.area = np.abs(found.f[:, c.AREA])
        self.rise = found.f[:, c.RISE]
        self.air = found.got[:, p.AIR]
        weight = found.got[:, p.WEIGHT]
        self.fill = np.divide(found.got[:, p.FILL], weight, out=np.zeros_like(weight), where=weight > 0)
        self.bridged = found.got[:, p.BRIDGED] > 0.5 * weight
        passed = np.maximum(found.got[:, p.PASSED], 1)
        self.covered, self.by_outer = found.got[:, p.COVERED] / passed, found.got[:, p.COVERED_BY_OUTER] / passed
        level = k[:, g.ISLAND_LAYER]
        self.first = np.full(self.count, len(layers), np.int32)
        self.last = np.full(self.count, -1, np.int32)
        self.second = np.full(self.count, len(layers), np.int32)  # first layer above the lowest
        np.minimum.at(self.first, piece, level)
        np.minimum.at(self.second, piece[level > 0], level[level > 0])
        np.maximum.at(self.last, piece, level)
        self.raster = np.bincount(piece, found.island_f[:, g.RASTER_MM], self.count)
        self.bare = np.bincount(piece, k[:, g.BARE], self.count) > 0
        at_end = level == self.last[piece]
        whom = piece[k[:, g.UNDER_WHOM]]
        under = k[:, g.UNDER] + k[:, g.TOUCHED] * (k[:, g.BARE] == 1)  # what no wall holds may touch what it holds up
        self.under = np.bincount(piece, np.where(whom != piece, under, 0), self.count) / np.maximum(
            np.bincount(piece, np.where(at_end, k[:, g.CELLS], 0), self.count), 1
        )
        self.box = self._boxes()

    def _boxes(self) -> NDArray[np.float64]:
        """Plan box of each piece, `(p, 4)`."""
        from beadwright.toolpath import roles_chains as c

        box = np.tile([np.inf, np.inf, -np.inf, -np.inf], (self.count, 1))
        mine = self.found.chain_piece
        some = mine >= 0
        f = self.found.f
        for column, (source, reduce) in enumerate(
            ((c.X0, np.minimum), (c.Y0, np.minimum), (c.X1, np.maximum), (c.Y1, np.maximum))
        ):
            reduce.at(box[:, column], mine[some], f[some, source].astype(np.float64))
        return box

    def roles(self) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
        """Return role and reason of each chain, `(m,)`."""
        role, reason = self._by_shape()
        of_piece, why = self._pieces()
        mine = self.found.chain_piece
        given = (mine >= 0) & (of_piece[mine] != Role.UNKNOWN)
        role[given], reason[given] = of_piece[mine[given]], why[mine[given]]
        self._part_from_raft(role, reason, of_piece)
        self._brims(role, reason, of_piece)
        lost = mine < 0  # beads before the first layer
        role[lost], reason[lost] = Role.SKIRT, LONE_LINE
        if self.layers.continuous:
            rising = self.rise > 0.2 * np.median(self.heights)
            role[rising], reason[rising] = Role.OUTER, RISING
        return role, reason

    def _by_shape(self) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
        outer = self.closed & (self.air >= 0.5)
        outside = ~self.closed & (self.air > 0.6)
        bare = self.bare[np.maximum(self.found.chain_piece, 0)]
        is_bridge = ~self.closed & self.bridged & (self.layer > 0)
        single = outside & (self.reversals == 0) & (self.length > SHORT_WIDTHS * self.width)
        beside = outside & (self.reversals > 1) & ~bare
        solid = (self.fill >= SOLID_FROM) | (outside & bare)
        choices = [
            (outer, Role.OUTER, BESIDE_AIR),
            (self.closed, Role.INNER, BETWEEN_WALLS),
            (single, Role.OUTER, SINGLE_LINE),
            (beside, Role.SUPPORT, NO_WALL),
            (is_bridge, Role.BRIDGE, OVER_AIR),
            (solid, Role.SOLID, CLOSE_ROWS),
        ]
        when = [choice[0] for choice in choices]
        role = np.select(when, [int(choice[1]) for choice in choices], int(Role.SPARSE))
        reason = np.select(when, [choice[2] for choice in choices], WIDE_ROWS)
        return role.astype(np.uint8), reason.astype(np.uint8)

    def _pieces(self) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
        """Return the role of pieces that are no part (UNKNOWN for parts), and why, `(p,)`."""
        role, why = np.zeros(self.count, np.uint8), np.zeros(self.count, np.uint8)

        def give(which: Bools, what: Role, reason: int) -> None:
            which = which & (role == Role.UNKNOWN)
            role[which], why[which] = what, reason

        low = (self.first == 0) & (self.last <= 1) & (len(self.layers) > 3)
        rings = self.raster == 0
        give(rings & low & (self.under < UNDER_SHARE), Role.SKIRT, TOUCHES_NOTHING)
        give(rings & (self.first == 0) & self._encloses(~rings), Role.SKIRT, TOUCHES_NOTHING)
        if ((~self.bare) & (role == Role.UNKNOWN)).any():
            alone = self.bare & (self.first == 0) & (self.last == 0) & (len(self.layers) > 1)
            give(alone & (self.under < UNDER_SHARE), Role.SKIRT, LONE_LINE)
        give(self._tower(role), Role.WIPE_TOWER, AFTER_CHANGES)
        if ((~self.bare) & (role == Role.UNKNOWN)).any():
            give(self.bare & (self.under >= UNDER_SHARE), Role.SUPPORT, NO_WALL)
            give(~self.bare & (self.under >= UNDER_SHARE_WALLED), Role.SUPPORT, BELOW_ANOTHER)
        return role, why

    def _encloses(self, others: Bools) -> Bools:
        """Return which pieces' boxes hold the boxes of all `others`."""
        if not others.any():
            return np.zeros(self.count, np.bool_)
        low, high = self.box[others, :2].min(axis=0), self.box[others, 2:].max(axis=0)
        held: Bools = (self.box[:, :2] < low).all(axis=1) & (self.box[:, 2:] > high).all(axis=1)
        return held

    def _tower(self, role: NDArray[np.uint8]) -> Bools:
        """Return the piece that the head visits first after nearly every change of tool."""
        none = np.zeros(self.count, np.bool_)
        tool = self.toolpath.tool
        bead_chain = self.found.chain
        beads = np.flatnonzero(bead_chain >= 0)
        change = np.flatnonzero(np.diff(tool[beads])) + 1
        visited = self.found.chain_piece[bead_chain[beads[change]]]
        visited = visited[visited >= 0]
        if len(visited) < 2:
            return none
        visits = np.bincount(visited, minlength=self.count)
        best = int(np.argmax(visits))
        mine = self.found.chain_piece == best
        raster = mine & ~self.closed
        others = (role == Role.UNKNOWN) & ~self.bare
        others[best] = False
        length = self.length[mine].sum()
        if visits[best] < TOWER_VISITS * len(visited) or not others.any() or self.length[raster].sum() < 0.5 * length:
            return none
        spread = np.ptp(np.quantile(self.fill[raster], [0.1, 0.9]))
        none[best] = self.bare[best] or bool(spread < EVEN_FILL)
        return none

    def _part_from_raft(self, role: NDArray[np.uint8], reason: NDArray[np.uint8], of_piece: NDArray[np.uint8]) -> None:
        """Where no part stands on the plate, what looks like support below the lowest part is a raft."""
        part = of_piece == Role.UNKNOWN
        if not part.any():
            return
        lowest = int(self.first[part].min())
        if not 0 < lowest <= RAFT_LAYERS:
            return
        below = (role == Role.SUPPORT) & (self.layer < lowest)
        role[below], reason[below] = Role.RAFT, BELOW_ALL

    def _brims(self, role: NDArray[np.uint8], reason: NDArray[np.uint8], of_piece: NDArray[np.uint8]) -> None:
        """Loops a piece has more on the first layer than on the second, outermost first, over which nothing lies."""
        mine = self.found.chain_piece
        part = self.closed & (mine >= 0) & (of_piece[mine] != Role.SKIRT)
        count = [
            np.bincount(mine[part & (self.layer == level)], minlength=self.count)
            for level in (0, self.second[np.maximum(mine, 0)])
        ]
        for piece in np.flatnonzero((self.second < len(self.layers)) & (count[0] > count[1])):
            loops = np.flatnonzero(part & (mine == piece) & (self.layer == 0))
            bare = loops[self.covered[loops] < UNCOVERED]
            brim = bare[np.argsort(-self.area[bare])][: count[0][piece] - count[1][piece]]
            if not len(brim):
                continue
            wall = np.setdiff1d(loops, brim)
            if of_piece[piece] != Role.UNKNOWN:
                role[brim], reason[brim] = Role.BRIM, FIRST_LOOPS
                continue
            outer = self.by_outer[wall] >= 0.5
            role[wall] = np.where(outer, Role.OUTER, Role.INNER)
            reason[wall] = np.where(outer, BESIDE_AIR, BETWEEN_WALLS)
            role[brim], reason[brim] = Role.BRIM, FIRST_LOOPS


def _spread(found: Found, role: NDArray[np.uint8], reason: NDArray[np.uint8]) -> Verdict:
    """Give each move what its chain got; single rows that bridge a gap keep that."""
    moves = found.chain
    role, reason = np.append(role, 0).astype(np.uint8), np.append(reason, 0).astype(np.uint8)
    out, why = role[moves], reason[moves]
    over = (found.bridge == 1) & ((out == Role.SOLID) | (out == Role.SPARSE))
    out[over], why[over] = Role.BRIDGE, OVER_AIR
    return Verdict(out, np.append(found.island, -1).astype(np.int32)[moves], moves, why)
