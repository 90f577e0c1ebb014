"""The clock test for a measured profile: how far the wall stands out at each height, instead of single marks."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from beadwright.diagnosis.clock_fit import Floats, Marks, log_mean
from beadwright.diagnosis.clock_maps import CLOCKS, PrintClocks, RhythmClock
from beadwright.diagnosis.clocks import CARRIES, FALSE_ALARM, PRIOR, ClockTest, Rhythm, Verdict, parting_cycles
from beadwright.diagnosis.periodogram import independent_frequencies, lomb_scargle, lomb_scargle_false_alarm

FEWEST, MOST = 12, 20_000  # samples
FEWEST_BEATS, MOST_BEATS, SAMPLES_A_BEAT = 3.0, 400.0, 3.0
CHUNK = 400_000


def profile_test(heights: ArrayLike, offsets: ArrayLike, clocks: PrintClocks) -> ClockTest:
    """Test a profile, `offsets` [any unit] at `heights` [mm], for a sine on each clock; a slow bow is taken off first.

    Raises ValueError for arrays that do not match, are not finite, or hold more than MOST samples.
    """
    z, y = np.asarray(heights, np.float64), np.asarray(offsets, np.float64)
    if z.shape != y.shape or z.ndim != 1 or len(z) > MOST or not (np.isfinite(z).all() and np.isfinite(y).all()):
        raise ValueError(f"one finite offset for each height is needed, {MOST} at most")
    inside = (z >= clocks.z[0]) & (z <= clocks.z[-1])
    z, y = z[inside], y[inside]
    if len(z) < FEWEST or np.ptp(z) <= 0:
        return ClockTest("too few", (), None)
    place = (z - z.mean()) / np.ptp(z)
    y = y - np.polyval(np.polyfit(place, y, 2), place)
    marks = Marks(np.sort(z), np.zeros(len(z)), float(z.min()), float(z.max()))
    beats = np.arange(FEWEST_BEATS, max(min(len(z) / SAMPLES_A_BEAT, MOST_BEATS), FEWEST_BEATS + 1), 0.1)
    found: dict[RhythmClock, tuple[float, float, Floats]] = {
        clock: _best(clocks.at(clock, z), y, beats) for clock in CLOCKS if clock != "layer"
    }
    weights = {clock: np.log(PRIOR[clock]) + log_mean(ratios) for clock, (_, _, ratios) in found.items()}
    total = log_mean(np.array(list(weights.values()))) + np.log(len(weights))
    rhythms = tuple(
        _rhythm(clock, clocks, z, one[0], one[1], beats, float(np.exp(weights[clock] - total)), log_mean(one[2]))
        for clock, one in sorted(found.items(), key=lambda item: -weights[item[0]])
    )
    chance = min(1.0, 4 * min(one.false_alarm for one in rhythms))  # four clocks tried
    verdict: Verdict = "no rhythm" if chance > FALSE_ALARM else "told" if rhythms[0].chance >= CARRIES else "open"
    apart = parting_cycles(marks, clocks, rhythms[0].clock, rhythms[1].clock, found[rhythms[0].clock][0])
    return ClockTest(verdict, rhythms, marks, chance, apart)


def _best(t: Floats, y: Floats, beats: Floats) -> tuple[float, float, Floats]:
    """The best number of beats, the share of variance there, and ln of the likelihood ratio at each tried."""
    f = beats / np.ptp(t)
    rows = max(CHUNK // len(t), 1)
    share = np.concatenate([lomb_scargle(t, y, f[k : k + rows]) for k in range(0, len(f), rows)])
    ratios = -len(t) / 2 * np.log(np.maximum(1 - share, 1e-6)) - np.log(len(t))  # two fitted numbers, Schwarz
    best = int(np.argmax(share))
    fine = beats[best] + np.linspace(-0.1, 0.1, 41)
    near = lomb_scargle(t, y, fine / np.ptp(t))
    return float(fine[np.argmax(near)]), float(near.max()), ratios


def _rhythm(
    clock: RhythmClock, clocks: PrintClocks, z: Floats, beats: float, share: float, tried: Floats, chance: float,
    evidence: float,
) -> Rhythm:  # fmt: skip
    """Standard error of a sine's frequency: Montgomery and O'Donoghue, Delta Scuti Star Newsl. 13 (1999) (memory)."""
    span = float(np.ptp(clocks.at(clock, z)))
    noise = (1 - share) / max(share, 1e-9)
    beats_u = (3 * noise / len(z)) ** 0.5 / np.pi
    z_like = share * (len(z) - 1) / 2
    count = independent_frequencies(float(tried[0]), float(tried[-1]), 1.0, z_like)
    alarm = lomb_scargle_false_alarm(share, len(z), count)
    return Rhythm(clock, span / beats, span / beats**2 * beats_u, z_like, alarm, evidence, chance)
