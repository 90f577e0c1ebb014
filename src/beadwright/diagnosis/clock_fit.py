"""How well marks fit one rhythm: the likelihood of a beat on one clock, against marks strewn over the height.

A source that acts every P on its clock leaves a mark each time; some are not seen, each is read with an error, and
some marks are something else. As a point process of heights the density of marks at height h is

    λ(h) = q f c'(h) w(f c(h) − φ) + ε N / H

c(h) the clock, f = 1/P, φ the phase, w a wrapped normal density of the reading error, q the share of marks seen and
ε that of false ones; strewn marks have λ = N / H. The log ratio of the two keeps the beat apart from its double
(half of whose marks would be missing) and its half (half of whose marks would be false), which Rayleigh's z cannot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.diagnosis.clock_maps import PrintClocks, RhythmClock
from beadwright.diagnosis.periodogram import resultant

Floats = NDArray[np.float64]
FALSE_SHARE = 0.12  # of marks that are something else (judgement)
SEEN_AT_MOST = 0.97
WIDEST = 0.5  # cycles of phase error; beyond, all is even
CHUNK = 150_000  # marks × frequencies at a time: some 10 MB


@dataclass(frozen=True)
class Marks:
    """Heights of marks, rising, with their standard errors and the stretch that was looked at; mm."""

    z: Floats  # (n,)
    u: Floats  # (n,)
    low: float
    high: float

    def __len__(self) -> int:
        return len(self.z)

    @classmethod
    def read(cls, heights: Floats, u: float, clocks: PrintClocks) -> Marks:
        """Return marks read to ±`u`; a mark says which layer at best, so a layer's height adds to the error."""
        z = np.sort(np.asarray(heights, np.float64))
        margin = (z[-1] - z[0]) / max(len(z) - 1, 1) / 2
        low, high = max(z[0] - margin, clocks.z[0]), min(z[-1] + margin, clocks.z[-1])
        error = float(np.hypot(u, clocks.layer_height_mm / 12**0.5))
        return cls(z, np.full(len(z), error), float(low), float(high))


@dataclass(frozen=True)
class OnClock:
    """Marks on one clock: where, how exactly, and how the clock runs there."""

    t: Floats  # (n,) on the clock
    u: Floats  # (n,) on the clock
    share: Floats  # (n,) speed of the clock there over its mean speed
    span: float  # of the stretch, on the clock

    @classmethod
    def of(cls, marks: Marks, clocks: PrintClocks, clock: RhythmClock) -> OnClock:
        slope = clocks.slope(clock, marks.z)
        ends = clocks.at(clock, [marks.low, marks.high])
        span = float(ends[1] - ends[0])
        share = slope * (marks.high - marks.low) / max(span, 1e-12)
        return cls(clocks.at(clock, marks.z), marks.u * slope, share, span)

    def weights(self, f: Floats) -> Floats:
        """Return how much of each mark's vector its reading error leaves, `(m, n)`."""
        error = np.minimum(f[:, None] * self.u[None, :], WIDEST)
        return np.asarray(np.exp(-2 * np.pi**2 * error**2))


def log_ratios(on: OnClock, f: Floats) -> Floats:
    """Return ln of the likelihood of each frequency over that of no rhythm, phase averaged out, `(m,)`."""
    rows = max(CHUNK // max(len(on.t), 1), 1)
    parts = [_log_ratios(on, f[k : k + rows]) for k in range(0, len(f), rows)]
    return np.concatenate(parts) if parts else np.empty(0)


def _log_ratios(on: OnClock, f: Floats) -> Floats:
    n = len(on.t)
    sigma = np.clip(f[:, None] * on.u[None, :], 1e-6, WIDEST)
    seen = np.minimum((1 - FALSE_SHARE) * n / np.maximum(f * on.span, 1e-9), SEEN_AT_MOST)
    scale = (seen * f * on.span / n)[:, None] * on.share[None, :]
    phase = np.angle(resultant(on.t, f, np.exp(-2 * np.pi**2 * sigma**2))) / (2 * np.pi)
    turns = f[:, None] * on.t[None, :]
    for _ in range(2):  # settle the phase on the marks that belong to the beat
        off = _wrapped(turns - phase[:, None])
        beat = scale * _wrapped_normal(off, sigma)
        weight = beat / (beat + FALSE_SHARE) / sigma**2
        phase = phase + (weight * off).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-12)
    beat = scale * _wrapped_normal(_wrapped(turns - phase[:, None]), sigma)
    fit = np.log(beat + FALSE_SHARE).sum(axis=1) - (seen * f * on.span + FALSE_SHARE * n) + n
    spread = (2 * np.pi / np.maximum(weight.sum(axis=1), 1e-12)) ** 0.5  # of the phase, times √2π
    return np.asarray(fit + np.log(np.minimum(spread, 1.0)))


def _wrapped(turns: Floats) -> Floats:
    return np.asarray(turns - np.round(turns))


def _wrapped_normal(off: Floats, sigma: Floats) -> Floats:
    """Return the density over one turn of a phase read with `sigma` ≤ ½ turn; three turns carry it."""
    total = sum(np.exp(-(((off + k) / sigma) ** 2) / 2) for k in (-1, 0, 1))
    return np.asarray(total / (sigma * (2 * np.pi) ** 0.5))


def log_mean(values: Floats, weights: Floats | None = None) -> float:
    """Return ln of the mean of exp(values)."""
    top = float(values.max())
    return top + float(np.log(np.average(np.exp(values - top), weights=weights)))
