"""A sender's own theory: noted with the causes it may mean, never a sign and never evidence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

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
    starts = [first for first, _ in (*marks.opinion, *marks.reported)]
    if not starts and not (sentence.question and not marks.presupposes):
        return None
    first = min(starts, default=0)
    if marks.reported:  # "my friend says …": the clause before the verb names who, not what
        first = min(first, _clause_start(sentence, first))
    last = _end(sentence, marks, max(starts, default=0))
    causes = named_causes(sentence.words(first, last), set(known))
    said = text[sentence.tokens[first].start : sentence.tokens[last - 1].end]
    if not causes and not marks.reported:
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


def _clause_start(sentence: Sentence, at: int) -> int:
    clause = sentence.tokens[at].clause
    return next(place for place, token in enumerate(sentence.tokens) if token.clause == clause)


_TURNS = frozenset(
    {"but", "however", "aber", "jedoch", "mais", "pero", "ma", "maar", "ale", "mas", "because", "weil"}
)


def _end(sentence: Sentence, marks: Marks, start: int) -> int:
    """Return where an opinion ends: at a "but" after it, else with the sentence."""
    for place in range(start + 1, len(sentence.tokens)):
        if sentence.tokens[place].text in _TURNS:
            return place
    return len(sentence.tokens)
