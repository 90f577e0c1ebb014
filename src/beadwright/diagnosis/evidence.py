"""From all that is known of a case to a list of evidence, each thing counted once.

Several sources for one sign give one observation, the surest; a broader sign that a reported one implies is
not counted again; a direction of a shift that was measured is not counted as a sign as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log2
from typing import TYPE_CHECKING

from beadwright.audit.findings import Audit
from beadwright.diagnosis.inputs import Answer, Hint, SignObservation, Trial
from beadwright.diagnosis.items import Attempts, Evidence, Observation, Shift
from beadwright.diagnosis.measured import measured_items
from beadwright.diagnosis.tables import tables_of
from beadwright.diagnosis.trials import group_ratios, trials_text
from beadwright.facts import Fact, Facts
from beadwright.knowledge.model import Condition

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

SUREST = 0.98  # nobody reports better than this
LEAST_COMMON = 0.02  # no sign is so rare that a report of it is beyond doubt
STRAY_CHECK = 0.1  # chance that a cause outside the tables brings about a check's "yes"
SILENCE_SHARE, SILENCE_CAP_BITS = 0.5, 2.0
DIRECTIONS = ("shift_one_axis", "shift_diagonal", "shift_off_diagonal")


@dataclass(frozen=True)
class Gathered:
    """The items, what they settle, and where they contradict each other."""

    items: tuple[Evidence, ...]
    signs: Mapping[str, SignObservation]  # by sign, the report that counts
    answered: frozenset[str]  # checks
    facts: Facts
    conflicts: tuple[str, ...]


def gather(
    knowledge: Knowledge,
    *,
    facts: Facts | None = None,
    signs: Sequence[SignObservation] = (),
    answers: Sequence[Answer] = (),
    trials: Sequence[Trial] = (),
    audit: Audit | None = None,
    silence: bool = False,
    told_like: Sequence[Hint] = (),
    measured: Sequence[Evidence] = (),
) -> Gathered:
    """Return the evidence of a case. `silence`: what a story leaves out speaks softly against its causes.

    `measured`: items worked out beforehand from more than facts, such as marks on a print's clocks.
    """
    facts = Facts() if facts is None else facts
    reports = [*signs, *_signs_from_answers(knowledge, answers), *_signs_from_facts(facts)]
    settled, conflicts = settle(knowledge, reports)
    items: list[Evidence] = [
        observation_of(knowledge, report, facts.text("kinematics"))
        for report in _without_repeats(knowledge, settled, facts)
    ]
    items += _check_results(knowledge, answers)
    items += _context(knowledge, facts)
    items += _rules(audit)
    items += [
        Shift("story:told", f"told much as prints with this cause mostly are (“{hint.words}”)", {hint.cause: hint.bits})
        for hint in told_like
        if hint.cause in knowledge.causes
    ]
    items += [*measured_items(facts), *measured]
    if trials:
        items.append(_attempts(knowledge, trials))
    if silence and reports:
        items += _unmentioned(knowledge, settled)
    conflicts += [conflict.text for conflict in facts.conflicts()]
    return Gathered(tuple(items), settled, frozenset(a.check for a in answers), facts, tuple(conflicts))


# ---- signs


def _signs_from_answers(knowledge: Knowledge, answers: Sequence[Answer]) -> list[SignObservation]:
    found = []
    for answer in answers:
        check = knowledge.checks.get(answer.check)
        if check is not None and check.sign is not None and answer.result != "unsure":
            found.append(SignObservation(check.sign, answer.result == "yes", check.reliability, "a check", check.name))
    return found


def _signs_from_facts(facts: Facts) -> list[SignObservation]:
    if "shift_mm" in facts:
        return [SignObservation("layer_shift", True, 0.97, "a measured shift")]
    return []


def settle(knowledge: Knowledge, reports: Sequence[SignObservation]) -> tuple[dict[str, SignObservation], list[str]]:
    """Return one report per sign, the surest, and a sentence for each contradiction."""
    settled: dict[str, SignObservation] = {}
    conflicts: list[str] = []
    for report in reports:
        if report.id not in knowledge.signs or report.confidence <= 0.5:
            continue
        report = replace(report, confidence=min(report.confidence, SUREST))
        held = settled.get(report.id)
        if held is not None and held.present != report.present:
            conflicts.append(_contradiction(knowledge.signs[report.id].name, held, report))
        if held is None or report.confidence > held.confidence:
            settled[report.id] = report
    for name, report in settled.items():
        for broad in knowledge.signs[name].implies if report.present else ():
            other = settled.get(broad)
            if other is not None and not other.present:
                conflicts.append(
                    f"“{knowledge.signs[name].name}” is reported, “{knowledge.signs[broad].name}” is denied; "
                    "the first cannot be without the second"
                )
    return settled, conflicts


def _contradiction(name: str, one: SignObservation, two: SignObservation) -> str:
    yes, no = (one, two) if one.present else (two, one)
    surer = yes if yes.confidence >= no.confidence else no
    return f"“{name}”: {yes.origin} says yes, {no.origin} says no; {surer.origin} counts, being surer"


def _without_repeats(
    knowledge: Knowledge, settled: Mapping[str, SignObservation], facts: Facts
) -> list[SignObservation]:
    """Leave out what another report already says, in the order of ids."""
    measured = set(DIRECTIONS) if "shift_mm" in facts else set()
    said: set[str] = set()
    for name, report in settled.items():
        if report.present and name not in measured:
            said |= tables_of(knowledge).broader[name]
    return [
        settled[name]
        for name in sorted(settled)
        if not (settled[name].present and name in said) and name not in measured
    ]


def chance_of_false_report(confidence: float, common: float) -> float:
    """Return how likely "present" is reported of an absent sign, if one may be `confidence` sure of a report.

    With a share `common` of prints showing the sign, Bayes gives (1 − confidence)·(odds of `common`): a rare
    sign is rarely reported by mistake. Half sure is to say nothing: towards 0.5 the prevalence is let go.

    >>> round(chance_of_false_report(0.9, 0.05), 4), chance_of_false_report(0.5, 0.05)
    (0.0053, 0.5)
    """
    common = min(max(common, LEAST_COMMON), 0.5)
    rarity = min(max((confidence - 0.5) / 0.3, 0.0), 1.0)
    return float((1 - confidence) * (common / (1 - common)) ** rarity)


def observation_of(knowledge: Knowledge, report: SignObservation, kinematics: str | None) -> Observation:
    sign = knowledge.signs[report.id]
    wrong = None
    if report.present:
        wrong = chance_of_false_report(report.confidence, tables_of(knowledge).prevalence[report.id])
    words = f" (“{report.phrase}”)" if report.phrase else ""
    seen = sign.name if report.present else f"not seen: {sign.name[:1].lower() + sign.name[1:]}"
    return Observation(
        f"sign:{report.id}", f"{seen}{words}", tables_of(knowledge).links(report.id, kinematics), sign.leak,
        report.present, report.confidence, wrong, tables_of(knowledge).stray(report.id),
    )  # fmt: skip


def _unmentioned(knowledge: Knowledge, settled: Mapping[str, SignObservation]) -> list[Evidence]:
    """What is there and easily noticed is mostly mentioned: a sign not mentioned weighs a little against
    its causes.

    Taken cause by cause, as if each had its own occasion to be mentioned; at half weight and with a cap, for
    senders write what they think matters. Every story is silent on most signs, so only what a cause is silent on
    beyond the average of all (weighted by prior) counts, or the silence itself would speak for "none of these".
    """
    known = set(settled).union(*(tables_of(knowledge).broader[name] for name in settled)) if settled else set()
    bits = {}
    for name, cause in knowledge.causes.items():
        missing = sum(
            log2(1 - SILENCE_SHARE * knowledge.signs[sign].report_when_present * chance)
            for sign, chance in cause.signs.items()
            if sign not in known and sign in knowledge.signs
        )
        bits[name] = max(missing, -SILENCE_CAP_BITS)
    priors = {name: cause.prior for name, cause in knowledge.causes.items()}
    usual = sum(priors[name] * bits[name] for name in bits) / max(sum(priors.values()), 1e-9)
    beyond = {name: min(value - usual, 0.0) for name, value in bits.items()}
    return [Shift("story:silence", "not mentioned: other signs that it usually brings", beyond)]


# ---- checks, context, rules, trials


def _check_results(knowledge: Knowledge, answers: Sequence[Answer]) -> list[Evidence]:
    items: list[Evidence] = []
    for answer in answers:
        check = knowledge.checks.get(answer.check)
        if check is None or check.sign is not None or answer.result == "unsure":
            continue
        yes = answer.result == "yes"
        words = check.yes_means if yes else check.no_means
        items.append(
            Observation(
                f"check:{check.id}", f"{check.name}: {words or answer.result}", check.yes, check.leak, yes,
                min(check.reliability, SUREST), stray=STRAY_CHECK,
            )
        )  # fmt: skip
    return items


def holds(condition: Condition, fact: Fact) -> bool | None:
    """Return whether the fact passes the condition's test; None when they are of different kinds."""
    value = fact.value
    if condition.above is not None or condition.below is not None:
        if isinstance(value, str | tuple):
            return None
        above = condition.above is None or float(value) > condition.above
        return above and (condition.below is None or float(value) < condition.below)
    if condition.one_of is not None:
        return str(value).lower() in {option.lower() for option in condition.one_of}
    if isinstance(condition.equals, str):
        return str(value).lower() == condition.equals.lower()
    return None if isinstance(value, str | tuple) else float(value) == condition.equals


