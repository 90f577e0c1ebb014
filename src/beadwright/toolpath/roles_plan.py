"""Kernels that walk the layers upward and measure, of every chain, how it lies.

What a bead is for shows in its surroundings: whether air lies beside it, how closely its neighbours lie, what lies
below, and whether the piece it belongs to touches the rest. Lengths mm.
"""

from __future__ import annotations

import math

import numpy as np

from beadwright.toolpath.compiled import compiled, drop_stale_kernels
from beadwright.toolpath.roles_chains import CLOSED, FIRST, LAST, LENGTH
from beadwright.toolpath.roles_grid import (
    BARE,
    CELLS,
    EXPOSED_MM,
    HALF,
    ISLAND_LAYER,
    LOOPS,
    OUT,
    RASTER_MM,
    TOUCHED,
    UNDER,
    UNDER_WHOM,
    Beads,
    Chains,
    Grid,
    Islands,
    Plan,
    clear,
    fill_pockets,
    flood,
    join_neighbours,
    lay_loops,
    lay_raster,
    number_islands,
    union,
)
from beadwright.toolpath.slots import Bytes, Floats, Ints, Shorts, Singles

drop_stale_kernels("roles_*", ("compiled.py", "roles_chains.py", "roles_grid.py", "roles_plan.py"))

LOOP_SAMPLES, MANY_LOOPS = 24, 5000  # in a layer of more chains each is sampled less, so that its cost stays bounded
MOST_LOOKED = 512  # beads looked at beside a point; where more lie in one place, it is no air
ROW_STEP_MM = 1.0
ROW_SAMPLES = 32
SHORTEST_BRIDGE_MM = 2.0  # shorter spans need no bridge: the line is held by its neighbours
CONTACT = 1.3  # layer heights between two beads that touch
NEAR_GAP_MM = 1.7  # a wider gap in z is no support gap
SUPPORTED_GAP_MM = 0.35  # beyond two layer heights: what lies lower does not carry a bead
CARRY = 2  # blocks around a bare raster that carry a raster above
BESIDE_AIR = 0.5  # share of a loop's length from which it is an outer contour
EXPOSED = 0.6  # share of a raster facing the outside from which no wall holds it

# measured per chain, columns of float32
AIR, FILL, WEIGHT, BRIDGED = range(4)
# of chains of the first layer, in cells: passed, passed and covered by the next layer there, and by its outer contour
PASSED, COVERED, COVERED_BY_OUTER = range(4, 7)


@compiled
def walk_layers(
    beads: Beads,
    chains: Chains,
    islands: Islands,
    plan: Plan,
    levels: tuple[Floats, Floats, Ints],
    sorted_chains: tuple[Shorts, Ints],
    width: float,
) -> tuple[int, Bytes]:
    """Fill `chains` and `islands`; return how many islands there are and, per move, 1 where a row bridges a gap.

    `levels`: z, height (k,), window (k, 4) cells i0 i1 j0 j1 with a free rim. `sorted_chains`: chains by layer, and
    where each layer begins among them (k + 1,). `width`: typical bead, mm.
    """
    z, height, windows = levels
    order, bounds = sorted_chains
    bridge = np.zeros(len(beads.chain), np.uint8)
    grid = _empty_grid(plan)
    stack = np.zeros(4 * (plan.nx + plan.ny) + 64, np.int32)
    entries = np.zeros((1024, 2), np.int32)
    count = 0
    for level in range(len(z)):
        some, window = order[bounds[level] : bounds[level + 1]], windows[level]
        if len(some) == 0:
            continue
        clear(grid, window)
        entries = lay_loops(some, beads, chains, plan, grid, entries)
        lay_raster(some, beads, chains, plan, grid)
        join_neighbours(grid.label, chains.tree, window)
        first = count
        count = number_islands(some, chains, islands, count, level)
        stack = flood(grid.label, stack, window, window[0], window[2], OUT)
        stack = fill_pockets(grid, stack, window, chains, islands)
        _measure_loops(some, beads, chains, plan, grid, width, entries)
        _measure_rows(some, beads, chains, plan, grid, z[level], height[level], bridge)
        _judge_islands(some, chains, islands, first, count)
        if level == 0:
            _keep_first(grid, window, chains)
        if _rise(grid, window, chains, islands, z[level], height[level]):
            _carry_between_rows(grid, window, z[level])
    return count, bridge


