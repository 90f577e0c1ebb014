"""A pasted list or table of settings, from any program's page: facts by words and units, the rest listed.

Nozzle temperature: 215 °C          name and value parted by a colon, an equals sign, a tab, dots, wide space
Layer height (mm);0,2               a table's row; a unit in the name or in a third column
| Lüfter | 100 | % |
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from beadwright.facts import Fact, Origin
from beadwright.knowledge.quantity import canonical_unit, parse_quantity
from beadwright.knowledge.terms import match_term

MOST_CHARACTERS = 1_000_000
MOST_LINES = 5_000
_RULE = re.compile(r"^[\s|+=:_*#-]*$")
_SECTION = re.compile(r"^\s*[\[<].*[\]>]\s*$")
_COMMENT = re.compile(r"^\s*(?:[;#]|//)+\s*")
_PART = re.compile(r"\s*(?:\t+|\||\s=\s|=|:\s|:$|;|\.{3,}|\s{3,})\s*")
_LAST_RESORT = re.compile(r"^(?P<name>[^\d]{3,60}?)\s+(?P<value>[-+]?\d[\d.,]*\s*\S{0,8})\s*$")
_BULLET = re.compile(r"^\s*[-•*–·▪>]\s+")


@dataclass(frozen=True)
class SettingsRead:
    """Claims understood, and every line that was not, with the reason."""

    facts: tuple[Fact, ...]
    not_understood: tuple[str, ...]


def read_settings_text(text: str, exhibit: str = "settings") -> SettingsRead:
    """Return the claims in a pasted list or table, and what was not understood. `exhibit` names the source.

    >>> read = read_settings_text("Düsentemperatur: 2100 °C\\nInfill = 0,2\\nSeam: rear")
    >>> [(fact.name, fact.value) for fact in read.facts]
    [('infill_percent', 20.0)]
    >>> len(read.not_understood)
    2
    """
    facts: list[Fact] = []
    rest: list[str] = []
    if len(text) > MOST_CHARACTERS:
        rest.append(f"only the first {MOST_CHARACTERS} of {len(text)} characters were read")
    lines = text[:MOST_CHARACTERS].removeprefix("\ufeff").splitlines()
    if len(lines) > MOST_LINES:
        rest.append(f"only the first {MOST_LINES} of {len(lines)} lines were read")
    waiting: tuple[int, str] | None = None  # a name alone: its value may stand on the next line
    for number, line in enumerate(lines[:MOST_LINES], 1):
        plain = _BULLET.sub("", _COMMENT.sub("", line)).strip()
        if not plain or _RULE.match(plain) or _SECTION.match(line):
            continue
        row = _row(plain)
        if row is None and waiting is not None and parse_quantity(plain) is not None:
            row = (waiting[1], plain, None)
            waiting = None
        if row is None:
            rest += _name_left(waiting)
            waiting = (number, plain)
            continue
        rest += _name_left(waiting)
        waiting = None
        fact, problem = _read(row, f"{exhibit} line {number}")
        facts += [fact] if fact else []
        rest += [problem] if problem else []
    return SettingsRead(tuple(facts), (*rest, *_name_left(waiting)))


def _name_left(waiting: tuple[int, str] | None) -> list[str]:
    return [f"line {waiting[0]}: {waiting[1][:80]!r} holds no name with a value"] if waiting else []


def _row(line: str) -> tuple[str, str, str | None] | None:
    """Return (name, value, unit) of one line, None when it holds no pair."""
    parts = [part.strip().strip("\"'") for part in _PART.split(line)]
    parts = [part for part in parts if part]
    if len(parts) == 1:
        parts = _by_commas(line)
    if len(parts) == 1:
        found = _LAST_RESORT.match(line)
        parts = [found["name"].strip(), found["value"].strip()] if found else parts
    if len(parts) < 2 or len(parts) > 6:
        return None
    unit = parts[2] if len(parts) > 2 and canonical_unit(parts[2]) else None
    return parts[0], parts[1], unit


def _by_commas(line: str) -> list[str]:
    """Split a comma-separated row, unless the comma is a decimal mark."""
    parts = [part.strip().strip("\"'") for part in re.split(r",(?!\d)|(?<!\d),", line)]
    if len(parts) == 1:  # "Layer height,0.2": a name's end before the comma
        parts = [part.strip() for part in re.split(r"(?<=[^\W\d]),", line, maxsplit=1)]
    return [part for part in parts if part]


def _read(row: tuple[str, str, str | None], where: str) -> tuple[Fact | None, str]:
    name, value, unit = row
    shown = f"{where}: {name[:60]} = {value[:60]}"
    match = match_term(name, unit, value if unit is None else f"{value} {unit}")
    if match is None:
        return None, f"{shown}: no term of the trade matches this name and value"
    if match.note:
        return None, f"{shown}: read as {match.term.name}, but {match.note}; misread?"
    if match.term.id == "polymer":
        return _polymer(str(match.value), where, shown)
    return Fact(match.term.id, match.value, Origin.CLAIM, where), ""


def _polymer(value: str, where: str, shown: str) -> tuple[Fact | None, str]:
    from beadwright.knowledge.material_names import match_material

    matched = match_material(value)
    if matched is None:
        return None, f"{shown}: no polymer is called so"
    return Fact("polymer", matched[0], Origin.CLAIM, where), ""
