"""Sets of up to three root causes: listing them, and summing over those that nothing observed tells apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MAX_ROOTS = 3  # causes at once; a fourth independent one in the same failed print is not worth its cost


@lru_cache(maxsize=16)
def pairs(n: int) -> Ints:
    """Return all pairs i < j of n things, (n·(n − 1)/2, 2), in lexical order."""
    return np.stack(np.triu_indices(n, 1), axis=1).astype(np.int64)


@lru_cache(maxsize=16)
def triples(n: int) -> tuple[Ints, Ints]:
    """Return all triples i < j < k of n things as (index of the pair (i, j) in `pairs(n)`, k).

    >>> pair, third = triples(4)
    >>> [(*map(int, pairs(4)[p]), int(k)) for p, k in zip(pair, third)]
    [(0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3)]
    """
    second = pairs(n)[:, 1] if n > 1 else np.zeros(0, np.int64)
    count = n - 1 - second
    pair = np.repeat(np.arange(len(second)), count)
    start = np.cumsum(count) - count
    third = np.arange(len(pair)) - start[pair] + second[pair] + 1
    return pair, third


@dataclass(frozen=True)
class Rest:
    """Sums over the sets of n = 0…3 of the causes given, each set weighing the product of its odds.

    With v a value per cause: `total[n]` = Σ odds(set), `value[n]` = Σ odds(set)·Σ v over the set; `total_of[n]` and
    `value_of[n]` are the same sums over the sets that hold cause j, shape (causes,). Sets holding a forbidden
    pair weigh nothing. Cost is that of a few matrix products, not that of listing the sets.
    """

    total: Floats
    value: Floats
    total_of: Floats
    value_of: Floats


def sum_over_rest(odds: Floats, v: Floats, allowed: Bools) -> Rest:
    """Return `Rest` for causes with `odds` (n,), values `v` (n,) and `allowed` (n, n) pairs."""
    a = allowed.astype(float)
    np.fill_diagonal(a, 0.0)
    one, one_v = odds, odds * v
    two = odds * (a @ odds)
    two_v = odds * (v * (a @ odds) + a @ one_v)
    both = a * ((a * odds) @ a)  # over the third cause of a triple, given the first two
    both_v = a * ((a * one_v) @ a)
    three = odds * (both @ odds) / 2
    three_v = odds * (v * (both @ odds) + both @ one_v + both_v @ odds) / 2
    total_of = np.stack([np.zeros_like(odds), one, two, three])
    value_of = np.stack([np.zeros_like(odds), one_v, two_v, three_v])
    size = np.array([1.0, 1.0, 2.0, 3.0])
    total, value = total_of.sum(axis=1) / size, value_of.sum(axis=1) / size
    total[0] = 1.0
    return Rest(total, value, total_of, value_of)
