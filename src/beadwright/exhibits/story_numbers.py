"""Numbers, materials and machine words that a story mentions, as facts of the weakest kind.

A number is only taken for what the words beside it name; the unit and the plausible range must agree. What is
advice ("the label says 230") stays unread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from beadwright.exhibits.story_material import material_facts
from beadwright.exhibits.story_shift import shift_fact
from beadwright.exhibits.story_text import PatternIndex, Sentence, find_any, phrase_tokens, word_lists
from beadwright.facts import Fact, Origin
from beadwright.knowledge.model import Term
from beadwright.knowledge.quantity import canonical_unit, convert, parse_number
from beadwright.knowledge.terms import out_of_range

_UNIT = re.compile(
    r"\s*(°\s?[cf]\b|degrees?\s[cf]\b|degrees?\b|deg\b|grad\b|degr[eé]s\b|grados\b|gradi\b|°"
    r"|mm\s?/\s?s(?:²|2|\^2)|mm\s?/\s?s(?:ec)?\b|mm\s?/\s?min\b|mm[³3]/s|mm\b|cm\b|%|percent\b|prozent\b"
    r"|inch(?:es)?\b|µm|microns?\b|hours?\b|hrs?\b|h\b|std\b|stunden\b|heures\b|horas\b|days?\b|tage\b"
    r"|seconds?\b|sec\b|s\b|g\b|kg\b|hz\b|[cfk]\b)",
    re.IGNORECASE,
)
_SPAN = re.compile(r"\s*(?:-|–|to|bis|à|and|und)\s*$")
_ABOUT = frozenset({"about", "around", "approx", "roughly", "circa", "ca", "etwa", "ungefahr", "environ", "unos"})
_BARE_AT = frozenset({"at", "bei", "mit", "auf", "a", "op"})
_NOZZLE_BARE = (170.0, 320.0)
_FARTHEST = 6
_FIRST_LAYER = PatternIndex(
    (tuple(phrase_tokens(phrase)), None)
    for phrase in (
        "first layer",
        "1st layer",
        "initial layer",
        "erste* schicht",
        "première couche",
        "primera capa",
    )
)
_FIRST = {
    "nozzle_temp_c": "first_layer_nozzle_temp_c",
    "bed_temp_c": "first_layer_bed_temp_c",
    "fan_percent": "first_layer_fan_percent",
    "layer_height_mm": "first_layer_height_mm",
    "speed_mm_s": "first_layer_speed_mm_s",
}


@dataclass(frozen=True)
class NumbersRead:
    """Facts said in the story, and notes on what could mean two things."""

    facts: tuple[Fact, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Said:
    """One number with its unit and its place in a sentence."""

    value: float
    unit: str | None
    first: int  # token
    last: int  # token past the last
    start: int  # character
    end: int
    u: float | None = None


def read_numbers(
    sentences: list[Sentence], text: str, terms: Mapping[str, Term], languages: tuple[str, ...]
) -> NumbersRead:
    """Return the facts that a story's numbers and words state; the first said of each quantity leads."""
    facts: list[Fact] = []
    for sentence in sentences:
        words = sentence.words()
        facts += _printer_words(sentence, text, words, languages)
        if any(word[0].isdigit() for word in words) and not find_any("no_own_number", languages, words):
            facts += _sentence_numbers(sentence, text, words, terms)
    materials, notes = material_facts(sentences, text)
    return NumbersRead(tuple(_first_of_each([*facts, *materials])), tuple(notes))


def _first_of_each(facts: list[Fact]) -> Iterator[Fact]:
    seen: set[tuple[str, object]] = set()
    for fact in facts:
        if (fact.name, fact.value) not in seen:
            seen.add((fact.name, fact.value))
            yield fact


def _sentence_numbers(sentence: Sentence, text: str, words: list[str], terms: Mapping[str, Term]) -> Iterator[Fact]:
    shift = shift_fact(sentence, text)
    if shift is not None:
        yield shift
    numbers = _numbers(sentence, text, words)
    for place, said in enumerate(numbers):
        named = _pair(numbers, place, text) or _named(said, sentence, words, terms) or _unnamed(said, words, text)
        if named is None and not (shift is not None and _is_part_of(said, shift)):
            named = _onset(said, words)
        if named is not None:
            name, value = named
            if name in terms and not out_of_range(terms[name], value):
                yield Fact(name, value, Origin.STORY, quote(text, sentence, said.start, said.end), said.u)


