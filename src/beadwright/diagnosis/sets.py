"""Sets of up to three root causes: listing them, and summing over those that factorise.

Two roots are *coupled* when something observed depends on both. A set falls into clusters of coupled roots,
and its weight is the product of its clusters' weights. So only coupled pairs and connected triples need
listing; sets of several clusters are summed in closed form by matrix products. With 120 roots that leaves
some thousands of the 288,000 triples.
"""

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
def triples(n: int) -> Ints:
    """Return all triples i < j < k of n things, (n·(n − 1)·(n − 2)/6, 3), in lexical order.

    >>> triples(4).tolist()
    [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]
    """
    two = pairs(n)
    count = n - 1 - two[:, 1]
    pair = np.repeat(np.arange(len(two)), count)
    start = np.cumsum(count) - count
    third = np.arange(len(pair)) - start[pair] + two[pair, 1] + 1
    return np.concatenate([two[pair], third[:, None]], axis=1)


def padded(sets: Ints) -> Ints:
    """Return sets of any one size as (S, 3), filled with −1."""
    fill = np.full((len(sets), MAX_ROOTS - sets.shape[1]), -1, dtype=np.int64)
    return np.concatenate([sets, fill], axis=1)


ONE_THREAD = 200_000  # multiplications below which the usual libraries do not start threads


def times(a: Floats, b: Floats) -> Floats:
    """Return the matrix product of (m, k) and (k, n) in strips small enough to stay on one thread.

    For matrices of this size threads cost more than they bring, up to a hundredfold on a busy machine.
    """
    (m, k), n = a.shape, b.shape[1]
    wide = max(ONE_THREAD // max(4 * k, 1), 1)
    result = np.empty((m, n))
    for left in range(0, n, wide):
        strip = b[:, left : left + wide]
        tall = max(ONE_THREAD // max(k * strip.shape[1], 1), 1)
        for top in range(0, m, tall):
            result[top : top + tall, left : left + wide] = a[top : top + tall] @ strip
    return result


@dataclass(frozen=True)
class Clusters:
    """Weights of clusters among R roots, relative to the empty set.

    `one` (R,): of a root by itself. `two` (R, R): of a coupled pair, symmetric, 0 where not coupled.
    `triple` (N, 3) and `three` (N,): connected triples and their weights. `free` (R, R): may stand in one
    set, and are not coupled.
    """

    one: Floats
    two: Floats
    triple: Ints
    three: Floats
    free: Bools


@dataclass(frozen=True)
class Mass:
    """What the sets of one to three roots weigh, a set counting its weight times the mean of `v` over its
    roots.

    `total`: all of them. `one` (R,), `two` (R, R), `three` (N,): the sets that hold this very cluster,
    complete.
    """

    total: float
    one: Floats
    two: Floats
    three: Floats

    def by_root(self, triple: Ints) -> Floats:
        """Return the mass of the sets that hold each root, (R,)."""
        mass = self.one + self.two.sum(axis=1)
        for column in range(MAX_ROOTS):
            mass += np.bincount(triple[:, column], self.three, minlength=len(mass))
        return np.asarray(mass)


def mass_of(clusters: Clusters, v: Floats) -> Mass:
    """Return `Mass` for values `v` (R,) per root; matrix products in place of a list of sets."""
    g, free = clusters.one, clusters.free.astype(float)
    gv, both_v = g * v, v[:, None] + v[None, :]
    three = clusters.three * v[clusters.triple].sum(axis=1) / 3

    # a coupled pair alone, or with a third root free of both
    third, third_v = times(free * g, free), times(free * gv, free)
    pair_with_third = clusters.two * (both_v * third + third_v) / 3
    two = clusters.two * both_v / 2 + pair_with_third

    # a root alone; with one free root; with two roots free of it and of each other; with a coupled pair
    # free of it
    partner = g * (v * (free @ g) + free @ gv) / 2
    corner, corner_v = free * third, free * third_v
    apart = g * (v * (corner @ g) + corner @ gv + corner_v @ g) / 6
    beside_v = (free * times(free, clusters.two * both_v)).sum(axis=1)
    beside = g * (beside_v + v * (free * times(free, clusters.two)).sum(axis=1)) / 6
    one = gv + partner + apart + beside

    total = gv.sum() + partner.sum() / 2 + apart.sum() / 3 + two.sum() / 2 + three.sum()
    return Mass(float(total), one, two, three)


def masses_by_size(odds: Floats, allowed: Bools) -> Floats:
    """Return the summed weight of all allowed sets of one, two and three roots with these odds, (3,)."""
    a = allowed.astype(float)
    np.fill_diagonal(a, 0.0)
    inner = a @ odds
    three = odds @ ((a * times(a * odds, a)) @ odds)
    return np.array([odds.sum(), odds @ inner / 2, three / 6])
