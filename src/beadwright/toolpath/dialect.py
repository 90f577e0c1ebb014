"""The words a toolpath file may hold that move nothing here, and the sentence for each thing that cannot be
right.

Word meanings are the trade's common use of the letters G and M beyond ISO 6983 and NISTIR 6556 (from
memory, no single source); they only decide how a word that is not read is described.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# problem codes; the subject of each stands behind it
(
    UNKNOWN_WORD,  # ten times the number, M words + 100 000
    NAME,  # hash of the letters
    SYMBOL,  # the byte
    CHECKSUM,
    NUMBER_MISSING,  # letter 0…25
    NUMBER_HUGE,  # letter
    NUMBER_SPACED,
    AXIS_IGNORED,  # letter
    LETTER_ALONE,  # letter
    LETTER_UNUSED,  # letter + 32 * word
    REPEATED,  # letter
    PLANE_NOT_XY,
    ARC_WRONG,
    ARC_COARSE,
    AFTER_END,
    FEED_UNSET,
    FEED_WRONG,
    TOOL_WRONG,
    MOTION_UNSET,
    COMMENT_OPEN,
    NUL_BYTES,
    BLOCK_DELETE,
    RETRACT_UNKNOWN,
    PER_MINUTE,
    VOLUMETRIC,
    NOTES_MANY,
    COUNTED_ACROSS,
    VALUE_MISSING,  # word
    HOMED_AWAY,
    OFFSET_WORD,
    AXES_TWICE,
) = range(31)

M_WORDS = 100_000
NO_WORD = 99_999  # stands for a G or M number that is none

# what the kernel does with a word
UNREAD, ROW, CHANGES, CHANGES_AND_ROW, MODE, TEXT, TOOL_CHANGE = range(7)
MODES = (170, 180, 190, 200, 210, 900, 910, 911, 940, M_WORDS + 820, M_WORDS + 830)
CHANGING = (100, 110, 280, 920, 921, M_WORDS + 2000, M_WORDS + 2070, M_WORDS + 2080)
CHANGING_ROWS = (40, M_WORDS + 20, M_WORDS + 300, M_WORDS + 2200, M_WORDS + 2210)
TEXTS_M = (16, 23, 28, 32, 33, 117, 118, 486, 928)  # free text follows
NOZZLE_M, BED_M, CHAMBER_M = (104, 109), (140, 190), (141, 191)
HEAT_WAIT_M = (109, 190, 191)  # those that wait until the temperature is reached
FAN_ON_M, FAN_OFF_M = 106, 107
LIMITS_M = (201, 203, 204, 205)
PAUSE_M = (0, 1, 25, 226, 600, 601)
ROWS_M = (*NOZZLE_M, *BED_M, *CHAMBER_M, FAN_ON_M, FAN_OFF_M, *LIMITS_M, *PAUSE_M)


def actions() -> NDArray[np.uint8]:
    """Return what the kernel does with each word, `(2 * M_WORDS,)`, M words behind the G words."""
    table = np.full(2 * M_WORDS, UNREAD, np.uint8)
    table[list(MODES)] = MODE
    table[list(CHANGING)] = CHANGES
    table[list(CHANGING_ROWS)] = CHANGES_AND_ROW
    table[[M_WORDS + 10 * number for number in TEXTS_M]] = TEXT
    table[[M_WORDS + 10 * number for number in ROWS_M]] = ROW
    table[M_WORDS + 60] = TOOL_CHANGE
    return table


SENTENCES = {
    NAME: "a name or text, not a word of letter and number: a macro of some machine; it was not carried out",
    SYMBOL: "the character {subject} belongs to no word (a placeholder, variable or expression is not"
    " evaluated); the rest of the line was left out",
    CHECKSUM: "the checksum after * does not match the line; the line was read all the same",
    NUMBER_MISSING: "{subject} has no number; it was left out",
    NUMBER_HUGE: "the number after {subject} is not one a machine can use; the word was left out",
    NUMBER_SPACED: "a number has spaces inside; it was read as one number, as RS-274 does",
    AXIS_IGNORED: "the axis {subject} is not one of X, Y, Z and E; it was left out",
    LETTER_ALONE: "{subject} stands with no command; it was left out",
    LETTER_UNUSED: "{subject} means nothing to {word} here; it was left out",
    REPEATED: "{subject} stands more than once in a block; the last one counts",
    PLANE_NOT_XY: "an arc outside the XY plane (G18, G19) is not read; a straight move to its end was taken",
    ARC_WRONG: "the arc's centre or radius does not fit its ends; a straight move was taken",
    ARC_COARSE: "the file has very many arcs; later ones are cut into few chords",
    AFTER_END: "words after the end of the program (M2, M30) are not carried out",
    FEED_UNSET: "moves before any F word; 25 mm/s was taken",
    FEED_WRONG: "a feed of zero or less makes no move; the F word was left out",
    TOOL_WRONG: "not a tool number from 0 to 255; the tool was left as it was",
    MOTION_UNSET: "axis words before any G0 or G1; taken as G1",
    COMMENT_OPEN: "a comment is opened and not closed; it was taken to run to the end of the line",
    NUL_BYTES: "zero bytes, as an interrupted copy leaves them; they were skipped",
    BLOCK_DELETE: "a line marked / may be skipped at the machine; it was read",
    RETRACT_UNKNOWN: "G10 and G11 draw back by a length kept in the machine; counted as retractions of 0 mm",
    PER_MINUTE: "speeds this high can only be meant in mm/min; they were divided by 60",
    VOLUMETRIC: "E counts cubic millimetres from here (M200 D); turned into filament length by that diameter",
    NOTES_MANY: "too many comments in one place; the rest of them were not kept",
    COUNTED_ACROSS: "E goes on counting from the tool before; taken as one count for all tools",
    VALUE_MISSING: "{word} names no value; it was left out",
    HOMED_AWAY: "the head was taken to stand where homing names it",
    OFFSET_WORD: "coordinate or tool offsets kept in the machine are not known; positions were read without",
    AXES_TWICE: "two motion words in one block; the last one counts",
}

QUIET = "not about motion or heat; ignored"
ROUTINE = "a routine kept in the machine; what it moves is not known and was left out"
KEPT = "changes values kept in the machine; not applied here"
UNKNOWN = "not a word this reader knows; it was left out"

QUIET_M = frozenset(
    [5, 9, 15, 16, 17, 18, 20, 21, 22, 23, 24, 26, 27, 28, 29, 31, 32, 33, 36, 42, 70, 72, 73, 75,
     76, 77, 78, 80, 81, 82, 84, 85, 105, 108, 110, 111, 113, 114, 115, 117, 118, 119, 120, 121,
     122, 126, 127, 150, 154, 155, 240, 250, 256, 300, 355, 400, 408, 413, 414, 450, 486, 524, 928]
)  # fmt: skip
ROUTINE_G = frozenset([12, 26, 27, 29, 30, 32, 33, 34, 35, 38, 60, 61, 76])
ROUTINE_M = frozenset([43, 48, 125, 280, 290, 401, 402, 603, 701, 702])
KEPT_M = frozenset(
    [92, 206, 207, 208, 209, 210, 211, 217, 218, 301, 302, 303, 304, 305, 309, 350, 351, 404, 405,
     406, 407, 412, 420, 421, 425, 428, 500, 501, 502, 503, 504, 540, 557, 558, 566, 569, 572, 574,
     575, 593, 665, 666, 851, 852, 900, 906, 907, 908, 911, 912, 913, 914, 915]
)  # fmt: skip
SPECIAL = {
    "G5": "a spline; it was left out",
    "G93": "feed in inverse time; F was read per minute",
    "G95": "feed per turn; F was read per minute",
    "M3": "starts a spindle or laser; left out",
    "M4": "starts a spindle or laser; left out",
    "M6": "waits for a tool change; the tool is set by T",
    "M98": "calls a subprogram that is not in this file; what it moves is not known",
    "M99": "returns from a subprogram; left out",
    "M112": "an emergency stop; what follows was read all the same",
}


def word_name(code: int) -> str:
    """Return the word as a person writes it.

    >>> word_name(10), word_name(921), word_name(M_WORDS + 1040)
    ('G1', 'G92.1', 'M104')
    """
    letter, number = ("M", code - M_WORDS) if code >= M_WORDS else ("G", code)
    whole, tenth = divmod(number, 10)
    return f"{letter}{whole}.{tenth}" if tenth else f"{letter}{whole}"


def unread_meaning(code: int) -> str:
    """Return what a word that is not carried out is about."""
    name = word_name(code)
    number = (code % M_WORDS) // 10
    quiet, routine, kept = (
        (QUIET_M, ROUTINE_M, KEPT_M) if code >= M_WORDS else (frozenset([80]), ROUTINE_G, frozenset[int]())
    )
    for numbers, meaning in ((quiet, QUIET), (routine, ROUTINE), (kept, KEPT)):
        if number in numbers:
            return f"{name}: {meaning}"
    return f"{name}: {SPECIAL.get(name, UNKNOWN)}"


def meaning_of(code: int, subject: int) -> str:
    """Return the sentence for a problem the kernel grouped under `code` and `subject`."""
    if code == UNKNOWN_WORD:
        return unread_meaning(subject)
    return SENTENCES[code].format(subject=_subject(code, subject), word=_word(code, subject))


def _subject(code: int, subject: int) -> str:
    if code == SYMBOL:
        return f"“{chr(subject)}”" if 32 < subject < 127 else "outside plain text"
    return chr(65 + subject % 32 % 26)


def _word(code: int, subject: int) -> str:
    return word_name(subject // 32 if code == LETTER_UNUSED else subject)


LETTERS = {  # the letters each listed word takes
    **dict.fromkeys(("M104", "M109", "M140", "M190", "M141", "M191"), "SRTP"),
    **dict.fromkeys(("M201", "M203"), "XYZE"),
    **dict.fromkeys(("M0", "M1", "M25", "M226", "M600", "M601", "M2", "M30"), "ABCDEFGHIJKLMNOPQRSTUVWXYZ"),
    "M106": "SP",
    "M107": "P",
    "M204": "SPTR",
    "M205": "XYZEJ",
    "M220": "S",
    "M221": "ST",
    "G4": "PS",
}
