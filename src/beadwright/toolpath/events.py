"""Command words that move nothing, as the kernel lists them, into event tables and problems.

The kernel writes one row a letter: move, line, block, word, letter, with the number beside it. Everything
here is vectorised over those rows. Meanings are the trade's common use of M words (from memory, no single
source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath import dialect
from beadwright.toolpath.columns import Events, EventTables, FloatColumn, IntColumn, Problem

FAST_MM_S = 3000.0  # no axis of such a machine is allowed more; M203 beyond it is written in mm/min
AXIS_LETTERS = "XYZE"
Pick = NDArray[np.intp]


@dataclass(frozen=True)
class Rows:
    """Command words, one entry a letter; `letter` -1 where a word had none. `block` rises."""

    move: IntColumn
    line: IntColumn
    block: IntColumn
    word: IntColumn
    letter: IntColumn
    number: FloatColumn

    def __len__(self) -> int:
        return len(self.move)

    def of_words(self, numbers: tuple[int, ...]) -> NDArray[np.bool_]:
        """Return which rows belong to the M words of these numbers."""
        return np.isin(self.word, [dialect.M_WORDS + 10 * number for number in numbers])

    def with_letter(self, among: NDArray[np.bool_], letter: str) -> Pick:
        """Return the rows among `among` with this letter."""
        return np.flatnonzero(among & (self.letter == ord(letter) - 65))

    def first_of_blocks(self, among: NDArray[np.bool_]) -> Pick:
        """Return the first row of each block among `among`."""
        index = np.flatnonzero(among)
        return index[np.unique(self.block[index], return_index=True)[1]]

    def beside(self, index: Pick, letter: str, otherwise: float) -> FloatColumn:
        """Return the number behind `letter` in the same block as each row of `index`."""
        there = np.flatnonzero(self.letter == ord(letter) - 65)
        out = np.full(len(index), otherwise)
        if len(there):
            at = np.minimum(np.searchsorted(self.block[there], self.block[index]), len(there) - 1)
            same = (self.block[there[at]] == self.block[index]) & (self.line[there[at]] == self.line[index])
            out[same] = self.number[there[at[same]]]
        return out

    def events(self, index: Pick, value: FloatColumn, tool: FloatColumn | int = -1) -> Events:
        """Return the rows of `index` as events with these values."""
        tools = np.full(len(index), tool) if isinstance(tool, int) else np.clip(tool, -1, 255)
        return Events(self.move[index], self.line[index], np.asarray(value, float), tools.astype(np.int32))


def tabulate(rows: Rows, comment: Events) -> tuple[EventTables, list[Problem]]:
    """Return all event tables, and what about their words could not be used."""
    speed, per_minute = axis_speeds(rows)
    fan, as_part = fans(rows)
    tables = EventTables(
        nozzle_c=temperatures(rows, dialect.NOZZLE_M),
        bed_c=temperatures(rows, dialect.BED_M),
        chamber_c=temperatures(rows, dialect.CHAMBER_M),
        fan_percent=fan,
        acceleration=accelerations(rows, "SP"),
        travel_acceleration=accelerations(rows, "ST"),
        retract_acceleration=accelerations(rows, "R"),
        axis_acceleration=per_axis(rows, 201, AXIS_LETTERS),
        axis_speed=speed,
        corner=per_axis(rows, 205, AXIS_LETTERS + "J"),
        heat_wait=stops(rows, dialect.HEAT_WAIT_M),
        pause=stops(rows, dialect.PAUSE_M),
        tool_change=tool_changes(rows),
        dwell_s=dwells(rows),
        speed_percent=single(rows, 220, "S"),
        flow_percent=single(rows, 221, "S"),
        comment=comment,
    )
    return tables, [*per_minute, *as_part, *missing_values(rows), *unused_letters(rows)]


def temperatures(rows: Rows, words: tuple[int, ...]) -> Events:
    """Return the events of temperature words, °C: S, or else R."""
    among = rows.of_words(words)
    first = rows.first_of_blocks(among)
    value = rows.beside(first, "S", np.nan)
    value = np.where(np.isnan(value), rows.beside(first, "R", np.nan), value)
    known = ~np.isnan(value)
    return rows.events(first[known], value[known], rows.beside(first[known], "T", -1.0))


def fans(rows: Rows) -> tuple[Events, list[Problem]]:
    """Return the fan events, percent: S of 255, all of it without S; S as a part of 1 where no S is above
    1.
    """
    first = rows.first_of_blocks(rows.of_words((dialect.FAN_ON_M, dialect.FAN_OFF_M)))
    on = rows.word[first] == dialect.M_WORDS + 10 * dialect.FAN_ON_M
    written = rows.beside(first, "S", np.nan)
    given = written[on & ~np.isnan(written)]
    whole, problems = 255.0, []
    if len(given) and given.max() <= 1.0 and ((given > 0.0) & (given < 1.0)).any():
        whole = 1.0
        at = first[on][0]
        text = "no S of M106 is above 1, so S was read as a part of 1, not of 255"
        problems.append(Problem(int(rows.line[at]), "M106", text, int(on.sum())))
    share = np.clip(np.where(np.isnan(written), whole, written), 0.0, whole) / whole
    return rows.events(first, np.where(on, 100.0 * share, 0.0), rows.beside(first, "P", -1.0)), problems


def accelerations(rows: Rows, letters: str) -> Events:
    """Return the M204 events of any of `letters`, mm/s²."""
    among = rows.of_words((204,))
    index = np.sort(np.concatenate([rows.with_letter(among, letter) for letter in letters]))
    return rows.events(index, rows.number[index])


def per_axis(rows: Rows, word: int, letters: str) -> Events:
    """Return one event a letter; `tool` is the letter's place in `letters`."""
    among = rows.of_words((word,))
    picks = [rows.with_letter(among, letter) for letter in letters]
    index = np.concatenate(picks)
    axis = np.concatenate([np.full(len(pick), float(place)) for place, pick in enumerate(picks)])
    order = np.argsort(index, kind="stable")
    return rows.events(index[order], rows.number[index[order]], axis[order])


