"""A place in a print as a person names it: "18.2mm", "layer:61", "line:14210", "time:1h12m"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from beadwright.errors import InputError
from beadwright.motion.timeline import Clock

WOULD_DO = 'a height such as "18.2mm", or "layer:61", "line:14210", "time:1h12m"'
_NUMBER = r"\d+(?:[.,]\d+)?"
_TIME = re.compile(rf"(?:({_NUMBER})\s*h)?\s*(?:({_NUMBER})\s*m(?:in)?)?\s*(?:({_NUMBER})\s*s?)?", re.IGNORECASE)


@dataclass(frozen=True)
class AskedPlace:
    """A value on one of the print's clocks; layers and lines count from 1 here, as people count."""

    clock: Clock  # "z" mm, "layer", "line", "s"
    value: float
    text: str  # as asked


def parse_place(text: str) -> AskedPlace:
    """Read a place. Raises InputError that says what would do.

    >>> parse_place("18.2mm"), parse_place("layer:61").value, parse_place("time:1h12m").value
    (AskedPlace(clock='z', value=18.2, text='18.2mm'), 61.0, 4320.0)
    >>> parse_place("time:90").value, parse_place("z:3").value
    (90.0, 3.0)
    """
    said = text.strip()
    head, _, rest = said.rpartition(":")
    kind, value = head.strip().lower() or "z", rest.strip()
    if kind in ("time", "t"):
        return AskedPlace("s", _seconds(value, said), said)
    clocks: dict[str, Clock] = {"z": "z", "height": "z", "layer": "layer", "line": "line"}
    number = re.fullmatch(rf"({_NUMBER})\s*(mm)?", value, re.IGNORECASE)
    if kind not in clocks or number is None or (number[2] and clocks[kind] != "z"):
        raise _unclear(said)
    found = float(number[1].replace(",", "."))
    if clocks[kind] != "z" and (found != int(found) or found < 1):
        raise _unclear(said)
    return AskedPlace(clocks[kind], found, said)


def parse_marks(text: str) -> list[AskedPlace]:
    """Read several heights: "3.1,5.4,7.7"; with decimal commas part them by semicolons or spaces.

    >>> [place.value for place in parse_marks("3.1, 5.4,7.7mm")]
    [3.1, 5.4, 7.7]
    >>> [place.value for place in parse_marks("3,1; 5,4")]
    [3.1, 5.4]
    """
    parts = [part for part in re.split(r"[;\s]+" if re.search(r"[;]", text) else r"[,\s]+", text.strip()) if part]
    if not parts:
        raise InputError("--marks names no height", fix='Give heights such as "3.1,5.4,7.7"')
    return [parse_place(part) for part in parts]


def _seconds(value: str, said: str) -> float:
    match = _TIME.fullmatch(value)
    if match is None or not any(match.groups()):
        raise _unclear(said)
    hours, minutes, seconds = (float(part.replace(",", ".")) if part else 0.0 for part in match.groups())
    return 3600 * hours + 60 * minutes + seconds


def _unclear(said: str) -> InputError:
    return InputError(f"'{said[:40]}' names no place in a print", fix=f"Give {WOULD_DO}")
