"""Densities that integrate to one, so that a ratio of two of them is an honest likelihood ratio.

All take arrays or scalars in one unit and return 1/unit. NumPy has no error function, so `math.erf` is
vectorised; the arrays here are short.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
_erf: Any = np.vectorize(math.erf, otypes=[float])


def normal(x: ArrayLike, mean: ArrayLike, sigma: ArrayLike) -> Floats:
    """Return the normal density."""
    sigma = np.asarray(sigma, float)
    z = (np.asarray(x, float) - np.asarray(mean, float)) / sigma
    return np.asarray(np.exp(-z * z / 2) / (sigma * math.sqrt(2 * math.pi)))


def flat(x: ArrayLike, low: float, high: float, sigma: float) -> Floats:
    """Return a uniform density on low…high read with a standard error of `sigma`."""
    x = np.asarray(x, float)
    root = sigma * math.sqrt(2)
    return np.asarray((_erf((x - low) / root) - _erf((x - high) / root)) / (2 * (high - low)))


def comb(x: ArrayLike, step: float, ratio: float, count: int, sigma: float) -> Floats:
    """Return a density of ± whole steps 1…count, each less likely than the last by `ratio`, read with
    `sigma`.
    """
    k = np.arange(1, count + 1)
    share = ratio ** (k - 1)
    share = share / share.sum() / 2
    teeth = np.concatenate([k, -k]) * step
    x = np.asarray(x, float)
    return np.asarray(normal(x[..., None], teeth, sigma) @ np.concatenate([share, share]))


def two_sided(x: ArrayLike, mean: float, spread: float, sigma: float) -> Floats:
    """Return a density of ±|mean|, half each, with its own spread and a reading error."""
    width = math.hypot(spread, sigma)
    return (normal(x, mean, width) + normal(x, -mean, width)) / 2
