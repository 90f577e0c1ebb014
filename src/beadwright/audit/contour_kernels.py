"""Kernels that hold each layer's contours against what lies below: overhang, air, bridges, and gaps over support.

Distances between contours are exact: the segments of the layer below are listed by block and the nearest is found.
Which side of a contour is plastic comes from a plan grid in which each layer's outer contours are filled by even and
odd crossings, so holes come out as holes. The grid also keeps, per cell, the height of the part and of the support
laid last, so layers of objects printed one by one do not mislead one another. Lengths mm.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.compiled import compiled

Array = NDArray[Any]

OUTER, SPARSE, BRIDGE, SUPPORT, BRIM, RAFT, TOWER = 1, 4, 5, 6, 7, 9, 10  # `Role`
HOLDING = 1.6  # layer heights within which plastic below holds a bead
SUPPORT_REACH_MM = 0.9  # highest gap over a support that still holds
SAMPLE_MM = 2.0
SUPPORT_BLOCK_MM = 2.5  # supports are laid in lines: what lies within a block of one rests on it
GAP_STEP_MM = 0.01
GAP_BINS = 300
BESIDE_MM = 0.75  # two beads or less beside the edge below
LONG_MM = 2.0  # shorter beads bridge nothing
OPEN_MM = 2.0  # a contour that stops short of its start by less is closed

# columns of the table per layer
AREA, OUTER_MM, OVER_45, OVER_60, IN_AIR, SPAN, BRIDGED, XY_GAP, JUDGED = range(9)


@compiled
def hold_against_below(
    x: Array, y: Array, start: Array, role: Array, chain: Array, island: Array, width: Array, beads: Array,
    edges: Array, z: Array, height: Array, windows: Array, corner: Array, cell: float, shape: Array, islands: int,
) -> tuple[Array, Array, Array, Array, Array]:  # fmt: skip
    """Return a table per layer (k, 9); overhang [°] of each bead (n,) float32, NaN where not judged; longest span of
    each bead over air (n,) float32; counts of gaps in steps of 0.01 mm over support and raft (2, 300); and of each
    island (s, 2) bead length, and length with plastic below.

    `beads` are move indices sorted by layer in runs between `edges`; `windows` (k, 4) i0 i1 j0 j1 hold each layer's
    beads with three free cells all round, `corner` the grid's low corner. Area: enclosed by outer contours' middle
    lines. XY_GAP: least clear distance between support and part, NaN without.
    """
    count, nx, ny = len(edges) - 1, shape[0], shape[1]
    table = np.zeros((count, 9))
    table[:, XY_GAP] = math.nan
    angle = np.full(len(x), math.nan, np.float32)
    span = np.zeros(len(x), np.float32)
    gaps = np.zeros((2, GAP_BINS), np.int64)
    held = np.zeros((islands, 2), np.float32)
    masks = np.zeros((2, nx, ny), np.uint8)  # this layer and the one below, in turn
    supported = False
    top = np.full((nx, ny), -1e9, np.float32)
    under = np.full((nx, ny), -1e9, np.float32)  # support
    is_raft = np.zeros((nx, ny), np.uint8)
    size = max(1.0, 2 * cell)  # of a block
    bx, by = int(nx * cell / size) + 2, int(ny * cell / size) + 2
    sx, sy = int(nx * cell / SUPPORT_BLOCK_MM) + 2, int(ny * cell / SUPPORT_BLOCK_MM) + 2
    near = np.full((sx, sy), -1e9, np.float32)  # support, by block
    heads = np.full((2, bx, by), -1, np.int32)
    lists = np.zeros((2, 4096, 2), np.int32)
    used = np.zeros(2, np.int64)
    for k in range(count):
        now, old = k % 2, 1 - k % 2
        first, last = edges[k], edges[k + 1]
        window = windows[k]
        heads[now] = -1
        used[now] = 0
        mask, below = masks[now], masks[old]
        if k > 1:
            w = windows[k - 2]
            mask[w[0] : w[1], w[2] : w[3]] = 0
        lists = _list_contours(
            x, y, start, role, chain, beads, first, last, corner, cell, size, mask, heads, lists, used, now
        )
        low = z[k] - HOLDING * height[k]
        _fill(mask, window, cell, table, k)
        if k > 0:
            _judge_beads(
                x, y, start, role, island, beads, first, last, z, height, corner, cell, size, below, top, near, heads,
                lists, old, low, k, angle, span, held, table,
            )  # fmt: skip
        else:
            for at in range(first, last):
                if island[beads[at]] >= 0:
                    held[island[beads[at]]] += 1
        _gap_aside(x, y, start, role, width, beads, first, last, corner, size, heads, lists, now, k, table)
        if supported:
            _count_gaps(mask, window, under, top, is_raft, z[k] - height[k], gaps)
        _raise(mask, window, top, z[k])
        laid = _lay_support(x, y, start, role, beads, first, last, z[k], corner, cell, under, is_raft, near)
        supported = supported or laid
    return table, angle, span, gaps, held


@compiled
def _count_gaps(mask: Array, window: Array, under: Array, top: Array, is_raft: Array, base: float, gaps: Array) -> None:
    """Count the gaps between this layer's underside and support that no part covers yet."""
    for i in range(window[0], window[1]):
        for j in range(window[2], window[3]):
            if mask[i, j] and under[i, j] > top[i, j]:
                gap = int((base - under[i, j]) / GAP_STEP_MM + 0.5)
                if 0 <= gap < GAP_BINS:
                    gaps[is_raft[i, j], gap] += 1


