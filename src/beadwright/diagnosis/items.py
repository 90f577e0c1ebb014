"""The kinds of evidence that the network takes, each already boiled down to numbers.

An item never knows where it came from: `evidence.py` gathers and words them, `infer.py` counts them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Observation:
    """A noisy-OR finding: a sign, or a check with a result of its own, reported present or absent.

    A report made with confidence c has the likelihood c·P(as reported) + w·P(the opposite), w being the
    chance of such a report when it is wrong: 1 − c unless given. c = 1 is hard evidence, w = c says
    nothing.
    """

    id: str
    text: str
    links: Mapping[str, float]  # cause id -> chance that it alone brings the finding about
    leak: float  # chance of the finding with none of those causes
    present: bool
    confidence: float = 1.0
    wrong: float | None = None
    stray: float = 0.2  # chance that a cause outside the tables brings it about


@dataclass(frozen=True)
class Likelihood:
    """A measured value: for each claiming cause, its density there over a background density.

    With several claimers at work the value is one's or another's doing: the mean of their ratios. With
    none, 1.
    """

    id: str
    text: str
    ratios: Mapping[str, float]


@dataclass(frozen=True)
class Shift:
    """Bits added to the prior log odds of causes: context, audit findings, rules that stayed quiet."""

    id: str
    text: str
    bits: Mapping[str, float]


@dataclass(frozen=True)
class Attempts:
    """A table of trials: likelihood by root cause (missing: `other`), averaged over the causes of a set."""

    id: str
    text: str
    ratios: Mapping[str, float] = field(default_factory=dict)
    other: float = 1.0  # for a cause outside the tables


Evidence = Observation | Likelihood | Shift | Attempts
