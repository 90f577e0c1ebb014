"""Does the rhythm change along the print: its spacing, or the strength of its marks?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from beadwright.diagnosis.clock_fit import Marks, OnClock, log_ratios
from beadwright.diagnosis.clock_maps import PrintClocks, RhythmClock

CLEAR = 3.0  # standard errors
CLEAR_LOG = 5.0  # ln of the likelihood that a changing spacing must win
MOST_CYCLES = 1.5  # by which a changing spacing bends the count at most

Change = Literal["fading", "growing", "steady"]


@dataclass(frozen=True)
class Drift:
    """`along` is the clock on which the change is straightest; `errors` how many standard errors it is from none."""

    change: Change
    along: RhythmClock = "filament"
    errors: float = 0.0
    spacing_percent: float | None = None  # change of the period from the first mark to the last; None: none is clear


def marks_drift(marks: Marks, clocks: PrintClocks, clock: RhythmClock, period: float | None) -> Drift:
    """Return whether the marks crowd to an end of the print, and how their spacing on `clock` changes.

    Marks that someone found all over the print lie evenly on the clock they follow; those that die out stop early.
    `period` None: there is none.
    """
    start, end = getattr(clocks, clock)[[0, -1]]
    shares = (clocks.at(clock, marks.z) - start) / max(end - start, 1e-12)
    errors = float((0.5 - shares.mean()) * (12 * len(shares)) ** 0.5)
    spacing = None if period is None else _spacing(marks, clocks, clock, period)
    return Drift(_named(errors), "filament", abs(errors), spacing)


def _named(errors: float) -> Change:
    return "fading" if errors > CLEAR else "growing" if errors < -CLEAR else "steady"


def strengths_drift(heights: ArrayLike, strengths: ArrayLike, clocks: PrintClocks) -> Drift:
    """Return how measured strengths (any unit, positive) change, fitted along filament and along seconds.

    Raises ValueError when they do not match the heights, are not positive, or are fewer than five.
    """
    z, strength = np.asarray(heights, np.float64), np.asarray(strengths, np.float64)
    if z.shape != strength.shape or len(z) < 5 or not np.all(strength > 0):
        raise ValueError("one positive strength for each of five marks or more is needed")
    fits = {clock: _trend(clocks.at(clock, z), np.log(strength)) for clock in ("filament", "s")}
    along: RhythmClock = "filament" if abs(fits["filament"]) >= abs(fits["s"]) else "s"
    return Drift(_named(-fits[along]), along, abs(fits[along]))


def _trend(t: np.ndarray, y: np.ndarray) -> float:
    """Return the slope over its standard error."""
    t = t - t.mean()
    size = float(t @ t)
    slope = float(t @ y) / max(size, 1e-12)
    rest = y - y.mean() - slope * t
    error = (float(rest @ rest) / max(len(y) - 2, 1) / max(size, 1e-12)) ** 0.5
    return float(slope / max(error, 1e-12))


def _spacing(marks: Marks, clocks: PrintClocks, clock: RhythmClock, period: float) -> float | None:
    """Fit t + bend · 4 (t − a)(t − b) / span: the period then changes by a share of 8 bend from end to end."""
    on = OnClock.of(marks, clocks, clock)
    low = float(clocks.at(clock, [marks.low])[0])
    beats = on.span / period
    tried = (beats + np.linspace(-1.0, 1.0, 61)) / on.span
    bends = np.linspace(-MOST_CYCLES, MOST_CYCLES, 41) / beats
    place = (on.t - low) / max(on.span, 1e-12)
    fits = np.array([
        log_ratios(OnClock(on.t + 4 * bend * on.span * place * (place - 1), on.u, on.share, on.span), tried).max()
        for bend in bends
    ])  # fmt: skip
    best = int(np.argmax(fits))
    if fits[best] - fits[len(bends) // 2] < CLEAR_LOG:
        return None
    return float(-800 * bends[best])
