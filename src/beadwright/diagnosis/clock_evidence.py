"""What marks at heights say of the causes: a likelihood for each through the periods of this printer's parts.

A cause's likelihood is that of its parts' periods (some of its marks come without a rhythm all the same), held
against that of a failed print with another cause: marks without rhythm as often as marks with any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.clock_drift import Drift, marks_drift, strengths_drift
from beadwright.diagnosis.clock_fit import log_mean
from beadwright.diagnosis.clock_maps import PrintClocks
from beadwright.diagnosis.clock_sources import Source, layer_time_jumps, source_log_ratio, sources_of
from beadwright.diagnosis.clocks import PRIOR, ClockTest, Rhythm, clock_test
from beadwright.diagnosis.items import Likelihood
from beadwright.facts import Facts

DEFAULT_U_MM = 0.15
EVEN_SHARE = 0.2  # of other failed prints whose marks someone measured: even by something not listed here
LEAST, LARGEST = 0.05, 25.0  # ratios; marks may be misread as a whole
FADING = 4.0  # how much likelier marks fade along the filament when the outer wraps are damp
AT_JUMPS = 0.01


@dataclass(frozen=True)
class Match:
    """A source and how well it fits: ln of its likelihood over that of no rhythm; None where it cannot be said."""

    source: Source
    log_ratio: float | None


@dataclass(frozen=True)
class ClockReading:
    """The clock test with all that was made of it; `matches` best first."""

    test: ClockTest
    matches: tuple[Match, ...]
    ratios: dict[str, float]  # cause -> likelihood over that of another cause
    drift: Drift
    at_jumps: tuple[int, float]  # marks where the layer time jumps, and the chance of as many


def read_marks(
    heights: Sequence[float], clocks: PrintClocks, facts: Facts, u_mm: float = DEFAULT_U_MM,
    strengths: Sequence[float] | None = None,
) -> ClockReading:  # fmt: skip
    """Test marks at `heights` [mm] and hold them against this printer's parts.

    Raises ValueError as `clock_test` does, and for strengths that do not go with the heights.
    """
    test = clock_test(heights, clocks, u_mm)
    measured = strengths_drift(heights, strengths, clocks) if strengths is not None else None
    if test.marks is None or not test.rhythms:
        return ClockReading(test, (), {}, measured or Drift("steady"), (0, 1.0))
    marks = test.marks
    matches = [Match(one, source_log_ratio(marks, clocks, one)) for one in sources_of(facts, clocks)]
    matches.sort(key=lambda one: -(one.log_ratio if one.log_ratio is not None else -1e9))
    drift = _drift(test, clocks, measured)
    ratios = _ratios(test.rhythms, matches)
    if drift.change == "fading" and drift.along == "filament" and "outer_wraps_damp" in ratios:
        ratios["outer_wraps_damp"] = min(max(ratios["outer_wraps_damp"], 0.5) * FADING, LARGEST)
    return ClockReading(test, tuple(matches), ratios, drift, layer_time_jumps(marks, clocks))


def _drift(test: ClockTest, clocks: PrintClocks, measured: Drift | None) -> Drift:
    best, marks = test.best, test.marks
    if best is None or marks is None:
        return measured or Drift("steady")
    even = test.verdict in ("told", "open")
    found = marks_drift(marks, clocks, best.clock if even else "filament", best.period if even else None)
    if measured is None:
        return found
    return Drift(measured.change, measured.along, measured.errors, found.spacing_percent)


def _ratios(rhythms: Sequence[Rhythm], matches: Sequence[Match]) -> dict[str, float]:
    weights = np.array([PRIOR[one.clock] for one in rhythms])
    even = log_mean(np.array([one.log_ratio for one in rhythms]), weights)
    background = log_mean(np.array([even, 0.0]), np.array([EVEN_SHARE, 1 - EVEN_SHARE]))
    by_cause: dict[str, list[float]] = {}
    for match in matches:
        for cause in match.source.causes:
            by_cause.setdefault(cause, []).append(_mixed(match, background))
    return {
        cause: float(np.clip(np.exp(log_mean(np.array(found))), LEAST, LARGEST)) for cause, found in by_cause.items()
    }


def _mixed(match: Match, background: float) -> float:
    """Ln of the ratio: the source's own rhythm, or marks of it without one; unknown counts as the background."""
    regular = match.source.regular
    fit = background if match.log_ratio is None else match.log_ratio
    return log_mean(np.array([fit, 0.0]), np.array([regular, 1 - regular])) - background


def clock_items(facts: Facts, clocks: PrintClocks | None) -> list[Likelihood]:
    """Return the evidence of `marks_mm`, where there are enough marks and a toolpath's clocks; else none."""
    from beadwright.diagnosis.clock_words import evidence_text

    fact = facts.best("marks_mm")
    if clocks is None or fact is None or not isinstance(fact.value, tuple):
        return []
    try:
        reading = read_marks(fact.value, clocks, facts, max(fact.u or DEFAULT_U_MM, 0.01))
    except ValueError:
        return []
    return [Likelihood("measured:marks", evidence_text(reading), reading.ratios)] if reading.ratios else []
