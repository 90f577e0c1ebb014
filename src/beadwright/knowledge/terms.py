"""The nomenclature, and the matching of what settings pages say to it.

A page calls the same thing "Düsentemperatur", "Print temp (°F)" or "hot end temperature"; programs come and
go. Names are therefore matched by their words and the unit, never by any program's list of options.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from pathlib import Path

from pydantic import ValidationError

from beadwright.errors import KnowledgeError
from beadwright.files import read_toml
from beadwright.knowledge.model import Term
from beadwright.knowledge.names import PhraseIndex, index_phrases, split_unit
from beadwright.knowledge.quantity import Quantity, canonical_unit, convert, fold, parse_quantity

TABLE = Path(__file__).with_name("terms.toml")
ENOUGH = 0.6  # score from which a name counts as understood
Given = float | str | bool | tuple[float, ...]


@dataclass(frozen=True)
class Match:
    """A name understood: which term, the value in its unit, how sure (0 to 1), what stands against it."""

    term: Term
    value: Given
    score: float
    note: str = ""  # why the value cannot be meant, "" when it can


@cache
def load_terms() -> dict[str, Term]:
    """Return all terms by id, in the order of the table.

    Raises KnowledgeError naming the term and key.
    """
    raw = read_toml(TABLE)
    try:
        return {key: Term.model_validate({"id": key, **entry}) for key, entry in raw.items()}
    except ValidationError as error:
        first = error.errors()[0]
        raise KnowledgeError(f"{first['loc']}: {first['msg']}", where=TABLE.name) from error


def nearest(name: str, choices: Iterable[str], cutoff: float = 0.6) -> str | None:
    """Return the choice most like `name`, None when none is close.

    >>> nearest("nozle_mm", ["belt_pitch_mm", "nozzle_mm"])
    'nozzle_mm'
    """
    by_fold = {fold(choice): choice for choice in choices}
    close = get_close_matches(fold(name[:100]), by_fold, n=1, cutoff=cutoff)
    return by_fold[close[0]] if close else None


def out_of_range(term: Term, value: Given) -> str:
    """Return "" when `value` is plausible for `term`, else what was expected instead.

    >>> out_of_range(load_terms()["bed_temp_c"], 2100.0)
    'a value from 0 to 200 °C'
    """
    if term.one_of is not None:
        return "" if value in term.one_of else "one of " + ", ".join(term.one_of)
    if term.kind == "flag":
        return "" if isinstance(value, bool) else "true or false"
    if term.kind == "text":
        return "" if isinstance(value, str) else "text"
    numbers = value if isinstance(value, tuple) else (value,)
    low, high = term.range or (-math.inf, math.inf)
    unit = "" if term.unit == "1" else f" {term.unit}"
    good = all(isinstance(one, int | float) and not isinstance(one, bool) and low <= one <= high for one in numbers)
    return "" if good else f"a value from {low:g} to {high:g}{unit}"


def match_term(name: str, unit: str | None = None, value: Given | None = None) -> Match | None:
    """Return the term that a settings page's `name` means, None when no term fits well enough.

    `unit` is the unit when the page gives it apart; `value` may be a number, text such as "215 °C", or None.
    The value comes back in the term's unit; `note` says when it lies outside the plausible range.

    >>> found = match_term("Düsentemperatur", None, "419 °F")
    >>> found.term.id, found.value
    ('nozzle_temp_c', 215.0)
    """
    name, own_unit = split_unit(name[:200])
    given = _as_quantity(value)
    seen_unit = (canonical_unit(unit) if unit else None) or (given.unit if given else None) or own_unit
    best: Match | None = None
    for term, score in _scores(name):
        if best is not None and score <= best.score:
            continue
        fitted = _fit(term, value, given, seen_unit, exact=own_unit is not None and score == 1.0)
        if fitted is not None and (best is None or (score > best.score and not (fitted[1] and not best.note))):
            best = Match(term, fitted[0], round(score, 3), fitted[1])
    return best


def _fit(
    term: Term, value: Given | None, given: Quantity | None, unit: str | None, exact: bool
) -> tuple[Given, str] | None:
    """Return the value in the term's unit with a note; None when unit or kind of value rule the term out."""
    if value is None:
        possible = unit is None or term.unit == unit or convert(1.0, unit, term.unit) is not None
        return (0.0, "") if possible else None
    if term.kind in ("text", "flag"):
        return _fit_word(term, value)
    if isinstance(value, tuple):
        return (value, out_of_range(term, value)) if term.kind == "numbers" else None
    if given is None or term.kind == "numbers":
        return None
    candidates = [given.middle] if given.other is None else [given.middle, given.other]
    fitted = [_in_unit(term, number, unit, exact) for number in candidates]
    numbers = [number for number in fitted if number is not None]
    if not numbers:
        return None
    good = [number for number in numbers if not out_of_range(term, number)]
    number = (good or numbers)[0]
    expected = out_of_range(term, number)
    return number, f"{number:g} is outside the plausible range; expected {expected}" if expected else ""


def _in_unit(term: Term, number: float, unit: str | None, exact: bool) -> float | None:
    if unit is None:  # a share written as a ratio, "infill 0.2"; a key that ends in _percent says what it means
        as_ratio = term.unit == "%" and not exact and 0 < number <= 1
        return number * 100 if as_ratio else number
    if term.unit == "1" and unit not in ("1",):
        return None
    return convert(number, unit, term.unit)


def _fit_word(term: Term, value: Given) -> tuple[Given, str] | None:
    if term.kind == "flag":
        flag = as_flag(value)
        return None if flag is None else (flag, "")
    if not isinstance(value, str) or parse_quantity(value) is not None:  # a number is no word
        return None
    if term.one_of is None:
        return value, ""
    plain = re.sub(r"[^a-z0-9]+", "_", fold(value)).strip("_")
    return (plain, "") if plain in term.one_of else None


_YES = "yes true on ja oui si wahr an vrai verdadero y 1 sim tak"
_NO = "no false off nein non falsch aus faux falso n 0 nee nie nao"
_FLAGS = {**dict.fromkeys(_YES.split(), True), **dict.fromkeys(_NO.split(), False)}


def as_flag(value: Given) -> bool | None:
    """Return the truth that a word states in several languages, None when it states none.

    >>> as_flag("Ja"), as_flag("off"), as_flag("maybe")
    (True, False, None)
    """
    if isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _FLAGS.get(fold(value.strip().strip(".!")))
    return {0.0: False, 1.0: True}.get(value) if isinstance(value, int | float) else None


def _as_quantity(value: Given | None) -> Quantity | None:
    if isinstance(value, str):
        return parse_quantity(value)
    if isinstance(value, bool) or value is None or isinstance(value, tuple):
        return None
    return Quantity(float(value), float(value), None)


@cache
def _index() -> PhraseIndex:
    terms = load_terms().values()
    return index_phrases(
        (term.id, phrase) for term in terms for phrase in (split_unit(term.id)[0], term.name, *term.words)
    )


def _scores(name: str) -> list[tuple[Term, float]]:
    found = _index().scores(name)
    return [(load_terms()[term_id], score) for term_id, score in found if score >= ENOUGH]
