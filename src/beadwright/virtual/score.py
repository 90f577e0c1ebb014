"""How well answers did on virtual cases: hits, calibration, log loss, and checks needed to settle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

BINS = 10
LEAST_CHANCE = 0.002  # of a true cause that an answer does not list


@dataclass(frozen=True)
class Outcome:
    """One case, as answered: who led, was it right, how likely were first and truth held to be."""

    number: int
    family: str
    true: tuple[str, ...]
    leaders: tuple[str, ...]  # first three
    first_chance: float
    true_chance: float  # of the likeliest true cause
    rank: int  # of the best true cause, 1 first; 0 not listed
    checks: int | None = None  # answers needed until the true cause stood at 80 %; None: not within the limit

    @property
    def right(self) -> bool:
        return self.rank == 1

    @property
    def in_three(self) -> bool:
        return 1 <= self.rank <= 3


def outcome(number: int, family: str, true: Sequence[str], ranked: Sequence[tuple[str, float]]) -> Outcome:
    """Return the outcome of an answer `ranked` as (cause, chance), best first.

    >>> outcome(1, "motion", ["b"], [("a", 0.6), ("b", 0.3)]).rank
    2
    """
    places = [place for place, (name, _) in enumerate(ranked, 1) if name in true]
    chance = max((chance for name, chance in ranked if name in true), default=0.0)
    leaders = tuple(name for name, _ in ranked[:3])
    return Outcome(number, family, tuple(true), leaders, ranked[0][1], chance, places[0] if places else 0)


@dataclass(frozen=True)
class Bin:
    """Answers whose first cause was held about this likely."""

    count: int
    said: float
    came_true: float


def reliability(outcomes: Sequence[Outcome]) -> list[Bin]:
    """Return ten bins of the first cause's chance, empty ones left out."""
    said = np.array([one.first_chance for one in outcomes])
    right = np.array([one.right for one in outcomes], float)
    at = np.minimum((said * BINS).astype(int), BINS - 1)
    found = [(int((at == k).sum()), k) for k in range(BINS)]
    return [Bin(count, float(said[at == k].mean()), float(right[at == k].mean())) for count, k in found if count]


def calibration_error(outcomes: Sequence[Outcome]) -> float:
    """Return the expected calibration error: mean gap between said and come true, weighted by answers.

    >>> good = [Outcome(0, "", ("a",), ("a",), 1.0, 1.0, 1)] * 4
    >>> calibration_error(good), calibration_error([Outcome(0, "", ("b",), ("a",), 0.9, 0.05, 0)])
    (0.0, 0.9)
    """
    return sum(one.count * abs(one.said - one.came_true) for one in reliability(outcomes)) / len(outcomes)


def log_loss(outcomes: Sequence[Outcome]) -> float:
    """Return the mean of −ln of the chance given to the likeliest true cause [nats]."""
    return float(np.mean([-log(max(one.true_chance, LEAST_CHANCE)) for one in outcomes]))


def share(flags: Sequence[bool]) -> float:
    return float(np.mean(flags)) if flags else float("nan")
