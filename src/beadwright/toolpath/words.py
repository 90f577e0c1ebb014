"""The reader's kernel: one pass over the bytes of a toolpath file into moves, command words, comments,
problems.

Grammar (NISTIR 6556 section 3.3, from memory, with the trade's habits): a line is a block of words, each a
letter and a number; case and blanks do not matter; comments stand in ( ) or behind ;. Several commands on a
line are carried out from left to right: a G or M word closes the group before it once that group has a
command. Mode words (G17–G21, G90, G91, M82, M83) belong to no group and hold at once.

`X1E5` is two words, `E1e-5` and `X1e-3` are one (see `numbers.exponent_follows`).

The buffer ends with a line feed, so no loop over digits, letters or a comment looks for the buffer's end.
"""

from __future__ import annotations

from beadwright.toolpath.compiled import compiled, drop_stale_kernels
from beadwright.toolpath.dialect import (
    AFTER_END,
    AXES_TWICE,
    AXIS_IGNORED,
    BLOCK_DELETE,
    CHANGES,
    CHANGES_AND_ROW,
    CHECKSUM,
    COMMENT_OPEN,
    COUNTED_ACROSS,
    FEED_UNSET,
    FEED_WRONG,
    LETTER_ALONE,
    LETTER_UNUSED,
    M_WORDS,
    MODE,
    MOTION_UNSET,
    NAME,
    NO_WORD,
    NOTES_MANY,
    NUL_BYTES,
    NUMBER_HUGE,
    NUMBER_MISSING,
    NUMBER_SPACED,
    REPEATED,
    ROW,
    SYMBOL,
    TEXT,
    TOOL_CHANGE,
    UNKNOWN_WORD,
)
from beadwright.toolpath.modes import change, set_mode, set_tool
from beadwright.toolpath.moves import (
    BIT_E,
    BIT_I,
    BIT_J,
    BIT_R,
    BIT_X,
    BIT_Y,
    BIT_Z,
    count_on,
    put_arc,
    put_move,
)
from beadwright.toolpath.numbers import TENS, after_blanks, is_letter, slow_number, spaced_number
from beadwright.toolpath.slots import (
    AFTER_CR,
    E_RELATIVE,
    E_SCALE,
    E_USED,
    E_WORD,
    ENDED,
    FEED,
    FEED_SET,
    FLOW,
    LINE,
    LINE_START,
    MOTION,
    MOVE_ROOM,
    MOVES,
    NEW_TOOL,
    NOTES,
    RELATIVE,
    ROW_ROOM,
    ROWS,
    SCALE,
    SHIFT,
    TOOL,
    Bytes,
    Ints,
    State,
    X,
    Y,
    Z,
)
from beadwright.toolpath.tables import put_comment, put_problem, put_row, put_rows

drop_stale_kernels()

LARGEST = 1e9  # no position, speed, count or temperature of such a machine is beyond
AXES = BIT_X | BIT_Y | BIT_Z | BIT_E
CENTRE = BIT_I | BIT_J | BIT_R
BIT_F, BIT_T = 1 << 5, 1 << 19
OTHER_AXES = 7 | 7 << 20  # A B C U V W
F, G, M, N, T = 5, 6, 12, 13, 19  # letters as indices
PROBLEMS_A_BLOCK = 26


@compiled
def line_end(buf: Bytes, i: int) -> int:
    """Return where the line ends, or a ; comment begins."""
    while buf[i] != 10 and buf[i] != 13 and buf[i] != 59:
        i += 1
    return i


@compiled
def name_end(buf: Bytes, i: int) -> int:
    """Return the index behind a run of letters and _."""
    while is_letter(buf[i]) or buf[i] == 95:
        i += 1
    return i


@compiled
def name_digest(buf: Bytes, i: int) -> int:
    """Return a 32-bit digest of the letters and _ at `i` without regard to case."""
    digest = 0
    while is_letter(buf[i]) or buf[i] == 95:
        digest = (digest * 31 + (buf[i] | 32)) & 0xFFFFFFFF
        i += 1
    return digest


@compiled
def is_nan_or_inf(buf: Bytes, i: int) -> bool:
    """Return whether `nan` or `inf` stands at `i`."""
    if not is_letter(buf[i]) or not is_letter(buf[i + 1]):
        return False
    a, b, c = buf[i] | 32, buf[i + 1] | 32, buf[i + 2] | 32
    return bool((a == 110 and b == 97 and c == 110) or (a == 105 and b == 110 and c == 102))


@compiled
def checksum_holds(k: Ints, buf: Bytes, i: int) -> tuple[bool, int]:
    """Hold the number behind the * at `i` against the XOR of the line's bytes before it; and the index
    behind.
    """
    total = 0
    for at in range(after_blanks(buf, k[LINE_START]), i):
        total ^= buf[at]
    begin = after_blanks(buf, i + 1)
    written, end = slow_number(buf, begin, 42)
    return written == total, max(end, i + 1)


