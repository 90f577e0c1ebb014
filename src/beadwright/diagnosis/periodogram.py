"""Is a row of events, or a rippled profile, regular: Rayleigh's statistic for marks, least squares for amplitudes.

Marks are events, not samples: at frequency f each becomes a unit vector of angle 2π f t, and regular marks
point one way. With N vectors of summed length S, z = S² / N follows exp(−z) where there is no rhythm. That law
is for many marks and small z; eight marks on a beat lie far out in a tail that it puts a thousandfold too
high, so the tail here is the saddlepoint of the walk of N unit steps, which tends to exp(−z) for many.

`t` is on any clock and `f` in cycles of its unit. Sources: Mardia and Jupp, *Directional Statistics* (2000),
sec. 4.8 and 6.3 (memory); Lomb, Astrophys. Space Sci. 39 (1976) 447, and Scargle, Astrophys. J. 263 (1982) 835
(memory).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
_ANGLES = (np.arange(400) + 0.5) * np.pi / 400


def rayleigh(times: ArrayLike, frequencies: ArrayLike, weights: ArrayLike | None = None) -> Floats:
    """Return z = |Σ w exp(2πi f t)|² / Σ w² at each frequency, `(m,)`; `weights` `(m, n)` or `(n,)`.

    Equal weights give Rayleigh's z, n at most. What is read more coarsely may weigh less; the law of chance
    stays.

    >>> rayleigh([0.0, 1.0, 2.0, 3.0], [1.0, 0.5]).round(6).tolist()
    [4.0, 0.0]
    """
    return np.asarray(np.abs(resultant(times, frequencies, weights)) ** 2)


def resultant(times: ArrayLike, frequencies: ArrayLike, weights: ArrayLike | None = None) -> NDArray[np.complex128]:
    """Return the summed vector over √(Σ w²) at each frequency, `(m,)`; its angle is the marks' phase."""
    t, f = np.asarray(times, np.float64), np.atleast_1d(np.asarray(frequencies, np.float64))
    w = np.broadcast_to(np.ones(1) if weights is None else np.asarray(weights, np.float64), (len(f), len(t)))
    turned = np.exp(2j * np.pi * f[:, None] * t[None, :])
    total = (w * turned).sum(axis=1)
    return np.asarray(total / np.sqrt(np.maximum((w * w).sum(axis=1), 1e-300)))


def rayleigh_tail(z: float, count: float) -> float:
    """Return the chance that `count` events without rhythm reach `z` at one given frequency.

    >>> round(rayleigh_tail(3.0, 1e6), 4), round(float(np.exp(-3.0)), 4)
    (0.0498, 0.0498)
    >>> rayleigh_tail(7.6, 8) < 1e-5 < float(np.exp(-7.6))
    True
    """
    if not count > 1 or z <= 0:
        return 1.0
    mean_length, log_tail = _walk(round(float(count), 3))
    reached = min((z / count) ** 0.5, 1.0)
    return float(min(np.exp(np.interp(reached, mean_length, log_tail)), 1.0))


@lru_cache(maxsize=64)
def _walk(count: float) -> tuple[Floats, Floats]:
    """Mean resultant lengths, rising, and the log of the chance to exceed each, for a walk of `count` steps.

    Saddlepoint density of the end point: exp(−n (κ A − log I0)) over the spread n √(A' A / κ), A = I1 / I0.
    """
    top = 400.0
    kappa = np.concatenate([np.linspace(1e-4, 8.0, 1200), np.geomspace(8.01, top, 600)])
    kappa = np.unique(np.concatenate([kappa, np.linspace(1e-6, min(8.0, 12 / count**0.5), 800)]))
    scaled = np.exp(kappa[:, None] * (np.cos(_ANGLES)[None, :] - 1))
    i0, i1 = scaled.mean(axis=1), (scaled * np.cos(_ANGLES)).mean(axis=1)  # both times exp(−κ)
    length = i1 / i0
    slope = np.maximum(1 - length / kappa - length**2, 1e-12)
    cost = kappa * length - (np.log(i0) + kappa)
    density = count * np.sqrt(length * slope * kappa) * np.exp(-count * cost)
    steps = (density[1:] + density[:-1]) / 2 * np.diff(kappa)
    beyond = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]])
    with np.errstate(divide="ignore"):
        log_tail = np.log(beyond / beyond[0])
    kept = np.isfinite(log_tail)
    return length[kept], log_tail[kept]