@compiled
def _raise(mask: Array, window: Array, top: Array, z: float) -> None:
    """Note how high the part now lies."""
    for i in range(window[0], window[1]):
        for j in range(window[2], window[3]):
            if mask[i, j]:
                top[i, j] = z


@compiled
def _from(x: Array, y: Array, start: Array, m: int) -> tuple[float, float]:
    """Where move `m` begins."""
    if m > 0:
        return x[m - 1], y[m - 1]
    return start[0], start[1]


@compiled
def _list_contours(
    x: Array, y: Array, start: Array, role: Array, chain: Array, beads: Array, first: int, last: int, corner: Array,
    cell: float, size: float, mask: Array, heads: Array, lists: Array, used: Array, now: int,
) -> Array:  # fmt: skip
    """List a layer's outer contours by block, cross the rows of the grid with those that close, and mark the cells
    that all of them pass (2); return the lists, grown where they had to be.
    """
    at = first
    while at < last:
        m = beads[at]
        if role[m] != OUTER:
            at += 1
            continue
        end = at
        length = 0.0
        while end < last and role[beads[end]] == OUTER and chain[beads[end]] == chain[m]:
            ax, ay = _from(x, y, start, beads[end])
            length += math.hypot(x[beads[end]] - ax, y[beads[end]] - ay)
            end += 1
        sx, sy = _from(x, y, start, m)
        e = beads[end - 1]
        gap = math.hypot(x[e] - sx, y[e] - sy)
        closed = gap < OPEN_MM and gap < 0.1 * length
        for q in range(at, end):
            n = beads[q]
            ax, ay = _from(x, y, start, n)
            if used[now] + 64 > lists.shape[1]:
                more = np.zeros((2, 2 * lists.shape[1], 2), np.int32)
                more[:, : lists.shape[1]] = lists
                lists = more
            lists = _enter(
                n, ax - corner[0], ay - corner[1], x[n] - corner[0], y[n] - corner[1], size, heads, lists, used, now
            )
            if closed:
                cross(
                    mask,
                    (ax - corner[0]) / cell,
                    (ay - corner[1]) / cell,
                    (x[n] - corner[0]) / cell,
                    (y[n] - corner[1]) / cell,
                )
        if closed and gap > 0:
            cross(
                mask,
                (x[e] - corner[0]) / cell,
                (y[e] - corner[1]) / cell,
                (sx - corner[0]) / cell,
                (sy - corner[1]) / cell,
            )
        if not closed:
            for q in range(at, end):
                n = beads[q]
                ax, ay = _from(x, y, start, n)
                _strike(
                    mask,
                    (ax - corner[0]) / cell,
                    (ay - corner[1]) / cell,
                    (x[n] - corner[0]) / cell,
                    (y[n] - corner[1]) / cell,
                )
        at = end
    return lists


