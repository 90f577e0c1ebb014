"""The trade's knowledge as arrays: which cause leads where, how strongly, and how likely it is to begin with.

A failed print has between one and three *root* causes of those in the tables, or one that the tables do not
know ("none of these", a hypothesis with a mass of its own). A root is drawn with its prior odds; a cause
that others lead to is at work when it is a root itself or when a link into it fires (noisy-OR). Signs and
results of checks are leaky noisy-OR findings of the causes at work.

Model family: leaky noisy-OR, two-level in Shwe et al. 1991 (QMR-DT) and Heckerman 1989 (Quickscore); the
chains between roots and findings are ours. Citations from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from beadwright.diagnosis.items import Evidence
from beadwright.diagnosis.sets import MAX_ROOTS, Bools, Floats, Ints, masses_by_size
from beadwright.errors import KnowledgeError
from beadwright.knowledge.model import Cause

if TYPE_CHECKING:
    from beadwright.diagnosis.infer import Posterior

NONE_PRIOR = 0.08  # a failed print in twelve has a cause that no table lists; judgement, no source
SURE = 0.999  # no prior is certainty


@dataclass(frozen=True)
class Network:
    """Causes in the order of their ids; C of them.

    `odds` (C,): prior odds as a root, 0 for a pure mechanism. `links` (C, C): chance that the row's cause
    brings about the column's. `order`: every cause after those that lead to it. `allowed` (C, C): may both
    be roots at once.
    """

    ids: tuple[str, ...]
    odds: Floats
    links: Floats
    order: Ints
    allowed: Bools
    none_prior: float = NONE_PRIOR
    index: Mapping[str, int] = field(default_factory=dict)
    prior_mass: float = 1.0  # sum of the prior odds of all sets of one to three roots

    @classmethod
    def from_causes(
        cls,
        causes: Mapping[str, Cause],
        *,
        none_prior: float = NONE_PRIOR,
        causes_per_print: float | None = None,
    ) -> Network:
        """Build from a table of causes.

        With `causes_per_print` the priors count as base rates among failed prints, and all odds are scaled
        so that a failed print has that many root causes on average; without, they are taken as they stand.
        Raises KnowledgeError when links run in a circle or to an unknown cause.
        """
        ids = tuple(sorted(causes))
        index = {name: i for i, name in enumerate(ids)}
        prior = np.array([0.0 if causes[i].mechanism else min(causes[i].prior, SURE) for i in ids])
        links = np.zeros((len(ids), len(ids)))
        allowed = ~np.eye(len(ids), dtype=bool)
        for name in ids:
            for target, chance in causes[name].leads_to.items():
                links[index[name], _known(index, name, target)] = chance
            for other in causes[name].excludes:
                one, two = index[name], _known(index, name, other)
                allowed[one, two] = allowed[two, one] = False
        odds = prior / (1 - prior)
        if causes_per_print is not None:
            odds = odds * _dilution(odds, allowed, causes_per_print)
        mass = float(masses_by_size(odds, allowed).sum())
        return cls(ids, odds, links, _order(ids, links > 0), allowed, none_prior, index, mass)

    @cached_property
    def led(self) -> Bools:
        """Which causes others lead to, (C,)."""
        return np.asarray((self.links > 0).any(axis=0))

    @cached_property
    def prior(self) -> Floats:
        """The chance of each cause as a root before anything is known, (C,)."""
        return self.posterior().root

    def vector(self, values: Mapping[str, float], missing: float) -> Floats:
        """Return `values` by cause id as (C,), `missing` elsewhere; ids the network does not know are left
        out.
        """
        row = np.full(len(self.ids), missing)
        for name, value in values.items():
            if name in self.index:
                row[self.index[name]] = value
        return row

    def posterior(self, evidence: Iterable[Evidence] = ()) -> Posterior:
        """Return the exact posterior over all sets of up to three roots; see `infer.infer`."""
        from beadwright.diagnosis.infer import infer

        return infer(self, tuple(evidence))


def _dilution(odds: Floats, allowed: Bools, wanted: float) -> float:
    """Return the factor on all odds that makes sets of one to three roots hold `wanted` on average."""
    size = np.arange(1, MAX_ROOTS + 1)
    by_size = masses_by_size(odds, allowed)
    low, high = 1e-6, 1e6
    for _ in range(60):
        middle = (low * high) ** 0.5
        mass = by_size * middle**size
        low, high = (middle, high) if (mass @ size) / mass.sum() < wanted else (low, middle)
    return float(low)


def _known(index: Mapping[str, int], name: str, target: str) -> int:
    if target not in index:
        raise KnowledgeError(f"cause {name} names the cause {target}, which no table defines", fix="define it")
    return index[target]


def _order(ids: tuple[str, ...], arrow: Bools) -> Ints:
    """Return a topological order of the causes."""
    waiting = arrow.sum(axis=0)
    ready = [i for i in range(len(ids)) if waiting[i] == 0]
    order: list[int] = []
    while ready:
        at = ready.pop()
        order.append(at)
        for child in np.flatnonzero(arrow[at]):
            waiting[child] -= 1
            if waiting[child] == 0:
                ready.append(int(child))
    if len(order) < len(ids):
        circle = ", ".join(ids[i] for i in range(len(ids)) if i not in set(order))
        raise KnowledgeError(f"leads_to runs in a circle among {circle}", fix="remove one of the links")
    return np.array(order, dtype=np.int64)
