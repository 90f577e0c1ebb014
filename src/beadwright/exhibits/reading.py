"""What a program measured in an exhibit."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Span:
    """A place on the print's timeline; whichever clocks are known."""

    z_mm: tuple[float, float] | None = None
    s: tuple[float, float] | None = None
    layers: tuple[int, int] | None = None
    lines: tuple[int, int] | None = None


@dataclass(frozen=True)
class Reading:
    """One measured quantity, named as the nomenclature page names it."""

    quantity: str
    value: float | str | tuple[float, ...]
    unit: str
    u: float | None  # standard uncertainty; None only for counts and text
    method: str
    exhibit: str  # file name
    at: Span = field(default_factory=Span)