@compiled
def _enter(
    n: int, ax: float, ay: float, qx: float, qy: float, size: float, heads: Array, lists: Array, used: Array, now: int
) -> Array:
    """List segment `n` in every block it passes (sampled at half a block)."""
    steps = int(2 * max(abs(qx - ax), abs(qy - ay)) / size) + 1
    bi = bj = -1
    for s in range(steps + 1):
        t = s / steps
        i, j = int((ax + t * (qx - ax)) / size), int((ay + t * (qy - ay)) / size)
        if i == bi and j == bj:
            continue
        bi, bj = i, j
        if not (0 <= i < heads.shape[1] and 0 <= j < heads.shape[2]):
            continue
        if used[now] == lists.shape[1]:
            more = np.zeros((2, 2 * lists.shape[1], 2), np.int32)
            more[:, : lists.shape[1]] = lists
            lists = more
        entry = used[now]
        lists[now, entry, 0] = n
        lists[now, entry, 1] = heads[now, i, j]
        heads[now, i, j] = entry
        used[now] = entry + 1
    return lists


@compiled
def cross(mask: Array, px: float, py: float, qx: float, qy: float) -> None:
    """Turn, in each row whose middle the segment crosses, the first cell beyond the crossing (bit 1)."""
    if px > qx:
        px, py, qx, qy = qx, qy, px, py
    for i in range(math.ceil(px - 0.5), math.ceil(qx - 0.5)):
        y = py + (i + 0.5 - px) / (qx - px) * (qy - py)
        j = math.ceil(y - 0.5)
        if 0 <= i < mask.shape[0] and 0 <= j < mask.shape[1]:
            mask[i, j] ^= 1


@compiled
def _strike(mask: Array, px: float, py: float, qx: float, qy: float) -> None:
    """Mark the cells a line without area passes (bit 2)."""
    count = int(2 * max(abs(qx - px), abs(qy - py))) + 1
    for n in range(count + 1):
        t = n / count
        i, j = int(px + t * (qx - px)), int(py + t * (qy - py))
        if 0 <= i < mask.shape[0] and 0 <= j < mask.shape[1]:
            mask[i, j] |= 2


@compiled
def _fill(mask: Array, window: Array, cell: float, table: Array, k: int) -> None:
    """Turn crossings into cells inside (1), and count their area."""
    cells = 0
    for i in range(window[0], window[1]):
        inside = 0
        for j in range(window[2], window[3]):
            inside ^= mask[i, j] & 1
            cells += inside
            mask[i, j] = 1 if inside or mask[i, j] & 2 else 0
    table[k, AREA] = cells * cell * cell


@compiled
def _nearest(
    px: float, py: float, x: Array, y: Array, start: Array, corner: Array, size: float, head: Array, entries: Array,
    reach: int,
) -> tuple[int, float, float, float, float]:  # fmt: skip
    """Return the nearest listed segment within `reach` blocks: its move or −1, distance, foot, and how far along."""
    best, found, fx, fy, ft = math.inf, -1, 0.0, 0.0, 0.0
    ci, cj = int((px - corner[0]) / size), int((py - corner[1]) / size)
    for i in range(max(ci - reach, 0), min(ci + reach + 1, head.shape[0])):
        for j in range(max(cj - reach, 0), min(cj + reach + 1, head.shape[1])):
            at = head[i, j]
            while at >= 0:
                n = entries[at, 0]
                at = entries[at, 1]
                ax, ay = _from(x, y, start, n)
                ux, uy = x[n] - ax, y[n] - ay
                t = ((px - ax) * ux + (py - ay) * uy) / max(ux * ux + uy * uy, 1e-12)
                t = min(max(t, 0.0), 1.0)
                dx, dy = ax + t * ux - px, ay + t * uy - py
                square = dx * dx + dy * dy
                if square < best:
                    best, found, fx, fy, ft = square, n, px + dx, py + dy, t
    if best > (reach * size) ** 2:
        return -1, math.inf, 0.0, 0.0, 0.0
    return found, math.sqrt(best), fx, fy, ft


@compiled
def _at(mask: Array, px: float, py: float, corner: Array, cell: float) -> int:
    i, j = int((px - corner[0]) / cell), int((py - corner[1]) / cell)
    if 0 <= i < mask.shape[0] and 0 <= j < mask.shape[1]:
        return int(mask[i, j])
    return 0


@compiled
def _part_below(top: Array, px: float, py: float, corner: Array, cell: float, low: float, reach: int) -> bool:
    """Whether the part lies below within `reach` cells."""
    ci, cj = int((px - corner[0]) / cell), int((py - corner[1]) / cell)
    for i in range(max(ci - reach, 0), min(ci + reach + 1, top.shape[0])):
        for j in range(max(cj - reach, 0), min(cj + reach + 1, top.shape[1])):
            if top[i, j] >= low:
                return True
    return False