@compiled
def _empty_grid(plan: Plan) -> Grid:
    bx, by = (plan.nx >> HALF) + 4, (plan.ny >> HALF) + 4
    return Grid(
        np.zeros((plan.nx, plan.ny), np.int32),
        np.full((plan.nx, plan.ny), -1e9, np.float32),
        np.full((plan.nx, plan.ny), -1, np.int32),
        np.zeros((plan.nx, plan.ny), np.int32),
        np.zeros((bx, by), np.float32),
        np.zeros((bx, by), np.float32),
        np.zeros((bx, by), np.uint8),
        np.full((bx, by), -1, np.int32),
    )


# loops ---------------------------------------------------------------------------------------------
@compiled
def _measure_loops(
    some: Shorts, beads: Beads, chains: Chains, plan: Plan, grid: Grid, width: float, entries: Shorts
) -> None:
    """Of each loop, the share of its length beside which air lies with no further wall between."""
    x, y = beads.x, beads.y
    samples = max(2, LOOP_SAMPLES * MANY_LOOPS // max(len(some), MANY_LOOPS))
    for c in some:
        if not chains.k[c, CLOSED]:
            continue
        step = chains.f[c, LENGTH] / samples
        due, gone, tried, open_to_air = 0.5 * step, 0.0, 0, 0
        for n in range(chains.k[c, FIRST], chains.k[c, LAST]):
            if beads.chain[n] != c:
                continue
            ax, ay = x[n], y[n]
            ux, uy = x[n + 1] - ax, y[n + 1] - ay
            length = math.sqrt(ux * ux + uy * uy)
            while length > 0 and due <= gone + length:
                t = (due - gone) / length
                due += step
                tried += 1
                px, py, vx, vy = ax + t * ux, ay + t * uy, uy / length, -ux / length
                if _is_open(px, py, vx, vy, c, beads, chains, plan, grid, width, entries) or _is_open(
                    px, py, -vx, -vy, c, beads, chains, plan, grid, width, entries
                ):
                    open_to_air += 1
            gone += length
        chains.got[c, AIR] = open_to_air / max(tried, 1)


@compiled
def _is_open(
    px: float,
    py: float,
    vx: float,
    vy: float,
    c: int,
    beads: Beads,
    chains: Chains,
    plan: Plan,
    grid: Grid,
    width: float,
    entries: Shorts,
) -> bool:
    """Return whether air lies beside the point in direction v and no other loop a bead width away."""
    far = max(0.5 * width + 1.2 * plan.cell, width)
    i, j = int((px + far * vx - plan.x0) / plan.cell), int((py + far * vy - plan.y0) / plan.cell)
    if 0 <= i < plan.nx and 0 <= j < plan.ny and grid.label[i, j] != OUT and grid.label[i, j] != 0:
        return False
    x, y = beads.x, beads.y
    px, py, reach = px + width * vx, py + width * vy, 0.5 * width
    size = (1 << HALF) * plan.cell
    bi0, bi1 = int((px - reach - plan.x0) / size), int((px + reach - plan.x0) / size)
    bj0, bj1 = int((py - reach - plan.y0) / size), int((py + reach - plan.y0) / size)
    first, last = chains.k[c, FIRST], chains.k[c, LAST]
    for bi in range(max(bi0, 0), min(bi1 + 1, grid.head.shape[0])):
        for bj in range(max(bj0, 0), min(bj1 + 1, grid.head.shape[1])):
            at, looked = grid.head[bi, bj], 0
            while at >= 0:
                looked += 1
                if looked > MOST_LOOKED:
                    return False
                n = entries[at, 0]
                at = entries[at, 1]
                if not first <= n < last and _passes(px, py, reach, x[n], y[n], x[n + 1], y[n + 1]):
                    return False
    return True


@compiled
def _passes(px: float, py: float, reach: float, ax: float, ay: float, bx: float, by: float) -> bool:
    """Return whether the segment from a to b passes within `reach` of the point."""
    ux, uy = bx - ax, by - ay
    t = ((px - ax) * ux + (py - ay) * uy) / max(ux * ux + uy * uy, 1e-12)
    t = min(max(t, 0.0), 1.0)
    return bool((ax + t * ux - px) ** 2 + (ay + t * uy - py) ** 2 < reach * reach)


# rasters -------------------------------------------------------------------------------------------
@compiled
def _measure_rows(
    some: Shorts, beads: Beads, chains: Chains, plan: Plan, grid: Grid, z: float, height: float, bridge: Bytes
) -> None:
    """Of each raster chain: how solid it lies, how much of it faces the outside, how much of it bridges a gap."""
    low = z - 2 * height - SUPPORTED_GAP_MM
    scale = 1.0 / (plan.cell * plan.cell)
    label, filled, room, top, x, y = grid.label, grid.filled, grid.room, grid.top, beads.x, beads.y
    for c in some:
        if chains.k[c, CLOSED]:
            continue
        fill = weight = air = bridged = 0.0
        for n in range(chains.k[c, FIRST], chains.k[c, LAST]):
            if beads.chain[n] != c:
                continue
            px, py = (x[n] - plan.x0) / plan.cell, (y[n] - plan.y0) / plan.cell
            dx, dy = (x[n + 1] - plan.x0) / plan.cell - px, (y[n + 1] - plan.y0) / plan.cell - py
            length = math.sqrt(dx * dx + dy * dy) * plan.cell
            if length <= 0:
                continue
            steps = min(int(length / max(ROW_STEP_MM, plan.cell)) + 1, ROW_SAMPLES)
            piece, share = length / steps, 1.0 / steps
            for s in range(steps):
                t = (s + 0.5) * share
                i, j = int(px + t * dx), int(py + t * dy)
                if s & 1 == 0:
                    part = piece * min(2, steps - s)
                    fill += part * _fill_at(filled, room, i >> HALF, j >> HALF)
                if label[i - 1, j] == OUT or label[i + 1, j] == OUT or label[i, j - 1] == OUT or label[i, j + 1] == OUT:
                    air += piece
            weight += length
            if (_hanging(top, px, py, dx, dy, steps, low) - 1) * piece > max(SHORTEST_BRIDGE_MM, 2.5 * plan.cell):
                bridge[n] = 1
                bridged += length
        got = chains.got[c]
        got[FILL], got[WEIGHT], got[AIR], got[BRIDGED] = scale * fill, weight, air / max(weight, 1e-9), bridged


@compiled
def _fill_at(filled: Singles, room: Singles, bi: int, bj: int) -> float:
    """Return plan filled by rasters over cells of room in the blocks around."""
    laid = cells = 0.0
    for i in range(max(bi - 1, 0), min(bi + 2, filled.shape[0])):
        for j in range(max(bj - 1, 0), min(bj + 2, filled.shape[1])):
            laid += filled[i, j]
            cells += room[i, j]
    return laid / cells if cells > 0 else 0.0


@compiled
def _hanging(top: Singles, px: float, py: float, dx: float, dy: float, steps: int, low: float) -> int:
    """Return the most samples in a row below which nothing lies, between two places where something does."""
    widest, hangs = 0, 0
    held = False
    share = 1.0 / steps
    for s in range(steps):
        t = (s + 0.5) * share
        if top[int(px + t * dx), int(py + t * dy)] >= low:
            if hangs > widest and (held or _is_held(top, int(px), int(py), low)):
                widest = hangs
            hangs, held = 0, True
        else:
            hangs += 1
    if hangs > widest and _is_held(top, int(px + dx), int(py + dy), low):  # noqa: SIM102 — the second is dear
        if held or _is_held(top, int(px), int(py), low):
            widest = hangs
    return widest


@compiled
def _is_held(top: Singles, i: int, j: int, low: float) -> bool:
    """Return whether plastic lies below the cell or one beside it."""
    for a in range(max(i - 1, 0), min(i + 2, top.shape[0])):
        for b in range(max(j - 1, 0), min(j + 2, top.shape[1])):
            if top[a, b] >= low:
                return True
    return False


# islands -------------------------------------------------------------------------------------------
@compiled
def _judge_islands(some: Shorts, chains: Chains, islands: Islands, first: int, count: int) -> None:
    """An island is bare when no loop holds its raster."""
    for c in some:
        if not chains.k[c, CLOSED]:
            mine = chains.island[c]
            islands.f[mine, RASTER_MM] += chains.f[c, LENGTH]
            islands.f[mine, EXPOSED_MM] += chains.f[c, LENGTH] * chains.got[c, AIR]
    for s in range(first, count):
        raster = islands.f[s, RASTER_MM]
        islands.k[s, BARE] = raster > 0 and (islands.k[s, LOOPS] == 0 or islands.f[s, EXPOSED_MM] > EXPOSED * raster)


@compiled
def _keep_first(grid: Grid, window: Ints, chains: Chains) -> None:
    """Keep which chains of the first layer pass where, until the next layer shows which of them it stands on."""
    for i in range(window[0], window[1]):
        for j in range(window[2], window[3]):
            a = grid.label[i, j]
            grid.first[i, j] = a
            if a > 0:
                chains.got[a - 1, PASSED] += 1


@compiled
def _cover(first: int, a: int, mine: int, chains: Chains) -> None:
    """Count that island `mine`, here with label `a`, covers a cell of a chain of the first layer.

    Which island covers most of the chain is found by a majority vote in one pass: a candidate and its lead.
    """
    if first <= 0:
        return
    c = first - 1
    chains.got[c, COVERED] += 1
    if a > 0 and chains.k[a - 1, CLOSED] and chains.got[a - 1, AIR] >= BESIDE_AIR:
        chains.got[c, COVERED_BY_OUTER] += 1
    if chains.above[c, 1] == 0:
        chains.above[c, 0] = mine
    chains.above[c, 1] += 1 if chains.above[c, 0] == mine else -1


@compiled
def _rise(grid: Grid, window: Ints, chains: Chains, islands: Islands, z: float, height: float) -> bool:
    """Carry the layer into the columns: islands that touch join, a gap below another piece is counted.

    Islands of the first layer do not join: a brim would tie supports to the part. Return whether the layer has a
    bare island.
    """
    label, top, owner, k, island = grid.label, grid.top, grid.owner, islands.k, chains.island
    some_bare = False
    near, touching = NEAR_GAP_MM + height, CONTACT * height + 0.02
    for i in range(window[0] + 1, window[1] - 1):
        last, mine, last_under, is_bare = 0, 0, -1, False
        for j in range(window[2] + 1, window[3] - 1):
            a = label[i, j]
            if a == OUT or a == 0:
                continue
            if a != last:
                mine, last, last_under = island[a - 1] if a > 0 else -a - 2, a, -1
                is_bare = k[mine, BARE] == 1
                some_bare |= is_bare
            k[mine, CELLS] += 1
            if is_bare:
                grid.near[i >> HALF, j >> HALF] = 1
            under = owner[i, j]
            if under >= 0 and under != last_under and z - top[i, j] <= near:
                touches = z - top[i, j] <= touching
                if touches and k[under, ISLAND_LAYER] == 0:
                    _cover(grid.first[i, j], a, mine, chains)
                elif touches and is_bare == k[under, BARE]:
                    union(islands.tree, mine, under)
                    last_under = under
                else:
                    k[under, TOUCHED if touches else UNDER] += 1
                    k[under, UNDER_WHOM] = mine
            owner[i, j] = mine
            top[i, j] = z
    return some_bare


@compiled
def _carry_between_rows(grid: Grid, window: Ints, z: float) -> None:
    """Free cells beside the rows of a bare raster carry what comes above: the rows are close enough for that."""
    near = grid.near
    for bi in range((window[0] >> HALF), (window[1] >> HALF) + 1):
        for bj in range((window[2] >> HALF), (window[3] >> HALF) + 1):
            if near[bi, bj] == 1:
                for a in range(max(bi - CARRY, 0), bi + CARRY + 1):
                    for b in range(max(bj - CARRY, 0), bj + CARRY + 1):
                        near[a, b] |= 2
    for i in range(window[0] + 1, window[1] - 1):
        for j in range(window[2] + 1, window[3] - 1):
            if near[i >> HALF, j >> HALF] >= 2 and (grid.label[i, j] == OUT or grid.label[i, j] == 0):
                grid.top[i, j] = z
                grid.owner[i, j] = -1
