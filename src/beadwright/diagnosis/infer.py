"""The posterior over all sets of up to three root causes, exact within that bound.

How it stays fast: only clusters of coupled roots are listed (`sets.py`); led-to causes are enumerated only
where something observed lies below them, and per cluster only those it can reach (`frame.py`); connected
triples get an upper bound first, and those whose bounds together are below `TAIL` of the mass of the
smaller sets are left out.

A led-to cause with nothing observed below it does not touch the posterior of the roots; its own chance is
then worked out from its parents' marginals, as if these were independent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.compiled import Compiled, compile_evidence
from beadwright.diagnosis.evaluate import Evaluated, evaluate
from beadwright.diagnosis.frame import Frame, frame_of
from beadwright.diagnosis.items import Evidence
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import MAX_ROOTS, Bools, Clusters, Floats, Ints, mass_of, padded, triples

TAIL = 1e-7  # share of the mass that may be left out with the weakest triples


@dataclass(frozen=True)
class Posterior:
    """What the evidence leaves of the network's hypotheses; C causes."""

    network: Network
    compiled: Compiled
    frame: Frame
    root: Floats  # (C,) chance that the cause is a root
    active: Floats  # (C,) chance that it is at work, as a root or because another led to it
    none: float  # chance that the cause is none of these
    evidence: float  # probability of the evidence, measured values relative to their background

    def of(self, cause: str) -> float:
        """Return the chance that `cause` is a root."""
        return float(self.root[self.network.index[cause]])


def infer(network: Network, evidence: tuple[Evidence, ...]) -> Posterior:
    """Return the posterior of `network` given the items; no evidence returns the prior."""
    compiled = compile_evidence(network, evidence)
    frame = frame_of(network, compiled)
    small = _small_clusters(frame, network)
    small_sets = evaluate(frame, small)
    weight = small_sets.weight
    empty = float(weight[0])  # likelihood with no root of the tables at work

    count = len(frame.roots)
    one = weight[1 : 1 + count] / empty
    two = np.zeros((count, count))
    i, j = small[1 + count :, 0], small[1 + count :, 1]
    two[i, j] = two[j, i] = weight[1 + count :] / empty
    allowed = network.allowed[np.ix_(frame.roots, frame.roots)]
    triple = _connected_triples(frame, one, two, allowed, compiled.attempts)
    triple_sets = evaluate(frame, triple)
    three = triple_sets.weight / empty
    mass = mass_of(Clusters(one, two, triple, three, allowed & ~frame.coupled), compiled.attempts[frame.roots])

    share = empty * (1 - network.none_prior) / network.prior_mass
    total = share * mass.total + network.none_prior * compiled.none
    root = np.zeros(len(network.ids))
    root[frame.roots] = mass.by_root(triple) * share / total
    held = np.concatenate([[0.0], mass.one, mass.two[i, j]])
    led = _led(small_sets, held) + _led(triple_sets, mass.three)
    active = _active(network, compiled, frame, root, led * share / total)
    none = network.none_prior * compiled.none / total
    return Posterior(network, compiled, frame, root, active, none, total)


def _small_clusters(frame: Frame, network: Network) -> Ints:
    """Return the empty set, every root, and every coupled pair that may stand together, (S, 3)."""
    singles = np.arange(len(frame.roots))[:, None]
    coupled = np.triu(frame.coupled & network.allowed[np.ix_(frame.roots, frame.roots)])
    empty = np.full((1, MAX_ROOTS), -1, dtype=np.int64)
    return np.concatenate([empty, padded(singles), padded(np.argwhere(coupled))])


def _connected_triples(frame: Frame, one: Floats, two: Floats, allowed: Bools, attempts: Floats) -> Ints:
    """Return the triples that hang together and are worth evaluating, (N, 3) positions among the roots."""
    linked = np.flatnonzero(frame.coupled.any(axis=1))
    inner = np.ix_(linked, linked)
    at = triples(len(linked))
    coupled, fits = frame.coupled[inner].astype(np.int8), allowed[inner]
    a, b, c = at[:, 0], at[:, 1], at[:, 2]
    edges = coupled[a, b] + coupled[b, c] + coupled[a, c]
    keep = (edges >= 2) & fits[a, b] & fits[b, c] & fits[a, c]
    found = linked[at[keep]]
    if not len(found):
        return np.zeros((0, MAX_ROOTS), dtype=np.int64)
    bound = _bound(frame, found)
    reference = TAIL * (one.sum() + two.sum() / 2) * attempts.min() / attempts.max()
    limit = reference * float(evaluate(frame, np.full((1, MAX_ROOTS), -1)).weight[0])
    likely = np.flatnonzero(bound > limit / len(bound))
    rising = likely[np.argsort(bound[likely])]
    return np.asarray(found[np.sort(rising[np.cumsum(bound[rising]) > limit])])


def _bound(frame: Frame, sets: Ints) -> Floats:
    """Return no less than what `evaluate` would give each triple.

    Every led-to cause within reach helps every positive report and harms no negative one.
    """
    a, b, c = sets.T
    bound = frame.odds[a] * frame.odds[b] * frame.odds[c]
    helped = frame.absent * frame.led_absent[:, frame.reach]
    for f, e in enumerate(
        frame.fold_item
    ):  # at work whenever a root or an enumerated cause within reach may lead to it
        able = (frame.fold_idle[f] < 1) | (frame.fold_led_idle[f][frame.reach] < 1)
        helped[e] *= np.where(able, 1 - frame.fold_chance[f], 1.0)
    best = np.where(frame.beta[:, None] < 0, helped, frame.absent)
    for e in range(len(best)):
        slope = frame.beta[e] * frame.quiet[e]
        bound *= frame.alpha[e] + slope * (best[e][a] * best[e][b] * best[e][c])
    for m in range(len(frame.ratios)):
        top = np.maximum(frame.ratios[m], 1.0)
        for k in range(len(frame.latent)):
            top = np.where(frame.reach >> k & 1, np.maximum(top, frame.led_ratios[m, 1 << k]), top)
        bound *= np.maximum(np.maximum(top[a], top[b]), top[c])
    return np.asarray(bound)


def _led(found: Evaluated, held: Floats) -> Floats:
    """Return the mass with each observed led-to cause at work, (K + F,); the sets hold `held` (S,)."""
    return np.asarray(np.einsum("sk,s->k", found.on, held / np.maximum(found.weight, 1e-300)))


def _active(network: Network, compiled: Compiled, frame: Frame, root: Floats, led: Floats) -> Floats:
    """Return the chance that each cause is at work, (C,)."""
    active = root.copy()
    observed = np.concatenate([frame.latent, frame.folded])
    active[observed] = led
    known = set(observed.tolist())
    for at in network.order:
        if network.led[at] and int(at) not in known:
            active[at] = 1 - (1 - root[at]) * np.prod(1 - compiled.links[:, at] * active)
    return active