def _is_part_of(said: Said, shift: Fact) -> bool:
    return isinstance(shift.value, tuple) and said.value in {abs(amount) for amount in shift.value}


def quote(text: str, sentence: Sentence, start: int, end: int) -> str:
    """Return the words around a place as provenance: "the story: '… print at 210 …'"."""
    first, last = max(sentence.start, start - 30), min(max(sentence.end, end), end + 20)
    said = " ".join(text[first:last].split())
    return f"the story: '{'… ' if first > sentence.start else ''}{said}{' …' if last < sentence.end else ''}'"


def _numbers(sentence: Sentence, text: str, words: list[str]) -> list[Said]:
    """Return the sentence's numbers; spans become their middle, changes their end."""
    found: list[Said] = []
    skip_to = 0
    for place, word in enumerate(words):
        if place < skip_to or not word[0].isdigit() or not re.fullmatch(r"[\d.,]+", word):
            continue
        said = _one(sentence, text, place)
        follower = _next_number(words, said.last)
        between = text[said.end : sentence.tokens[follower].start] if follower is not None else "|"
        if follower is not None and _SPAN.match(between):
            said = _joined(said, _one(sentence, text, follower), words, between)
            skip_to = follower + 1
        if place and words[place - 1] in _ABOUT and said.u is None:
            said = Said(said.value, said.unit, said.first, said.last, said.start, said.end, 0.03 * abs(said.value))
        found.append(said)
    return found


def _next_number(words: list[str], start: int) -> int | None:
    return next((at for at in range(start, min(start + 2, len(words))) if words[at][0].isdigit()), None)


def _one(sentence: Sentence, text: str, place: int) -> Said:
    token = sentence.tokens[place]
    value = parse_number(token.text)[0]
    unit = _UNIT.match(text, token.end)
    end = unit.end() if unit else token.end
    last = place + 1
    while last < len(sentence.tokens) and sentence.tokens[last].start < end:
        last += 1
    return Said(value, canonical_unit(unit[1]) if unit else None, place, last, token.start, end)


def _joined(one: Said, two: Said, words: list[str], between: str) -> Said:
    unit = two.unit or one.unit
    change = one.first > 0 and words[one.first - 1] in _folded("from") and not re.match(r"\s*[-–]", between)
    if change or "and" in between or "und" in between:
        value, u = two.value, None
        if not change:  # "200 and 210": two tries; the last is the one in force
            u = abs(two.value - one.value) / 2
    else:
        value, u = (one.value + two.value) / 2, abs(two.value - one.value) / 2 / 3**0.5
    return Said(value, unit, one.first, two.last, one.start, two.end, u)


def _folded(key: str) -> frozenset[str]:
    return frozenset(token for words in word_lists()["change"][key] for token in phrase_tokens(words))


def _pair(numbers: list[Said], place: int, text: str) -> tuple[str, float] | None:
    """Read "210/60" as nozzle and bed."""
    said = numbers[place]
    for other, name, low, high in (
        (place + 1, "nozzle_temp_c", 160.0, 450.0),
        (place - 1, "bed_temp_c", 20.0, 150.0),
    ):
        if not 0 <= other < len(numbers) or not low <= said.value <= high:
            continue
        one, two = sorted((said, numbers[other]), key=lambda entry: entry.start)
        if re.fullmatch(r"\s*/\s*", text[one.end : two.start]) and one.value >= 160 and two.value <= 150:
            return name, said.value
    return None


@cache
def _keywords() -> PatternIndex[tuple[dict[str, Any], ...]]:
    return PatternIndex(
        (tuple(phrase_tokens(words)), tuple(entry["terms"]))
        for entry in word_lists()["number"]
        for words in entry["words"]
    )


def _named(said: Said, sentence: Sentence, words: list[str], terms: Mapping[str, Term]) -> tuple[str, float] | None:
    """Return the quantity named nearest to a number, among those whose unit and range allow it."""
    start = max(0, said.first - _FARTHEST)
    near = sorted(
        (
            (_distance(said, start + first, last - first, sentence, words), first - last, number, options)
            for number, (first, last, options) in enumerate(_keywords().find(words[start : said.last + _FARTHEST]))
        ),
        key=lambda entry: entry[:3],
    )
    for distance, _, _, options in near:
        for option in options:
            value = _fits(said, option, terms[option["id"]])
            if distance <= _FARTHEST and value is not None:
                return _first_layer(option["id"], said, words), value
    return None


