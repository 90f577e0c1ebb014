"""The part of a network that the evidence touches, laid out as tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.compiled import Compiled
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import Bools, Floats, Ints


@dataclass(frozen=True)
class Frame:
    """R roots of a network of C causes, and its led-to causes with something observed below them.

    K of these are enumerated: tables run over their 2^K configurations, bit k of the column for `latent[k]`
    at work. The F others are folded: each bears on one finding only and leads to none of the rest, so that
    summing over it turns the finding's factor p into 1 − p + p·(chance that it is idle), exactly. A root
    that is itself led to acts by switching its own node on, never directly, lest it count twice.
    """

    roots: Ints  # (R,) cause indices
    latent: Ints  # (K,) cause indices, parents first
    reach: Ints  # (R,) bits of the enumerated causes that a root may bring about
    coupled: Bools  # (R, R) something observed depends on both; diagonal False
    odds: Floats  # (R,)
    alpha: Floats  # (E,)
    beta: Floats  # (E,)
    quiet: Floats  # (E,)
    absent: Floats  # (E, R) chance that the root by itself, led-to causes aside, leaves the finding absent
    led_absent: Floats  # (E, 2^K) the same for a configuration
    idle: Floats  # (K, R) chance that a root does not bring the led-to cause about directly
    led_idle: Floats  # (K, 2^K) the same for the led-to parents in a configuration
    folded: Ints  # (F,) cause indices
    fold_item: Ints  # (F,) the finding that each bears on
    fold_chance: Floats  # (F,) chance that it brings that about
    fold_idle: Floats  # (F, R) as `idle`
    fold_led_idle: Floats  # (F, 2^K) as `led_idle`
    ratios: Floats  # (M, R) of measured values, 0 where the root makes no claim
    claims: Floats  # (M, R)
    led_ratios: Floats  # (M, 2^K) summed
    led_claims: Floats  # (M, 2^K) counted


def frame_of(network: Network, compiled: Compiled) -> Frame:
    """Lay out the tables."""
    linked = compiled.links > 0
    relevant = compiled.touched & network.led
    for at in network.order[::-1]:
        relevant[at] |= network.led[at] and bool((linked[at] & relevant).any())
    items = (compiled.absent < 1).sum(axis=0)
    folds = relevant & (items == 1) & ~compiled.claims.any(axis=0) & ~(linked & relevant).any(axis=1)
    below = np.array([i for i in network.order if relevant[i]], dtype=np.int64)
    latent, folded = below[~folds[below]], below[folds[below]]
    roots = np.flatnonzero(compiled.odds > 0)
    through = relevant[roots]

    def idle(nodes: Ints) -> Floats:
        table = np.where(through, 1.0, 1 - compiled.links[np.ix_(roots, nodes)].T)
        table[nodes[:, None] == roots[None, :]] = 0.0
        return table

    def led_idle(nodes: Ints) -> Floats:
        return _products(1 - compiled.links[np.ix_(latent, nodes)].T)

    touched_by_fold = compiled.absent[:, folded] < 1
    return Frame(
        roots=roots,
        latent=latent,
        reach=_reach(linked, latent)[roots],
        coupled=_coupled(compiled, below, _reach(linked, below), roots),
        odds=compiled.odds[roots],
        alpha=compiled.alpha,
        beta=compiled.beta,
        quiet=compiled.quiet,
        absent=np.where(through, 1.0, compiled.absent[:, roots]),
        led_absent=_products(compiled.absent[:, latent]),
        idle=idle(latent),
        led_idle=led_idle(latent),
        folded=folded,
        fold_item=touched_by_fold.argmax(axis=0) if len(folded) else folded,
        fold_chance=1 - compiled.absent[:, folded].min(axis=0, initial=1.0),
        fold_idle=idle(folded),
        fold_led_idle=led_idle(folded),
        ratios=np.where(through, 0.0, compiled.ratios[:, roots]),
        claims=np.where(through, 0.0, compiled.claims[:, roots]),
        led_ratios=_sums(compiled.ratios[:, latent]),
        led_claims=_sums(compiled.claims[:, latent].astype(float)),
    )


def _reach(linked: Bools, latent: Ints) -> Ints:
    """Return, by cause (C,), the bits of the led-to causes it is or may bring about, over any number of
    links.
    """
    reach = np.zeros(len(linked), dtype=np.int64)
    for k in range(len(latent) - 1, -1, -1):  # children first
        below = latent[linked[latent[k], latent]]
        reach[latent[k]] = np.bitwise_or.reduce(reach[below], initial=0) | (1 << k)
    others = np.setdiff1d(np.arange(len(linked)), latent)
    for at in latent:
        reach[others] |= np.where(linked[others, at], reach[at], 0)
    return reach


def _coupled(compiled: Compiled, latent: Ints, reach: Ints, roots: Ints) -> Bools:
    """Return which roots share an item; a hard "absent" couples nobody, for it factorises over the causes."""
    touch = np.concatenate([compiled.absent < 1, compiled.claims]).astype(float)  # (items, C)
    below = np.array([(reach >> k) & 1 for k in range(len(latent))], dtype=float).reshape(-1, len(reach))
    through_led = touch[:, latent] @ below > 0
    foot = through_led | (touch > 0)
    factorises = np.zeros(len(touch), dtype=bool)
    factorises[: len(compiled.alpha)] = (compiled.alpha == 0) & (compiled.beta > 0)
    foot[factorises] = through_led[factorises]
    foot_of_roots = foot[:, roots].astype(float)
    coupled = np.asarray(foot_of_roots.T @ foot_of_roots > 0)
    np.fill_diagonal(coupled, False)
    return coupled


def _products(per_node: Floats) -> Floats:
    """Return the products over the nodes at work, (X, K) to (X, 2^K)."""
    table = np.ones((len(per_node), 1))
    for k in range(per_node.shape[1]):
        table = np.concatenate([table, table * per_node[:, k, None]], axis=1)
    return table


def _sums(per_node: Floats) -> Floats:
    """Return the sums over the nodes at work, (X, K) to (X, 2^K)."""
    table = np.zeros((len(per_node), 1))
    for k in range(per_node.shape[1]):
        table = np.concatenate([table, table + per_node[:, k, None]], axis=1)
    return table
