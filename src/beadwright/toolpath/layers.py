"""Layers from the heights of the beads alone; comments have no say.

A layer is a level in z at which beads lie, however often the head comes back to it: objects printed one by
one share their levels, and `restarts` says where the head went down again. Lifts on travels do not count,
since only beads do. The rules are our own; common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import FloatColumn, IntColumn, Toolpath

NOISE_MM = 0.02  # steps in z below this are no layer
SLOPE_SLACK_MM = 1e-3  # a sloping bead that rises no more above a level lies in it
HEIGHT_DEFAULT_MM = 0.2
HEIGHT_RANGE_MM = (0.05, 0.6)
PRIMING_SHARE = 0.05  # of all path: beads before the first layer that may be a priming line
PRIMING_STRIP_MM = 6.0  # such a line lies in a strip no wider, apart from all that is laid later
THINNEST_STEP_MM = 0.045  # steps from here on are layers: none is laid thinner than 0.05 mm
CLEAR_GAP = 3.0  # gaps between layers are this many times wider than those within one


@dataclass(frozen=True)
class Layers:
    """The layers of a toolpath, bottom up."""

    index: IntColumn  # (n,) 0-based layer of each move; -1 before the first bead, after the last, for priming
    z_mm: FloatColumn  # (k,) height of the level, mean by path length where it varies
    height_mm: FloatColumn  # (k,) above the level below, the bed for the first
    first_move: IntColumn  # (k,)
    last_move: IntColumn  # (k,)
    restarts: IntColumn  # (r,) moves at which beads go on two levels down or more: the next object begins
    continuous: bool  # z rises all along the path (vase mode): a layer is a turn

    def __len__(self) -> int:
        return len(self.z_mm)


@dataclass(frozen=True)
class _Beads:
    """Where each bead begins and ends."""

    move: IntColumn
    low: FloatColumn  # z at its start
    z: FloatColumn  # z at its end
    length: FloatColumn

    def part(self, first: int, last: int) -> _Beads:
        """Return the beads from `first` up to `last`."""
        some = slice(first, last)
        return _Beads(self.move[some], self.low[some], self.z[some], self.length[some])

    def __len__(self) -> int:
        return len(self.move)


def find_layers(toolpath: Toolpath) -> Layers:
    """Return the layers of `toolpath`; travels and retractions belong to the layer of the next bead."""
    beads = _beads(toolpath)
    if not len(beads):
        return _layers(len(toolpath), beads, np.empty(0, np.int32), np.empty(0), False)
    primed = max(_priming(beads), _priming_below(toolpath, beads))
    printed = beads.part(primed, len(beads))
    first, last = _spiral(printed)
    layer, z = _with_spiral(toolpath, printed, first, last) if first < last else _levels_of_flat(printed)
    layer = np.concatenate([np.full(primed, -1, np.int32), layer])
    return _layers(len(toolpath), beads, layer, z, first < last)


def _beads(toolpath: Toolpath) -> _Beads:
    from beadwright.toolpath.beads import bead_columns  # compiles, so not before it is needed

    ends = (toolpath.x, toolpath.y, toolpath.z)
    return _Beads(*bead_columns(*ends, toolpath.kind, toolpath.start))


def _spiral(beads: _Beads) -> tuple[int, int]:
    """Return the range of beads in which z rises along nearly all the path; an empty one where there is
    none.
    """
    rise = beads.z - beads.low
    sloped = np.flatnonzero(np.abs(rise) > 1e-6)
    if not len(sloped):
        return 0, 0
    first, last = int(sloped[0]), int(sloped[-1]) + 1
    part, rises = beads.length[first:last], rise[first:last]
    up, down = rises[rises > 0].sum(), -rises[rises < 0].sum()
    along = part[np.abs(rises) > 1e-6].sum() / max(part.sum(), 1e-12)
    # a helix is flat: it rises by a layer while it goes all round the part
    gentle = up < 0.2 * part.sum()
    share = part.sum() / max(beads.length.sum(), 1e-12)
    is_spiral = along > 0.8 and down < 0.1 * up and up > 0.5 and gentle and share > 0.1
    return (first, last) if is_spiral else (0, 0)


def _with_spiral(toolpath: Toolpath, beads: _Beads, first: int, last: int) -> tuple[IntColumn, FloatColumn]:
    """Return layers and levels where beads `first` to `last` wind upward: each turn is a layer."""
    below, levels = _levels(beads.part(0, first)) if first else (np.empty(0, np.int32), np.empty(0))
    base = float(beads.low[first])
    turn = _rise_per_turn(toolpath, beads.part(first, last), levels)
    middle = 0.5 * (beads.low[first:] + beads.z[first:])
    turns = np.maximum(np.floor((middle - base) / turn), 0).astype(np.int32)
    count = int(turns.max()) + 1
    z = np.concatenate([levels, base + turn * np.arange(1, count + 1)])
    return _packed(np.concatenate([below, len(levels) + turns]).astype(np.int32), z)


def _rise_per_turn(toolpath: Toolpath, spiral: _Beads, levels: FloatColumn) -> float:
    """Return how far z rises while the path winds once round its centroid."""
    weight = np.maximum(spiral.length, 1e-12)
    x, y = toolpath.x[spiral.move], toolpath.y[spiral.move]
    x, y = x - np.average(x, weights=weight), y - np.average(y, weights=weight)
    step = np.diff(np.arctan2(y, x))
    turns = abs(float(((step + math.pi) % (2 * math.pi) - math.pi).sum())) / (2 * math.pi)
    rise = float(spiral.z[-1] - spiral.z[0])
    if turns >= 2 and HEIGHT_RANGE_MM[0] / 2 <= rise / turns <= 2 * HEIGHT_RANGE_MM[1]:
        return rise / turns
    return float(np.median(np.diff(levels))) if len(levels) > 1 else HEIGHT_DEFAULT_MM


def _levels_of_flat(beads: _Beads) -> tuple[IntColumn, FloatColumn]:
    """Return the level of each bead, from the flat ones where they are most of the path.

    A bead that slopes between levels (a seam laid as a ramp, a wavy top) belongs to the level above it.
    """
    flat = np.abs(beads.z - beads.low) <= 1e-6
    if flat.all() or beads.length[flat].sum() < 0.5 * beads.length.sum():
        return _levels(beads)
    some = np.flatnonzero(flat)
    level, z = _levels(_Beads(beads.move[some], beads.low[some], beads.z[some], beads.length[some]))
    out = np.empty(len(beads), np.int32)
    out[some] = level
    sloped = np.flatnonzero(~flat)
    highest = np.maximum(beads.z[sloped], beads.low[sloped])
    out[sloped] = np.minimum(np.searchsorted(z, highest - SLOPE_SLACK_MM), len(z) - 1)
    return out, z


def _levels(beads: _Beads) -> tuple[IntColumn, FloatColumn]:
    """Return the level of each bead, and the levels' heights from below."""
    begin = np.concatenate([[0], np.flatnonzero(np.diff(beads.z)) + 1])  # runs of one height
    height, length = beads.z[begin], np.add.reduceat(beads.length, begin)
    order = np.argsort(height, kind="stable")
    gap = np.diff(height[order])
    parting, is_clear = _parting_gap(gap)
    rank = np.concatenate([[0], np.cumsum(gap > parting)])
    level = np.empty(len(height), np.int32)
    level[order] = rank
    sloped = beads.length[np.abs(beads.z - beads.low) > 1e-6].sum()
    wanders = sloped > 0.5 * beads.length.sum() and not is_clear
    if wanders or _is_smeared(height[order], rank):
        level, height = _bins(height)
        return np.repeat(level, np.diff([*begin, len(beads)])).astype(np.int32), height
    weight = np.bincount(level, length)
    plain = np.bincount(level, height) / np.bincount(level)
    mean = np.where(weight > 0, np.bincount(level, length * height) / np.where(weight > 0, weight, 1), plain)
    return np.repeat(level, np.diff([*begin, len(beads)])).astype(np.int32), mean