def false_alarm(z: float, count: float, tried: float) -> float:
    """Return the chance that the best of `tried` independent frequencies reaches `z` without any rhythm.

    >>> round(false_alarm(5.0, 1e6, 1), 5), round(false_alarm(5.0, 1e6, 100), 2)
    (0.00674, 0.49)
    """
    return float(-np.expm1(max(tried, 1.0) * np.log1p(-min(rayleigh_tail(z, count), 1 - 1e-12))))


def independent_frequencies(low: float, high: float, span: float, z: float) -> float:
    """Return how many frequencies between `low` and `high` count as tried when the best of them reached `z`.

    1 + √(4π/12) √z per cycle more over the span: the rate at which chance climbs past `z` (Rice), events spread
    evenly over `span`; Source: Baluev, Mon. Not. R. Astron. Soc. 385 (2008) 1279 (memory). A quarter more, for the
    few events that a print has (held against simulation in the tests).
    """
    return float(1.0 + 1.25 * (np.pi * max(z, 0.0) / 3) ** 0.5 * max(high - low, 0.0) * span)


def false_alarm_simulated(
    z: float, count: int, low: float, high: float, span: float, rng: np.random.Generator, draws: int = 400
) -> float:
    """Return the same chance by drawing `count` events evenly at random, `draws` times; never below 1/(draws + 1)."""
    cycles = np.arange(low * span, high * span, 0.2)
    best = np.array([rayleigh(rng.random(count), cycles).max() for _ in range(draws)])
    return float((1 + np.sum(best >= z)) / (draws + 1))


def lomb_scargle(times: ArrayLike, values: ArrayLike, frequencies: ArrayLike) -> Floats:
    """Return at each frequency the share of the variance that a sine there explains, 0 … 1, `(m,)`.

    For unevenly sampled values, the mean fitted along with the sine: Zechmeister and Kürster, Astron. Astrophys.
    496 (2009) 577 (memory). Raises ValueError for fewer than five values.

    >>> t = np.arange(40.0)
    >>> lomb_scargle(t, np.sin(2 * np.pi * 0.1 * t), [0.1, 0.23]).round(2).tolist()
    [1.0, 0.0]
    """
    t, y = np.asarray(times, np.float64), np.asarray(values, np.float64)
    if t.shape != y.shape or len(t) < 5:
        raise ValueError(f"five times with a value each are needed, got {t.shape} and {y.shape}")
    y = y - y.mean()
    turns = 2 * np.pi * np.atleast_1d(np.asarray(frequencies, np.float64))[:, None] * (t - t.mean())
    c, s = np.cos(turns), np.sin(turns)
    c, s = c - c.mean(axis=1, keepdims=True), s - s.mean(axis=1, keepdims=True)
    cc, ss, cs = (c * c).sum(axis=1), (s * s).sum(axis=1), (c * s).sum(axis=1)
    yc, ys = c @ y, s @ y
    power = (ss * yc**2 + cc * ys**2 - 2 * cs * yc * ys) / np.maximum(cc * ss - cs**2, 1e-300)
    return np.asarray(np.clip(power / max(float(y @ y), 1e-300), 0.0, 1.0))


def lomb_scargle_false_alarm(share: float, count: int, tried: float) -> float:
    """Return the chance that noise reaches `share` at the best of `tried` frequencies: (1 − share)^((n − 3) / 2) each.

    Exact for white noise at one frequency (beta law); Source: as `lomb_scargle`.
    """
    alone = max(1 - share, 0.0) ** ((count - 3) / 2)
    return float(-np.expm1(max(tried, 1.0) * np.log1p(-min(alone, 1 - 1e-12))))
