"""The clock test: on which of the print's clocks are the marks regular, and with what period?

A screw acts evenly in height, a drive gear or a spool in filament fed, a heater in seconds. On a part whose section
changes, marks can be even on one clock only. Rayleigh's statistic says whether there is a rhythm at all, corrected
for all that was tried; the likelihood of a beat (`clock_fit`), averaged over its period, says on which clock. Where
the section stays the same the clocks run alike and no statistic can part them: then that is the answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from beadwright.diagnosis.clock_fit import Floats, Marks, OnClock, log_mean, log_ratios
from beadwright.diagnosis.clock_maps import CLOCKS, PrintClocks, RhythmClock
from beadwright.diagnosis.periodogram import false_alarm, independent_frequencies, rayleigh

FEWEST, MOST = 6, 300  # marks
FEWEST_BEATS, MOST_BEATS = 0.6, 2.2  # a beat's number of events, over that of marks
FALSE_ALARM = 0.01
CARRIES = 0.8  # chance of one clock from which on it is named
COARSEST = 0.3  # of the marks' mean distance: a larger reading error blurs any beat
IN_PLAY = 0.1  # of the best clock's chance: below, a rival is out
ALIKE = 0.08  # cycles: clocks that never part by more over the marks are one
# How often rhythms are found on each clock. No part of a machine counts whole path; layers matter only where their
# height changes. Common practice, no source.
PRIOR = {"z": 1.0, "s": 1.0, "filament": 1.0, "path": 0.25, "layer": 0.25}

Verdict = Literal["told", "open", "no rhythm", "too few", "too coarse"]


@dataclass(frozen=True)
class Rhythm:
    """The best beat on one clock; period and its standard error in the clock's unit."""

    clock: RhythmClock
    period: float
    u: float
    z: float  # Rayleigh's statistic there, weighted by reading error
    false_alarm: float  # of z, over all frequencies and clocks tried
    log_ratio: float  # ln of the averaged likelihood over that of no rhythm
    chance: float  # of this clock among all, shared by those that run alike
    alike: tuple[RhythmClock, ...] = ()  # clocks that cannot differ from this one over these marks


@dataclass(frozen=True)
class ClockTest:
    """The answer; `rhythms` best first, one per clock that differs from the others."""

    verdict: Verdict
    rhythms: tuple[Rhythm, ...]
    marks: Marks | None
    false_alarm: float = 1.0  # chance of marks as regular as these, on any clock, without a rhythm
    parting: float = 0.0  # cycles by which the best clock and its nearest rival part over the marks at most

    @property
    def best(self) -> Rhythm | None:
        return self.rhythms[0] if self.rhythms else None

    @property
    def in_play(self) -> tuple[Rhythm, ...]:
        """The best, and the rivals that the marks do not rule out."""
        return tuple(one for one in self.rhythms if one.chance >= IN_PLAY * self.rhythms[0].chance)


def clock_test(heights: ArrayLike, clocks: PrintClocks, u_mm: float = 0.15) -> ClockTest:
    """Test marks at `heights` [mm], each read to ±`u_mm`, on every clock of the print.

    Heights outside the print, or not finite, are left out. Raises ValueError for an error that is not positive or
    for more than MOST marks.
    """
    if not u_mm > 0:
        raise ValueError(f"u_mm must be positive, got {u_mm}")
    given = np.unique(np.asarray(heights, np.float64).ravel())
    given = given[(given >= clocks.z[0] - u_mm) & (given <= clocks.z[-1] + 3 * u_mm)]
    if len(given) > MOST:
        raise ValueError(f"{len(given)} marks are more than the {MOST} that are taken")
    if len(given) < FEWEST:
        return ClockTest("too few", (), None)
    marks = Marks.read(given, u_mm, clocks)
    if marks.u.mean() * len(marks) > COARSEST * (marks.high - marks.low):
        return ClockTest("too coarse", (), marks)
    beats = _beats(marks)
    scores = {clock: _Score.of(marks, clocks, clock, beats) for clock in CLOCKS}
    groups = _groups(marks, clocks, scores)
    rhythms = _rhythms(scores, groups, beats)
    chance = _false_alarm(rhythms)
    return ClockTest(_verdict(rhythms, chance), rhythms, marks, chance, _parting(marks, clocks, rhythms))


def _beats(marks: Marks) -> Floats:
    """The numbers of events over the stretch that are tried, fine enough for the narrowest peak."""
    count = len(marks)
    phase_u = float(marks.u.mean()) * count / (marks.high - marks.low)
    step = min(max(0.5 * phase_u * (12 / count) ** 0.5, 0.02), 0.08)
    return np.arange(max(FEWEST_BEATS * count, 3.0), MOST_BEATS * count, step)