def _parting_gap(gap: FloatColumn) -> tuple[float, bool]:
    """Return the gap in z beyond which two beads lie in different layers, and whether it stands out from
    noise.

    A quarter of the typical layer height; where z is noisy (a levelling correction baked in), the middle of
    the clear step between the many gaps within layers and the few between them.
    """
    steps = gap[gap > NOISE_MM]
    if not len(steps):
        return NOISE_MM, False
    crumbs = gap[(gap > 1e-6) & (gap <= NOISE_MM)]
    if len(crumbs) <= len(steps):
        return min(0.25 * float(np.median(steps)), THINNEST_STEP_MM), False
    wide = np.sort(gap[gap > 1e-6])[::-1]
    ratio = wide[:-1] / wide[1:]
    ratio[wide[:-1] < NOISE_MM] = 0.0
    at = int(np.argmax(ratio))
    if ratio[at] < CLEAR_GAP:
        return max(0.25 * float(np.median(steps)), NOISE_MM), False
    return math.sqrt(wide[at] * wide[at + 1]), True


def _is_smeared(height: FloatColumn, rank: NDArray[np.intp]) -> bool:
    """Return whether levels found in sorted heights run into one another, z wandering over more than one."""
    first = np.flatnonzero(np.diff(rank, prepend=-1))
    last = np.append(first[1:], len(rank)) - 1
    spread = height[last] - height[first]
    between = np.diff(0.5 * (height[first] + height[last]))
    typical = float(np.median(between)) if len(between) else 0.0
    return bool(spread.max() > max(HEIGHT_RANGE_MM[1], 2 * typical))


