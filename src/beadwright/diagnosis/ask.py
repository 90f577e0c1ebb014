"""What to ask next: the check whose answer tells most about the causes for its price.

The worth of a check is the mutual information, in bits, between its answer and the set of root causes. Sets
are those of the likeliest `WIDEST` causes, and "none of these"; a cause that merely happens to be there as
well, and explains nothing, makes no set of its own. Given a set, the enumerated led-to causes are averaged
exactly, the others as if independent of each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from beadwright.diagnosis.evaluate import evaluate
from beadwright.diagnosis.evidence import (
    STRAY_CHECK,
    SUREST,
    Gathered,
    chance_of_false_report,
)
from beadwright.diagnosis.infer import Posterior
from beadwright.diagnosis.inputs import SignObservation
from beadwright.diagnosis.result import NextCheck
from beadwright.diagnosis.sets import Floats, Ints, padded, pairs, times, triples
from beadwright.diagnosis.tables import tables_of
from beadwright.facts import Facts, Origin
from beadwright.knowledge.model import Check

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

WIDEST = 16  # causes whose sets are listed: 696 sets
NEGLIGIBLE = 1e-5  # sets this much less likely than the first are left out
KNOWN = 0.9  # a sign reported with this confidence is not asked for again
LEAST_BITS = 0.02  # an answer that tells less is not worth a question

# Price in minutes: a check's own, its money, and the bother of its kind (judgement, no source).
BOTHER_MINUTES = {"ask": 1.0, "look": 1.5, "tool": 4.0, "part": 12.0, "reprint": 25.0}
MINUTES_PER_MONEY = 2.0


@dataclass(frozen=True)
class Sets:
    """Hypotheses left: S sets of roots with their weights and what each has at work, and "none of these"
    last.
    """

    weight: Floats  # (S + 1,) sums to one
    member: Floats  # (S, C) 1 where the cause is a root of the set
    configuration: Floats  # (S, 2^K) chance of each configuration of the enumerated led-to causes
    at_work: Floats  # (S, C) chance of the led-to causes that were not enumerated


def sets_of(posterior: Posterior, widest: int = WIDEST, *, earned: bool = True) -> Sets:
    """List the hypotheses that matter; `earned`: with the weight that no smaller set explains as well."""
    frame = posterior.frame
    top = np.sort(np.argsort(-posterior.root[frame.roots], kind="stable")[:widest])
    size = len(top)
    two, three = pairs(size), triples(size)
    local = np.concatenate([padded(np.arange(size)[:, None]), padded(two), padded(three)])
    sets = np.append(top, -1)[local]
    fits = np.pad(posterior.network.allowed[np.ix_(frame.roots, frame.roots)], (0, 1), constant_values=True)
    a, b, c = sets.T
    found = evaluate(frame, sets, configurations=True)
    lr = np.append(posterior.compiled.attempts[frame.roots], 0.0)
    weight = found.weight * lr[sets].sum(axis=1) / (sets >= 0).sum(axis=1) * (fits[a, b] & fits[a, c] & fits[b, c])
    share = _earned(weight, frame.odds[top], two, three) if earned else weight
    keep = np.flatnonzero(share > share.max() * NEGLIGIBLE)
    given = found.weight[keep, None]
    configuration = found.configuration[keep] / given
    folded = found.on[keep, len(frame.latent) :] / given
    member = _members(frame.roots, sets[keep], len(posterior.network.ids))
    at_work = _at_work(posterior, member, configuration, folded)
    share = share[keep] / share[keep].sum() * (1 - posterior.none)
    return Sets(np.append(share, posterior.none), member, configuration, at_work)


def _earned(weight: Floats, odds: Floats, two: Ints, three: Ints) -> Floats:
    """Return the weight of each set less that of its subsets with the remaining cause there by chance."""
    size = len(odds)
    single, pair = weight[:size], weight[size : size + len(two)]
    square = np.zeros((size, size))
    square[two[:, 0], two[:, 1]] = square[two[:, 1], two[:, 0]] = pair
    i, j = two.T
    by_chance = single[i] * odds[j] + single[j] * odds[i]
    a, b, c = three.T
    by_chance_3 = square[a, b] * odds[c] + square[a, c] * odds[b] + square[b, c] * odds[a]
    rest = np.maximum(weight[size:] - np.concatenate([by_chance, by_chance_3]), 0.0)
    return np.concatenate([single, rest])


def _members(roots: Ints, sets: Ints, size: int) -> Floats:
    member = np.zeros((len(sets), size + 1))
    index = np.append(roots, size)[sets]
    member[np.arange(len(sets))[:, None], index] = 1.0
    return member[:, :size]


def _at_work(posterior: Posterior, member: Floats, configuration: Floats, folded: Floats) -> Floats:
    """Return the chance of the led-to causes that are not enumerated, given each set, (S, C); 0 for all
    else.
    """
    network, frame = posterior.network, posterior.frame
    links = posterior.compiled.links
    active = member.copy()
    bits = np.arange(configuration.shape[1])[:, None] >> np.arange(len(frame.latent)) & 1
    active[:, frame.latent] = configuration @ bits
    active[:, frame.folded] = folded
    observed = {*frame.latent.tolist(), *frame.folded.tolist()}
    others = [int(at) for at in network.order if network.led[at] and int(at) not in observed]
    for at in others:
        parents = np.flatnonzero(links[:, at])
        idle = np.prod(1 - links[parents, at] * active[:, parents], axis=1)
        active[:, at] = 1 - (1 - member[:, at]) * idle
    active[:, np.setdiff1d(np.arange(len(network.ids)), [*others, *frame.folded.tolist()])] = 0.0
    return active


@dataclass(frozen=True)
class Question:
    """A check as a finding: what brings "yes" about."""

    check: Check
    links: dict[str, float]
    leak: float
    stray: float
    false_yes: float  # chance of "yes" where "no" would be right
    report_odds: float = 1.0  # by which an unsure report so far favours "present"


def chance_of_yes(posterior: Posterior, sets: Sets, questions: list[Question]) -> Floats:
    """Return the chance of "yes" by hypothesis and question, (S + 1, Q), errors of the answer included."""
    network, latent = posterior.network, posterior.frame.latent
    stays = np.log1p(-np.minimum([network.vector(q.links, 0.0) for q in questions], 0.999)).T  # (C, Q)
    direct = sets.member.copy()
    led = np.flatnonzero(network.led)
    direct[:, led] = 0.0  # these act through their own node
    no = np.exp(times(direct, stays))
    bits = (np.arange(1 << len(latent))[:, None] >> np.arange(len(latent)) & 1).astype(float)
    no *= times(sets.configuration, np.exp(times(bits, stays[latent])))
    for at in led:
        asked = stays[at] < 0
        if asked.any() and sets.at_work[:, at].any():
            no[:, asked] *= 1 - sets.at_work[:, at, None] * (1 - np.exp(stays[at, asked]))
    leak = np.array([q.leak for q in questions])
    no = np.vstack([no, 1 - np.array([q.stray for q in questions])]) * (1 - leak)
    said = np.array([q.report_odds for q in questions])
    yes = (1 - no) * said / ((1 - no) * said + no)
    right = np.array([min(q.check.reliability, SUREST) for q in questions])
    false_yes = np.array([q.false_yes for q in questions])
    return np.asarray(right * yes + false_yes * (1 - yes))


def entropy_bits(p: Floats) -> Floats:
    """Return the entropy of a yes–no answer in bits.

    >>> entropy_bits(np.array([0.0, 0.5])).round(12).tolist()
    [0.0, 1.0]
    """
    p = np.clip(p, 1e-300, 1.0)
    q = np.clip(1 - p, 1e-300, 1.0)
    return np.asarray(-p * np.log2(p) - q * np.log2(q))


def information_bits(weight: Floats, yes: Floats) -> Floats:
    """Return the mutual information between hypothesis and answer, (Q,), for weights (H,) and chances (H,
    Q).
    """
    return np.maximum(entropy_bits(_mean(weight, yes)) - _mean(weight, entropy_bits(yes)), 0.0)


def _mean(weight: Floats, values: Floats) -> Floats:
    return np.asarray(np.einsum("h,hq->q", weight, values))


def next_checks(
    knowledge: Knowledge, gathered: Gathered, posterior: Posterior, count: int = 8
) -> tuple[NextCheck, ...]:
    """Return the checks worth most for their price, best first."""
    questions = open_questions(knowledge, gathered)
    if not questions:
        return ()
    sets = sets_of(posterior)
    yes = chance_of_yes(posterior, sets, questions)
    bits = information_bits(sets.weight, yes)
    worth = bits / np.array([price_minutes(q.check) for q in questions])
    best = [k for k in np.argsort(-worth, kind="stable") if bits[k] >= LEAST_BITS][:count]
    by_cause = _information_by_cause(sets, yes[:, best])
    return tuple(
        _shown(knowledge, questions[k].check, float(bits[k]), _separated(posterior, by_cause[:, n]))
        for n, k in enumerate(best)
    )


def price_minutes(check: Check) -> float:
    """Return what a check costs, all in minutes."""
    return BOTHER_MINUTES[check.effort] + check.minutes + MINUTES_PER_MONEY * check.money


def open_questions(knowledge: Knowledge, gathered: Gathered) -> list[Question]:
    """Return the checks that nothing has settled yet."""
    tables = tables_of(knowledge)
    settled = _settled_signs(knowledge, gathered)
    kinematics = gathered.facts.text("kinematics")
    questions = []
    for check in knowledge.checks.values():
        if check.id in gathered.answered or _known(check, gathered.facts) or check.sign in settled:
            continue
        if check.sign is None:
            wrong = 1 - min(check.reliability, SUREST)
            questions.append(Question(check, check.yes, check.leak, STRAY_CHECK, wrong))
        elif check.sign in knowledge.signs:
            common = tables.prevalence[check.sign]
            wrong = chance_of_false_report(min(check.reliability, SUREST), common)
            links = tables.links(check.sign, kinematics)
            odds = _report_odds(gathered.signs.get(check.sign), common)
            leak = knowledge.signs[check.sign].leak
            questions.append(Question(check, links, leak, tables.stray(check.sign), wrong, odds))
    return questions


def _report_odds(report: SignObservation | None, common: float) -> float:
    if report is None:
        return 1.0
    if report.present:
        return report.confidence / chance_of_false_report(report.confidence, common)
    return (1 - report.confidence) / report.confidence


def _known(check: Check, facts: Facts) -> bool:
    found = [facts.best(name) for name in check.facts]
    return any(fact is not None and fact.origin > Origin.DEFAULT for fact in found)


def _settled_signs(knowledge: Knowledge, gathered: Gathered) -> set[str]:
    """Signs known surely, the broader ones of those present, and the special kinds of those absent."""
    sure = {name: report for name, report in gathered.signs.items() if report.confidence >= KNOWN}
    settled = set(sure)
    above = tables_of(knowledge).broader
    for name, report in sure.items():
        if report.present:
            settled |= above[name]
    denied = {name for name, report in sure.items() if not report.present}
    return settled | {name for name in knowledge.signs if above[name] & denied}


def _information_by_cause(sets: Sets, yes: Floats) -> Floats:
    """Return the mutual information between each cause's being a root and each answer, (C, Q)."""
    weighted = sets.member * sets.weight[:-1, None]
    chance = weighted.sum(axis=0)[:, None]
    joint = times(weighted.T, yes[:-1])
    total = _mean(sets.weight, yes)
    with_it = joint / np.maximum(chance, 1e-300)
    without = (total - joint) / np.maximum(1 - chance, 1e-300)
    spread = chance * entropy_bits(with_it) + (1 - chance) * entropy_bits(np.clip(without, 0, 1))
    return np.asarray(np.maximum(entropy_bits(total) - spread, 0.0))


def _separated(posterior: Posterior, bits: Floats, most: int = 3) -> tuple[str, ...]:
    best = np.argsort(-bits, kind="stable")[:most]
    return tuple(posterior.network.ids[k] for k in best if bits[k] > 0.15 * bits[best[0]] and bits[k] > 0)


def _shown(knowledge: Knowledge, check: Check, bits: float, separates: tuple[str, ...]) -> NextCheck:
    cautions = tuple(knowledge.cautions[one].text for one in check.cautions if one in knowledge.cautions)
    return NextCheck(
        id=check.id, text=check.text, minutes=check.minutes, expected_bits=round(bits, 4),
        separates=separates, name=check.name, effort=check.effort, yes_means=check.yes_means,
        no_means=check.no_means, cautions=cautions,
    )  # fmt: skip
