"""How a story is told, against how people tell of each cause: a soft hint where no phrase of the lexicon fits.

Every cause carries a few sentences in the words of senders (`told` in the tables of causes). A general-purpose
encoder compares the story's pieces with them, in any language. Somebody's theory, a question and what is denied
are left out, since likeness does not see a "not". The hint is capped: it may put a cause in view, not settle it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadwright.exhibits.story_encoder import encoder, vectors_of

if TYPE_CHECKING:
    from beadwright.knowledge.model import Cause

LONGEST_PIECE = 20  # tokens; a longer piece blurs
FEWEST_TOKENS = 4
MOST_PIECES = 24
FAINT = 0.25  # cosine from which a piece is like a telling at all
BITS_PER_COSINE = 9.0  # fitted on the written cases in `tests/`
PACK = 8  # a cause must stand out from the one of this rank
MOST_BITS = 4.0
ALONE = 1.7  # where no phrase was found the hint counts for more: it repeats nothing
LEAST_BITS = 0.3
THROUGH_MECHANISM, LEAST_LINK = 0.7, 0.3  # what is told of a mechanism hints at causes that lead to it


@dataclass(frozen=True)
class ToldLike:
    """A cause that the story sounds like: the hint in bits and the piece that sounds most like it."""

    cause: str
    bits: float
    piece: str


def pieces_of(spans: Sequence[Sequence[tuple[int, int]]], text: str) -> list[str]:
    """Return the pieces of a story to compare, from each sentence's tokens that count (character spans)."""
    found: list[str] = []
    for tokens in spans:
        for start in range(0, len(tokens), LONGEST_PIECE):
            part = tokens[start : start + LONGEST_PIECE]
            if len(part) >= FEWEST_TOKENS:
                found.append(" ".join(text[part[0][0] : part[-1][1]].split()))
    return found[:MOST_PIECES]


def told_like(pieces: Sequence[str], causes: Mapping[str, Cause], *, alone: bool = False) -> tuple[ToldLike, ...]:
    """Return the causes whose tellings stand out in likeness to the pieces, the likest first.

    `alone`: the story holds no sign that was read, so that the hint repeats nothing.
    """
    import numpy as np

    model = encoder()
    bank = [(name, said) for name, cause in causes.items() for said in cause.told]
    if model is None or not pieces or not bank:
        return ()
    names = list(dict.fromkeys(name for name, _ in bank))
    said = [*pieces, " ".join(pieces)[:500]]  # the whole once more: a thread may run through several pieces
    close = np.asarray(model.encode(said), dtype=np.float32) @ vectors_of([s for _, s in bank], model).T
    owner = np.array([names.index(name) for name, _ in bank])
    likeness = np.full((len(said), len(names)), -1.0)
    for row in range(len(said)):
        np.maximum.at(likeness[row], owner, close[row])
    above = np.maximum(likeness - FAINT, 0.0)
    score = dict(zip(names, above.sum(axis=0).tolist(), strict=True))
    best = {name: pieces[int(above[:-1, k].argmax())] for k, name in enumerate(names)}
    per_cosine = BITS_PER_COSINE * (ALONE if alone else 1.0)
    return tuple(_standing_out(_through_mechanisms(score, causes), best, causes, per_cosine))


def _through_mechanisms(score: Mapping[str, float], causes: Mapping[str, Cause]) -> dict[str, float]:
    reached = dict(score)
    for name, cause in causes.items():
        for other, chance in cause.leads_to.items():
            if causes[other].mechanism and chance >= LEAST_LINK:
                reached[name] = max(reached.get(name, 0.0), THROUGH_MECHANISM * score.get(other, 0.0))
    return reached


def _standing_out(
    score: Mapping[str, float], best: Mapping[str, str], causes: Mapping[str, Cause], per_cosine: float
) -> Iterator[ToldLike]:
    order = sorted(score, key=lambda name: -score[name])
    pack = score[order[min(PACK, len(order)) - 1]]
    for name in order[:PACK]:
        bits = min(per_cosine * (score[name] - pack), MOST_BITS)
        if bits >= LEAST_BITS and not causes[name].mechanism:
            yield ToldLike(name, round(bits, 2), best.get(name, ""))