@dataclass(frozen=True)
class _Score:
    on: OnClock
    fits: Floats  # ln of the likelihood ratio at each number of beats
    beats: float  # the best
    u: float

    @classmethod
    def of(cls, marks: Marks, clocks: PrintClocks, clock: RhythmClock, beats: Floats) -> _Score:
        on = OnClock.of(marks, clocks, clock)
        fits = log_ratios(on, beats / on.span)
        best = int(np.argmax(fits))
        fine = beats[best] + np.linspace(-0.5, 0.5, 201)
        near = log_ratios(on, fine / on.span)
        weight = np.exp(near - near.max())
        mean = float(np.average(fine, weights=weight))
        u = float(np.average((fine - mean) ** 2, weights=weight)) ** 0.5
        return cls(on, fits, float(fine[np.argmax(near)]), max(u, 0.005))

    @property
    def evidence(self) -> float:
        return log_mean(self.fits)


def _groups(marks: Marks, clocks: PrintClocks, scores: dict[RhythmClock, _Score]) -> list[tuple[RhythmClock, ...]]:
    """Put clocks together that never part by more than `ALIKE` of the best beat, the more usual one first."""
    groups: list[tuple[RhythmClock, ...]] = []
    for clock in CLOCKS:
        for at, group in enumerate(groups):
            beats = max(scores[clock].beats, scores[group[0]].beats)
            if parting_cycles(marks, clocks, group[0], clock, beats) < ALIKE and clock in ("path", "layer"):
                groups[at] = (*group, clock)
                break
        else:
            groups.append((clock,))
    return groups


def parting_cycles(marks: Marks, clocks: PrintClocks, one: RhythmClock, other: RhythmClock, beats: float) -> float:
    """Return by how many cycles two clocks part at most over the marks, each set and paced as well as can be."""
    heights = np.linspace(marks.low, marks.high, 200)
    a, b = (clocks.at(clock, heights) for clock in (one, other))
    a, b = ((t - t[0]) / max(t[-1] - t[0], 1e-12) for t in (a, b))
    slope, offset = np.polyfit(a, b, 1)
    return float(np.abs(b - slope * a - offset).max() * beats)


def _rhythms(
    scores: dict[RhythmClock, _Score], groups: Sequence[tuple[RhythmClock, ...]], beats: Floats
) -> tuple[Rhythm, ...]:
    heads = [group[0] for group in groups]
    weight = np.array([np.log(PRIOR[head]) + scores[head].evidence for head in heads])
    chance = np.exp(weight - weight.max())
    chance = chance / chance.sum()
    found = []
    for group, share in zip(groups, chance.tolist(), strict=True):
        score = scores[group[0]]
        on, f = score.on, np.array([score.beats / score.on.span])
        weights = on.weights(f)
        z = float(rayleigh(on.t, f, weights)[0])
        count = float(weights.sum()) ** 2 / float((weights**2).sum())
        tried = independent_frequencies(beats[0], beats[-1], 1.0, z) * len(groups)
        period = on.span / score.beats
        found.append(
            Rhythm(
                group[0], period, period * score.u / score.beats, z, false_alarm(z, count, tried),
                score.evidence, share, group[1:],
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda one: -one.chance))


def _false_alarm(rhythms: Sequence[Rhythm]) -> float:
    """Return the chance of such marks without a rhythm: twice the smaller of two valid bounds.

    One is Rayleigh's. The other holds for any averaged likelihood ratio: its mean is 1 where there is no rhythm, so
    it reaches x with a chance of 1/x at most (Markov). The second is the sharper where some marks are false.
    """
    weights = np.array([PRIOR[one.clock] for one in rhythms])
    averaged = log_mean(np.array([one.log_ratio for one in rhythms]), weights)
    return min(2 * min(float(np.exp(-averaged)), *(one.false_alarm for one in rhythms)), 1.0)


def _verdict(rhythms: Sequence[Rhythm], chance: float) -> Verdict:
    if chance > FALSE_ALARM:
        return "no rhythm"
    return "told" if rhythms[0].chance >= CARRIES else "open"


def _parting(marks: Marks, clocks: PrintClocks, rhythms: Sequence[Rhythm]) -> float:
    if len(rhythms) < 2:
        return 0.0
    best = rhythms[0]
    beats = float(clocks.at(best.clock, marks.high) - clocks.at(best.clock, marks.low)) / best.period
    rivals = (one.clock for one in rhythms[1:] if one.clock in ("z", "s", "filament"))
    return min((parting_cycles(marks, clocks, best.clock, one, beats) for one in rivals), default=0.0)
