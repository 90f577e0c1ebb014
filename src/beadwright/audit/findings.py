"""What a rule found, where, and which causes it bears on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Level = Literal["note", "warn", "fault", "danger"]

# Bits by which a finding of each level moves the odds of the causes it bears on, before its own `bits` overrule.
LEVEL_BITS: dict[str, float] = {"note": 0.5, "warn": 1.5, "fault": 3.0, "danger": 3.5}


@dataclass(frozen=True)
class Where:
    """Where in the print: inclusive ranges, None where not known."""

    layers: tuple[int, int] | None = None  # 1-based layer numbers
    lines: tuple[int, int] | None = None  # 1-based source lines
    z_mm: tuple[float, float] | None = None


@dataclass(frozen=True)
class Finding:
    """One rule that spoke up."""

    rule: str  # snake_case id of the rule
    level: Level
    value: float  # what was measured or claimed
    unit: str
    window: tuple[float | None, float | None]  # expected range, None where open
    source: str  # key in sources.toml that gives the window
    text: str  # one sentence: what, where, measured, expected
    bears_on: tuple[str, ...]  # cause ids
    where: Where = field(default_factory=Where)
    bits: float | None = None  # weight on each cause borne on; None: by level
    origin: str = ""  # provenance of the fact the rule used, in words
    clears: str = ""  # the change that would clear it, in numbers where there are any; "" where none is known

    @property
    def weight_bits(self) -> float:
        return LEVEL_BITS[self.level] if self.bits is None else self.bits


@dataclass(frozen=True)
class Quiet:
    """A rule that was asked, had what it needed, and found nothing: it speaks against its causes."""

    rule: str
    bears_on: tuple[str, ...]
    bits: float  # negative
    text: str  # "nozzle temperature 215 °C lies in the window 190–230 °C"


@dataclass(frozen=True)
class Audit:
    """All that the rules had to say."""

    findings: tuple[Finding, ...]
    quiet: tuple[Quiet, ...]
    not_asked: tuple[str, ...]  # rules whose facts were missing


def say_range(noun: str, ends: tuple[int, int]) -> str:
    """Say an inclusive range.

    >>> say_range("layer", (2, 40)), say_range("line", (7, 7))
    ('layers 2–40', 'line 7')
    """
    first, last = ends
    return f"{noun} {first}" if first == last else f"{noun}s {first}–{last}"
