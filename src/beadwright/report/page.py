"""A work-up turned into what a page shows: plain text and numbers already worded, so that templates compute nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadwright.audit.findings import say_range
from beadwright.diagnosis.wording import lower_first, percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from beadwright.audit.findings import Finding
    from beadwright.diagnosis.result import Because, Diagnosis, NextCheck, PlanStep, RankedCause
    from beadwright.exhibits.story import StoryReading
    from beadwright.knowledge.load import Knowledge
    from beadwright.workup import ExhibitSeen, Workup

SHOWN_CAUSES = 6
SHOWN_REASONS = 5
LEADING = 3
SHOWN_CHECKS = 4
SHOWN_STEPS = 5
LEAST_SHOWN = 0.01  # chance below which a cause is not listed on the sheet
VERDICTS = {
    "settled": "Settled: one explanation carries the evidence.",
    "leaning": "Leaning: one explanation leads; a check would settle it.",
    "open": "Open: the evidence does not carry a verdict yet.",
}


@dataclass(frozen=True)
class Piece:
    """A stretch of the story; `meaning` says which sign it was read as, empty for plain text."""

    text: str
    meaning: str = ""


@dataclass(frozen=True)
class Row:
    label: str
    value: str


@dataclass(frozen=True)
class ExhibitView:
    name: str
    kind: str
    note: str
    rows: tuple[Row, ...]
    remark: str
    image: str = ""  # address or data URI of a picture that is safe to show


@dataclass(frozen=True)
class Strip:
    """A figure of the timeline, as markup of our own making."""

    svg: str
    caption: str
    kind: str = "strip"  # or "xray"


@dataclass(frozen=True)
class FindingView:
    level: str
    text: str
    where: str


@dataclass(frozen=True)
class Reason:
    bits: str
    text: str


@dataclass(frozen=True)
class CauseView:
    id: str
    name: str
    percent: str
    probability: float
    family: str
    lives_in: str
    text: str
    because: tuple[Reason, ...]
    more_because: tuple[Reason, ...]
    follows: str  # "may follow from …", when another leading cause brings it about


@dataclass(frozen=True)
class CheckView:
    id: str
    name: str
    text: str
    price: str
    yes_means: str
    no_means: str
    separates: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class ChangeView:
    label: str
    was: str
    to: str


@dataclass(frozen=True)
class StepView:
    id: str
    name: str
    text: str
    price: str
    why: str
    may_worsen: str
    changes: tuple[ChangeView, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class SheetPage:
    """Everything a case sheet shows."""

    title: str
    meta: str
    cautions: tuple[str, ...]
    story: tuple[Piece, ...]
    story_signs: tuple[str, ...]
    theories: tuple[str, ...]
    exhibits: tuple[ExhibitView, ...]
    strips: tuple[Strip, ...]
    findings: tuple[FindingView, ...]
    quiet: tuple[str, ...]
    verdict: str
    summary: str
    causes: tuple[CauseView, ...]
    none_of_these: float
    none_percent: str
    leading: int  # how many causes are shown whole; the rest are folded
    lists: tuple[tuple[str, tuple[str, ...]], ...]  # heading and lines: missing, conflicts, unread
    checks: tuple[CheckView, ...]
    plan: tuple[StepView, ...]
    colophon: str


def sheet_page(workup: Workup, *, strips: tuple[Strip, ...] = (), images: dict[str, str] | None = None) -> SheetPage:
    """Word a work-up for the page. `images` maps an exhibit's name to a picture's address."""
    diagnosis, knowledge = workup.diagnosis, workup.knowledge
    case = workup.case
    facts = [
        case.printer.kinematics or "",
        workup.material_name,
        f"opened {case.case.opened}" if case.case.opened else "",
    ]
    return SheetPage(
        title=case.case.title or "A failed print",
        meta=" · ".join(part for part in facts if part),
        cautions=diagnosis.cautions,
        story=story_pieces(workup.words, workup.story, knowledge),
        story_signs=_story_signs(workup.story, knowledge),
        theories=diagnosis.theories,
        exhibits=tuple(_exhibit(seen, (images or {}).get(seen.name, "")) for seen in workup.exhibits),
        strips=strips,
        findings=tuple(finding_view(finding) for finding in workup.audit.findings),
        quiet=tuple(rule.text for rule in workup.audit.quiet),
        verdict=VERDICTS[diagnosis.verdict],
        summary=diagnosis.summary,
        causes=tuple(cause_view(cause, knowledge) for cause in worth_showing(diagnosis)),
        none_of_these=diagnosis.none_of_these,
        none_percent=percent(diagnosis.none_of_these),
        leading=LEADING,
        lists=_lists(diagnosis),
        checks=tuple(check_view(check, knowledge) for check in diagnosis.next_checks[:SHOWN_CHECKS]),
        plan=tuple(step_view(step, knowledge, workup.labels) for step in diagnosis.plan[:SHOWN_STEPS]),
        colophon=workup.colophon,
    )


def worth_showing(diagnosis: Diagnosis) -> tuple[RankedCause, ...]:
    """Return the leading causes that deserve room: never none, never a long tail."""
    shown = tuple(one for one in diagnosis.causes[:SHOWN_CAUSES] if one.probability >= LEAST_SHOWN)
    return shown or diagnosis.causes[:1]


def story_pieces(text: str, story: StoryReading | None, knowledge: Knowledge) -> tuple[Piece, ...]:
    """Cut the story at the phrases that were read as signs, so that a page can mark them."""
    if story is None:
        return (Piece(text),) if text else ()
    pieces, at = [], 0
    for sign in sorted(story.signs, key=lambda sign: sign.span):
        start, end = sign.span
        if start < at:
            continue
        name = knowledge.signs[sign.id].name
        pieces += [Piece(text[at:start]), Piece(text[start:end], name if sign.present else f"no {lower_first(name)}")]
        at = end
    pieces.append(Piece(text[at:]))
    return tuple(piece for piece in pieces if piece.text)


def _story_signs(story: StoryReading | None, knowledge: Knowledge) -> tuple[str, ...]:
    if story is None:
        return ()
    return tuple(
        f"{'' if sign.present else 'no '}{lower_first(knowledge.signs[sign.id].name)} ({percent(sign.confidence)} sure)"
        for sign in story.signs
    )


def _exhibit(seen: ExhibitSeen, image: str) -> ExhibitView:
    rows = tuple(Row(label, value) for label, value in seen.rows)
    return ExhibitView(seen.name, seen.kind.replace("_", " "), seen.note, rows, seen.remark, image)


def finding_view(finding: Finding) -> FindingView:
    """Word a finding with its place."""
    places = []
    if finding.where.layers:
        places.append(say_range("layer", finding.where.layers))
    if finding.where.z_mm:
        low, high = (f"{height:.2f}" for height in finding.where.z_mm)
        places.append(f"{low} mm" if low == high else f"{low}–{high} mm")
    if finding.where.lines:
        places.append(say_range("line", finding.where.lines))
    text = f"{finding.text} To clear it: {finding.clears}." if finding.clears else finding.text
    return FindingView(finding.level, text, ", ".join(places) or finding.origin)


def cause_view(cause: RankedCause, knowledge: Knowledge) -> CauseView:
    """Word a ranked cause: the strongest reasons first, the weaker ones folded away."""
    reasons = tuple(_reason(one) for one in cause.because)
    return CauseView(
        id=cause.id, name=cause.name, percent=percent(cause.probability), probability=round(cause.probability, 4),
        family=cause.family, lives_in=cause.lives_in, text=cause.text,
        because=reasons[:SHOWN_REASONS], more_because=reasons[SHOWN_REASONS:],
        follows=_follows_words(cause, knowledge),
    )  # fmt: skip


def _follows_words(cause: RankedCause, knowledge: Knowledge) -> str:
    names = [knowledge.causes[one].name for one in cause.follows_from if one in knowledge.causes]
    return f"may follow from: {', '.join(names)}" if names else ""


def _reason(because: Because) -> Reason:
    sign = "+" if because.bits >= 0 else "−"
    return Reason(f"{sign}{abs(because.bits):.1f} bits", because.text)


def check_view(check: NextCheck, knowledge: Knowledge) -> CheckView:
    """Word a check: what to do, what it costs, what it would tell."""
    price = f"{check.minutes:g} min · {check.effort} · {check.expected_bits:.2f} bits expected"
    names = [knowledge.causes[cause].name for cause in check.separates[:4] if cause in knowledge.causes]
    return CheckView(
        id=check.id, name=check.name or check.id, text=check.text, price=price, yes_means=check.yes_means,
        no_means=check.no_means, separates=", ".join(names), cautions=check.cautions,
    )  # fmt: skip


def step_view(step: PlanStep, knowledge: Knowledge, labels: dict[str, tuple[str, str]]) -> StepView:
    """Word a plan step; `labels` gives each fact's name and unit."""
    changes = tuple(_change(fact, old, new, labels) for fact, (old, new) in step.change.items())
    worse = [knowledge.signs[sign].name for sign in step.may_worsen if sign in knowledge.signs]
    price = f"{percent(step.chance)} chance that this cures it" + (f" · {step.minutes:g} min" if step.minutes else "")
    return StepView(step.id, step.name or step.id, step.text, price, step.why, ", ".join(worse), changes, step.cautions)


def _change(fact: str, old: float | None, new: float, labels: dict[str, tuple[str, str]]) -> ChangeView:
    label, unit = labels.get(fact, (fact, ""))
    shown = "" if unit in ("", "1") else f" {unit}"
    return ChangeView(label, "" if old is None else f"{old:.4g}", f"{new:.4g}{shown}")


def _lists(diagnosis: Diagnosis) -> tuple[tuple[str, tuple[str, ...]], ...]:
    listed: Iterable[tuple[str, tuple[str, ...]]] = (
        ("What would carry a verdict", diagnosis.missing),
        ("Sources that disagree", diagnosis.conflicts),
        ("Not used", diagnosis.unread),
    )
    return tuple((heading, lines) for heading, lines in listed if lines)
