"""Kernels that keep the sparse tables: command words, comment texts, grouped problems. All in bounded
memory.
"""

from __future__ import annotations

from beadwright.toolpath.compiled import compiled
from beadwright.toolpath.slots import (
    BLOCK,
    LAST_TEXT,
    LINE,
    LINE_START,
    MAX_PROBLEMS,
    MAX_TEXTS,
    MOVES,
    NOTES,
    OTHER_PROBLEMS,
    P_CODE,
    P_COUNT,
    P_LENGTH,
    P_LINE,
    P_SUBJECT,
    PROBLEM_SLOTS,
    PROBLEM_WIDTH,
    PROBLEMS,
    ROWS,
    TEXT_SLOTS,
    TEXT_WIDTH,
    TEXTS,
    Bytes,
    Floats,
    Ints,
    Shorts,
)

FNV = 1099511628211  # the 64-bit FNV-1a prime and, below, its offset basis as a signed number
FNV_BASIS = -3750763034362895579


@compiled
def put_problem(k: Ints, problems: Ints, texts: Bytes, buf: Bytes, code: int, subject: int) -> None:
    """Count a problem of the line being read; the first of its kind keeps line and text."""
    slot = (code * 1000003 + subject * 40503) % PROBLEM_SLOTS
    while problems[slot, P_CODE] >= 0:
        if problems[slot, P_CODE] == code and problems[slot, P_SUBJECT] == subject:
            problems[slot, P_COUNT] += 1
            return
        slot = (slot + 1) % PROBLEM_SLOTS
    if k[PROBLEMS] >= MAX_PROBLEMS:
        k[OTHER_PROBLEMS] += 1
        return
    k[PROBLEMS] += 1
    problems[slot, P_CODE] = code
    problems[slot, P_SUBJECT] = subject
    problems[slot, P_LINE] = k[LINE]
    problems[slot, P_COUNT] = 1
    length, i = 0, k[LINE_START]
    while length < PROBLEM_WIDTH and buf[i] != 10 and buf[i] != 13:
        texts[slot, length] = buf[i]
        length += 1
        i += 1
    problems[slot, P_LENGTH] = length


@compiled
def put_row(k: Ints, rows: Shorts, numbers: Floats, word: int, letter: int, number: float) -> None:
    """Append one letter (-1: none) of a command word that takes effect before the next move."""
    row = k[ROWS]
    rows[row, 0] = k[MOVES]
    rows[row, 1] = k[LINE]
    rows[row, 2] = k[BLOCK]
    rows[row, 3] = word
    rows[row, 4] = letter
    numbers[row] = number
    k[ROWS] = row + 1


@compiled
def put_rows(k: Ints, rows: Shorts, numbers: Floats, value: Floats, mask: int, word: int) -> None:
    """Append a command word with all its letters."""
    k[BLOCK] += 1
    if mask == 0:
        put_row(k, rows, numbers, word, -1, 0.0)
    for letter in range(26):
        if mask >> letter & 1:
            put_row(k, rows, numbers, word, letter, value[letter])


@compiled
def put_comment(
    k: Ints, notes: Shorts, slots: Shorts, index: Ints, texts: Bytes, buf: Bytes, start: int, stop: int
) -> bool:
    """Note the comment buf[start:stop] before the next move unless it repeats the one before; False: no
    room.
    """
    while start < stop and (buf[start] == 32 or buf[start] == 9):
        start += 1
    while stop > start and (buf[stop - 1] == 32 or buf[stop - 1] == 9):
        stop -= 1
    if start == stop:
        return True
    text = text_id(k, slots, index, texts, buf, start, stop)
    row = k[NOTES]
    if text < 0 or row >= len(notes):
        return False
    if text != k[LAST_TEXT]:
        k[LAST_TEXT] = text
        notes[row, 0] = k[MOVES]
        notes[row, 1] = k[LINE]
        notes[row, 2] = text
        k[NOTES] = row + 1
    return True


@compiled
def text_id(k: Ints, slots: Shorts, index: Ints, texts: Bytes, buf: Bytes, start: int, stop: int) -> int:
    """Return the id of a comment text by its FNV-1a digest, a new one if need be, -1 where there is no
    room.
    """
    digest = FNV_BASIS
    for i in range(start, stop):
        digest = (digest ^ buf[i]) * FNV
    slot = (digest ^ (digest >> 29)) & (TEXT_SLOTS - 1)
    while slots[slot] >= 0:
        if index[slots[slot], 0] == digest:
            return int(slots[slot])
        slot = (slot + 1) & (TEXT_SLOTS - 1)
    text = k[TEXTS]
    if text >= MAX_TEXTS:
        return -1
    k[TEXTS] = text + 1
    slots[slot] = text
    length = min(stop - start, TEXT_WIDTH)
    index[text, 0] = digest
    index[text, 1] = length
    for i in range(length):
        texts[text, i] = buf[start + i]
    return int(text)
