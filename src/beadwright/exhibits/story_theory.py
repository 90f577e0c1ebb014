"""A sender's own theory: noted with the causes it may mean, never a sign and never evidence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from beadwright.exhibits.story_scope import Marks
from beadwright.exhibits.story_text import PatternIndex, Sentence, phrase_tokens, word_lists

MOST_CAUSES = 6


@dataclass(frozen=True)
class Theory:
    """What somebody takes for the cause, in their words, and which causes that may be."""

    text: str
    cause_ids: tuple[str, ...]


@dataclass(frozen=True)
class Opinion:
    """A theory with the tokens that belong to it, so that no sign is read from them."""

    theory: Theory
    first: int
    last: int


def find_opinion(sentence: Sentence, marks: Marks, text: str, known: Iterable[str]) -> Opinion | None:
    """Return the opinion that a sentence holds, None when it only reports what is seen.

    `text` is the whole story, `known` the ids of causes that exist.
    """
    reported = [first for first, _ in marks.reported if not _by_a_machine(sentence, first)]
    starts = [*(first for first, _ in marks.opinion), *reported]
    if not starts and not (sentence.question and not marks.presupposes):
        return None
    first = min(starts, default=0)
    if reported:  # "my friend says …": the clause before the verb names who, not what
        first = min(first, _clause_start(sentence, first))
    ends = _ends(sentence, max(starts, default=0))
    if reported:
        ends = [_said_until(sentence, ends, set(known))]
    last = ends[-1]
    causes: tuple[str, ...] = ()
    for end in ends:  # own opinions end with the clause that names a cause; what follows is what was seen
        causes = named_causes(sentence.words(first, end), set(known))
        if causes:
            last = end
            break
    said = text[sentence.tokens[first].start : sentence.tokens[last - 1].end]
    if not causes and not reported:
        return None
    return Opinion(Theory(said, causes), first, last)


def named_causes(words: list[str], known: set[str]) -> tuple[str, ...]:
    """Return the causes that some words may mean; the longer wording wins where two overlap."""
    taken: set[int] = set()
    found: list[str] = []
    for first, last, causes in sorted(_guesses().find(words), key=lambda one: (one[0] - one[1], one[0])):
        if not taken & set(range(first, last)):
            taken |= set(range(first, last))
            found += [cause for cause in causes if cause in known and cause not in found]
    return tuple(found[:MOST_CAUSES])


@cache
def _guesses() -> PatternIndex[tuple[str, ...]]:
    """Return the words by which people name causes."""
    return PatternIndex(
        (tuple(phrase_tokens(words)), tuple(entry["causes"]))
        for entry in word_lists()["guess"]
        for words in entry["words"]
    )


# fmt: off
_MACHINES = frozenset({
    "screen", "display", "printer", "machine", "it", "settings", "profile", "software", "program", "out",
    "readout", "thermometer", "thermocouple", "scale", "caliper", "calliper", "multimeter", "app", "graph",
    "file", "anzeige", "drucker", "waage", "profil", "ecran", "reglages", "pantalla", "perfil", "schermo",
})
# fmt: on


def _by_a_machine(sentence: Sentence, at: int) -> bool:
    """Return whether a display said it: that is seen, not somebody's opinion."""
    return at > 0 and sentence.tokens[at - 1].text in _MACHINES


def _clause_start(sentence: Sentence, at: int) -> int:
    """Return where the clause around a token begins: at its comma, or after a "because" in it."""
    clause = sentence.tokens[at].clause
    start = next(place for place, token in enumerate(sentence.tokens) if token.clause == clause)
    turns = [place + 1 for place in range(start, at) if sentence.tokens[place].text in _TURNS]
    return turns[-1] if turns else start


def _said_until(sentence: Sentence, ends: list[int], known: set[str]) -> int:
    """Return where somebody's words end: with the clause after which no further cause is named."""
    for end, following in pairwise(ends):
        if not named_causes(sentence.words(end, following), known):
            return end
    return ends[-1]


_TURNS = frozenset(
    {"but", "however", "aber", "jedoch", "mais", "pero", "ma", "maar", "ale", "mas", "because", "weil", "parce"}
)


def _ends(sentence: Sentence, start: int) -> list[int]:
    """Return where an opinion may end: at each comma after it, at last with `_end`."""
    last = _end(sentence, start)
    clauses = [token.clause for token in sentence.tokens]
    return [place for place in range(start + 1, last) if clauses[place] != clauses[place - 1]] + [last]


def _end(sentence: Sentence, start: int) -> int:
    """Return where an opinion ends at the latest: at a "but" after it, else with the sentence."""
    for place in range(start + 1, len(sentence.tokens)):
        if sentence.tokens[place].text in _TURNS:
            return place
    return len(sentence.tokens)
