"""Finding signs by how people say them: the word patterns of `knowledge/signs.toml`.

Small words may stand between a pattern's words ("the layers are all shifted"), one letter may be wrong in a
long word ("stringging"), and the telling words may stand in another order ("the top has holes"); all cost
confidence.

A pattern with `&` asks for one of each group of alternatives, in any order, not far apart:
"belt*|riemen & loose|slack|locker" is met by "the Y belt, I noticed, is quite loose".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from beadwright.errors import KnowledgeError
from beadwright.exhibits.story_text import (
    PatternIndex,
    patterns,
    phrase_tokens,
    plain_token,
    token_fits,
    word_lists,
)
from beadwright.knowledge.model import Sign

EXACT = 0.9
STEM = 0.85
LOOSE = 0.8  # words skipped between, or a slip of one letter
GROUPS = 0.85  # one of each group of alternatives
NEAR = 0.7  # a pattern's telling words stand near one another, in any order
_LONG = 6  # letters from which one wrong letter is forgiven
_MOST_SKIPPED = 2
_MOST_BETWEEN = 3
_TELLING = 4  # letters from which a word tells something by itself
_COMMA = 3  # words that a comma between two groups counts for
_ALLOWANCE = 4  # words that may stand between two groups of a pattern with `&`


@dataclass(frozen=True)
class Hit:
    """A sign's phrase found in a sentence: tokens `first` up to but not including `last`."""

    sign: str
    first: int
    last: int
    confidence: float
    pattern: tuple[str, ...]
    own: frozenset[int] = frozenset()  # the tokens that fit, where other words may stand between them

    def holds(self, place: int) -> bool:
        """Return whether a token belongs to the phrase."""
        return place in self.own if self.own else self.first <= place < self.last


Group = tuple[tuple[str, ...], ...]  # alternatives, each of one or more tokens


class GroupIndex:
    """Patterns of groups of alternatives."""

    def __init__(self, phrases: Iterable[tuple[str, str]]) -> None:
        self._patterns: list[tuple[str, tuple[int, ...]]] = []
        numbers: dict[Group, int] = {}
        for sign, phrase in phrases:
            groups = [_alternatives(group) for group in phrase.split("&")]
            places = tuple(numbers.setdefault(group, len(numbers)) for group in groups if group)
            if len(places) > 1:
                self._patterns.append((sign, places))
        self._words = PatternIndex((one, number) for group, number in numbers.items() for one in group)

    def find(self, words: list[str], clauses: list[int]) -> list[Hit]:
        """Return the patterns whose groups all stand within a few words of one another."""
        found: dict[int, list[tuple[int, int]]] = {}
        for first, last, number in self._words.find(words):
            found.setdefault(number, []).append((first, last))
        hits = []
        for sign, groups in self._patterns:
            if all(number in found for number in groups):
                chosen = _nearest([found[number] for number in groups], clauses)
                if chosen is not None:
                    own = frozenset(place for first, last in chosen for place in range(first, last))
                    whole = clauses[min(own)] == clauses[max(own)]
                    hits.append(Hit(sign, min(own), max(own) + 1, GROUPS if whole else NEAR, (), own))
        return hits


def _alternatives(group: str) -> Group:
    """Return the alternatives of one group; `@belt` stands for the words of that thing in `story_words.toml`."""
    said = [one.strip() for one in group.split("|")]
    things = word_lists()["thing"]
    if unknown := [one for one in said if one.startswith("@") and one[1:] not in things]:
        raise KnowledgeError(
            f"the phrase group '{group.strip()}' names {unknown[0]}, which is no thing known to stories",
            fix=f"Name one of {', '.join('@' + name for name in sorted(things))}, or write the words",
        )
    plain = [word for one in said for word in (things[one[1:]] if one.startswith("@") else [one])]
    return tuple(sorted({tuple(phrase_tokens(one)) for one in plain} - {()}))


