"""What a single value in a case file may be: checks that answer with what was expected."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterator
from typing import Any

from beadwright.knowledge.quantity import fold
from beadwright.knowledge.terms import as_flag, load_terms, nearest, out_of_range

Free = Any  # text, number, flag, or lists and tables of these: whatever a page says, see `plain_free`

MOST_KEYS = 500
MOST_ITEMS = 10_000
DEEPEST = 4
_UNSURE = frozenset(
    {"unsure", "unknown", "unklar", "?", "don't know", "weiß nicht", "weiss nicht", "maybe", "vielleicht"}
)


def require_plausible(term_id: str, value: Any) -> None:
    """Raise ValueError saying what was expected when `value` lies outside the range of the term."""
    term = load_terms().get(term_id)
    if term is None or isinstance(value, dict):
        return
    if isinstance(value, list):
        value = tuple(value)
    expected = out_of_range(term, value)
    if expected:
        raise ValueError(
            f"{value!r} is not {expected}" if expected.startswith("a value") else f"{value!r} is none of: {expected}"
        )


def require_plausible_free(table: dict[str, Any]) -> None:
    """Raise ValueError for a key named exactly like a term whose number lies outside the term's range.

    Text is left for the matching by words and units ("215 °C"), which reports instead of refusing.
    """
    for key, value in table.items():
        if isinstance(value, dict):
            require_plausible_free(value)
        for number in _numbers(value):
            term = load_terms().get(key)
            if term is not None and term.kind in ("number", "numbers") and (expected := out_of_range(term, number)):
                raise ValueError(f"{key} = {number:g} is not plausible; expected {expected}")


def _numbers(value: Any) -> Iterator[float]:
    if isinstance(value, list):
        for entry in value:
            yield from _numbers(entry)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield float(value)


def require_known_material(name: str) -> None:
    """Raise ValueError naming the nearest known material when `name` is none."""
    from beadwright.errors import BeadwrightError
    from beadwright.knowledge.material_names import find_material

    try:
        find_material(name)
    except BeadwrightError as error:
        raise ValueError(str(error)) from error


def filler_key(name: str) -> str:
    """Return the key of a filler as people type it; ValueError naming the nearest when there is none."""
    from beadwright.knowledge.material_names import filler_names

    names = filler_names()
    plain = " ".join(re.findall(r"[a-z0-9]+", fold(name)))
    if plain in names:
        return names[plain]
    near = nearest(plain, names, cutoff=0.5)
    raise ValueError(
        f"no filler is called {name!r}; " + (f"did you mean {near}?" if near else "try: " + ", ".join(names))
    )


def plain_free(value: Any) -> Any:
    """Return a free table in plain types, dates as ISO text; ValueError for what a case cannot keep."""
    if not isinstance(value, dict):
        raise ValueError("a table of names and values is expected")
    if len(value) > MOST_KEYS:
        raise ValueError(f"{len(value)} keys are more than the {MOST_KEYS} that a case keeps")
    return {_key(key): _plain(entry, 1) for key, entry in value.items()}


def _key(key: Any) -> str:
    if not isinstance(key, str) or not 1 <= len(key) <= 200:
        raise ValueError(f"{str(key)[:40]!r} is no name; a text of 1 to 200 characters is expected")
    return key


def _plain(value: Any, depth: int) -> Any:
    if isinstance(value, bool | str):
        return value
    if isinstance(value, int | float):
        if not math.isfinite(value) or abs(value) > 1e15:
            raise ValueError(f"{value} is no ordinary number; expected one between -1e15 and 1e15")
        return value
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if depth < DEEPEST and isinstance(value, list | tuple) and len(value) <= MOST_ITEMS:
        return [_plain(entry, depth + 1) for entry in value]
    if depth < DEEPEST and isinstance(value, dict) and len(value) <= MOST_KEYS:
        return {_key(key): _plain(entry, depth + 1) for key, entry in value.items()}
    raise ValueError("a text, a number, true or false, or a short list or table of these is expected")


def as_date(value: Any) -> Any:
    """Return a date from a date, a time stamp or ISO text."""
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    if isinstance(value, str):
        try:
            return datetime.date.fromisoformat(value.strip()[:10])
        except ValueError:
            pass
    raise ValueError(f"{value!r} is no date; write it as 2026-03-14")


def as_result(value: Any) -> str:
    """Return "yes", "no" or "unsure" from what people answer, in several languages."""
    if isinstance(value, str) and value.strip().casefold() in _UNSURE:
        return "unsure"
    flag = as_flag(value) if isinstance(value, bool | str) else None
    if flag is None:
        raise ValueError(f"{value!r} is no answer; write yes, no or unsure")
    return "yes" if flag else "no"
