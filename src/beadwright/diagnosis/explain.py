"""Why a cause stands where it stands, and what the whole ranking amounts to, in plain words.

The weight of one item for a cause H is Good's W = log2 P(e|H)/P(e|not H), that item taken alone over the
tables' priors; for context and rules it is the bits they were given. Items overlap and support each other:
what is left of the change in log odds stands as `together`, so that prior log odds + all bits = posterior
log odds. Source: I. J. Good, Probability and the Weighing of Evidence, 1950 (memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.alone import weight_bits
from beadwright.diagnosis.infer import Posterior
from beadwright.diagnosis.items import Evidence, Shift
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.result import Because
from beadwright.diagnosis.sets import Floats

LEAST_BITS = 0.05  # lighter items are counted with `together`
TOGETHER = "together"


def log_odds_bits(chance: Floats) -> Floats:
    """Return log2 of the odds of chances.

    >>> log_odds_bits(np.array([0.5, 0.8])).round(12).tolist()
    [0.0, 2.0]
    """
    p = np.clip(chance, 1e-15, 1 - 1e-15)
    return np.asarray(np.log2(p / (1 - p)))


@dataclass(frozen=True)
class Ledger:
    """Bits of every item for every cause: (items, C), with prior and posterior log odds (C,)."""

    items: tuple[Evidence, ...]
    bits: Floats
    prior: Floats
    posterior: Floats

    def because(self, at: int) -> tuple[Because, ...]:
        """Return the entries for one cause, strongest first, `together` last; they add up to the change in log odds."""
        column = self.bits[:, at]
        shown = [k for k in np.argsort(-np.abs(column), kind="stable") if abs(column[k]) >= LEAST_BITS]
        entries = [Because(evidence=self.items[k].id, bits=float(column[k]), text=self.items[k].text) for k in shown]
        rest = float(self.posterior[at] - self.prior[at]) - sum(entry.bits for entry in entries)
        if abs(rest) >= LEAST_BITS:
            text = (
                "the above fit together in this cause" if rest > 0 else "other causes explain part of the above as well"
            )
            entries.append(Because(evidence=TOGETHER, bits=rest, text=text))
        elif entries:  # too little for a line of its own: goes to the strongest
            entries[0] = entries[0].model_copy(update={"bits": entries[0].bits + rest})
        return tuple(entries)  # `together` last: it speaks of all the lines above it


def ledger(network: Network, items: Sequence[Evidence], posterior: Posterior) -> Ledger:
    """Weigh every item by itself."""
    prior = log_odds_bits(network.prior)
    rows = []
    for item in items:
        if isinstance(item, Shift):
            rows.append(network.vector(item.bits, 0.0))
        else:
            rows.append(np.where(network.odds > 0, weight_bits(network, item), 0.0))
    bits = np.array(rows).reshape(-1, len(network.ids))
    return Ledger(tuple(items), bits, prior, log_odds_bits(posterior.root))


def chain_from(posterior: Posterior, at: int, least: float = 0.3) -> tuple[int, ...]:
    """Return the likeliest chain of led-to causes at work that begins at a cause, the cause itself left
    out.
    """
    links = posterior.compiled.links
    chain: list[int] = []
    while True:
        ahead = links[at] * posterior.active * (posterior.active >= least)
        nearest = int(np.argmax(ahead))
        if ahead[nearest] <= 0:
            return tuple(chain)
        chain.append(nearest)
        at = nearest


def follows_from(posterior: Posterior, at: int) -> int | None:
    """Return the cause that most likely led to this one, when being led to is the likelier way it is at
    work.
    """
    led = posterior.active[at] - posterior.root[at]
    if led <= posterior.root[at] or posterior.active[at] < 0.1:
        return None
    while True:  # back to a cause that can be a root
        pull = posterior.compiled.links[:, at] * posterior.active
        if not pull.any():
            return None
        at = int(np.argmax(pull))
        if posterior.root[at] >= 0.5 * posterior.active[at]:
            return at
