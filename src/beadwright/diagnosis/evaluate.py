"""What sets of roots make of the evidence: summed over the led-to causes that each can bring about.

Sets that reach the same led-to causes share their configurations, so each such group is one block of sets ×
configurations, worked through in pieces that stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.frame import Frame
from beadwright.diagnosis.sets import MAX_ROOTS, Floats, Ints

BLOCK = 1 << 14  # elements of a block: 128 kB


@dataclass(frozen=True)
class Evaluated:
    """S sets. `weight` is odds of the set × likelihood of the evidence, summed over configurations.

    `on` (S, K + F) is the part of it with each enumerated and each folded led-to cause at work.
    `configuration` (S, 2^K) is the part of each configuration, (S, 0) unless asked for.
    """

    weight: Floats
    on: Floats
    configuration: Floats


def over_set(row: Floats, sets: Ints, neutral: float) -> Floats:
    """(R,) to (S,): the product over each set (neutral 1) or the sum (neutral 0)."""
    one, two, three = (np.append(row, neutral)[sets[:, c]] for c in range(MAX_ROOTS))
    return np.asarray(one * two * three if neutral else one + two + three)


@dataclass(frozen=True)
class _PerSet:
    """What does not depend on the configuration, by set."""

    base: Floats  # (S,) odds × factors of the findings that no configuration moves
    varies: Ints  # findings that some configuration moves
    slope: Floats  # (E, S) β × chance that roots, and folded causes led to by roots only, leave it absent
    idle: Floats  # (K, S)
    fold_idle: Floats  # (F, S)
    fold_varies: Ints  # folded causes that an enumerated one may lead to
    summed: Floats  # (M, S)
    claimers: Floats  # (M, S)


def evaluate(frame: Frame, sets: Ints, *, configurations: bool = False) -> Evaluated:
    """Evaluate `sets` (S, 3), positions among the frame's roots, −1 where a set is smaller."""
    count, known, folds = len(sets), len(frame.latent), len(frame.folded)
    per = _per_set(frame, sets)
    weight, on = np.zeros(count), np.zeros((count, known + folds))
    configuration = np.zeros((count, (1 << known) if configurations else 0))
    reach = np.bitwise_or.reduce(np.append(frame.reach, 0)[sets], axis=1)
    for at, bits in _blocks(reach):
        block, shares = _block(frame, per, at, bits)
        weight[at] = block.sum(axis=1)
        on[at, :known] = block @ ((bits[:, None] >> np.arange(known)) & 1).astype(float)
        for f, share in shares.items():
            on[at, known + f] = (block * share).sum(axis=1)
        if configurations:
            configuration[at[:, None], bits] = block
    for f, e in enumerate(frame.fold_item.tolist()):
        if e not in per.varies:
            on[:, known + f] = weight * _fold_share(frame, f, per.slope[e], per.fold_idle[f])
    return Evaluated(weight, on, configuration)


def _per_set(frame: Frame, sets: Ints) -> _PerSet:
    fold_varies = np.flatnonzero((frame.fold_led_idle < 1).any(axis=1))
    moved = np.asarray((frame.led_absent < 1).any(axis=1))
    moved[frame.fold_item[fold_varies]] = True

    def each(table: Floats, neutral: float) -> Floats:
        return np.array([over_set(row, sets, neutral) for row in table]).reshape(len(table), len(sets))

    slope = each(frame.absent, 1.0) * (frame.beta * frame.quiet)[:, None]
    fold_idle = each(frame.fold_idle, 1.0)
    for f, e in enumerate(frame.fold_item.tolist()):
        if f not in fold_varies:
            slope[e] *= 1 - frame.fold_chance[f] + frame.fold_chance[f] * fold_idle[f]
    base = over_set(frame.odds, sets, 1.0)
    for e in np.flatnonzero(~moved):
        base *= frame.alpha[e] + slope[e]
    return _PerSet(
        base, np.flatnonzero(moved), slope, each(frame.idle, 1.0), fold_idle, fold_varies,
        each(frame.ratios, 0.0), each(frame.claims, 0.0),
    )  # fmt: skip


def _block(frame: Frame, per: _PerSet, at: Ints, bits: Ints) -> tuple[Floats, dict[int, Floats]]:
    """Return weights by set and configuration, and the chance of folded causes whose finding varies."""
    block = np.repeat(per.base[at, None], len(bits), axis=1)
    for k in np.flatnonzero(int(np.bitwise_or.reduce(bits)) >> np.arange(len(frame.latent)) & 1):
        on = (bits >> k & 1).astype(float)  # chance on = 1 − off
        tilt = (1 - 2 * on) * frame.led_idle[k, bits]
        idle = per.idle[k, at]
        # most sets bring most led-to causes about only by way of others: then one row serves the whole block
        block *= on + tilt if (idle == 1).all() else on + idle[:, None] * tilt
    shares: dict[int, Floats] = {}
    for e in per.varies.tolist():
        mine = np.flatnonzero(frame.fold_item == e).tolist()
        if not mine and (frame.led_absent[e, bits] == 1).all():
            block *= frame.alpha[e] + per.slope[e, at, None]
            continue
        slope = per.slope[e, at, None] * frame.led_absent[e, bits]
        off = {f: per.fold_idle[f, at, None] * frame.fold_led_idle[f, bits] for f in mine}
        for f in mine:
            if f in per.fold_varies:
                slope *= 1 - frame.fold_chance[f] + frame.fold_chance[f] * off[f]
        for f in mine:
            shares[f] = _fold_share(frame, f, slope, off[f])
        slope += frame.alpha[e]
        block *= slope
    for m in range(len(frame.ratios)):
        claimers = per.claimers[m, at, None] + frame.led_claims[m, bits]
        summed = per.summed[m, at, None] + frame.led_ratios[m, bits]
        block *= np.where(claimers > 0, summed / np.maximum(claimers, 1), 1.0)
    return block, shares


def _fold_share(frame: Frame, f: int, slope: Floats, off: Floats) -> Floats:
    """Return P(folded cause f at work | roots, configuration, evidence): Bayes on its one finding."""
    alpha, p = frame.alpha[frame.fold_item[f]], frame.fold_chance[f]
    others = slope / np.maximum(1 - p + p * off, 1e-300)
    return np.asarray((1 - off) * (alpha + others * (1 - p)) / np.maximum(alpha + slope, 1e-300))


def _blocks(reach: Ints) -> Iterator[tuple[Ints, Ints]]:
    """Yield the indices of sets that reach the same led-to causes, in pieces, with their configurations."""
    order = np.argsort(reach, kind="stable")
    masks, start, count = np.unique(reach[order], return_index=True, return_counts=True)
    for mask, first, many in zip(masks.tolist(), start.tolist(), count.tolist(), strict=True):
        bits = _submasks(mask)
        step = max(BLOCK // len(bits), 1)
        for begin in range(first, first + many, step):
            yield order[begin : min(begin + step, first + many)], bits


def _submasks(mask: int) -> Ints:
    bits = np.zeros(1, dtype=np.int64)
    while mask:
        low = mask & -mask
        bits = np.concatenate([bits, bits | low])
        mask ^= low
    return bits
