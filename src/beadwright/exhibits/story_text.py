"""A sender's words cut into sentences and tokens, with their places in the text kept.

Messages come unpunctuated, with emojis, in three languages at once; nothing may fail.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Generic, TypeVar

from beadwright.files import read_toml
from beadwright.knowledge.quantity import fold

WORDS_TABLE = Path(__file__).with_name("story_words.toml")
T = TypeVar("T")
_SURE = 3  # small words of one language from which it is that one
MOST_TOKENS = 60  # a longer sentence is cut: run-on messages have no full stops

# a number, a word with its contracted "n't", or one of the signs that carry meaning beside a number
_TOKEN = re.compile(
    r"(?P<number>\d{1,12}(?:[.,]\d{1,9})*)"
    r"|(?P<word>[^\W\d_]+?n['’]t\b|[^\W\d_]+(?:[²³]|\d+(?![.,]?\d))?)"
    r"|(?P<mark>[°%/²³\"“”„«»?!;:()\[\]\n]|[.,]|–|—|-)"
)
_ENDS = frozenset(".!?;\n")
_BREAKS = frozenset(",:()[]–—")
_QUOTES = frozenset('"“”„«»')


@dataclass(frozen=True)
class Token:
    """One word, number or sign; `text` is folded."""

    text: str
    start: int
    end: int
    clause: int  # counts commas, colons, brackets within the sentence
    quoted: bool = False


@dataclass(frozen=True)
class Sentence:
    """Tokens of one sentence without its punctuation."""

    tokens: tuple[Token, ...]
    start: int
    end: int
    question: bool

    def words(self, first: int = 0, last: int | None = None) -> list[str]:
        return [token.text for token in self.tokens[first:last]]


def plain_token(word: str) -> str:
    """Fold one token; "don't" and "dont" are one word.

    >>> plain_token("Don’t"), plain_token("FÄDEN")
    ('dont', 'faden')
    """
    return fold(word).replace("'", "").replace("’", "")


def phrase_tokens(phrase: str) -> list[str]:
    """Cut a word pattern as texts are cut; a trailing `*` and a lone `_` are kept.

    >>> phrase_tokens("couche* décalée"), phrase_tokens("every _ mm")
    (['couche*', 'decalee'], ['every', '_', 'mm'])
    """
    found = re.findall(r"\d+(?:[.,]\d+)*|[^\W\d_]+?n['’]t\b|[^\W\d_]+\d*\*?|_|[°%]", phrase)
    return [plain_token(token) for token in found]


def split_sentences(text: str) -> list[Sentence]:
    """Return the sentences of a text, in order."""
    sentences: list[Sentence] = []
    tokens: list[Token] = []
    clause, quoted = 0, False
    for found in _TOKEN.finditer(text):
        mark = found["mark"]
        if mark is None or mark in "°%/²³":
            tokens.append(Token(plain_token(found[0]), found.start(), found.end(), clause, quoted))
        elif mark in _QUOTES:
            quoted = not quoted
        elif mark in _BREAKS:
            clause += 1
        if (mark is not None and mark in _ENDS) or len(tokens) >= MOST_TOKENS:
            _close(sentences, tokens, mark == "?")
            tokens, clause = [], 0
            quoted = quoted and mark != "\n"
    _close(sentences, tokens, False)
    return sentences


def _close(sentences: list[Sentence], tokens: list[Token], question: bool) -> None:
    if tokens:
        sentences.append(Sentence(tuple(tokens), tokens[0].start, tokens[-1].end, question))
    elif question and sentences:  # "stringing ???" and the like
        last = sentences[-1]
        sentences[-1] = Sentence(last.tokens, last.start, last.end, True)


@cache
def word_lists() -> dict[str, Any]:
    """Return the tables of small words as written."""
    return read_toml(WORDS_TABLE)


@cache
def patterns(table: str, languages: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Return the patterns of one table in the given languages, longest first, without doubles."""
    lists = word_lists()[table]
    keys = [key for key in lists if key in languages or key == "words"]
    found = {tuple(phrase_tokens(phrase)) for key in keys for phrase in lists[key]}
    return tuple(sorted((one for one in found if one), key=lambda one: (-len(one), one)))


def starts_with(pattern: tuple[str, ...], words: list[str], at: int) -> bool:
    """Return whether `pattern` stands in `words` from place `at` on."""
    if at + len(pattern) > len(words):
        return False
    for step, one in enumerate(pattern):  # a plain loop: this runs for every pattern at every word
        if one != words[at + step] and not token_fits(one, words[at + step]):
            return False
    return True


def token_fits(pattern: str, word: str) -> bool:
    """Return whether one pattern token allows `word`."""
    if pattern == "_":
        return True
    return word.startswith(pattern[:-1]) if pattern.endswith("*") else word == pattern


class PatternIndex(Generic[T]):
    """Word patterns with what they stand for, found quickly by the first word or the first letters of a
    stem.
    """

    def __init__(self, entries: Iterable[tuple[tuple[str, ...], T]]) -> None:
        self._exact: dict[str, list[tuple[tuple[str, ...], T]]] = {}
        self._stems: dict[str, list[tuple[tuple[str, ...], T]]] = {}
        for entry in entries:
            head = entry[0][0]
            if head == "_" or (head.endswith("*") and len(head) < 3):
                self._stems.setdefault("", []).append(entry)
            elif head.endswith("*"):
                self._stems.setdefault(head[:2], []).append(entry)
            else:
                self._exact.setdefault(head, []).append(entry)

    def find(self, words: list[str]) -> list[tuple[int, int, T]]:
        """Return (first, past the last, what it stands for) of every pattern that stands in `words`."""
        nothing: list[tuple[tuple[str, ...], T]] = []
        anywhere = self._stems.get("", nothing)
        return [
            (at, at + len(pattern), meaning)
            for at, word in enumerate(words)
            for entries in (self._exact.get(word, nothing), self._stems.get(word[:2], nothing), anywhere)
            for pattern, meaning in entries
            if starts_with(pattern, words, at)
        ]


def find_any(table: str, languages: tuple[str, ...], words: list[str]) -> list[tuple[int, int]]:
    """Return the places (first, past the last) at which a pattern of the table stands."""
    return [(first, last) for first, last, _ in _table(table, languages).find(words)]


@cache
def _table(table: str, languages: tuple[str, ...]) -> PatternIndex[None]:
    return PatternIndex((one, None) for one in patterns(table, languages))


def guess_languages(sentences: list[Sentence]) -> tuple[str, ...]:
    """Return the languages to read a text in, the likeliest first; English is always among them.

    Where few small words tell (a short note), every language that any of them hints at stays.

    >>> guess_languages(split_sentences("Die Schichten sind verschoben und ich weiß nicht warum"))
    ('de', 'en')
    """
    counts = dict.fromkeys(word_lists()["common"], 0)
    heard = (word for sentence in sentences[:400] for word in sentence.words())
    for word in heard:
        for language in _common().get(word, ()):
            counts[language] += 1
    best = max(counts, key=lambda language: (counts[language], language == "en"))
    if counts[best] >= _SURE:
        return tuple(dict.fromkeys((best, "en")))
    hinted = [language for language, count in counts.items() if count] or list(counts)
    return tuple(dict.fromkeys((best, "en", *hinted)))


@cache
def _common() -> dict[str, tuple[str, ...]]:
    """Return small word -> languages."""
    found: dict[str, list[str]] = {}
    for language, words in word_lists()["common"].items():
        for word in {plain_token(one) for one in words.split()}:
            found.setdefault(word, []).append(language)
    return {word: tuple(languages) for word, languages in found.items()}