def _nearest(options: list[list[tuple[int, int]]], clauses: list[int]) -> list[tuple[int, int]] | None:
    """Return one place per group, none over another, the closest together; None when all are too far apart.

    A comma in between is as far as `_COMMA` words, and two are too far.
    """
    best, nearest = float(len(options) * (_ALLOWANCE + 1)), None
    for anchor in options[0]:
        chosen = [anchor]
        for places in options[1:]:
            free = [one for one in places if all(one[1] <= held[0] or held[1] <= one[0] for held in chosen)]
            if not free:
                break
            chosen.append(min(free, key=lambda one: _gap(anchor, one, clauses)))
        else:
            first, last = min(one[0] for one in chosen), max(one[1] for one in chosen)
            commas = clauses[last - 1] - clauses[first]
            span = last - first + _COMMA * commas
            if span < best and commas < 2:
                best, nearest = span, chosen
    return nearest


def _gap(one: tuple[int, int], other: tuple[int, int], clauses: list[int]) -> float:
    return abs(other[0] - one[0]) + _COMMA * abs(clauses[other[0]] - clauses[one[0]])


@dataclass(frozen=True)
class Lexicon:
    """Patterns by their first word; stems by their first three letters."""

    exact: dict[str, list[tuple[str, tuple[str, ...]]]]
    stems: dict[str, list[tuple[str, tuple[str, ...]]]]
    by_letter: dict[str, tuple[str, ...]]  # long words by first letter, for slips
    vocabulary: frozenset[str]
    loose: dict[str, list[tuple[str, tuple[str, ...]]]]  # telling words of a pattern, by the first of them
    skip: frozenset[str]
    groups: GroupIndex

    def find(self, words: list[str], clauses: list[int] | None = None) -> list[Hit]:
        """Return all phrases in a sentence's words, the longest where several overlap for one sign.

        `clauses` tells for each word which clause it stands in; without, all stand in one.
        """
        mended = [self._mend(word) for word in words]
        hits: list[Hit] = []
        for at, word in enumerate(mended):
            for sign, pattern in self._candidates(word):
                hit = self._match(sign, pattern, mended, words, at)
                if hit is not None:
                    hits.append(hit)
        return _without_doubles([*hits, *self._near(mended), *self.groups.find(mended, clauses or [0] * len(words))])

    def _near(self, words: list[str]) -> list[Hit]:
        """Return patterns of two and more telling words that all stand within a few words of one another."""
        places: dict[str, list[int]] = {}
        for at, word in enumerate(words):
            places.setdefault(word, []).append(at)
        hits = []
        for word in places:
            for sign, telling in self.loose.get(word, ()):
                found = [places[one] for one in telling if one in places]
                if len(found) == len(telling):
                    first, last = _tightest(found)
                    if last - first < len(telling) + _MOST_BETWEEN:
                        own = frozenset(_chosen(found, first, last))
                        hits.append(Hit(sign, first, last + 1, NEAR, telling, own))
        return hits

    def _candidates(self, word: str) -> list[tuple[str, tuple[str, ...]]]:
        return [*self.exact.get(word, ()), *self.stems.get(word[:3], ())]

    def _match(self, sign: str, pattern: tuple[str, ...], words: list[str], said: list[str], at: int) -> Hit | None:
        """Walk the pattern along the words from `at`; a few small words may be passed over in between."""
        place, skipped, slips = at, 0, 0
        for step, one in enumerate(pattern):
            while step and place < len(words) and not token_fits(one, words[place]):
                if words[place] not in self.skip or skipped == _MOST_SKIPPED:
                    return None
                place, skipped = place + 1, skipped + 1
            if place >= len(words) or not token_fits(one, words[place]):
                return None
            slips += words[place] != said[place]
            place += 1
        stem = any(one.endswith("*") for one in pattern)
        confidence = LOOSE if skipped or slips else STEM if stem else EXACT
        return Hit(sign, at, place, confidence, pattern)

    def _mend(self, word: str) -> str:
        """Return the known word that a long unknown word is one letter away from, else the word."""
        if (
            len(word) < _LONG
            or word in self.vocabulary
            or any(token_fits(pattern[0], word) for _, pattern in self.stems.get(word[:3], ()))
        ):
            return word
        near = [known for known in self.by_letter.get(word[0], ()) if is_slip(word, known)]
        return near[0] if len(near) == 1 else word


