"""The diagnosis of a case: evidence in, ranked causes with reasons and next checks out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from beadwright.audit.findings import Audit
from beadwright.diagnosis.ask import next_checks
from beadwright.diagnosis.evidence import gather
from beadwright.diagnosis.explain import Ledger, chain_from, follows_from, ledger
from beadwright.diagnosis.infer import Posterior
from beadwright.diagnosis.inputs import Answer, Hint, SignObservation, Trial
from beadwright.diagnosis.items import Evidence
from beadwright.diagnosis.result import Diagnosis, RankedCause
from beadwright.diagnosis.tables import tables_of
from beadwright.diagnosis.verdict import missing_for, summary_of, verdict_of
from beadwright.facts import Facts

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

MOST_CAUSES = 12
AT_WORK = 0.5  # what is more likely at work than not is listed, even as another's consequence
LEAST_CHANCE = 0.005  # causes below this are not listed, beyond the first three
CAUTION_CHANCE = 0.15  # a cause this likely brings its cautions along
STOP_CHANCE = 0.04  # one that may hurt someone, much sooner


def rank(
    knowledge: Knowledge,
    *,
    facts: Facts | None = None,
    signs: Sequence[SignObservation] = (),
    answers: Sequence[Answer] = (),
    trials: Sequence[Trial] = (),
    audit: Audit | None = None,
    silence: bool = False,
    unread: Sequence[str] = (),
    theories: Sequence[str] = (),
    told_like: Sequence[Hint] = (),
    measured: Sequence[Evidence] = (),
) -> tuple[Diagnosis, Posterior]:
    """Return the diagnosis and the posterior behind it.

    `facts` carry context, measured values among them; `audit` what the rules said of them. `silence`: signs
    that a story leaves out speak softly against their causes; `told_like`: causes it sounds like; `measured`:
    items worked out beforehand. `unread` and `theories` are passed through.
    Signs and checks that the tables do not know are listed as unread, never an error.
    """
    gathered = gather(
        knowledge, facts=facts, signs=signs, answers=answers, trials=trials, audit=audit, silence=silence,
        told_like=told_like, measured=measured,
    )  # fmt: skip
    network = tables_of(knowledge).network
    posterior = network.posterior(gathered.items)
    book = ledger(network, gathered.items, posterior)
    causes = ranked(knowledge, posterior, book)
    checks = next_checks(knowledge, gathered, posterior)
    verdict = verdict_of(causes, posterior.none, gathered)
    diagnosis = Diagnosis(
        causes=causes,
        none_of_these=min(posterior.none, 1.0),
        verdict=verdict,
        next_checks=checks,
        plan=(),
        cautions=cautions_of(knowledge, causes),
        conflicts=gathered.conflicts,
        unread=(*unread, *_unknown(knowledge, signs, answers)),
        summary=summary_of(causes, posterior.none, verdict, checks),
        missing=missing_for(knowledge, verdict, gathered, checks),
        theories=tuple(theories),
    )
    return diagnosis, posterior


def ranked(knowledge: Knowledge, posterior: Posterior, book: Ledger) -> tuple[RankedCause, ...]:
    """Return the likeliest root causes, best first; pure mechanisms show up in the chains of others."""
    network = posterior.network
    roots = np.flatnonzero(network.odds > 0)
    order = roots[np.argsort(-posterior.root[roots], kind="stable")]
    order = np.array([at for n, at in enumerate(order) if n < MOST_CAUSES or posterior.active[at] >= AT_WORK])
    shown = [
        at
        for n, at in enumerate(order)
        if n < 3 or posterior.root[at] >= LEAST_CHANCE or posterior.active[at] >= AT_WORK
    ]
    return tuple(_ranked(knowledge, posterior, book, int(at)) for at in shown)


def _ranked(knowledge: Knowledge, posterior: Posterior, book: Ledger, at: int) -> RankedCause:
    ids = posterior.network.ids
    cause = knowledge.causes[ids[at]]
    source = follows_from(posterior, at)
    return RankedCause(
        id=cause.id,
        name=cause.name,
        family=cause.family,
        lives_in=cause.lives_in,
        probability=_chance(posterior.root[at]),
        because=book.because(at),
        remedies=cause.remedies,
        text=cause.text,
        at_work=_chance(posterior.active[at]),
        follows_from=() if source is None else (ids[source],),
        chain=tuple(ids[k] for k in chain_from(posterior, at)),
    )


def _chance(value: float) -> float:
    return float(min(max(value, 0.0), 1.0))


def cautions_of(knowledge: Knowledge, causes: Sequence[RankedCause]) -> tuple[str, ...]:
    """Return the cautions that the likely causes call for, those that say stop first."""
    found: dict[str, bool] = {}
    for cause in causes:
        for name in knowledge.causes[cause.id].cautions:
            caution = knowledge.cautions.get(name)
            if caution is None:
                continue
            stop = caution.level == "stop"
            if cause.at_work >= (STOP_CHANCE if stop else CAUTION_CHANCE):
                found[caution.text] = stop
    return tuple(sorted(found, key=lambda text: not found[text]))


def _unknown(knowledge: Knowledge, signs: Sequence[SignObservation], answers: Sequence[Answer]) -> list[str]:
    lost = [f"sign {one.id}: no table defines it" for one in signs if one.id not in knowledge.signs]
    return lost + [f"check {one.check}: no table defines it" for one in answers if one.check not in knowledge.checks]
