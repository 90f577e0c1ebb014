"""Kernels for the words that change how later words are read, and the few that move without G0 … G3.

G words follow NISTIR 6556 where it has them, M words the trade's common use (both from memory). A kernel
returns the code of a problem, or -1.
"""

from __future__ import annotations

from beadwright.toolpath.compiled import compiled
from beadwright.toolpath.dialect import (
    HOMED_AWAY,
    M_WORDS,
    OFFSET_WORD,
    RETRACT_UNKNOWN,
    TOOL_WRONG,
    VALUE_MISSING,
    VOLUMETRIC,
)
from beadwright.toolpath.moves import DWELL, RETRACT, UNRETRACT, put_move, put_still
from beadwright.toolpath.slots import (
    DRAWN_BACK,
    E_RELATIVE,
    E_SCALE,
    E_WORD,
    E_WORD_RELATIVE,
    ENDED,
    EXTRA_MM,
    FLOW,
    NEW_TOOL,
    PLANE,
    RELATIVE,
    RETRACT_MM,
    SCALE,
    SHIFT,
    SPEED,
    TOOL,
    TOOL_BEFORE,
    TOOLS,
    UNITS_BIT,
    Bytes,
    Floats,
    Ints,
    Shorts,
    Singles,
    X,
    Y,
    Z,
)

D, E, L, P, S, AXIS_X = 3, 4, 11, 15, 18, 23  # letters as indices
XYZ = 7 << AXIS_X
QUARTER_PI = 0.7853981633974483


@compiled
def set_mode(f: Floats, k: Ints, word: int) -> None:
    """Set the mode a word names.

    E moves relatively after M83 or while G91 is in force; M82 after G91 makes it absolute again; G90 ends
    what G91 did and returns to what M82 or M83 said last.
    """
    if word == M_WORDS + 820 or word == M_WORDS + 830:
        k[E_WORD_RELATIVE] = 1 if word == M_WORDS + 830 else 0
        k[E_RELATIVE] = k[E_WORD_RELATIVE]
    elif word == 900:
        k[RELATIVE] = 0
        k[E_RELATIVE] = k[E_WORD_RELATIVE]
    elif word == 910:
        k[RELATIVE] = 1
        k[E_RELATIVE] = 1
    elif word == 200 or word == 210:
        f[SCALE] = 25.4 if word == 200 else 1.0
        k[UNITS_BIT] = 2 if word == 200 else 1
    elif word == 170 or word == 180 or word == 190:
        k[PLANE] = word // 10


@compiled
def set_tool(k: Ints, number: float) -> int:
    """Take a T word that selects a tool; return 1 where it changes, 0 where not, minus a problem's code."""
    tool = int(number)
    if tool != number or tool < 0 or tool >= TOOLS:
        return -TOOL_WRONG
    if tool == k[TOOL]:
        return 0
    k[TOOL_BEFORE] = k[TOOL]
    k[TOOL] = tool
    k[NEW_TOOL] = 1
    return 1


@compiled
def home(
    f: Floats, k: Ints, value: Floats, mask: int, bare: int, by_tool: Floats, ends: Floats, feed: Singles,
    small: Bytes, line: Shorts,
) -> int:  # fmt: skip
    """G28: axes named (all when none is) go to 0, or to the number behind the letter; a travel where they
    move.
    """
    named = (mask | bare) >> AXIS_X & 7
    if named == 0:
        named = 7
    trouble = -1
    still = True
    place = (f[X], f[Y], f[Z])
    for axis in range(3):
        if named >> axis & 1:
            at = value[AXIS_X + axis] * f[SCALE] if mask >> (AXIS_X + axis) & 1 else 0.0
            if at != 0.0:
                trouble = HOMED_AWAY
            f[SHIFT + axis] = 0.0
            still = still and at == place[axis]
            value[AXIS_X + axis] = at
        else:
            value[AXIS_X + axis] = place[axis]
    if not still:
        put_move(
            f,
            k,
            by_tool,
            ends,
            feed,
            small,
            line,
            value[AXIS_X],
            value[AXIS_X + 1],
            value[AXIS_X + 2],
            0.0,
            0,
        )
    return trouble


@compiled
def set_position(f: Floats, k: Ints, value: Floats, mask: int, by_tool: Floats) -> None:
    """G92: from here on the axes named (all when none is) are written with this number; the head stays."""
    if mask & (XYZ | 1 << E) == 0:
        mask |= XYZ | 1 << E
        value[:] = 0.0
    for axis in range(3):
        if mask >> (AXIS_X + axis) & 1:
            f[SHIFT + axis] = f[X + axis] - value[AXIS_X + axis] * f[SCALE]
    if mask >> E & 1:
        by_tool[E_WORD, k[TOOL]] = value[E] * f[SCALE]
        k[NEW_TOOL] = 0


@compiled
def draw_back(
    f: Floats, k: Ints, mask: int, by_tool: Floats, ends: Floats, feed: Singles, small: Bytes, line: Shorts,
    back: bool,
) -> int:  # fmt: skip
    """G10 and G11: draw back and return the length M207 gave; 0 mm and a problem where it gave none."""
    if mask >> L & 1:  # G10 L…: coordinate data, NISTIR 6556
        return OFFSET_WORD
    if back == (k[DRAWN_BACK] == 1):
        return -1
    k[DRAWN_BACK] = 1 if back else 0
    fed = -f[RETRACT_MM] if back else f[RETRACT_MM] + f[EXTRA_MM]
    put_still(f, k, by_tool, ends, feed, small, line, fed, RETRACT if back else UNRETRACT)
    return RETRACT_UNKNOWN if f[RETRACT_MM] == 0.0 else -1


@compiled
def set_number(f: Floats, k: Ints, value: Floats, mask: int, word: int) -> int:
    """Take an M word that changes how later numbers count: M200, M207, M208, M220, M221; M2 and M30 end."""
    number = word - M_WORDS
    if number == 20 or number == 300:
        k[ENDED] = 1
        return -1
    if number == 2000:
        f[E_SCALE] = 1.0
        if not mask >> D & 1 or value[D] <= 0.0:
            return -1
        bore = value[D] * f[SCALE]
        f[E_SCALE] = 1.0 / (QUARTER_PI * bore * bore)
        return VOLUMETRIC
    if not mask >> S & 1 or value[S] < 0.0:
        return VALUE_MISSING
    if number == 2070:
        f[RETRACT_MM] = value[S] * f[SCALE]
    elif number == 2080:
        f[EXTRA_MM] = value[S] * f[SCALE]
    elif value[S] == 0.0:
        return VALUE_MISSING
    elif number == 2200:
        f[SPEED] = value[S] / 100.0
    else:
        f[FLOW] = value[S] / 100.0
    return -1


@compiled
def change(
    f: Floats, k: Ints, value: Floats, mask: int, bare: int, by_tool: Floats, ends: Floats, feed: Singles,
    small: Bytes, line: Shorts, word: int,
) -> int:  # fmt: skip
    """Carry out a command that acts on later words, or moves without G0 … G3."""
    if word >= M_WORDS:
        return set_number(f, k, value, mask, word)
    if word == 40:
        put_still(f, k, by_tool, ends, feed, small, line, 0.0, DWELL)
    elif word == 100 or word == 110:
        return draw_back(f, k, mask, by_tool, ends, feed, small, line, word == 100)
    elif word == 280:
        return home(f, k, value, mask, bare, by_tool, ends, feed, small, line)
    elif word == 920:
        set_position(f, k, value, mask, by_tool)
    elif word == 921:
        f[SHIFT : SHIFT + 3] = 0.0
    return -1
