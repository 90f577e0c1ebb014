"""Kernels that fill the move columns: a straight move, the chords of an arc."""

from __future__ import annotations

import math

from beadwright.toolpath.arcs import centre_fits, centre_from_radius, chord_count, sweep
from beadwright.toolpath.compiled import compiled, woven
from beadwright.toolpath.dialect import ARC_COARSE, ARC_WRONG, PLANE_NOT_XY
from beadwright.toolpath.slots import (
    ARCS,
    CHORD,
    CHORD_BUDGET,
    CHORDS,
    E_FED,
    E_WORD,
    FEED,
    KIND,
    LINE,
    MOVES,
    NEW_TOOL,
    PLANE,
    SCALE,
    SPEED,
    TOOL,
    TOOL_BEFORE,
    TOOLS_USED,
    UNITS_BIT,
    UNITS_USED,
    Bytes,
    Floats,
    Ints,
    Shorts,
    Singles,
    X,
    Y,
    Z,
)

# letters as bits of the block's mask
BIT_E, BIT_I, BIT_J, BIT_R = 1 << 4, 1 << 8, 1 << 9, 1 << 17
BIT_X, BIT_Y, BIT_Z = 1 << 23, 1 << 24, 1 << 25
SAME_MM = 1e-9  # adding and taking away a G92 shift leaves crumbs smaller than this
TRAVEL, BEAD, RETRACT, UNRETRACT, DWELL = 0, 1, 2, 3, 4  # `columns.Kind`


@woven
def put_move(
    f: Floats, k: Ints, by_tool: Floats, ends: Floats, feed: Singles, small: Bytes, line: Shorts,
    x: float, y: float, z: float, fed: float, chord: int,
) -> None:  # fmt: skip
    """Append one straight move to (x, y, z) and set the head there."""
    row = k[MOVES]
    tool = k[TOOL]
    still = True
    if abs(x - f[X]) > SAME_MM:
        f[X] = x
        still = False
    if abs(y - f[Y]) > SAME_MM:
        f[Y] = y
        still = False
    if abs(z - f[Z]) > SAME_MM:
        f[Z] = z
        still = False
    kind = TRAVEL
    if fed > 0.0:
        kind = UNRETRACT if still else BEAD
    elif fed < 0.0:
        kind = RETRACT
    total = by_tool[E_FED, tool] + fed
    by_tool[E_FED, tool] = total
    ends[0, row] = f[X]
    ends[1, row] = f[Y]
    ends[2, row] = f[Z]
    ends[3, row] = total
    feed[row] = f[FEED] * f[SPEED]
    small[KIND, row] = kind
    small[CHORD, row] = chord
    small[TOOLS_USED, row] = tool
    line[row] = k[LINE]
    k[MOVES] = row + 1
    k[UNITS_USED] |= k[UNITS_BIT]


@compiled
def put_still(
    f: Floats, k: Ints, by_tool: Floats, ends: Floats, feed: Singles, small: Bytes, line: Shorts,
    fed: float, kind: int,
) -> None:  # fmt: skip
    """Append a row in which the head stands: a dwell, or filament alone."""
    put_move(f, k, by_tool, ends, feed, small, line, f[X], f[Y], f[Z], fed, 0)
    small[KIND, k[MOVES] - 1] = kind


@compiled
def count_on(f: Floats, k: Ints, number: float, by_tool: Floats) -> bool:
    """Settle, at a tool's first absolute E, whether the file counts E on from the tool before; return if so.

    Each tool has its own count, unless that would feed more than 20 mm at once and ten times what one count
    for all tools feeds.
    """
    k[NEW_TOOL] = 0
    written = number * f[SCALE]
    own = abs(written - by_tool[E_WORD, k[TOOL]])
    shared = abs(written - by_tool[E_WORD, k[TOOL_BEFORE]])
    if own <= 20.0 or shared * 10.0 > own:
        return False
    by_tool[E_WORD, k[TOOL]] = by_tool[E_WORD, k[TOOL_BEFORE]]
    return True


@compiled
def put_arc(
    f: Floats, k: Ints, value: Floats, mask: int, by_tool: Floats, ends: Floats, feed: Singles, small: Bytes,
    line: Shorts, clockwise: bool, x: float, y: float, z: float, fed: float,
) -> int:  # fmt: skip
    """Append an arc to (x, y, z) as chords, filament and height spread evenly.

    Returns -1, or a problem's code; a straight move is taken where the words make no arc.
    """
    k[ARCS] += 1
    dx, dy = x - f[X], y - f[Y]
    i = value[8] * f[SCALE] if mask & BIT_I else 0.0
    j = value[9] * f[SCALE] if mask & BIT_J else 0.0
    if mask & BIT_R and not mask & (BIT_I | BIT_J):
        i, j, fits = centre_from_radius(dx, dy, value[17] * f[SCALE], clockwise)
    else:
        fits = centre_fits(dx, dy, i, j)
    trouble = -1 if fits else ARC_WRONG
    if k[PLANE] != 17:
        trouble = PLANE_NOT_XY
    angle = sweep(dx, dy, i, j, clockwise)
    x0, y0, z0 = f[X], f[Y], f[Z]
    first, last = math.hypot(i, j), math.hypot(dx - i, dy - j)
    count = 1 if trouble >= 0 else chord_count(angle, max(first, last))
    if k[CHORDS] > CHORD_BUDGET and count > 4:
        count = 4
        trouble = ARC_COARSE
    k[CHORDS] += count - 1
    begin = math.atan2(-j, -i)
    for step in range(1, count + 1):
        part = step / count
        radius = first + (last - first) * part
        turned = begin + angle * part
        cx, cy, cz = x, y, z
        if step < count:
            cx = x0 + i + radius * math.cos(turned)
            cy = y0 + j + radius * math.sin(turned)
            cz = z0 + (z - z0) * part
        put_move(f, k, by_tool, ends, feed, small, line, cx, cy, cz, fed / count, 1 if step > 1 else 0)
    return trouble