def _distance(said: Said, at: int, length: int, sentence: Sentence, words: list[str]) -> float:
    """Count the words between; a name before its number is nearer than one after, another number in between
    bars.
    """
    after = at >= said.last
    gap = range(said.last, at) if after else range(at + length, said.first)
    barred = sum(2.0 for place in gap if words[place][0].isdigit())
    breaks = abs(sentence.tokens[at].clause - sentence.tokens[said.first].clause)
    return len(gap) + (0.5 if after else 0.0) + 3.0 * breaks + barred


def _fits(said: Said, option: dict[str, Any], term: Term) -> float | None:
    value = said.value
    if said.unit is not None:
        converted = convert(value, said.unit, term.unit)
        if converted is None or out_of_range(term, converted):
            return None
        bounded = term.unit == "°C" or option.get("part")
        return converted if not bounded or option["low"] <= converted <= option["high"] else None
    if option.get("unit") or (option.get("whole") and value != int(value)):
        return None
    if option.get("part") and value >= 1:
        return None
    if term.unit == "%" and 0 < value < 1:
        value *= 100
    return value if option["low"] <= value <= option["high"] else None


def _first_layer(name: str, said: Said, words: list[str]) -> str:
    near = words[max(0, said.first - 5) : said.last + 4]
    return _FIRST.get(name, name) if _FIRST_LAYER.find(near) else name


def _unnamed(said: Said, words: list[str], text: str) -> tuple[str, float] | None:
    """Read what needs no name: a hot temperature, a speed's unit, "at 210"."""
    del text
    celsius = convert(said.value, said.unit, "°C") if said.unit else said.value
    low, high = _NOZZLE_BARE
    before = words[said.first - 1] if said.first else ""
    if celsius is not None and low <= celsius <= high:
        from beadwright.knowledge.material_names import polymer_names

        beside_polymer = before in polymer_names()
        if said.unit in ("°C", "°F", "°") or (said.unit is None and (before in _BARE_AT or beside_polymer)):
            return "nozzle_temp_c", celsius
    if said.unit in ("mm/s", "mm/min") and (speed := convert(said.value, said.unit, "mm/s")) is not None:
        return "speed_mm_s", speed
    return ("accel_mm_s2", said.value) if said.unit == "mm/s²" else None


@cache
def _onset_words() -> tuple[frozenset[str], PatternIndex[None]]:
    lists = word_lists()["onset"]
    before = frozenset(phrase_tokens(phrase)[-1] for phrase in lists["before"])
    return before, PatternIndex((tuple(phrase_tokens(phrase)), None) for phrase in lists["hint"])


def _onset(said: Said, words: list[str]) -> tuple[str, float] | None:
    """Read "it began at 18 mm", "from about 2 cm upwards"."""
    if said.unit not in ("mm", "cm", "in"):
        return None
    before, hints = _onset_words()
    near = words[max(0, said.first - 2) : said.first]
    led = bool(before & set(near)) or words[said.last : said.last + 1] in (["up"], ["hoch"], ["above"])
    height = convert(said.value, said.unit, "mm")
    return ("onset_z_mm", height) if led and height is not None and hints.find(words) else None


@cache
def _statements() -> PatternIndex[str]:
    lists = word_lists()
    fan = {"fan_percent=0": lists["fan_words"]["off"], "fan_percent=100": lists["fan_words"]["full"]}
    return PatternIndex(
        (tuple(phrase_tokens(phrase)), statement)
        for statement, phrases in {**lists["printer_words"], **fan}.items()
        for phrase in phrases
    )


def _printer_words(sentence: Sentence, text: str, words: list[str], languages: tuple[str, ...]) -> Iterator[Fact]:
    """Read "my corexy", "bowden", "fan off", unless denied."""
    stated = _statements().find(words)
    denied = {last for _, last in find_any("negation", languages, words)} if stated else set()
    for first, last, statement in stated:
        if first in denied or first - 1 in denied:
            continue
        name, _, value = statement.partition("=")
        where = quote(text, sentence, sentence.tokens[first].start, sentence.tokens[last - 1].end)
        yield Fact(name, float(value) if value.isdigit() else value, Origin.STORY, where)
