"""What the reader's kernel carries from block to block: numbered slots of small arrays, and the tables it
fills.

Kernels work on arrays, so the machine's state is two arrays, floats `f` and integers `k`, and these names are
their indices. `new_state` allocates everything; few wide arrays rather than many keep the kernel quick to
compile.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shorts = NDArray[np.int32]
Singles = NDArray[np.float32]

# float slots: positions are the machine's own, mm
X, Y, Z = 0, 1, 2
SHIFT = 3  # and 4, 5: machine = written + shift; G92 sets it
FEED = 6  # mm/s as written
SPEED = 7  # M220 / 100
FLOW = 8  # M221 / 100
SCALE = 9  # mm per written unit
E_SCALE = 10  # mm of filament per mm (or mm³, M200) written
RETRACT_MM = 11  # M207, what G10 draws back
EXTRA_MM = 12  # M208, what G11 gives on top
FLOATS = 13

# integer slots
MOVES = 0
ROWS = 1  # command rows
NOTES = 2  # comment events
TEXTS = 3  # distinct comment texts
PROBLEMS = 4
LINE = 5  # 1-based, of the line being read
LINE_START = 6  # index in the buffer
MOTION = 7  # ten times the G number in force, -1 before any
RELATIVE = 8  # G91
E_RELATIVE = 9
E_WORD_RELATIVE = 10  # what M82 or M83 said last
TOOL = 11
ENDED = 12  # M2 or M30 was read
FEED_SET = 13
ARCS = 14
CHORDS = 15  # chords beyond each arc's first, whole file
UNITS_BIT = 16  # 1 mm, 2 inch: ORed into UNITS_USED by each move
UNITS_USED = 17
E_USED = 18  # 1 absolute, 2 relative
PLANE = 19  # 17, 18, 19
DRAWN_BACK = 20  # G10 is in force
NEW_TOOL = 21  # no absolute E read since the tool change
TOOL_BEFORE = 22
AFTER_CR = 23  # the last line ended with a carriage return, so a line feed now belongs to it
LAST_TEXT = 24  # id of the comment noted last
OTHER_PROBLEMS = 25  # those beyond MAX_PROBLEMS kinds
BLOCK = 26  # serial number of the last command block
INTS = 27

E_WORD, E_FED = 0, 1  # rows of `by_tool`: the E number a tool stands at, the mm it has fed
KIND, CHORD, TOOLS_USED = 0, 1, 2  # rows of `small`

TOOLS = 256
MAX_CHORDS = 1000  # of one arc
CHORD_BUDGET = 8_000_000  # extra chords of one file; then arcs are cut coarsely
MOVE_ROOM = MAX_CHORDS + 8  # free move columns one block may need
ROW_ROOM = 64
MAX_TEXTS = 20_000
TEXT_WIDTH = 200
TEXT_SLOTS = 65_536
MAX_PROBLEMS = 200
PROBLEM_SLOTS = 1024
P_CODE, P_SUBJECT, P_LINE, P_COUNT, P_LENGTH = 0, 1, 2, 3, 4
PROBLEM_WIDTH = 80
FEED_DEFAULT_MM_S = 25.0  # common practice, no source: a cautious speed for a file that never says F


class State(NamedTuple):
    """All that the kernel reads and writes besides the bytes."""

    f: Floats  # (FLOATS,)
    k: Ints  # (INTS,)
    value: Floats  # (26,) the numbers of the block being read, by letter
    by_tool: Floats  # (2, TOOLS)
    ends: Floats  # (4, room) x y z e of each move
    feed: Singles  # (room,)
    small: Bytes  # (3, room) kind, chord, tool
    line: Shorts  # (room,)
    rows: Shorts  # (room, 5) move, line, block, word, letter (-1 none) of command words that move nothing
    numbers: Floats  # (room,) the number behind that letter
    notes: Shorts  # (room, 3) move, line, text of comments
    text_slots: Shorts  # (TEXT_SLOTS,) hash table: text id or -1
    text_index: Ints  # (MAX_TEXTS, 2) digest, length
    texts: Bytes  # (MAX_TEXTS, TEXT_WIDTH)
    problems: Ints  # (PROBLEM_SLOTS, 5) hash table: code (-1 free), subject, first line, count, text length
    problem_texts: Bytes  # (PROBLEM_SLOTS, PROBLEM_WIDTH)


def new_state(moves: int, rows: int = 4096) -> State:
    """Return the state before the first byte, with room for `moves` moves and `rows` command and comment
    rows.
    """
    f = np.zeros(FLOATS)
    f[[SPEED, FLOW, SCALE, E_SCALE]] = 1.0
    f[FEED] = FEED_DEFAULT_MM_S
    k = np.zeros(INTS, np.int64)
    k[LINE], k[MOTION], k[UNITS_BIT], k[PLANE], k[LAST_TEXT] = 1, -1, 1, 17, -1
    problems = np.zeros((PROBLEM_SLOTS, 5), np.int64)
    problems[:, P_CODE] = -1
    return State(
        f=f,
        k=k,
        value=np.zeros(26),
        by_tool=np.zeros((2, TOOLS)),
        ends=np.empty((4, moves)),
        feed=np.empty(moves, np.float32),
        small=np.empty((3, moves), np.uint8),
        line=np.empty(moves, np.int32),
        rows=np.empty((rows, 5), np.int32),
        numbers=np.empty(rows),
        notes=np.empty((rows, 3), np.int32),
        text_slots=np.full(TEXT_SLOTS, -1, np.int32),
        text_index=np.empty((MAX_TEXTS, 2), np.int64),
        texts=np.empty((MAX_TEXTS, TEXT_WIDTH), np.uint8),
        problems=problems,
        problem_texts=np.zeros((PROBLEM_SLOTS, PROBLEM_WIDTH), np.uint8),
    )


def grown(state: State, moves: int, rows: int) -> State:
    """Return `state` with room for at least so many moves, and command and comment rows."""
    used, commands, notes = (int(state.k[slot]) for slot in (MOVES, ROWS, NOTES))
    if len(state.line) < moves:
        state = state._replace(
            ends=_wider(state.ends, moves, used),
            feed=_wider(state.feed, moves, used),
            small=_wider(state.small, moves, used),
            line=_wider(state.line, moves, used),
        )
    if len(state.numbers) < rows:
        state = state._replace(
            rows=_longer(state.rows, rows, commands),
            numbers=_longer(state.numbers, rows, commands),
            notes=_longer(state.notes, rows, notes),
        )
    return state


def _wider(array: NDArray[Any], room: int, used: int) -> NDArray[Any]:
    wider = np.empty((*array.shape[:-1], room), array.dtype)
    wider[..., :used] = array[..., :used]
    return wider


def _longer(array: NDArray[Any], room: int, used: int) -> NDArray[Any]:
    longer = np.empty((room, *array.shape[1:]), array.dtype)
    longer[:used] = array[:used]
    return longer
