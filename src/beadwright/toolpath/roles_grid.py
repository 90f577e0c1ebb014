"""The plan grid of one layer: kernels that lay its chains, join what touches, and tell inside from outside.

Of the grid only the layer being walked is kept, and per column of cells the last plastic laid there. A cell is about
a bead width wide. Cell values in `label`: > 0 a bead of chain label - 1 passes; 0 free, enclosed by loops with
nothing in it (a hole); OUT free, reached from outside; < OUT free, inside island -label - 2 (its raster touches it).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from beadwright.toolpath.compiled import compiled, woven
from beadwright.toolpath.roles_chains import CLOSED, FIRST, LAST
from beadwright.toolpath.slots import Bytes, Ints, Shorts, Singles

OUT = -1
HALF = 1  # bits: a block is two cells wide
# of an island, columns of int32
CELLS, UNDER, UNDER_WHOM, LOOPS, ISLAND_LAYER, BARE, TOUCHED = range(7)  # UNDER: below a gap; TOUCHED: without one
# and of float32
RASTER_MM, EXPOSED_MM = range(2)


class Beads(NamedTuple):
    """The moves, as far as the plan needs them."""

    x: Singles  # (n + 1,) mm; move i goes from x[i] to x[i + 1]
    y: Singles
    cover: Singles  # (n,) mm² of plan that a mm of bead fills: section over layer height
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
    first: Shorts  # (nx, ny) label on the first layer
    filled: Singles  # (bx, by) mm² of raster in the block
    room: Singles  # (bx, by) cells a raster has in the block
    near: Bytes  # (bx, by) 1 where a bare raster passes, 2 in blocks around
    head: Shorts  # (bx, by) last entry of the block's list of loop beads, -1 for none


class Chains(NamedTuple):
    """The chains and what is found out about them."""

    f: Singles  # (m, 9) see `roles_chains`
    k: Shorts  # (m, 6)
    tree: Shorts  # (m,) chains that touch
    island: Shorts  # (m,)
    got: Singles  # (m, 7) see `roles_plan`
    above: Shorts  # (m, 2) of a chain of the first layer: the island that covers most of it, -1 for none; votes


class Islands(NamedTuple):
    """The islands; room for as many as there are chains."""

    k: Shorts  # (m, 7)
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
def clear(grid: Grid, window: Ints) -> None:
    """Wipe the layer before from the window, and from two blocks more on each side, since neighbours are looked at."""
    i0, i1, j0, j1 = window
    grid.label[i0:i1, j0:j1] = 0
    a, b = max((i0 >> HALF) - 2, 0), (i1 >> HALF) + 3
    c, d = max((j0 >> HALF) - 2, 0), (j1 >> HALF) + 3
    grid.filled[a:b, c:d] = 0
    grid.room[a:b, c:d] = 0
    grid.near[a:b, c:d] = 0
    grid.head[a:b, c:d] = -1


@woven
def mark(label: Shorts, tree: Shorts, k: Shorts, i: int, j: int, c: int) -> None:
    """Let chain `c` pass cell (i, j); a loop, laid first, keeps its cells."""
    old = label[i, j]
    if old == 0:
        label[i, j] = c + 1
    elif old != c + 1:
        union(tree, old - 1, c)
        if k[old - 1, CLOSED] == k[c, CLOSED]:
            label[i, j] = c + 1


@compiled
def lay_raster(some: Shorts, beads: Beads, chains: Chains, plan: Plan, grid: Grid) -> None:
    """Lay the chains of a layer that are no loops: labels, and the plan they fill by block."""
    label, filled, tree, k = grid.label, grid.filled, chains.tree, chains.k
    x, y, per_mm = beads.x, beads.y, 1 / plan.cell
    for c in some:
        if k[c, CLOSED]:
            continue
        for n in range(k[c, FIRST], k[c, LAST]):
            if beads.chain[n] != c:
                continue
            px, py = (x[n] - plan.x0) * per_mm, (y[n] - plan.y0) * per_mm
            dx, dy = (x[n + 1] - plan.x0) * per_mm - px, (y[n + 1] - plan.y0) * per_mm - py
            steps = int(max(abs(dx), abs(dy))) + 1  # a cell apart at most: neighbours touch
            mark(label, tree, k, int(px), int(py), c)
            mark(label, tree, k, int(px + dx), int(py + dy), c)
            dx, dy = dx / steps, dy / steps
            share = np.float32(beads.cover[n] * plan.cell * math.sqrt(dx * dx + dy * dy))
            px, py = px + 0.5 * dx, py + 0.5 * dy
            bi, bj, laid = int(px) >> HALF, int(py) >> HALF, np.float32(0)
            for _ in range(steps):
                i, j = int(px), int(py)
                mark(label, tree, k, i, j, c)
                if i >> HALF != bi or j >> HALF != bj:
                    filled[bi, bj] += laid
                    bi, bj, laid = i >> HALF, j >> HALF, np.float32(0)
                if label[i, j] == c + 1:
                    laid += share
                px += dx
                py += dy
            filled[bi, bj] += laid


@compiled
def lay_loops(some: Shorts, beads: Beads, chains: Chains, plan: Plan, grid: Grid, entries: Shorts) -> Shorts:
    """Lay the loops of a layer, closed where coasting left them open, and list their beads by block.

    An entry is (move, next entry of the block); the list is returned, grown where it had to be.
    """
    label, head, tree, k = grid.label, grid.head, chains.tree, chains.k
    x, y, per_mm = beads.x, beads.y, 1 / plan.cell
    used = 0
    for c in some:
        if not k[c, CLOSED]:
            continue
        first, last = k[c, FIRST], k[c, LAST]
        for n in range(first, last + 1):
            begin, end = (n, n + 1) if n < last else (last, first)  # at last from end to start
            if n < last and beads.chain[n] != c:
                continue
            px, py = (x[begin] - plan.x0) * per_mm, (y[begin] - plan.y0) * per_mm
            dx, dy = (x[end] - plan.x0) * per_mm - px, (y[end] - plan.y0) * per_mm - py
            steps = int(max(abs(dx), abs(dy))) + 1
            mark(label, tree, k, int(px), int(py), c)
            mark(label, tree, k, int(px + dx), int(py + dy), c)
            dx, dy = dx / steps, dy / steps
            px, py = px + 0.5 * dx, py + 0.5 * dy
            bi, bj = -1, -1
            for _ in range(steps):
                i, j = int(px), int(py)
                mark(label, tree, k, i, j, c)
                px += dx
                py += dy
                if n < last and (i >> HALF != bi or j >> HALF != bj):
                    bi, bj = i >> HALF, j >> HALF
                    if used == len(entries):
                        entries = _longer(entries)
                    entries[used, 0], entries[used, 1] = n, head[bi, bj]
                    head[bi, bj] = used
                    used += 1
    return entries


@compiled
def _longer(entries: Shorts) -> Shorts:
    more = np.zeros((2 * len(entries), 2), np.int32)
    more[: len(entries)] = entries
    return more


@compiled
def join_neighbours(label: Shorts, tree: Shorts, window: Ints) -> None:
    """Join chains that pass neighbouring cells, corners included."""
    for i in range(window[0], window[1] - 1):
        for j in range(window[2] + 1, window[3] - 1):
            a = label[i, j]
            if a <= 0:
                continue
            b, c, d, e = label[i, j + 1], label[i + 1, j - 1], label[i + 1, j], label[i + 1, j + 1]
            if b > 0 and b != a:
                union(tree, a - 1, b - 1)
            if c > 0 and c != a:
                union(tree, a - 1, c - 1)
            if d > 0 and d != a:
                union(tree, a - 1, d - 1)
            if e > 0 and e != a:
                union(tree, a - 1, e - 1)


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
    k, island, room = chains.k, chains.island, grid.room
    for i in range(i0 + 1, i1 - 1):
        for j in range(j0 + 1, j1 - 1):
            a = label[i, j]
            if a <= 0:
                continue
            if label[i - 1, j] != 0 and label[i + 1, j] != 0 and label[i, j - 1] != 0 and label[i, j + 1] != 0:
                continue
            if k[a - 1, CLOSED]:
                continue
            mine = island[a - 1]
            if islands.k[mine, LOOPS] == 0:
                continue
            if label[i - 1, j] == 0:
                stack = flood(label, stack, window, i - 1, j, -mine - 2)
            if label[i + 1, j] == 0:
                stack = flood(label, stack, window, i + 1, j, -mine - 2)
            if label[i, j - 1] == 0:
                stack = flood(label, stack, window, i, j - 1, -mine - 2)
            if label[i, j + 1] == 0:
                stack = flood(label, stack, window, i, j + 1, -mine - 2)
    for i in range(i0, i1):
        last, has_room = 0, False
        for j in range(j0, j1):
            a = label[i, j]
            if a != last:
                last, has_room = a, a < OUT or (a > 0 and not k[a - 1, CLOSED])
            if has_room:
                room[i >> HALF, j >> HALF] += 1
    return stack
