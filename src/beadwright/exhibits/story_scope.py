"""What the words around a phrase make of it: denied, past, doubted, asked about, somebody's opinion.

"no stringing at all"                       denied: absent
"I can't stop the stringing"                denied of the stopping, not of the stringing: present
"I think it's the belts"                    opinion about a cause: a theory, no sign
"why is it stringing?"                      taken for granted: present, less surely
"could this be stringing?"                  asked: no sign
"""

from __future__ import annotations

from dataclasses import dataclass

from beadwright.exhibits.story_lexicon import Hit
from beadwright.exhibits.story_text import Sentence, find_any

HEDGED = 0.65
FEW = 0.6  # "hardly any": absent, though not quite
_REACH = 6  # words over which a negation reaches forward
_REACH_BACK = 5
_REACH_HEDGE = 4
_REACH_LIST = 4
_OR = frozenset({"or", "nor", "oder", "ou", "ni", "o", "of", "noch", "lub", "ani"})


@dataclass(frozen=True)
class Scope:
    """How a phrase is meant; `sign` is False when it says nothing of the print."""

    sign: bool
    present: bool = True
    ceiling: float = 1.0  # confidence is at most this


@dataclass(frozen=True)
class Marks:
    """Places of the small words of one sentence."""

    negation: list[tuple[int, int]]
    negation_after: list[tuple[int, int]]
    void: frozenset[int]
    scope_end: frozenset[int]
    few: list[tuple[int, int]]
    hedge: list[tuple[int, int]]
    past: list[tuple[int, int]]
    against: list[tuple[int, int]]
    opinion: list[tuple[int, int]]
    reported: list[tuple[int, int]]
    presupposes: list[tuple[int, int]]


def mark(sentence: Sentence, languages: tuple[str, ...]) -> Marks:
    """Return where the small words of a sentence stand."""
    words = sentence.words()

    def places(table: str) -> list[tuple[int, int]]:
        return find_any(table, languages, words)

    return Marks(
        negation=places("negation"),
        negation_after=places("negation_after"),
        void=frozenset(first for first, _ in places("negation_void")),
        scope_end=frozenset(first for first, _ in places("scope_end")),
        few=places("few"),
        hedge=places("hedge"),
        past=places("past"),
        against=places("against"),
        opinion=places("opinion"),
        reported=places("reported"),
        presupposes=places("presupposes"),
    )


def scope_of(hit: Hit, hits: list[Hit], sentence: Sentence, marks: Marks) -> Scope:
    """Return how a found phrase is meant in its sentence."""
    asked_of_cause = bool(marks.presupposes) and min(marks.presupposes)[0] <= hit.first
    if sentence.question and not asked_of_cause:
        return Scope(sign=False)
    if _before(hit, marks.against, sentence, 3):
        return Scope(sign=False)
    ceiling = HEDGED if _before(hit, marks.hedge, sentence, _REACH_HEDGE) or marks.opinion else 1.0
    if asked_of_cause and sentence.question:
        ceiling = min(ceiling, HEDGED)
    if _before(hit, marks.few, sentence, 3):
        return Scope(sign=True, present=False, ceiling=FEW)
    if _denied(hit, hits, sentence, marks):
        return Scope(sign=True, present=False, ceiling=ceiling)
    if any(first < hit.first for first, _ in marks.past):
        return Scope(sign=True, present=False, ceiling=FEW)
    return Scope(sign=True, ceiling=ceiling)


def _denied(hit: Hit, hits: list[Hit], sentence: Sentence, marks: Marks) -> bool:
    own = [other for other in hits if other is not hit]
    negative = any(hit.holds(first) for first, _ in marks.negation)  # "does not touch": the not is the sign's own
    for first, last in () if negative else marks.negation:
        inside_other = any(other.holds(first) for other in own)
        if last <= hit.first and not inside_other and _reaches(last, hit.first, sentence, marks):
            return True
        if hit.own and hit.first < first < hit.last and not inside_other and _between(first, last, hit, marks):
            return True
    return any(
        first >= hit.last
        and first - hit.last < _REACH_BACK
        and not any(other.first < last and first < other.last for other in own)
        and _follows(first, hit.last, sentence)
        and not any(place in marks.scope_end and place < first for place in range(hit.last, first))
        and not _hit_between(own, hit.last, first)
        for first, last in marks.negation_after
    )


def _follows(first: int, end: int, sentence: Sentence) -> bool:
    """Return whether a denial speaks of the phrase before it: in its clause, or opening the next one.

    "stringing, is gone" does; "the nozzle scratches the plate, the wall is perfect" has a subject of its own.
    """
    clauses = sentence.tokens[first].clause - sentence.tokens[end - 1].clause
    return clauses == 0 or (clauses == 1 and sentence.tokens[first - 1].clause < sentence.tokens[first].clause)


def _between(first: int, last: int, hit: Hit, marks: Marks) -> bool:
    """Return whether a negation amid the words of a phrase denies it, being no part of it."""
    return not any(place in hit.own for place in range(first, last)) and not any(
        place in marks.void or place in marks.scope_end for place in range(last, hit.last)
    )


def _hit_between(hits: list[Hit], first: int, last: int) -> bool:
    return any(first <= other.first < last for other in hits)


def _reaches(last: int, to: int, sentence: Sentence, marks: Marks) -> bool:
    """Return whether a negation that ends before `last` reaches the token `to`."""
    if to - last > _REACH:
        return False
    between = range(last, to)
    if any(place in marks.void or place in marks.scope_end for place in between):
        return False
    if sentence.tokens[to].clause == sentence.tokens[last - 1].clause:
        return True
    # a list goes on over commas, "no strings, blobs or zits"; "no strings, layers shifted" is none
    return to - last <= _REACH_LIST and bool(_OR & set(sentence.words(last, to + 2)))


def _before(hit: Hit, places: list[tuple[int, int]], sentence: Sentence, reach: int) -> bool:
    clause = sentence.tokens[hit.first].clause
    return any(
        last <= hit.first and hit.first - last < reach and sentence.tokens[first].clause == clause
        for first, last in places
    )
