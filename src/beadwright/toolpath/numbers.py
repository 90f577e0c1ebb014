"""Kernels that read numbers out of bytes, correctly rounded up to 15 digits."""

from __future__ import annotations

import numpy as np

from beadwright.toolpath.compiled import compiled, woven
from beadwright.toolpath.slots import Bytes

TENS = 10.0 ** np.arange(23)  # exact in a double, so mantissa / TENS[k] is rounded once


@woven
def is_letter(byte: int) -> bool:
    """Return whether a byte is an ASCII letter."""
    return 97 <= (byte | 32) <= 122


@compiled
def after_blanks(buf: Bytes, i: int) -> int:
    """Return the next index at or after `i` that is neither space nor tab."""
    while buf[i] == 32 or buf[i] == 9:
        i += 1
    return i


@compiled
def exponent_follows(buf: Bytes, i: int, letter: int) -> bool:
    """Return whether the e at `i` belongs to the number before it; `letter` is the byte of that number's
    word.

    E is an axis letter, so only where none can be meant: inside an E word, and as a small e with a sign
    behind an upper-case letter's number.
    """
    signed = buf[i + 1] == 45 or buf[i + 1] == 43
    digit = buf[i + 2] if signed else buf[i + 1]
    if not 48 <= digit <= 57:
        return False
    if (letter | 32) == 101:
        return True
    return signed and buf[i] == 101 and letter < 97


@compiled
def slow_number(buf: Bytes, i: int, letter: int) -> tuple[float, int]:
    """Read a number as `words.read_words` does, for the rarer forms: many digits, an exponent, a blank
    after the sign.

    Return it and the index behind it; NaN and `i` itself where there is none, infinity where it overflows.
    """
    at = i
    negative = buf[i] == 45
    if negative or buf[i] == 43:
        i = after_blanks(buf, i + 1)
    mantissa, kept, power, digits = 0, 0, 0, 0
    fraction = False
    while 48 <= buf[i] <= 57 or (buf[i] == 46 and not fraction):
        if buf[i] == 46:
            fraction = True
        else:
            digits += 1
            if kept < 18:
                mantissa = mantissa * 10 + (buf[i] - 48)
                if mantissa > 0:
                    kept += 1
                if fraction:
                    power -= 1
            elif not fraction:
                power += 1
        i += 1
    if digits == 0:
        return np.nan, at
    if (buf[i] | 32) == 101 and exponent_follows(buf, i, letter):
        written, i = exponent(buf, i + 1)
        power += written
    value = scaled(mantissa, power)
    return (-value if negative else value), i


@compiled
def exponent(buf: Bytes, i: int) -> tuple[int, int]:
    """Read a signed whole number, held within 100 000; return it and the index behind it."""
    negative = buf[i] == 45
    if negative or buf[i] == 43:
        i += 1
    written = 0
    while 48 <= buf[i] <= 57:
        written = min(written * 10 + (buf[i] - 48), 100_000)
        i += 1
    return (-written if negative else written), i


@compiled
def scaled(mantissa: int, power: int) -> float:
    """Return mantissa · 10^power, one rounding while mantissa < 2^53 and |power| ≤ 22."""
    value = float(mantissa)
    if value == 0.0 or power < -400:
        return 0.0
    if power > 400:
        return np.inf
    while power < -22:
        value /= TENS[22]
        power += 22
    while power > 22:
        value *= TENS[22]
        power -= 22
    if power < 0:
        return float(value / TENS[-power])
    return float(value * TENS[power])


@compiled
def spaced_number(buf: Bytes, i: int) -> tuple[float, int]:
    """Read a number with blanks inside (NISTIR 6556, from memory: `x +0. 12 34` is 0.1234) from behind its
    letter.
    """
    negative, fraction = False, False
    mantissa, power, kept = 0, 0, 0
    while True:
        byte = buf[i]
        if 48 <= byte <= 57:
            if kept < 18:
                mantissa = mantissa * 10 + (byte - 48)
                kept += 1
                if fraction:
                    power -= 1
            elif not fraction:
                power += 1
        elif byte == 46 and not fraction:
            fraction = True
        elif byte == 45:
            negative = True
        elif byte != 32 and byte != 9 and byte != 43:
            break
        i += 1
    value = scaled(mantissa, power)
    return (-value if negative else value), i