def axis_speeds(rows: Rows) -> tuple[Events, list[Problem]]:
    """Return the M203 events, mm/s; a block that names X or Y beyond any machine is in mm/min."""
    events = per_axis(rows, 203, AXIS_LETTERS)
    among = rows.of_words((203,)) & np.isin(rows.letter, [ord("X") - 65, ord("Y") - 65])
    fast = np.flatnonzero(among & (rows.number > FAST_MM_S))
    if not len(fast):
        return events, []
    minutes = np.isin(events.line, rows.line[fast])
    value = np.where(minutes, events.value / 60.0, events.value)
    text = f"M203 X or Y {rows.number[fast[0]]:g}"
    problem = Problem(int(rows.line[fast[0]]), text, dialect.SENTENCES[dialect.PER_MINUTE], len(fast))
    return Events(events.move, events.line, value, events.tool), [problem]


def stops(rows: Rows, words: tuple[int, ...]) -> Events:
    """Return where the machine waits for heat or for a person; the value is the M number."""
    first = rows.first_of_blocks(rows.of_words(words))
    return rows.events(first, (rows.word[first] - dialect.M_WORDS) / 10.0)


def tool_changes(rows: Rows) -> Events:
    """Return where the tool changes; the value is the new tool."""
    index = np.flatnonzero(rows.word == 0)
    return rows.events(index, rows.number[index])


def dwells(rows: Rows) -> Events:
    """Return the G4 dwells, s: S seconds, or else P milliseconds."""
    first = rows.first_of_blocks(rows.word == 40)
    seconds = rows.beside(first, "S", np.nan)
    seconds = np.where(np.isnan(seconds), rows.beside(first, "P", 0.0) / 1000.0, seconds)
    return rows.events(first, np.maximum(seconds, 0.0))


def single(rows: Rows, word: int, letter: str) -> Events:
    """Return the events of a word with one number above zero."""
    index = rows.with_letter(rows.of_words((word,)), letter)
    index = index[rows.number[index] > 0.0]
    return rows.events(index, rows.number[index])


def missing_values(rows: Rows) -> list[Problem]:
    """Return a problem for each temperature word that names no temperature."""
    problems = []
    for number in (*dialect.NOZZLE_M, *dialect.BED_M, *dialect.CHAMBER_M):
        first = rows.first_of_blocks(rows.of_words((number,)))
        bare = first[np.isnan(rows.beside(first, "S", np.nan)) & np.isnan(rows.beside(first, "R", np.nan))]
        if len(bare):
            meaning = dialect.meaning_of(dialect.VALUE_MISSING, dialect.M_WORDS + 10 * number)
            problems.append(Problem(int(rows.line[bare[0]]), f"M{number}", meaning, len(bare)))
    return problems


def unused_letters(rows: Rows) -> list[Problem]:
    """Return a problem for each letter that means nothing to its word."""
    some = np.flatnonzero((rows.letter >= 0) & (rows.word > 0))
    pairs = rows.word[some].astype(np.int64) * 32 + rows.letter[some]
    problems = []
    for pair, at, count in zip(*np.unique(pairs, return_index=True, return_counts=True), strict=True):
        name, letter = dialect.word_name(int(pair) // 32), chr(65 + int(pair) % 32)
        if letter not in dialect.LETTERS.get(name, ""):
            row = some[at]
            text = f"{name} {letter}{rows.number[row]:g}"
            meaning = dialect.meaning_of(dialect.LETTER_UNUSED, int(pair) % 32 + 32 * (int(pair) // 32))
            problems.append(Problem(int(rows.line[row]), text, meaning, int(count)))
    return problems
