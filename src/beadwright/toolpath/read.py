"""Reading a toolpath file: bytes in, columns out.

The work is done by the kernel in `words`; here its blocks are fed, its tables made into a `Toolpath`, and
files that are no filament toolpath are refused in a sentence.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

import numpy as np

from beadwright.errors import ToolpathError
from beadwright.toolpath import compiled, dialect, slots
from beadwright.toolpath.columns import Events, Kind, Problem, Toolpath
from beadwright.toolpath.events import Rows, tabulate
from beadwright.toolpath.source import PAD, PIECE, Source

MOST_MOVES = 25_000_000  # 1 GB of columns, several times the longest prints; all of `look` takes 6 GB then
MOST_ROWS = 8_000_000
FIRST_USE_SECONDS = 30  # about how long the kernel takes to compile on a small machine
NUMBER = re.compile(rb"([A-Za-z])\s*[+-]?\d*(?:\.(\d*))?")


def read_toolpath(
    source: Path | bytes | BinaryIO,
    *,
    name: str | None = None,
    progress: Callable[[float], None] | None = None,
    piece: int = PIECE,
) -> Toolpath:
    """Read a toolpath file (G-code, plain or gzip) into columns.

    `source` is a path, the bytes, or a binary stream, which is left open. `name` is what messages call it.
    `progress` is called with the part read, 0 … 1, after each `piece` bytes. What is in the file but not
    understood is in `Toolpath.problems`.

    Raises ToolpathError for a file that cannot be opened, is empty, no text, has no moves or feeds no
    filament.
    """
    opened = Source.open(source, name, piece)
    try:
        state = fill(opened, progress)
    finally:
        if isinstance(source, Path):
            opened.close()
    return assemble(opened, state)


def fill(source: Source, progress: Callable[[float], None] | None = None) -> slots.State:
    """Run the kernel over all blocks of `source` and return what it filled."""
    from beadwright.toolpath.words import read_words

    state = None
    actions = dialect.actions()
    for block in source.blocks():
        buffer = np.frombuffer(block, np.uint8)
        end = len(block) - len(PAD)
        if state is None:
            state = slots.new_state(expected_moves(source, block))
        state.k[slots.LINE_START] = 0
        at = read_words(buffer, 0, end, actions, state)
        while at < end:
            state = with_room(source, state)
            at = read_words(buffer, at, end, actions, state)
        if progress and source.size:
            progress(min(source.consumed / source.size, 1.0))
    if state is None:
        found = "a damaged gzip file of which nothing can be unpacked" if source.damage else "empty"
        raise ToolpathError(found, where=source.name, fix="Hand in the file that was sent to the printer.")
    return state


def expected_moves(source: Source, block: bytes) -> int:
    """Return room for the moves of the whole file, if it goes on as its first block: a line is a move at
    most, mostly.
    """
    lines = block.count(b"\n") + block.count(b"\r")
    share = max((source.size or 0) / max(source.consumed, 1), 1.0)
    return min(int(lines * share * 1.03), MOST_MOVES) + 2 * slots.MOVE_ROOM


def with_room(source: Source, state: slots.State) -> slots.State:
    """Return `state` with more room. Raises ToolpathError beyond what any print has."""
    moves, rows = len(state.line), len(state.numbers)
    if state.k[slots.MOVES] + slots.MOVE_ROOM >= moves:
        found, most = f"more than {MOST_MOVES // 1_000_000} million moves", MOST_MOVES + 2 * slots.MOVE_ROOM
        full, moves = moves >= most, min(moves + moves // 2, most)
    else:
        found, most = f"more than {MOST_ROWS // 1_000_000} million command words or comments", MOST_ROWS
        full, rows = rows >= most, min(2 * rows, most)
    if full:
        raise ToolpathError(found, where=source.name, fix="Hand in the toolpath of one print.")
    return slots.grown(state, moves, rows)


def assemble(source: Source, state: slots.State) -> Toolpath:
    """Return the toolpath of a filled state. Raises ToolpathError where there is no filament path in it."""
    k = state.k
    count = int(k[slots.MOVES])
    refuse_if_no_print(source, state, count)
    note = state.notes[: k[slots.NOTES]]
    comment = Events(note[:, 0].copy(), note[:, 1].copy(), np.zeros(len(note)), note[:, 2].copy())
    row = state.rows[: k[slots.ROWS]]
    rows = Rows(row[:, 0], row[:, 1], row[:, 2], row[:, 3], row[:, 4], state.numbers[: len(row)])
    events, event_problems = tabulate(rows, comment)
    x, y, z, e = (state.ends[axis, :count] for axis in range(4))
    kind, chord, tool = (state.small[sort, :count] for sort in range(3))
    return Toolpath(
        x=x,
        y=y,
        z=z,
        e=e,
        feed=state.feed[:count],
        kind=kind,
        chord=chord.view(np.bool_),
        line=state.line[:count],
        tool=tool,
        start=np.zeros(3),
        events=events,
        comments=comments(state),
        problems=problems(source, state, event_problems),
        name=source.name,
        bytes=source.unpacked,
        lines=int(k[slots.LINE]) - 1,
        arcs=int(k[slots.ARCS]),
        extrusion=("absolute", "absolute", "relative", "mixed")[k[slots.E_USED]],
        units=("mm", "mm", "inch", "mixed")[k[slots.UNITS_USED]],
        truncated=bool(source.damage) or (source.ends_open and ends_in_a_word(source.tail)),
    )


def refuse_if_no_print(source: Source, state: slots.State, count: int) -> None:
    """Raise ToolpathError where no move was read or no filament is ever fed."""
    kind = state.small[slots.KIND, :count]
    if not (kind != Kind.DWELL).any():
        found = "no moves in it" + (f"; {source.damage}" if source.damage else "")
        raise ToolpathError(
            found,
            where=source.name,
            fix="A toolpath holds lines such as “G1 X10 Y5 E0.2”; hand in that file.",
        )
    if not ((kind == Kind.BEAD) | (kind == Kind.UNRETRACT)).any():
        raise ToolpathError(
            f"{count} moves and none of them feeds filament; this may be a milling or laser program",
            where=source.name,
            fix="Hand in the toolpath of a filament print, with E words.",
        )


def comments(state: slots.State) -> tuple[str, ...]:
    """Return the distinct comment texts, cut to `slots.TEXT_WIDTH` bytes."""
    lengths = state.text_index[: state.k[slots.TEXTS], 1]
    rows = zip(state.texts, lengths, strict=False)
    return tuple(row[:length].tobytes().decode("utf-8", "replace") for row, length in rows)


def problems(source: Source, state: slots.State, more: list[Problem]) -> tuple[Problem, ...]:
    """Return all problems in the order of their first lines; one entry sums up those beyond the table's
    room.
    """
    found = list(more)
    table = state.problems
    for slot in np.flatnonzero(table[:, slots.P_CODE] >= 0):
        code, subject, line, count, length = (int(number) for number in table[slot])
        text = state.problem_texts[slot, :length].tobytes().decode("utf-8", "replace").strip()
        found.append(Problem(line, text, dialect.meaning_of(code, subject), count))
    found.sort(key=lambda problem: problem.line)
    last = int(state.k[slots.LINE]) - 1
    if others := int(state.k[slots.OTHER_PROBLEMS]):
        found.append(Problem(last, "…", "further kinds of words that are not understood", others))
    if source.damage:
        found.append(Problem(last, "", source.damage))
    return tuple(found)


def ends_in_a_word(tail: bytes) -> bool:
    """Return whether text without a last line end stops inside a word.

    So it does at a letter, a sign or a point; and at a number with fewer decimals than that letter had,
    always the same, in the lines before.
    """
    lines = re.split(rb"[\r\n]+", tail)
    last = lines[-1].split(b";")[0].rstrip()
    if not last or b"(" in last:
        return b"(" in last and b")" not in last
    if re.search(rb"(?:^|[\s\d])[A-Za-z]$|[+\-.]$", last):
        return True
    words = NUMBER.findall(last)
    if not words or not re.search(rb"[A-Za-z]\s*[+-]?[\d.]+$", last):
        return False
    letter, decimals = words[-1]
    before = [len(d) for line in lines[:-1] for w, d in NUMBER.findall(line.split(b";")[0]) if w == letter]
    return len(before) >= 5 and len(set(before)) == 1 and len(decimals) < before[0]


def kernel_is_cached() -> bool:
    """Return whether the kernel was compiled on this machine before, so that the first file reads at full
    speed.
    """
    changed = compiled.newest_source()
    return any(index.stat().st_mtime >= changed for index in compiled.cached_indexes())


def warm() -> None:
    """Compile the kernels of reading and of layers, or load them from their cache."""
    from beadwright.toolpath.layers import find_layers

    find_layers(read_toolpath(b"G1 X1 E1 F600\n"))