@compiled
def leftover(mask: int, bare: int, code: int) -> tuple[int, int, int]:
    """Return problem code, subject and letter of the first letter in `bare` or `mask` that nothing read."""
    for letter in range(26):
        if bare >> letter & 1:
            return NUMBER_MISSING, letter, letter
        if mask >> letter & 1:
            if OTHER_AXES >> letter & 1:
                return AXIS_IGNORED, letter, letter
            if code < 0:
                return LETTER_ALONE, letter, letter
            return LETTER_UNUSED, letter + 32 * code, letter
    return -1, 0, 0


@compiled
def read_words(buf: Bytes, i: int, end: int, actions: Bytes, s: State) -> int:
    """Read whole lines buf[i:end]; return the index where it stopped.

    `buf[end - 1]` is a line end and three bytes behind it are readable. `actions` is `dialect.actions()`.
    Stops before `end` where the columns or tables lack room: make room and call again with the index
    returned.
    """
    f, k, value, by_tool = s.f, s.k, s.value, s.by_tool
    ends, feed, small, line = s.ends, s.feed, s.small, s.line
    rows, numbers, notes = s.rows, s.numbers, s.notes
    slots, index, texts = s.text_slots, s.text_index, s.texts
    problems, problem_texts = s.problems, s.problem_texts
    most_moves = len(line) - MOVE_ROOM
    most_rows = len(numbers) - ROW_ROOM
    most_notes = len(notes) - ROW_ROOM
    while i < end and k[MOVES] < most_moves and k[ROWS] < most_rows and k[NOTES] < most_notes:
        # ---- gather the words of one group
        code = -1
        mask = 0
        bare = 0
        number_at = -1  # where the last word's number begins
        last = 0
        trouble = -1
        subject = 0
        line_ends = False
        while True:
            if trouble >= 0:
                put_problem(k, problems, problem_texts, buf, trouble, subject)
                trouble = -1
                subject = 0
            byte = buf[i]
            if is_letter(byte):
                start = i
                letter = (byte | 32) - 97
                i += 1
                while buf[i] == 32 or buf[i] == 9:
                    i += 1
                # the number, correctly rounded up to 15 digits
                at = i
                negative = buf[i] == 45
                if negative or buf[i] == 43:
                    i += 1
                mantissa = 0
                first = i
                while 48 <= buf[i] <= 57:
                    mantissa = mantissa * 10 + (buf[i] - 48)
                    i += 1
                digits = i - first
                n = float(mantissa)
                if buf[i] == 46:
                    i += 1
                    first = i
                    while 48 <= buf[i] <= 57:
                        mantissa = mantissa * 10 + (buf[i] - 48)
                        i += 1
                    digits += i - first
                    if digits < 19:
                        n = mantissa / TENS[i - first]
                if negative:
                    n = -n
                if digits == 0 or digits > 18 or (buf[i] | 32) == 101:
                    n, i = slow_number(buf, at, byte)
                    if i == at:  # a letter and no number
                        if not is_letter(buf[start + 1]) and buf[start + 1] != 95:
                            bare |= 1 << letter
                            i = start + 1
                        elif is_nan_or_inf(buf, start + 1):
                            trouble, subject = NUMBER_HUGE, letter
                            i = name_end(buf, start + 1)
                        elif code == 280 and letter >= 23:
                            bare |= 1 << letter
                            i = start + 1
                        else:
                            trouble, subject = NAME, name_digest(buf, start)
                            i = line_end(buf, start)
                        continue
                if letter in (G, M):
                    word = int(n * 10.0 + 0.5) if 0.0 <= n < 9999.5 else NO_WORD
                    if letter == M:
                        word += M_WORDS
                    if actions[word] == MODE:
                        set_mode(f, k, word)
                    elif code >= 0 or (letter == M and mask & AXES):
                        if word <= 30 and code <= 30 and not mask & AXES:
                            put_problem(k, problems, problem_texts, buf, AXES_TWICE, 0)
                        i = start
                        break
                    else:
                        code = word
                        if word <= 30:
                            k[MOTION] = word
                        elif actions[word] == TEXT:
                            i = line_end(buf, i)
                    number_at = -1
                elif letter != N:
                    number_at = start + 1
                    last = letter
                    if abs(n) <= LARGEST:
                        if mask >> letter & 1:
                            trouble, subject = REPEATED, letter
                        mask |= 1 << letter
                        value[letter] = n
                    else:
                        trouble, subject = NUMBER_HUGE, letter
            elif byte == 32 or byte == 9:
                i += 1
            elif byte == 10 or byte == 13:
                line_ends = True
                break
            elif byte == 59 or byte == 40:  # ; or (
                i += 1
                start = i
                while buf[i] != 10 and buf[i] != 13 and (byte == 59 or buf[i] != 41):
                    i += 1
                if not put_comment(k, notes, slots, index, texts, buf, start, i):
                    trouble = NOTES_MANY
                if byte == 40:
                    if buf[i] == 41:
                        i += 1
                    else:
                        trouble = COMMENT_OPEN
            elif number_at >= 0 and (48 <= byte <= 57 or byte == 46):
                n, j = spaced_number(buf, number_at)
                if j <= i:  # a second point, or digits behind an exponent
                    trouble, subject = SYMBOL, byte
                    i = line_end(buf, i)
                else:
                    trouble = NUMBER_SPACED
                    i = j
                    if abs(n) <= LARGEST:
                        value[last] = n
            elif byte == 42:
                holds, i = checksum_holds(k, buf, i)
                if not holds:
                    trouble = CHECKSUM
            elif byte == 0:
                trouble = NUL_BYTES
                while i < end and buf[i] == 0:
                    i += 1
            elif byte == 37 and i == k[LINE_START]:  # % begins or ends a tape
                i = line_end(buf, i)
            elif byte == 47 and i == k[LINE_START]:
                trouble = BLOCK_DELETE
                i += 1
            else:
                trouble = SYMBOL
                subject = byte if byte < 128 else 128
                i = line_end(buf, i)

        # ---- carry it out
        if k[ENDED] and (mask | bare or code >= 0):
            put_problem(k, problems, problem_texts, buf, AFTER_END, 0)
        elif code > 30:
            action = actions[code]
            if action in (CHANGES, CHANGES_AND_ROW):
                trouble = change(f, k, value, mask, bare, by_tool, ends, feed, small, line, code)
                if trouble >= 0:
                    put_problem(k, problems, problem_texts, buf, trouble, code)
            elif action == TOOL_CHANGE:
                code = -1
                mask &= BIT_T
            elif action != ROW:
                put_problem(k, problems, problem_texts, buf, UNKNOWN_WORD, code)
            if action in (ROW, CHANGES_AND_ROW):
                put_rows(k, rows, numbers, value, mask, code)
        if code <= 30 and not k[ENDED] and mask | bare:
            if mask & BIT_T:
                changed = set_tool(k, value[T])
                if changed > 0:
                    put_row(k, rows, numbers, 0, T, value[T])
                elif changed < 0:
                    put_problem(k, problems, problem_texts, buf, -changed, 0)
            if mask & BIT_F:
                if value[F] > 0.0:
                    f[FEED] = value[F] * f[SCALE] / 60.0
                    k[FEED_SET] = 1
                else:
                    put_problem(k, problems, problem_texts, buf, FEED_WRONG, 0)
            left = mask & ~(AXES | BIT_F | BIT_T)
            motion = k[MOTION]
            if mask & AXES or (motion >= 20 and mask & CENTRE):
                trouble = -1
                if motion < 0:
                    k[MOTION] = motion = 10
                    trouble = MOTION_UNSET
                if not k[FEED_SET]:
                    put_problem(k, problems, problem_texts, buf, FEED_UNSET, 0)
                scale = f[SCALE]
                x, y, z, fed = f[X], f[Y], f[Z], 0.0
                if k[RELATIVE]:
                    if mask & BIT_X:
                        x += value[23] * scale
                    if mask & BIT_Y:
                        y += value[24] * scale
                    if mask & BIT_Z:
                        z += value[25] * scale
                else:
                    if mask & BIT_X:
                        x = value[23] * scale + f[SHIFT]
                    if mask & BIT_Y:
                        y = value[24] * scale + f[SHIFT + 1]
                    if mask & BIT_Z:
                        z = value[25] * scale + f[SHIFT + 2]
                if mask & BIT_E:
                    fed = value[4] * scale
                    if k[E_RELATIVE]:
                        k[E_USED] |= 2
                        by_tool[E_WORD, k[TOOL]] += fed
                    else:
                        k[E_USED] |= 1
                        if k[NEW_TOOL] and count_on(f, k, value[4], by_tool):
                            trouble = COUNTED_ACROSS
                        written = fed
                        fed -= by_tool[E_WORD, k[TOOL]]
                        by_tool[E_WORD, k[TOOL]] = written
                    fed *= f[E_SCALE] * f[FLOW]
                if motion < 20:
                    put_move(f, k, by_tool, ends, feed, small, line, x, y, z, fed, 0)
                else:
                    left &= ~CENTRE
                    trouble = put_arc(f, k, value, mask, by_tool, ends, feed, small, line, motion == 20, x, y, z, fed)
                if trouble >= 0:
                    put_problem(k, problems, problem_texts, buf, trouble, 0)
            while left | bare:
                trouble, subject, letter = leftover(left, bare, code)
                put_problem(k, problems, problem_texts, buf, trouble, subject)
                left &= ~(1 << letter)
                bare &= ~(1 << letter)

        # ---- end the line
        if line_ends:
            second_half = buf[i] == 10 and k[AFTER_CR] == 1 and i == k[LINE_START]
            k[AFTER_CR] = 1 if buf[i] == 13 else 0
            if not second_half:
                k[LINE] += 1
            i += 1
            k[LINE_START] = i
    return i