def _context(knowledge: Knowledge, facts: Facts) -> list[Evidence]:
    items: list[Evidence] = []
    for name, cause in knowledge.causes.items():
        for condition in cause.context:
            fact = facts.best(condition.fact)
            passed = None if fact is None else holds(condition, fact)
            bits = 0.0 if passed is None else condition.bits if passed else condition.else_bits
            if bits:
                text = condition.text if passed else f"not so: {condition.text}"
                items.append(Shift(f"context:{condition.fact}", text, {name: bits}))
    return items


def _rules(audit: Audit | None) -> list[Evidence]:
    """A rule that spoke up weighs for each cause it bears on, the less the more of them there are."""
    if audit is None:
        return []
    items: list[Evidence] = []
    for finding in audit.findings:
        bits = max(finding.weight_bits - 0.5 * log2(max(len(finding.bears_on), 1)), 0.25)
        items.append(Shift(f"rule:{finding.rule}", finding.text, dict.fromkeys(finding.bears_on, bits)))
    return items + [
        Shift(f"rule:{quiet.rule}", quiet.text, dict.fromkeys(quiet.bears_on, quiet.bits)) for quiet in audit.quiet
    ]


def _attempts(knowledge: Knowledge, trials: Sequence[Trial]) -> Evidence:
    ratios = group_ratios(trials)
    by_cause = {name: ratios[cause.lives_in] for name, cause in knowledge.causes.items()}
    return Attempts("trials", trials_text(trials, ratios), by_cause)