@compiled
def _support_below(near: Array, px: float, py: float, corner: Array, low: float) -> bool:
    """Whether support lies below within a block."""
    ci, cj = int((px - corner[0]) / SUPPORT_BLOCK_MM), int((py - corner[1]) / SUPPORT_BLOCK_MM)
    for i in range(max(ci - 1, 0), min(ci + 2, near.shape[0])):
        for j in range(max(cj - 1, 0), min(cj + 2, near.shape[1])):
            if near[i, j] >= low:
                return True
    return False


@compiled
def _beyond(
    px: float, py: float, x: Array, y: Array, start: Array, corner: Array, cell: float, size: float, below: Array,
    top: Array, low: float, head: Array, entries: Array,
) -> float:  # fmt: skip
    """How far a contour's point lies outside the contour below, negative inside; inf over air, NaN not to be told."""
    found, distance, fx, fy, t = _nearest(px, py, x, y, start, corner, size, head, entries, 1)
    inside = _at(below, px, py, corner, cell) > 0
    if found < 0:
        if inside or _part_below(top, px, py, corner, cell, low, 0):
            return -size
        return math.nan if _part_below(top, px, py, corner, cell, low, 2) else math.inf
    if 1e-6 < t < 1 - 1e-6:
        ax, ay = _from(x, y, start, found)
        ux, uy = x[found] - ax, y[found] - ay
        length = max(math.hypot(ux, uy), 1e-9)
        vx, vy = -uy / length, ux / length
        far = 1.3 * cell
        left, right = (
            _at(below, fx + far * vx, fy + far * vy, corner, cell),
            _at(below, fx - far * vx, fy - far * vy, corner, cell),
        )
        if left != right:
            on_left = (px - fx) * vx + (py - fy) * vy > 0
            inside = on_left == (left > right)
    return -distance if inside else distance


@compiled
def _judge_beads(
    x: Array, y: Array, start: Array, role: Array, island: Array, beads: Array, first: int, last: int, z: Array,
    height: Array, corner: Array, cell: float, size: float, below: Array, top: Array, near: Array, heads: Array,
    lists: Array, old: int, low: float, k: int, angle: Array, span: Array, held: Array, table: Array,
) -> None:  # fmt: skip
    """Overhang of outer contours, spans over air, and whether islands rest on anything."""
    on_support = z[k] - height[k] - SUPPORT_REACH_MM
    for at in range(first, last):
        m = beads[at]
        what = role[m]
        if what == 0 or what >= BRIM:
            continue
        ax, ay = _from(x, y, start, m)
        ux, uy = x[m] - ax, y[m] - ay
        length = math.hypot(ux, uy)
        if not length > 0:
            continue
        if what == OUTER:
            _overhang(
                m, ax, ay, ux, uy, length, x, y, start, corner, cell, size, below, top, near, heads[old], lists[old],
                low, on_support, height[k], angle, table, k,
            )  # fmt: skip
        if what != SUPPORT and what != SPARSE and length > LONG_MM:
            widest = _widest(ax, ay, ux, uy, length, corner, cell, top, near, low, on_support)
            span[m] = widest
            table[k, SPAN] = max(table[k, SPAN], widest)
            if widest > LONG_MM:
                table[k, BRIDGED] += length
        if what != SUPPORT and island[m] >= 0:
            px, py = ax + 0.5 * ux, ay + 0.5 * uy
            rests = _part_below(top, px, py, corner, cell, low, 1) or _support_below(near, px, py, corner, on_support)
            held[island[m], 0] += length
            if rests or span[m] > 0:
                held[island[m], 1] += length


