"""The posterior over all sets of up to three root causes, exact within that bound.

How it stays fast (C = 120 causes make 288,000 triples):

1. *Roots that nothing observed depends on* are not listed: what they add to a set is summed in closed form (`Rest`).
2. *Led-to causes* matter only when something observed lies below them; those few are enumerated, 2^K
   configurations, but per set only over the ones that its roots can reach.
3. *Triples* get an upper bound first (every reachable led-to cause helps every positive report and harms no
   negative one). Those whose bounds together are below `TAIL` of the mass already found are left out.

A led-to cause with nothing observed below it does not touch the posterior of the roots; its own chance is then
worked out from its parents' marginals, as if these were independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.compiled import Compiled, compile_evidence
from beadwright.diagnosis.items import Evidence
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import MAX_ROOTS, Bools, Floats, Ints, pairs, sum_over_rest, triples

TAIL = 1e-8  # share of the mass that may be left out with the weakest triples


@dataclass(frozen=True)
class Posterior:
    """What the evidence leaves of the network's hypotheses; C causes, H rows.

    A row is a set of touched roots with one configuration of the enumerated led-to causes; `weight` sums to one
    together with `none`. `alone` (C,) is the share in which nothing touched is a root and this cause is, alone.
    """

    network: Network
    compiled: Compiled
    root: Floats  # (C,) chance that the cause is a root
    active: Floats  # (C,) chance that it is at work, as a root or because another led to it
    none: float  # chance that the cause is none of these
    evidence: float  # probability of the evidence, measured values relative to their background
    sets: Ints  # (S, 3) cause indices, -1 where fewer
    row_set: Ints  # (H,)
    row_led: Ints  # (H,) bit k: led-to cause `latent[k]` at work
    weight: Floats  # (H,)
    latent: Ints  # (K,)
    alone: Floats  # (C,)

    def of(self, cause: str) -> float:
        """Return the chance that `cause` is a root."""
        return float(self.root[self.network.index[cause]])


@dataclass(frozen=True)
class _Frame:
    """The touched part of the network: T roots, K led-to causes, tables over 2^K configurations."""

    roots: Ints  # (T,) cause indices
    latent: Ints  # (K,) cause indices, parents first
    reach: Ints  # (T,) bits of the led-to causes that a root may bring about
    absent: Floats  # (E, T) without what goes through led-to causes
    led_absent: Floats  # (E, 2^K), leak included
    idle: Floats  # (K, T) chance that a root does not bring the led-to cause about directly
    led_idle: Floats  # (K, 2^K) the same for the led-to parents in a configuration
    ratios: Floats  # (M, T)
    claims: Floats  # (M, T)
    led_ratios: Floats  # (M, 2^K)
    led_claims: Floats  # (M, 2^K)


def infer(network: Network, evidence: tuple[Evidence, ...]) -> Posterior:
    """Return the posterior of `network` given the items; no evidence returns the prior."""
    compiled = compile_evidence(network, evidence)
    frame = _frame(network, compiled)
    rest_index = np.setdiff1d(np.flatnonzero(compiled.odds > 0), frame.roots)
    lr = compiled.attempts
    rest = sum_over_rest(
        compiled.odds[rest_index], lr[rest_index], network.allowed[np.ix_(rest_index, rest_index)]
    )
    sets, likelihood, row_set, row_led = _touched_sets(network, compiled, frame, rest.total, rest.value)

    # likelihood (H,) is a row's chance of the evidence times its odds; what the untouched add comes now
    size = (sets >= 0).sum(axis=1)
    own = np.where(sets >= 0, lr[sets], 0.0).sum(axis=1)
    extra = np.zeros((len(sets), MAX_ROOTS + 1))
    for n in range(MAX_ROOTS + 1):
        fits = (size + n <= MAX_ROOTS) & (size + n > 0)
        extra[fits, n] = (own[fits] * rest.total[n] + rest.value[n]) / (size[fits] + n)
    scale = (1 - network.none_prior) / network.prior_mass
    weight = likelihood * extra.sum(axis=1)[row_set] * scale
    none = network.none_prior * compiled.none
    total = float(weight.sum()) + none
    per_set = np.bincount(row_set, likelihood, minlength=len(sets)) * scale / total

    root = np.zeros(len(network.ids))
    for column in range(MAX_ROOTS):
        held = sets[:, column] >= 0
        root += np.bincount(
            sets[held, column], (per_set * extra.sum(axis=1))[held], minlength=len(network.ids)
        )
    for n in range(1, MAX_ROOTS + 1):
        for m in range(MAX_ROOTS + 1 - n):
            chosen = size == m
            root[rest_index] += (
                (per_set[chosen] @ own[chosen]) * rest.total_of[n] + per_set[chosen].sum() * rest.value_of[n]
            ) / (m + n)
    alone = np.zeros(len(network.ids))
    alone[rest_index] = per_set[size == 0].sum() * rest.value_of[1]
    weight = weight / total
    active = _active(network, compiled, frame, root, row_led, weight)
    return Posterior(
        network, compiled, root, active, none / total, total,
        sets, row_set, row_led, weight, frame.latent, alone,
    )  # fmt: skip


def _frame(network: Network, compiled: Compiled) -> _Frame:
    """Find what the evidence touches and lay out its tables."""
    linked = compiled.links > 0
    relevant = compiled.touched & network.led
    for at in network.order[::-1]:
        relevant[at] |= network.led[at] and bool((linked[at] & relevant).any())
    latent = np.array([i for i in network.order if relevant[i]], dtype=np.int64)
    reach = _reach(linked, latent, len(network.ids))
    touched = (compiled.odds > 0) & (compiled.touched | (reach > 0))
    while True:  # a root that excludes a touched one is touched too
        more = (compiled.odds > 0) & (~network.allowed[:, touched]).any(axis=1) & ~touched
        if not more.any():
            break
        touched |= more
    roots = np.flatnonzero(touched)
    through = relevant[roots]  # such a root acts by switching its own led-to node on
    idle = np.where(through, 1.0, 1 - compiled.links[np.ix_(roots, latent)].T)
    idle[latent[:, None] == roots[None, :]] = 0.0
    return _Frame(
        roots=roots,
        latent=latent,
        reach=reach[roots],
        absent=np.where(through, 1.0, compiled.absent[:, roots]),
        led_absent=_over_configurations(compiled.absent[:, latent], compiled.quiet),
        idle=idle,
        led_idle=_over_configurations(1 - compiled.links[np.ix_(latent, latent)].T, np.ones(len(latent))),
        ratios=np.where(through, 0.0, compiled.ratios[:, roots]),
        claims=np.where(through, 0.0, compiled.claims[:, roots]),
        led_ratios=_sum_over_configurations(compiled.ratios[:, latent]),
        led_claims=_sum_over_configurations(compiled.claims[:, latent].astype(float)),
    )


def _reach(linked: Bools, latent: Ints, size: int) -> Ints:
    """Return, by cause, the bits of the led-to causes it is or may bring about, over any number of links."""
    reach = np.zeros(size, dtype=np.int64)
    for k in range(len(latent) - 1, -1, -1):  # children first
        at = latent[k]
        own = np.bitwise_or.reduce(reach[latent[linked[at, latent]]], initial=0)
        reach[at] = own | (1 << k)
    others = np.setdiff1d(np.arange(size), latent)
    for at in latent:
        reach[others] |= np.where(linked[others, at], reach[at], 0)
    return reach


def _over_configurations(per_node: Floats, start: Floats) -> Floats:
    """Return products over the nodes at work: (X, K) and (X,) to (X, 2^K), bit k of the column for node k."""
    table = start[:, None]
    for k in range(per_node.shape[1]):
        table = np.concatenate([table, table * per_node[:, k, None]], axis=1)
    return table


def _sum_over_configurations(per_node: Floats) -> Floats:
    table = np.zeros((len(per_node), 1))
    for k in range(per_node.shape[1]):
        table = np.concatenate([table, table + per_node[:, k, None]], axis=1)
    return table


def _touched_sets(
    network: Network, compiled: Compiled, frame: _Frame, rest_total: Floats, rest_value: Floats
) -> tuple[Ints, Floats, Ints, Ints]:
    """List sets of touched roots and evaluate them: sets (S, 3), and per row the likelihood × odds, set, bits."""
    count = len(frame.roots)
    small = np.full((1 + count + count * (count - 1) // 2, MAX_ROOTS), -1, dtype=np.int64)
    small[1 : 1 + count, 0] = np.arange(count)
    small[1 + count :, :2] = pairs(count)
    keep = np.ones(len(small), dtype=bool)
    keep[1 + count :] = network.allowed[frame.roots[small[1 + count :, 0]], frame.roots[small[1 + count :, 1]]]
    small = small[keep]
    weight, row_set, row_led = _evaluate(compiled, frame, small)
    found = network.none_prior * compiled.none * network.prior_mass / (1 - network.none_prior)
    lr = np.concatenate([compiled.attempts[frame.roots], [0.0]])
    found += float((weight * (lr[small].sum(axis=1) / np.maximum((small >= 0).sum(axis=1), 1))[row_set]).sum())
    found += float(weight[row_set == 0].sum() * (rest_value[1:] / np.arange(1, MAX_ROOTS + 1)).sum())
    large = _worthwhile_triples(network, compiled, frame, found)
    if len(large):
        more = _evaluate(compiled, frame, large)
        weight = np.concatenate([weight, more[0]])
        row_set = np.concatenate([row_set, more[1] + len(small)])
        row_led = np.concatenate([row_led, more[2]])
        small = np.concatenate([small, large])
    roots = np.concatenate([frame.roots, [-1]])
    return roots[small], weight, row_set, row_led


def _worthwhile_triples(network: Network, compiled: Compiled, frame: _Frame, found: float) -> Ints:
    """Return the triples of touched roots worth evaluating, (n, 3) positions among the touched."""
    count = len(frame.roots)
    if count < MAX_ROOTS:
        return np.zeros((0, MAX_ROOTS), dtype=np.int64)
    two = pairs(count)
    pair, third = triples(count)
    odds = compiled.odds[frame.roots]
    allowed = network.allowed[np.ix_(frame.roots, frame.roots)]
    start = odds[two[:, 0]] * odds[two[:, 1]] * allowed[two[:, 0], two[:, 1]]
    bound = start[pair] * odds[third] * compiled.attempts.max(initial=1.0)
    help_most = frame.absent * (frame.led_absent / frame.led_absent[:, :1])[:, frame.reach]
    best = np.where(compiled.beta[:, None] < 0, help_most, frame.absent)
    for e in range(len(best)):
        both = best[e, two[:, 0]] * best[e, two[:, 1]] * (compiled.beta[e] * compiled.quiet[e])
        bound *= compiled.alpha[e] + both[pair] * best[e, third]
    for m in range(len(compiled.ratios)):
        top = _best_ratio(compiled, frame, m)
        bound *= np.maximum(np.maximum(top[two[:, 0]], top[two[:, 1]])[pair], top[third])
    limit = TAIL * found
    candidates = np.flatnonzero(bound > limit / max(len(bound), 1))
    rising = candidates[np.argsort(bound[candidates])]
    kept = rising[np.cumsum(bound[rising]) > limit]
    kept = kept[allowed[two[pair[kept], 0], third[kept]] & allowed[two[pair[kept], 1], third[kept]]]
    return np.concatenate([two[pair[kept]], third[kept, None]], axis=1)


def _best_ratio(compiled: Compiled, frame: _Frame, m: int) -> Floats:
    """Return the largest ratio of measured value m that a root or what it reaches can claim, at least 1, (T,)."""
    best = np.maximum(frame.ratios[m], 1.0)
    for k, at in enumerate(frame.latent):
        best = np.where(frame.reach >> k & 1, np.maximum(best, compiled.ratios[m, at]), best)
    return best


def _evaluate(compiled: Compiled, frame: _Frame, sets: Ints) -> tuple[Floats, Ints, Ints]:
    """Return, for sets (S, 3) of positions among the touched, rows of likelihood × odds, set index, led-to bits."""

    def over_set(table: Floats, neutral: float) -> Floats:
        """(X, T) to (X, S): the product over the set (neutral 1) or the sum (neutral 0)."""
        wide = np.concatenate([table, np.full((len(table), 1), neutral)], axis=1)
        one, two, three = (wide[:, sets[:, c]] for c in range(MAX_ROOTS))
        return one * two * three if neutral else one + two + three

    odds = over_set(compiled.odds[frame.roots][None, :], 1.0)[0]
    reach = np.concatenate([frame.reach, [0]])[sets]
    row_set, row_led = _rows(np.bitwise_or.reduce(reach, axis=1))
    weight = odds[row_set]
    absent = over_set(frame.absent, 1.0)
    for e in range(len(absent)):
        if (frame.led_absent[e] == compiled.quiet[e]).all():  # no led-to cause bears on it
            weight *= (compiled.alpha[e] + compiled.beta[e] * compiled.quiet[e] * absent[e])[row_set]
        else:
            weight *= compiled.alpha[e] + compiled.beta[e] * (absent[e][row_set] * frame.led_absent[e][row_led])
    idle = over_set(frame.idle, 1.0)
    for k in range(len(frame.latent)):
        off = idle[k][row_set] * frame.led_idle[k][row_led]
        weight *= np.where(row_led >> k & 1, 1 - off, off)
    ratios, claims = over_set(frame.ratios, 0.0), over_set(frame.claims, 0.0)
    for m in range(len(ratios)):
        claimers = claims[m][row_set] + frame.led_claims[m][row_led]
        summed = ratios[m][row_set] + frame.led_ratios[m][row_led]
        weight *= np.where(claimers > 0, summed / np.maximum(claimers, 1), 1.0)
    return weight, row_set, row_led


def _rows(reach: Ints) -> tuple[Ints, Ints]:
    """Expand sets by the sub-masks of what they reach: set index and bits of each row."""
    order = np.argsort(reach, kind="stable")
    masks, start, count = np.unique(reach[order], return_index=True, return_counts=True)
    row_set, row_led = [], []
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


def _active(
    network: Network, compiled: Compiled, frame: _Frame, root: Floats, row_led: Ints, weight: Floats
) -> Floats:
    """Return the chance that each cause is at work; exact but for led-to causes with nothing observed below."""
    active = root.copy()
    done = {int(at) for at in frame.latent}
    for k, at in enumerate(frame.latent):
        active[at] = weight[(row_led >> k & 1) == 1].sum()
    for at in network.order:
        if network.led[at] and int(at) not in done:
            active[at] = 1 - (1 - root[at]) * np.prod(1 - compiled.links[:, at] * active)
    return active
