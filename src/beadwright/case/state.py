"""What a case states, as facts with their provenance, and what in it no term could be found for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from beadwright.case.values import filler_key
from beadwright.facts import Fact, Origin
from beadwright.knowledge.quantity import parse_quantity
from beadwright.knowledge.terms import Given, Match, load_terms, match_term, nearest, out_of_range

if TYPE_CHECKING:
    from beadwright.case.model import Case, Material, Section

_RECORD_KEYS = {"temp_c": "dried_temp_c", "hours": "dried_hours", "days_ago": "dried_days_ago"}


def case_facts(case: Case) -> tuple[list[Fact], list[str]]:
    """Return all facts of the case, and one sentence per entry that could not be used."""
    facts = [*_record(case.printer, "[printer]"), *_material(case.material)]
    unread: list[str] = []
    for section, table, origin in (
        ("[settings]", case.settings, Origin.CLAIM),
        ("[measured]", case.measured, Origin.MEASURED),
    ):
        for key, value in _leaves(table):
            found, problem = read_entry(key, value, origin, section)
            facts += found
            unread += [problem] if problem else []
    return facts, unread


def _record(section: Section, where: str) -> Iterator[Fact]:
    for key in type(section).model_fields:
        value = getattr(section, key)
        if value is not None and value != "":
            yield Fact(_RECORD_KEYS.get(key, key), value, Origin.RECORD, f"{where} {key}")


def _material(material: Material) -> Iterator[Fact]:
    from beadwright.knowledge.material_names import find_material

    for fact in _record(material, "[material]"):
        if fact.name not in ("polymer", "filler", "dried"):
            yield fact
    if material.dried is not None:
        yield from _record(material.dried, "[material] dried")
    filler = filler_key(material.filler) if material.filler else None
    if material.polymer is not None:
        polymer, named_filler = find_material(material.polymer)
        filler = filler or named_filler
        yield Fact("polymer", polymer, Origin.RECORD, "[material] polymer")
    if filler:
        yield Fact("filler", filler, Origin.RECORD, "[material] filler")


def _leaves(table: dict[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield names and values; a table's name goes before its keys unless the key is a term by itself."""
    for key, value in table.items():
        name = key if not path or key in load_terms() else f"{path} {key}"
        if isinstance(value, dict):
            yield from _leaves(value, name)
        else:
            yield name, value


def read_entry(name: str, value: Any, origin: Origin, where: str) -> tuple[list[Fact], str]:
    """Return the facts that one entry states, or no fact and a sentence why."""
    shown = f"{where} {name} = {_show(value)}"
    if name in load_terms() and not isinstance(value, str):
        return _exact(name, value, origin, where, shown)
    if isinstance(value, list):
        return [], f"{shown}: a list is only understood under a term's own name"
    match = match_term(name, None, value)
    if match is None:
        return [], f"{shown}: {_no_match(name)}"
    if match.note:
        return [], f"{shown}: read as {match.term.name}, but {match.note}"
    return [Fact(match.term.id, match.value, origin, f"{where} {name}", _half_span(value, match))], ""


def _exact(name: str, value: Any, origin: Origin, where: str, shown: str) -> tuple[list[Fact], str]:
    term = load_terms()[name]
    pairs: list[Given] = [value]
    if isinstance(value, list):  # [dx, dy], or several of them
        pairs = (
            [tuple(entry) for entry in value] if value and all(isinstance(e, list) for e in value) else [tuple(value)]
        )
    if isinstance(value, list) != (term.kind == "numbers"):
        expected = "a list of numbers" if term.kind == "numbers" else "one value"
        return [], f"{shown}: expected {expected}"
    for pair in pairs:
        if expected := out_of_range(term, pair):
            return [], f"{shown}: expected {expected}"
    return [Fact(name, _as_fact(pair), origin, f"{where} {name}") for pair in pairs], ""


def _as_fact(value: Given) -> Given:
    if isinstance(value, tuple):
        return tuple(float(entry) for entry in value)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def _half_span(value: Any, match: Match) -> float | None:
    """Return the standard uncertainty of a written span, "190–220": half its width over root three."""
    span = parse_quantity(value) if isinstance(value, str) else None
    if span is None or span.low == span.high or not isinstance(match.value, float) or not span.middle:
        return None
    return abs(match.value / span.middle) * (span.high - span.low) / 2 / 3**0.5


def _no_match(name: str) -> str:
    near = nearest(name, [one for term in load_terms().values() for one in (term.id, term.name)])
    return (
        f"no term of the trade matches this name; {near} is nearest"
        if near
        else "no term of the trade matches this name"
    )


def _show(value: Any) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "…"
