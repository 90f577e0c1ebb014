"""The answer as a closed, versioned shape: `beadwright diagnose --json`, the case sheet and the bench read
this.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from beadwright.knowledge.model import Family, LivesIn, Probability


class Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Because(Shape):
    """One piece of evidence as it bears on one cause. Positive bits speak for it."""

    evidence: str  # id of the evidence: "sign:stringing", "rule:flow_above_capacity", "measured:shift_mm" …
    bits: float
    text: str


class RankedCause(Shape):
    id: str
    name: str
    family: Family
    lives_in: LivesIn
    probability: Probability  # that it is a root cause
    because: tuple[Because, ...]  # strongest first
    remedies: tuple[str, ...]
    text: str = ""
    at_work: Probability = 0.0  # that it is at work, as a root or because another cause led to it
    follows_from: tuple[str, ...] = ()  # the root that it most likely follows from, when it is no root itself
    chain: tuple[str, ...] = ()  # causes that it most likely led to, in order


class NextCheck(Shape):
    id: str
    text: str
    minutes: float
    expected_bits: float
    separates: tuple[str, ...]  # cause ids whose odds it moves most
    name: str = ""
    effort: str = "look"
    yes_means: str = ""
    no_means: str = ""
    cautions: tuple[str, ...] = ()


class PlanStep(Shape):
    id: str
    text: str
    change: dict[str, tuple[float | None, float]]  # fact -> (from, to); from is null when unknown
    why: str
    chance: Probability  # that this step removes the fault
    may_worsen: tuple[str, ...]
    cautions: tuple[str, ...]
    name: str = ""
    minutes: float = 0.0


class Diagnosis(Shape):
    format: Literal["beadwright.diagnosis/1"] = "beadwright.diagnosis/1"
    causes: tuple[RankedCause, ...]
    none_of_these: Probability
    verdict: Literal["settled", "leaning", "open"]
    next_checks: tuple[NextCheck, ...]
    plan: tuple[PlanStep, ...]
    cautions: tuple[str, ...]
    conflicts: tuple[str, ...]
    unread: tuple[str, ...]  # what in the case could not be used, and why
    summary: str = ""  # the answer in two or three sentences
    missing: tuple[str, ...] = Field(default=(), description="what would carry the verdict, when it is open")
    theories: tuple[str, ...] = ()  # what the sender believes, noted and not counted
