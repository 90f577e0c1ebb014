"""The plan grid of one layer: kernels that lay its chains, join what touches, and tell inside from outside.

Of the grid only the layer being walked is kept, and per column of cells the last plastic laid there. A cell is about
a bead width wide. Cell values in `label`: > 0 a bead of chain label - 1 passes; 0 free, enclosed by loops with
nothing in it (a hole); OUT free, reached from outside; < OUT free, inside island -label - 2 (its raster touches it).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from beadwright.toolpath.compiled import compiled
from beadwright.toolpath.roles_chains import CLOSED, FIRST, LAST
from beadwright.toolpath.slots import Bytes, Floats, Ints, Shorts, Singles

OUT = -1
BLOCK = 3  # cells along the side of a block
# of an island, columns of int32
CELLS, UNDER, UNDER_WHOM, LOOPS, ISLAND_LAYER, BARE = range(6)
# and of float32
RASTER_MM, EXPOSED_MM = range(2)


class Beads(NamedTuple):
    """The moves, as far as the plan needs them."""

    x: Floats  # (n,) mm
    y: Floats
    start: Floats  # (3,)
    volume: Singles  # (n,) mm³ per mm
    chain: Shorts  # (n,)


class Plan(NamedTuple):
    """Where the grid lies."""

    x0: float  # mm
    y0: float
    cell: float  # mm
    nx: int
    ny: int


class Grid(NamedTuple):
    """Pictures of the layer being walked, and of what was laid below."""

    label: Shorts  # (nx, ny), see above
    top: Singles  # (nx, ny) z of the last plastic, mm
    owner: Shorts  # (nx, ny) island of it, -1 for none
    volume: Singles  # (bx, by) mm³ of raster in the block
    room: Singles  # (bx, by) cells a raster has in the block
    near: Bytes  # (bx, by) 1 where a bare raster passes
    head: Shorts  # (bx, by) last entry of the block's list of loop beads, -1 for none


class Chains(NamedTuple):
    """The chains and what is found out about them."""

    f: Singles  # (m, 9) see `roles_chains`
    k: Shorts  # (m, 6)
    tree: Shorts  # (m,) chains that touch
    island: Shorts  # (m,)
    got: Singles  # (m, 6) see `roles_plan`


class Islands(NamedTuple):
    """The islands; room for as many as there are chains."""

    k: Shorts  # (m, 6)
    f: Singles  # (m, 2)
    tree: Shorts  # (m,) islands that touch upward


@compiled
def find(parent: Shorts, i: int) -> int:
    """Return the root of `i`, halving the path."""
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@compiled
def union(parent: Shorts, i: int, j: int) -> None:
    """Join two trees; the lower number stays root."""
    i, j = find(parent, i), find(parent, j)
    if i < j:
        parent[j] = i
    elif j < i:
        parent[i] = j


@compiled
def begin_of(beads: Beads, n: int) -> tuple[float, float]:
    """Return where move `n` begins, mm."""
    if n > 0:
        return beads.x[n - 1], beads.y[n - 1]
    return beads.start[0], beads.start[1]


@compiled
def clear(grid: Grid, window: Ints) -> None:
    """Wipe the layer before from the window, and from one block more on each side, since neighbours are looked at."""
    i0, i1, j0, j1 = window
    grid.label[i0:i1, j0:j1] = 0
    a, b = max(i0 // BLOCK - 1, 0), (i1 - 1) // BLOCK + 2
    c, d = max(j0 // BLOCK - 1, 0), (j1 - 1) // BLOCK + 2
    grid.volume[a:b, c:d] = 0
    grid.room[a:b, c:d] = 0
    grid.near[a:b, c:d] = 0
    grid.head[a:b, c:d] = -1


@compiled
def mark(grid: Grid, chains: Chains, i: int, j: int, c: int) -> None:
    """Let chain `c` pass cell (i, j); a loop keeps its cells against a raster."""
    old = grid.label[i, j]
    if old == c + 1:
        return
    if old > 0:
        union(chains.tree, old - 1, c)
        if chains.k[old - 1, CLOSED] and not chains.k[c, CLOSED]:
            return
    grid.label[i, j] = c + 1


@compiled
def lay_raster(some: Shorts, beads: Beads, chains: Chains, plan: Plan, grid: Grid) -> None:
    """Lay the chains of a layer that are no loops: labels, and their volume by block."""
    for c in some:
        if chains.k[c, CLOSED]:
            continue
        for n in range(chains.k[c, FIRST], chains.k[c, LAST]):
            if beads.chain[n] != c:
                continue
            ax, ay = begin_of(beads, n)
            px, py = (ax - plan.x0) / plan.cell, (ay - plan.y0) / plan.cell
            dx, dy = (beads.x[n] - ax) / plan.cell, (beads.y[n] - ay) / plan.cell
            steps = int(max(abs(dx), abs(dy))) + 1  # a cell apart at most: neighbours touch
            mark(grid, chains, int(px), int(py), c)
            mark(grid, chains, int(px + dx), int(py + dy), c)
            dx, dy = dx / steps, dy / steps
            share = beads.volume[n] * plan.cell * math.sqrt(dx * dx + dy * dy)
            for s in range(steps):
                i, j = int(px + (s + 0.5) * dx), int(py + (s + 0.5) * dy)
                mark(grid, chains, i, j, c)
                if not chains.k[grid.label[i, j] - 1, CLOSED]:
                    grid.volume[i // BLOCK, j // BLOCK] += share


@compiled
def lay_loops(some: Shorts, beads: Beads, chains: Chains, plan: Plan, grid: Grid, entries: Shorts) -> Shorts:
    """Lay the loops of a layer, closed where coasting left them open, and list their beads by block.

    An entry is (move, next entry of the block); the list is returned, grown where it had to be.
    """
    used = 0
    for c in some:
        if not chains.k[c, CLOSED]:
            continue
        first, last = chains.k[c, FIRST], chains.k[c, LAST]
        for n in range(first, last):
            if beads.chain[n] != c:
                continue
            ax, ay = begin_of(beads, n)
            used, entries = _lay_loop_bead(ax, ay, beads.x[n], beads.y[n], c, n, chains, plan, grid, entries, used)
        qx, qy = begin_of(beads, first)
        ax, ay = beads.x[last - 1], beads.y[last - 1]
        used, entries = _lay_loop_bead(ax, ay, qx, qy, c, -1, chains, plan, grid, entries, used)
    return entries


@compiled
def _lay_loop_bead(
    ax: float,
    ay: float,
    qx: float,
    qy: float,
    c: int,
    n: int,
    chains: Chains,
    plan: Plan,
    grid: Grid,
    entries: Shorts,
    used: int,
) -> tuple[int, Shorts]:
    px, py = (ax - plan.x0) / plan.cell, (ay - plan.y0) / plan.cell
    dx, dy = (qx - ax) / plan.cell, (qy - ay) / plan.cell
    steps = int(max(abs(dx), abs(dy))) + 1
    mark(grid, chains, int(px), int(py), c)
    mark(grid, chains, int(px + dx), int(py + dy), c)
    bi, bj = -1, -1
    for s in range(steps):
        t = (s + 0.5) / steps
        i, j = int(px + t * dx), int(py + t * dy)
        mark(grid, chains, i, j, c)
        if n >= 0 and (i // BLOCK != bi or j // BLOCK != bj):
            bi, bj = i // BLOCK, j // BLOCK
            if used == len(entries):
                more = np.zeros((2 * used, 2), np.int32)
                more[:used] = entries
                entries = more
            entries[used, 0], entries[used, 1] = n, grid.head[bi, bj]
            grid.head[bi, bj] = used
            used += 1
    return used, entries


@compiled
def join_neighbours(label: Shorts, tree: Shorts, window: Ints) -> None:
    """Join chains that pass neighbouring cells, corners included."""
    i0, i1, j0, j1 = window
    for i in range(i0, i1 - 1):
        for j in range(j0 + 1, j1 - 1):
            a = label[i, j]
            if a <= 0:
                continue
            for b in (label[i, j + 1], label[i + 1, j - 1], label[i + 1, j], label[i + 1, j + 1]):
                if b > 0 and b != a:
                    union(tree, a - 1, b - 1)


@compiled
def number_islands(some: Shorts, chains: Chains, islands: Islands, count: int, level: int) -> int:
    """Number the islands of a layer; return how many there are so far."""
    for c in some:
        root = find(chains.tree, c)
        if chains.island[root] < 0:
            chains.island[root] = count
            islands.k[count, ISLAND_LAYER] = level
            count += 1
        chains.island[c] = chains.island[root]
        islands.k[chains.island[c], LOOPS] += chains.k[c, CLOSED]
    return count


@compiled
def flood(label: Shorts, stack: Shorts, window: Ints, i: int, j: int, value: int) -> Shorts:
    """Give free cells (0) connected to (i, j) along sides the value; return the stack, grown where it had to be."""
    stack[0], stack[1] = i, j
    size = 1
    while size > 0:
        size -= 1
        i, j = stack[2 * size], stack[2 * size + 1]
        if label[i, j] != 0:
            continue
        a, b = j, j
        while a > window[2] and label[i, a - 1] == 0:
            a -= 1
        while b < window[3] - 1 and label[i, b + 1] == 0:
            b += 1
        label[i, a : b + 1] = value
        if 2 * size + 2 * (b - a) + 8 > len(stack):
            more = np.zeros(2 * len(stack) + 4 * (b - a), np.int32)
            more[: len(stack)] = stack
            stack = more
        for n in (i - 1, i + 1):
            if not window[0] <= n < window[1]:
                continue
            fresh = True
            for q in range(a, b + 1):
                if label[n, q] != 0:
                    fresh = True
                elif fresh:
                    stack[2 * size], stack[2 * size + 1] = n, q
                    size += 1
                    fresh = False
    return stack


@compiled
def fill_pockets(grid: Grid, stack: Shorts, window: Ints, chains: Chains, islands: Islands) -> Shorts:
    """Mark pockets that a raster of an island with loops touches as inside it; count the room rasters have."""
    i0, i1, j0, j1 = window
    label = grid.label
    for i in range(i0 + 1, i1 - 1):
        for j in range(j0 + 1, j1 - 1):
            a = label[i, j]
            if a <= 0 or chains.k[a - 1, CLOSED]:
                continue
            mine = chains.island[a - 1]
            if islands.k[mine, LOOPS] == 0:
                continue
            for q in ((i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)):
                if label[q] == 0:
                    stack = flood(label, stack, window, q[0], q[1], -mine - 2)
    for i in range(i0, i1):
        for j in range(j0, j1):
            a = label[i, j]
            if a < OUT or (a > 0 and not chains.k[a - 1, CLOSED]):
                grid.room[i // BLOCK, j // BLOCK] += 1
    return stack
