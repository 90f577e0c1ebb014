"""The ranking turned into an ordered plan: what to change first, to what number, and why.

A step's worth is its chance of removing the fault, less a little for effort and for what it may worsen. One
change at a time: the first step is the one whose outcome pays and teaches most.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from beadwright.diagnosis.result import PlanStep, RankedCause
from beadwright.diagnosis.wording import percent
from beadwright.errors import KnowledgeError
from beadwright.facts import Facts
from beadwright.knowledge.load import Knowledge
from beadwright.knowledge.material_shapes import Material
from beadwright.knowledge.model import Change, Remedy
from beadwright.knowledge.terms import load_terms
from beadwright.remedy.rules import RULES
from beadwright.remedy.target import Ask, Target

LEADING = 0.03  # causes below this probability get no step of their own …
AT_LEAST = 3  # … unless nothing else is there
WORTH_DOING = 0.02  # chance below which a step is not offered
# what effort and risk weigh against chance; our choice, no source
PER_MINUTE = 0.001
PER_MONEY = 0.002
PER_SIDE_EFFECT = 0.01


def plan_steps(
    ranked: Sequence[RankedCause], facts: Facts, knowledge: Knowledge, materials: Mapping[str, Material]
) -> tuple[PlanStep, ...]:
    """Return steps for the leading causes, the most worthwhile first.

    `ranked` comes most probable first. Numbers come from the case through each remedy's rule; where none can
    be computed the step stands without it. Raises KnowledgeError on a rule or id that does not exist.
    """
    material = materials.get(facts.text("polymer") or "")
    leading = [cause for cause in ranked if cause.probability >= LEADING] or list(ranked[:AT_LEAST])
    found = []
    for remedy in _remedies_of(leading, knowledge):
        chance = _chance(remedy, ranked)
        if chance >= WORTH_DOING:
            step = _step(remedy, chance, ranked, facts, material, knowledge)
            found.append((_worth(remedy, chance), step))
    found.sort(key=lambda entry: -entry[0])  # stable: the more probable cause's own order among equals
    return _once_each(step for _, step in found)


def _remedies_of(causes: Iterable[RankedCause], knowledge: Knowledge) -> list[Remedy]:
    """Return the remedies that the causes name, then any other that cures one of them, each once."""
    ids: dict[str, None] = {}
    listed = list(causes)
    for cause in listed:
        ids.update(dict.fromkeys(cause.remedies))
    wanted = {cause.id for cause in listed}
    ids.update({key: None for key, remedy in knowledge.remedies.items() if wanted & set(remedy.cures)})
    missing = [key for key in ids if key not in knowledge.remedies]
    if missing:
        raise KnowledgeError(f"remedy '{missing[0]}' is named by a cause and not defined", where="remedies.toml")
    return [knowledge.remedies[key] for key in ids]


def _chance(remedy: Remedy, ranked: Iterable[RankedCause]) -> float:
    """Return the chance that the step removes the fault: over causes, probability times chance of cure."""
    return min(1.0, sum(cause.probability * remedy.cures.get(cause.id, 0.0) for cause in ranked))


def _worth(remedy: Remedy, chance: float) -> float:
    cost = PER_MINUTE * min(remedy.minutes, 240.0) + PER_MONEY * remedy.money
    return chance - cost - PER_SIDE_EFFECT * len(remedy.may_worsen)


def _step(
    remedy: Remedy,
    chance: float,
    ranked: Sequence[RankedCause],
    facts: Facts,
    material: Material | None,
    knowledge: Knowledge,
) -> PlanStep:
    changes: dict[str, tuple[float | None, float]] = {}
    reasons = []
    for change in remedy.change:
        ask = Ask(facts, material, change.fact)
        target = target_of(change, ask, remedy.id)
        if target is None:
            continue
        if target.value is not None:
            changes[change.fact] = (ask.now, target.value)
        reasons.append(_reason(change.fact, ask.now, target))
    return PlanStep(
        id=remedy.id,
        name=remedy.name,
        text=remedy.text,
        change=changes,
        why=" ".join([*reasons, _aims_at(remedy, ranked)]),
        chance=round(chance, 4),
        may_worsen=remedy.may_worsen,
        cautions=_cautions(remedy, ranked, knowledge),
        minutes=remedy.minutes,
    )


def target_of(change: Change, ask: Ask, remedy_id: str) -> Target | None:
    """Return where a change goes: by its rule, or by the fixed value, step or factor of the table."""
    if change.rule is not None:
        if change.rule not in RULES:
            raise KnowledgeError(
                f"rule '{change.rule}' does not exist",
                where=f"remedies.toml: [remedy.{remedy_id}]",
                fix=f"Known rules are {', '.join(RULES)}",
            )
        return RULES[change.rule](ask)
    if change.to is not None:
        return None if ask.now == change.to else Target(change.to, "")
    if ask.now is None:
        return None
    if change.factor is not None:
        return Target(float(f"{ask.now * change.factor:.2g}"), "")  # nobody sets 58.5 mm/s
    return Target(round(ask.now + (change.by or 0.0), 4), "")


def _reason(fact: str, now: float | None, target: Target) -> str:
    """Say a change and its reason: "215 → 240 °C, because …"."""
    if target.value is None:
        return _sentence(target.why)
    term = load_terms().get(fact)
    label, unit = (fact, "") if term is None else (term.name, "" if term.unit == "1" else term.unit)
    move = f"{label} {target.value:g} {unit}" if now is None else f"{label} {now:g} → {target.value:g} {unit}"
    return _sentence(f"{move.strip()}, because {target.why}" if target.why else move.strip())


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."


def _aims_at(remedy: Remedy, ranked: Iterable[RankedCause]) -> str:
    """Say which causes the step answers, the one that gains it most first."""
    answered = [cause for cause in ranked if cause.id in remedy.cures]
    answered.sort(key=lambda cause: -cause.probability * remedy.cures[cause.id])
    named = [
        f"“{cause.name.rstrip('.')}” ({percent(cause.probability)} likely; "
        f"{percent(remedy.cures[cause.id])} of such cases cured)"
        for cause in answered[:2]
    ]
    return f"Aimed at {' and '.join(named)}." if named else ""


def _cautions(remedy: Remedy, ranked: Iterable[RankedCause], knowledge: Knowledge) -> tuple[str, ...]:
    """Return the remedy's warnings and what its causes put out of use ("stop"), that first, each once."""
    ids = dict.fromkeys(remedy.cautions)
    for cause in ranked:
        if cause.id in remedy.cures and cause.probability >= LEADING and cause.id in knowledge.causes:
            known = (key for key in knowledge.causes[cause.id].cautions if key in knowledge.cautions)
            ids.update({key: None for key in known if knowledge.cautions[key].level == "stop"})
    entries = []
    for key in ids:
        if key not in knowledge.cautions:
            where = f"remedies.toml: [remedy.{remedy.id}]"
            raise KnowledgeError(f"caution '{key}' is not defined", where=where, fix="Add it to cautions.toml")
        entries.append(knowledge.cautions[key])
    entries.sort(key=lambda entry: entry.level != "stop")
    return tuple(entry.text for entry in entries)


def _once_each(steps: Iterable[PlanStep]) -> tuple[PlanStep, ...]:
    """Drop a later step that only sets what an earlier one sets, in the same direction and no further."""
    kept: list[PlanStep] = []
    for step in steps:
        if not step.change or not any(_covers(one, step) for one in kept):
            kept.append(step)
    return tuple(kept)


def _covers(earlier: PlanStep, later: PlanStep) -> bool:
    return all(
        fact in earlier.change and _between(value, *earlier.change[fact]) for fact, (_, value) in later.change.items()
    )


def _between(value: float, start: float | None, end: float) -> bool:
    return value == end if start is None else min(start, end) <= value <= max(start, end)
