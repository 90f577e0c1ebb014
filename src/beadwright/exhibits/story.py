"""A story in the sender's words, read for signs, for settings and numbers, and for theories.

Nothing read here is certain: every sign carries the phrase that said so and a confidence, for the person to
confirm. Order of trust: a phrase of the lexicon, the same with slips or words between, the likeness of
vectors.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from beadwright.exhibits.story_lexicon import Hit, Lexicon, build_lexicon
from beadwright.exhibits.story_numbers import read_numbers
from beadwright.exhibits.story_scope import Marks, mark, scope_of
from beadwright.exhibits.story_text import Sentence, guess_languages, split_sentences
from beadwright.exhibits.story_theory import Opinion, Theory, find_opinion
from beadwright.exhibits.story_told import ToldLike, pieces_of, told_like
from beadwright.facts import Fact
from beadwright.knowledge.load import Knowledge
from beadwright.knowledge.model import Sign, Term
from beadwright.knowledge.terms import load_terms

MOST_CHARACTERS = 200_000
ENOUGH_SIGNS = 3  # signs found in words: likeness would add seconds and no more

__all__ = ["StoryReading", "StorySign", "Theory", "read_story"]


@dataclass(frozen=True)
class StorySign:
    """A sign that the story speaks of, with the words that say so and where they stand."""

    id: str
    present: bool
    confidence: float
    phrase: str
    span: tuple[int, int]  # characters of the story


@dataclass(frozen=True)
class StoryReading:
    """What a story says."""

    signs: tuple[StorySign, ...] = ()
    facts: tuple[Fact, ...] = ()
    theories: tuple[Theory, ...] = ()
    told_like: tuple[ToldLike, ...] = ()  # causes that the story sounds like
    language: str = "en"
    notes: tuple[str, ...] = ()  # what was cut or could mean two things


Likeness = Callable[[Sequence[str], Mapping[str, Sign]], list[tuple[str, float] | None]]


def read_story(
    text: str,
    knowledge: Knowledge,
    terms: Mapping[str, Term] | None = None,
    *,
    likeness: Likeness | None = None,
    vectors: bool = True,
) -> StoryReading:
    """Return what a story says; any text at all may come in.

    Sentence vectors are only asked when the lexicon finds fewer than `ENOUGH_SIGNS` signs; `vectors=False` leaves
    them out, `likeness` replaces them (one (sign id, confidence) or None per clause).
    """
    notes = []
    if len(text) > MOST_CHARACTERS:
        notes.append(f"the story has {len(text)} characters; only the first {MOST_CHARACTERS} were read")
        text = text[:MOST_CHARACTERS]
    sentences = split_sentences(text)
    languages = guess_languages(sentences)
    lexicon = build_lexicon(knowledge.signs, languages)
    read = [_read_sentence(one, lexicon, languages, text, knowledge) for one in sentences]
    signs = [sign for part in read for sign in part.signs]
    vectors = vectors and len({sign.id for sign in signs if sign.present}) < ENOUGH_SIGNS
    if vectors or likeness is not None:
        signs += _by_vectors([part for part in read if part.silent], text, knowledge, likeness)
    pieces = pieces_of([_counting(part) for part in read], text) if vectors else []
    told = told_like(pieces, knowledge.causes, alone=not any(sign.present for sign in signs))
    numbers = read_numbers(sentences, text, terms or load_terms(), languages)
    return StoryReading(
        signs=_merge(signs),
        facts=numbers.facts,
        theories=tuple(part.opinion.theory for part in read if part.opinion is not None),
        told_like=told,
        language=languages[0],
        notes=(*notes, *numbers.notes),
    )


@dataclass(frozen=True)
class _Part:
    sentence: Sentence
    signs: list[StorySign]
    opinion: Opinion | None
    denied: frozenset[int]  # clauses in which something is denied
    silent: bool  # no phrase, no opinion, no question: worth a look by likeness


def _read_sentence(
    sentence: Sentence, lexicon: Lexicon, languages: tuple[str, ...], text: str, knowledge: Knowledge
) -> _Part:
    marks = mark(sentence, languages)
    opinion = find_opinion(sentence, marks, text, knowledge.causes)
    hits = lexicon.find(sentence.words(), [token.clause for token in sentence.tokens])
    signs = []
    denied = set()
    for hit in hits:
        if opinion is not None and opinion.first <= hit.first < opinion.last:
            continue
        sign = _meant(hit, hits, sentence, marks, text)
        if sign is not None:
            signs.append(sign)
            if not sign.present:
                denied.add(sentence.tokens[hit.first].clause)
    silent = not hits and opinion is None and not sentence.question and not marks.reported
    return _Part(sentence, signs, opinion, frozenset(denied), silent)


def _counting(part: _Part) -> list[tuple[int, int]]:
    """Return the character spans of a sentence's tokens that report something: no theory, no question, no denial."""
    if part.sentence.question:
        return []
    first, last = (0, 0) if part.opinion is None else (part.opinion.first, part.opinion.last)
    return [
        (token.start, token.end)
        for place, token in enumerate(part.sentence.tokens)
        if not first <= place < last and token.clause not in part.denied
    ]


def _meant(hit: Hit, hits: list[Hit], sentence: Sentence, marks: Marks, text: str) -> StorySign | None:
    scope = scope_of(hit, hits, sentence, marks)
    if not scope.sign:
        return None
    start, end = sentence.tokens[hit.first].start, sentence.tokens[hit.last - 1].end
    return StorySign(hit.sign, scope.present, min(hit.confidence, scope.ceiling), text[start:end], (start, end))


def _by_vectors(parts: list[_Part], text: str, knowledge: Knowledge, likeness: Likeness | None) -> list[StorySign]:
    from beadwright.exhibits.story_vectors import clauses_worth_asking, likeness_by_vectors

    spans = clauses_worth_asking([part.sentence for part in parts])
    if not spans:
        return []
    said = [text[start:end] for start, end in spans]
    found = (likeness or likeness_by_vectors)(said, knowledge.signs)
    return [
        StorySign(answer[0], True, answer[1], words, span)
        for answer, words, span in zip(found, said, spans, strict=True)
        if answer is not None
    ]


def _merge(signs: list[StorySign]) -> tuple[StorySign, ...]:
    """Keep the surest entry per sign; one both affirmed and denied is kept as the surer says, less surely."""
    best: dict[str, StorySign] = {}
    for sign in signs:
        held = best.get(sign.id)
        if held is None:
            best[sign.id] = sign
            continue
        surer = sign if sign.confidence > held.confidence else held
        if sign.present != held.present:
            surer = StorySign(surer.id, surer.present, min(surer.confidence, 0.6), surer.phrase, surer.span)
        best[sign.id] = surer
    return tuple(sorted(best.values(), key=lambda one: one.span))