@compiled
def _overhang(
    m: int, ax: float, ay: float, ux: float, uy: float, length: float, x: Array, y: Array, start: Array, corner: Array,
    cell: float, size: float, below: Array, top: Array, near: Array, head: Array, entries: Array, low: float,
    on_support: float, height: float, angle: Array, table: Array, k: int,
) -> None:  # fmt: skip
    """Judge one outer bead by samples at most 2 mm apart; its angle is the steepest of them."""
    steps = int(length / SAMPLE_MM) + 1
    piece = length / steps
    spans = length > LONG_MM and _widest(ax, ay, ux, uy, length, corner, cell, top, near, low, on_support) > LONG_MM
    for s in range(steps):
        t = (s + 0.5) / steps
        px, py = ax + t * ux, ay + t * uy
        table[k, OUTER_MM] += piece
        out = _beyond(px, py, x, y, start, corner, cell, size, below, top, low, head, entries)
        if math.isnan(out):
            continue
        table[k, JUDGED] += piece
        degrees = math.degrees(math.atan(max(out, 0.0) / height))
        if degrees > 45.0 and ((spans and out > BESIDE_MM) or _support_below(near, px, py, corner, on_support)):
            degrees = 0.0
        if math.isnan(angle[m]) or degrees > angle[m]:
            angle[m] = degrees
        table[k, OVER_45] += piece * (degrees > 45.5)
        table[k, OVER_60] += piece * (degrees > 60.5)
        table[k, IN_AIR] += piece * (degrees > 89.0)


@compiled
def _widest(
    ax: float, ay: float, ux: float, uy: float, length: float, corner: Array, cell: float, top: Array, near: Array,
    low: float, on_support: float,
) -> float:  # fmt: skip
    """Longest stretch of a straight bead over air that is held at both its ends, mm."""
    steps = int(length / max(2.0, 2 * cell)) + 1
    px, py = (ax - corner[0]) / cell, (ay - corner[1]) / cell
    dx, dy = ux / cell / steps, uy / cell / steps
    firm = True
    for _ in range(steps + 1):  # a look every other millimetre is enough where all of it rests on plastic
        if not top[int(px), int(py)] >= low:
            firm = False
            break
        px, py = px + dx, py + dy
    if firm:
        return 0.0
    steps = int(length / max(0.5, cell)) + 1
    reach = max(1, int(BESIDE_MM / cell + 0.5))  # what leans out beside an edge below is no bridge
    held_at, widest = -1, 0
    for s in range(steps + 1):
        t = s / steps
        px, py = ax + t * ux, ay + t * uy
        if _part_below(top, px, py, corner, cell, low, reach) or _support_below(near, px, py, corner, on_support):
            if held_at >= 0 and s - held_at > 1:
                widest = max(widest, s - held_at)
            held_at = s
    return widest * length / steps + 2 * (reach - 0.5) * cell if widest > 0 else 0.0


@compiled
def _gap_aside(
    x: Array, y: Array, start: Array, role: Array, width: Array, beads: Array, first: int, last: int, corner: Array,
    size: float, heads: Array, lists: Array, now: int, k: int, table: Array,
) -> None:  # fmt: skip
    """Least clear distance between this layer's support and its outer contours."""
    for at in range(first, last):
        m = beads[at]
        if role[m] != SUPPORT:
            continue
        ax, ay = _from(x, y, start, m)
        for s in range(3):
            px, py = ax + 0.5 * s * (x[m] - ax), ay + 0.5 * s * (y[m] - ay)
            n, distance, _, _, _ = _nearest(px, py, x, y, start, corner, size, heads[now], lists[now], 2)
            if n >= 0:
                clear = distance - 0.5 * (width[m] + width[n])
                if not table[k, XY_GAP] <= clear:
                    table[k, XY_GAP] = clear


@compiled
def _lay_support(
    x: Array, y: Array, start: Array, role: Array, beads: Array, first: int, last: int, z: float, corner: Array,
    cell: float, under: Array, is_raft: Array, near: Array,
) -> bool:  # fmt: skip
    """Note how high support and raft lie; return whether there are any."""
    any_laid = False
    for at in range(first, last):
        m = beads[at]
        if role[m] != SUPPORT and role[m] != RAFT:
            continue
        any_laid = True
        ax, ay = _from(x, y, start, m)
        steps = int(2 * max(abs(x[m] - ax), abs(y[m] - ay)) / cell) + 1
        for s in range(steps + 1):
            t = s / steps
            px, py = ax + t * (x[m] - ax) - corner[0], ay + t * (y[m] - ay) - corner[1]
            i, j = int(px / cell), int(py / cell)
            if 0 <= i < under.shape[0] and 0 <= j < under.shape[1]:
                under[i, j] = z
                is_raft[i, j] = role[m] == RAFT
                near[int(px / SUPPORT_BLOCK_MM), int(py / SUPPORT_BLOCK_MM)] = z
    return any_laid
