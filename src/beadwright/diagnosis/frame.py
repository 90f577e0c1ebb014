"""The part of a network that the evidence touches, and what any set of its roots makes of the evidence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.compiled import Compiled
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import MAX_ROOTS, Bools, Floats, Ints


@dataclass(frozen=True)
class Frame:
    """R roots of a network of C causes, and the K led-to causes that have something observed below them.

    Those K are enumerated: tables run over their 2^K configurations, bit k of the column for `latent[k]` at work. A root
    that is one of the K acts by switching its own node on, never directly, so that it is not counted twice.
    """

    roots: Ints  # (R,) cause indices
    latent: Ints  # (K,) cause indices, parents first
    reach: Ints  # (R,) bits of the led-to causes that a root may bring about
    coupled: Bools  # (R, R) something observed depends on both; diagonal False
    odds: Floats  # (R,)
    alpha: Floats  # (E,)
    beta: Floats  # (E,)
    quiet: Floats  # (E,)
    absent: Floats  # (E, R) chance that the root by itself, led-to causes aside, leaves the finding absent
    led_absent: Floats  # (E, 2^K) the same for a configuration
    idle: Floats  # (K, R) chance that a root does not bring the led-to cause about directly
    led_idle: Floats  # (K, 2^K) the same for the led-to parents in a configuration
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
    latent = np.array([i for i in network.order if relevant[i]], dtype=np.int64)
    roots = np.flatnonzero(compiled.odds > 0)
    reach = _reach(linked, latent)
    through = relevant[roots]
    idle = np.where(through, 1.0, 1 - compiled.links[np.ix_(roots, latent)].T)
    idle[latent[:, None] == roots[None, :]] = 0.0
    return Frame(
        roots=roots,
        latent=latent,
        reach=reach[roots],
        coupled=_coupled(compiled, latent, reach, roots),
        odds=compiled.odds[roots],
        alpha=compiled.alpha,
        beta=compiled.beta,
        quiet=compiled.quiet,
        absent=np.where(through, 1.0, compiled.absent[:, roots]),
        led_absent=_products(compiled.absent[:, latent]),
        idle=idle,
        led_idle=_products(1 - compiled.links[np.ix_(latent, latent)].T),
        ratios=np.where(through, 0.0, compiled.ratios[:, roots]),
        claims=np.where(through, 0.0, compiled.claims[:, roots]),
        led_ratios=_sums(compiled.ratios[:, latent]),
        led_claims=_sums(compiled.claims[:, latent].astype(float)),
    )


def _reach(linked: Bools, latent: Ints) -> Ints:
    """Return, by cause (C,), the bits of the led-to causes it is or may bring about, over any number of links."""
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


@dataclass(frozen=True)
class Rows:
    """Sets of roots spread over the configurations that they can reach: H rows.

    `weight` (H,) is odds of the set × chance of the configuration × likelihood of the evidence.
    """

    set: Ints  # (H,) index of the set
    led: Ints  # (H,) bits of the led-to causes at work
    weight: Floats  # (H,)

    def per_set(self, count: int) -> Floats:
        return np.bincount(self.set, self.weight, minlength=count).astype(np.float64)


def evaluate(frame: Frame, sets: Ints) -> Rows:
    """Return the rows of `sets` (S, 3), positions among the frame's roots, −1 where a set is smaller."""

    def over_set(row: Floats, neutral: float) -> Floats:
        """(R,) to (S,): the product over the set (neutral 1) or the sum (neutral 0)."""
        one, two, three = (np.append(row, neutral)[sets[:, c]] for c in range(MAX_ROOTS))
        return np.asarray(one * two * three if neutral else one + two + three)

    row_set, row_led = _spread(np.bitwise_or.reduce(np.append(frame.reach, 0)[sets], axis=1))
    base = over_set(frame.odds, 1.0)
    moved = (frame.led_absent < 1).any(axis=1)
    for e in np.flatnonzero(~moved):  # no led-to cause bears on it
        base *= frame.alpha[e] + (frame.beta[e] * frame.quiet[e]) * over_set(frame.absent[e], 1.0)
    weight = base[row_set]
    for e in np.flatnonzero(moved):
        slope = (frame.beta[e] * frame.quiet[e]) * over_set(frame.absent[e], 1.0)
        weight *= frame.alpha[e] + slope[row_set] * frame.led_absent[e][row_led]
    on = (np.arange(1 << len(frame.latent)) >> np.arange(len(frame.latent))[:, None] & 1).astype(float)
    for k in range(len(frame.latent)):  # chance on = 1 − off
        slope = (1 - 2 * on[k]) * frame.led_idle[k]
        weight *= on[k][row_led] + slope[row_led] * over_set(frame.idle[k], 1.0)[row_set]
    for m in range(len(frame.ratios)):
        claimers = over_set(frame.claims[m], 0.0)[row_set] + frame.led_claims[m][row_led]
        summed = over_set(frame.ratios[m], 0.0)[row_set] + frame.led_ratios[m][row_led]
        weight *= np.where(claimers > 0, summed / np.maximum(claimers, 1), 1.0)
    return Rows(row_set, row_led, weight)


def _spread(reach: Ints) -> tuple[Ints, Ints]:
    """Return set index and bits of each row: every sub-mask of what a set reaches."""
    order = np.argsort(reach, kind="stable")
    masks, start, count = np.unique(reach[order], return_index=True, return_counts=True)
    row_set, row_led = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for mask, first, many in zip(masks, start, count, strict=True):
        bits = _submasks(int(mask))
        row_set.append(np.repeat(order[first : first + many], len(bits)))
        row_led.append(np.tile(bits, many))
    return np.concatenate(row_set), np.concatenate(row_led)


def _submasks(mask: int) -> Ints:
    bits = np.zeros(1, dtype=np.int64)
    while mask:
        low = mask & -mask
        bits = np.concatenate([bits, bits | low])
        mask ^= low
    return bits