def _bins(height: FloatColumn) -> tuple[IntColumn, FloatColumn]:
    """Return levels of equal height for a path that is not planar: as high as the first, within the usual
    range.
    """
    lowest = float(height.min())
    size = lowest if HEIGHT_RANGE_MM[0] <= lowest <= HEIGHT_RANGE_MM[1] else HEIGHT_DEFAULT_MM
    level = np.floor((height - lowest) / size + 0.5).astype(np.int64)
    used, level = np.unique(level, return_inverse=True)
    return level.astype(np.int32), np.asarray(lowest + size * used, np.float64)


def _priming(beads: _Beads) -> int:
    """Return how many beads at the beginning are a priming line.

    That is a short stretch at one height, from which the head goes down to the first layer.
    """
    down = np.flatnonzero(beads.low[1:] < beads.z[:-1] - NOISE_MM)
    if not len(down):
        return 0
    head = int(down[0]) + 1
    level = np.ptp(beads.z[:head]) <= NOISE_MM
    return head if level and beads.length[:head].sum() <= PRIMING_SHARE * beads.length.sum() else 0


def _priming_below(toolpath: Toolpath, beads: _Beads) -> int:
    """Return how many beads at the beginning are a priming line lower than the first layer.

    That is a short stretch at one height in a narrow strip that nothing laid later comes near. At the first layer's
    own height such a line does no harm: it stays in that layer.
    """
    from beadwright.toolpath.beads import bead_box  # compiles, so not before it is needed

    leaves = np.abs(beads.z[:1000] - beads.z[0]) > NOISE_MM
    head = int(np.argmax(leaves))
    if not leaves.any() or beads.length[:head].sum() > PRIMING_SHARE * beads.length.sum():
        return 0
    columns = toolpath.x, toolpath.y, toolpath.kind, toolpath.start
    own = np.array(bead_box(*columns, int(beads.move[0]), int(beads.move[head])))
    rest = np.array(bead_box(*columns, int(beads.move[head]), len(toolpath)))
    is_strip = (own[2:] - own[:2]).min() <= PRIMING_STRIP_MM
    apart = (own[:2] - 1.0 > rest[2:]) | (own[2:] + 1.0 < rest[:2])
    return head if is_strip and apart.any() else 0


def _packed(layer: IntColumn, z: FloatColumn) -> tuple[IntColumn, FloatColumn]:
    """Return layers renumbered so that each level has a bead."""
    used = np.zeros(len(z), np.bool_)
    used[layer[layer >= 0]] = True
    number = np.append(np.cumsum(used) - 1, -1).astype(np.int32)
    return number[layer], z[used]


def _layers(count: int, beads: _Beads, layer: IntColumn, z: FloatColumn, continuous: bool) -> Layers:
    """Spread the layers of beads over all moves."""
    index = np.full(count, -1, np.int32)
    if len(beads):
        reach = np.diff(beads.move, prepend=beads.move[0] - 1)
        index[beads.move[0] : beads.move[-1] + 1] = np.repeat(layer, reach)
    begin = np.concatenate([[0], np.flatnonzero(np.diff(index)) + 1])  # runs of one layer
    end = np.append(begin[1:], count) - 1
    run = index[begin] >= 0 if count else np.zeros(1, np.bool_)
    begin, end = begin[run], end[run]
    first, last = np.zeros(len(z), np.int32), np.zeros(len(z), np.int32)
    first[index[begin][::-1]] = begin[::-1]  # the last write wins
    last[index[end]] = end
    drop = begin[1:][np.diff(index[begin]) <= -2]
    restarts = beads.move[np.searchsorted(beads.move, drop)].astype(np.int32)
    return Layers(index, z, np.diff(z, prepend=0.0), first, last, restarts, continuous)
