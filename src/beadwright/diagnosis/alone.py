"""What one item of evidence would say if it were all that is known: the rows of the ledger.

Quicker than the posterior, for it needs single roots only: that several roots leave a finding absent is
taken as the product of their chances, which neglects the led-to causes they share; exclusions are left out.
A measured value and a table of attempts are weighed for one root cause alone.
"""

from __future__ import annotations

import numpy as np

from beadwright.diagnosis.compiled import compile_evidence
from beadwright.diagnosis.evaluate import evaluate
from beadwright.diagnosis.frame import frame_of
from beadwright.diagnosis.items import Evidence, Observation
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import Floats, padded


def weight_bits(network: Network, item: Evidence) -> Floats:
    """Return log2 P(item | cause is a root)/P(item | it is not), (C,), for an item that is no shift of
    odds.
    """
    compiled = compile_evidence(network, (item,))
    frame = frame_of(network, compiled)
    singles = padded(np.arange(len(frame.roots))[:, None])
    likelihood = np.ones(len(network.ids))
    likelihood[frame.roots] = evaluate(frame, singles).weight / frame.odds
    odds = network.odds
    slope = float((compiled.beta * compiled.quiet).sum())  # one finding, or none
    if slope:
        alpha = float(compiled.alpha[0])
        absent = (likelihood - alpha) / slope
        holding = alpha * _sets_holding(odds) + slope * _sets_holding(odds * absent)
        total, everything = alpha * _sets(odds) + slope * _sets(odds * absent), _sets(odds)
        before = _sets_holding(odds)
    else:
        if not isinstance(item, Observation):
            likelihood = likelihood * compiled.attempts
        holding, total = odds * likelihood, float(odds @ likelihood)
        before, everything = odds, float(odds.sum())
    share = (1 - network.none_prior) / everything
    none = network.none_prior
    return _log_odds(holding * share, total * share + none * compiled.none) - _log_odds(before * share, 1.0)


def _sets_holding(odds: Floats) -> Floats:
    """Return the summed odds of the sets of up to three causes that hold each cause, by Newton's power
    sums.
    """
    others, squares = odds.sum() - odds, (odds**2).sum() - odds**2
    return np.asarray(odds * (1 + others + (others**2 - squares) / 2))


def _sets(odds: Floats) -> float:
    one, two, three = odds.sum(), (odds**2).sum(), (odds**3).sum()
    return float(one + (one**2 - two) / 2 + (one**3 - 3 * one * two + 2 * three) / 6)


def _log_odds(part: Floats, whole: float) -> Floats:
    chance = np.clip(part / whole, 1e-15, 1 - 1e-15)
    return np.asarray(np.log2(chance / (1 - chance)))
