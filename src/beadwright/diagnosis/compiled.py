"""A list of evidence turned into arrays over one network."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.items import Attempts, Evidence, Likelihood, Observation, Shift
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import Bools, Floats

SHIFT_CAP_BITS = 6.0  # all context together moves a cause's odds by no more than this, either way
LEAK_RANGE = (1e-6, 0.999)  # nothing is impossible, and nothing is certain without a cause


@dataclass(frozen=True)
class Compiled:
    """E findings, M measured values, C causes.

    The likelihood of finding e, given that the causes at work leave it absent with chance q, is α + β·q.
    """

    absent: Floats  # (E, C) chance that a cause at work does not bring the finding about
    quiet: Floats  # (E,) chance that it is absent with none of them
    alpha: Floats  # (E,)
    beta: Floats  # (E,)
    ratios: Floats  # (M, C), 0 where the cause makes no claim
    claims: Bools  # (M, C)
    attempts: Floats  # (C,)
    odds: Floats  # (C,) prior odds after context
    links: Floats  # (C, C) after context
    none: float  # likelihood of everything under a cause outside the tables

    @property
    def touched(self) -> Bools:
        """Causes that something observed depends on directly, (C,)."""
        return np.asarray((self.absent < 1).any(axis=0) | self.claims.any(axis=0))


def compile_evidence(network: Network, evidence: tuple[Evidence, ...]) -> Compiled:
    """Return the arrays; the order of the items makes no difference."""
    found = [item for item in evidence if isinstance(item, Observation)]
    values = [item for item in evidence if isinstance(item, Likelihood)]
    shifts = [item for item in evidence if isinstance(item, Shift)]
    tables = [item for item in evidence if isinstance(item, Attempts)]
    size = len(network.ids)
    absent = 1 - np.array([network.vector(item.links, 0.0) for item in found]).reshape(-1, size)
    quiet = 1 - np.clip([item.leak for item in found], *LEAK_RANGE)
    right = np.array([item.confidence for item in found])
    wrong = np.array([1 - item.confidence if item.wrong is None else item.wrong for item in found])
    present = np.array([item.present for item in found], dtype=bool)
    alpha = np.where(present, right, wrong)
    beta = np.where(present, wrong - right, right - wrong)
    stray = 1 - np.array([item.stray for item in found])
    ratios = np.array([network.vector(item.ratios, np.nan) for item in values]).reshape(-1, size)
    attempts = np.ones(size)
    none = float(np.prod(alpha + beta * quiet * stray))
    for table in tables:
        attempts = attempts * network.vector(table.ratios, table.other)
        none *= table.other
    odds, links = _shifted(network, shifts)
    claims = ~np.isnan(ratios)
    return Compiled(absent, quiet, alpha, beta, np.where(claims, ratios, 0.0), claims, attempts, odds, links, none)


def _shifted(network: Network, shifts: list[Shift]) -> tuple[Floats, Floats]:
    """Return prior odds and links with the context's bits in.

    A root's bits move its own odds. A pure mechanism has none to move, so there the odds of every link into
    it move.
    """
    if not shifts:
        return network.odds, network.links
    bits = np.sum([network.vector(item.bits, 0.0) for item in shifts], axis=0)
    factor = np.exp2(np.clip(bits, -SHIFT_CAP_BITS, SHIFT_CAP_BITS))
    pure = np.where(network.odds == 0, factor, 1.0)
    scaled = network.links * pure
    return network.odds * factor, scaled / (1 - network.links + scaled)