def is_slip(word: str, known: str) -> bool:
    """Return whether two different words are one letter apart: one too many, missing, wrong, or two swapped.

    >>> is_slip("stringging", "stringing"), is_slip("wrapping", "warping"), is_slip("layres", "layers")
    (True, False, True)
    """
    if abs(len(word) - len(known)) > 1:
        return False
    head = 0
    while head < min(len(word), len(known)) and word[head] == known[head]:
        head += 1
    one, two = word[head:], known[head:]
    if len(one) == len(two):
        return one[1:] == two[1:] or (one[:2] == two[:2][::-1] and one[2:] == two[2:])
    return one[1:] == two if len(one) > len(two) else one == two[1:]


def build_lexicon(signs: Mapping[str, Sign], languages: tuple[str, ...]) -> Lexicon:
    """Return the lexicon of some signs in some languages; kept for the life of the process."""
    phrases = tuple(
        (sign.id, phrase)
        for sign in signs.values()
        for language in (*languages, "mul")
        for phrase in getattr(sign.phrases, language, ())
    )
    return _build(phrases, languages)


@cache
def _build(phrases: tuple[tuple[str, str], ...], languages: tuple[str, ...]) -> Lexicon:
    exact: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    stems: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    vocabulary: set[str] = set()
    loose: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    common = frozenset(one for table in ("skip", "loose_skip") for (one, *_) in patterns(table, languages))
    denials = frozenset(one for (one, *_) in patterns("negation", languages))
    intact = frozenset(one for (one, *_) in patterns("intact", languages))
    for sign, phrase in phrases:
        pattern = tuple(phrase_tokens(phrase))
        if "&" in phrase or not pattern or pattern[0] == "_":
            continue
        vocabulary.update(one for one in pattern if one.isalpha())
        telling = tuple(dict.fromkeys(one for one in pattern if one not in common))
        if (
            len(telling) > 1
            and not denials & set(pattern)
            and all(one.isalpha() and len(one) >= _TELLING for one in telling)
        ):
            loose.setdefault(telling[0], []).append((sign, telling))
        head = pattern[0].removesuffix("*")
        (stems.setdefault(head[:3], []) if pattern[0].endswith("*") else exact.setdefault(head, [])).append(
            (sign, pattern)
        )
    by_letter: dict[str, list[str]] = {}
    for word in sorted(vocabulary):
        if len(word) >= _LONG:
            by_letter.setdefault(word[0], []).append(word)
    skip = frozenset(plain_token(one) for (one, *_) in patterns("skip", languages))
    letters = {letter: tuple(words) for letter, words in by_letter.items()}
    groups = GroupIndex((sign, phrase) for sign, phrase in phrases if "&" in phrase)
    return Lexicon(exact, stems, letters, frozenset(vocabulary | intact), loose, skip, groups)


def _tightest(places: list[list[int]]) -> tuple[int, int]:
    """Return the first and last place of the closest choice, one from each list (short lists)."""
    best = (0, 10**6)
    for anchor in places[0]:
        chosen = [min(options, key=lambda one: abs(one - anchor)) for options in places]
        if max(chosen) - min(chosen) < best[1] - best[0]:
            best = (min(chosen), max(chosen))
    return best


def _chosen(places: list[list[int]], first: int, last: int) -> list[int]:
    return [place for options in places for place in options if first <= place <= last]


def _without_doubles(hits: list[Hit]) -> list[Hit]:
    """Drop a hit that lies within a longer one of another or the same sign: "holes in the top" is no
    "hole".
    """
    kept: list[Hit] = []
    for hit in sorted(hits, key=lambda one: (-len(_places(one)), one.first, -one.confidence)):
        if not any(_covers(other, hit) for other in kept):
            kept.append(hit)
    return sorted(kept, key=lambda one: (one.first, one.last, one.sign))


def _covers(other: Hit, hit: Hit) -> bool:
    held, inner = _places(other), _places(hit)
    surer = other.confidence >= hit.confidence - 0.1  # words merely near one another do not hide a phrase
    return inner <= held and (other.sign == hit.sign or (inner < held and surer))


def _places(hit: Hit) -> frozenset[int]:
    return hit.own or frozenset(range(hit.first, hit.last))
