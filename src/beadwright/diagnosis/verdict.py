"""What a ranking amounts to: settled, leaning or open, said in two or three sentences, and what is still
missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from beadwright.diagnosis.evidence import Gathered
from beadwright.diagnosis.items import Shift
from beadwright.diagnosis.measured import shift_advice
from beadwright.diagnosis.result import NextCheck, RankedCause
from beadwright.diagnosis.wording import lower_first, percent

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

Verdict = Literal["settled", "leaning", "open"]

SETTLED, SETTLED_GAP = 0.8, 3.0  # the first is this likely, and this many times as likely as the next
LEANING, LEANING_GAP = 0.45, 1.5
LEAST_WEIGHT_BITS = 1.0  # evidence that moved the first cause's log odds by less does not carry


def verdict_of(causes: Sequence[RankedCause], none: float, gathered: Gathered) -> Verdict:
    """Return how far the evidence carries. Context alone, with nothing seen on the print, never does."""
    if not causes or not _anything_seen(gathered):
        return "open"
    first = causes[0]
    if sum(entry.bits for entry in first.because) < LEAST_WEIGHT_BITS:
        return "open"
    rival = max(_rival(causes), none)
    if first.probability >= SETTLED and first.probability >= SETTLED_GAP * rival:
        return "settled"
    if first.probability >= LEANING and first.probability >= LEANING_GAP * rival:
        return "leaning"
    return "open"


def _anything_seen(gathered: Gathered) -> bool:
    """Whether something was observed, measured, or found by a rule, beyond context."""
    return any(not isinstance(item, Shift) or item.id.startswith("rule:") for item in gathered.items)


def _rival(causes: Sequence[RankedCause]) -> float:
    return causes[1].probability if len(causes) > 1 else 0.0


def summary_of(causes: Sequence[RankedCause], none: float, verdict: Verdict, checks: Sequence[NextCheck]) -> str:
    """Return the answer in two or three sentences."""
    if not causes:
        return "The tables hold no cause to rank."
    first = causes[0]
    opening = {
        "settled": f"{first.name}: {percent(first.probability)} likely.",
        "leaning": f"Most likely {lower_first(first.name)} ({percent(first.probability)}), but not yet sure.",
        "open": f"The evidence does not settle it; {lower_first(first.name)} leads with {percent(first.probability)}.",
    }[verdict]
    reasons = [entry.text for entry in first.because if entry.bits >= 0.5 and entry.evidence != "together"][:2]
    sentences = [opening, _what_happened(causes)]
    if reasons:
        sentences.append(f"What speaks for it most: {'; '.join(reason.rstrip('.') for reason in reasons)}.")
    sentences.append(_rival_sentence(causes, none, checks))
    return " ".join(sentence for sentence in sentences if sentence)


def _what_happened(causes: Sequence[RankedCause]) -> str:
    """Name the cause that is surely at work while what led to it is open."""
    for cause in causes:
        if cause.at_work >= SETTLED and cause.probability < 0.5:
            said = f"{lower_first(cause.name)} ({percent(cause.at_work)})"
            return f"What happened is clear, {said}; what led to it is not."
    return ""


def _rival_sentence(causes: Sequence[RankedCause], none: float, checks: Sequence[NextCheck]) -> str:
    if len(causes) < 2:
        return ""
    rival = causes[1]
    if none > rival.probability:
        return f"A cause that the tables do not know is its nearest rival ({percent(none)})."
    telling = next((c for c in checks if {causes[0].id, rival.id} & set(c.separates)), None)
    tell = f"; to tell them apart: {lower_first(telling.name or telling.text).rstrip('.?')}" if telling else ""
    return f"Its nearest rival is {lower_first(rival.name)} ({percent(rival.probability)}){tell}."


def missing_for(
    knowledge: Knowledge, verdict: Verdict, gathered: Gathered, checks: Sequence[NextCheck]
) -> tuple[str, ...]:
    """Return what would carry the verdict further, empty when it is settled."""
    advice = shift_advice(gathered.facts)
    missing = [advice] if advice else []
    if verdict == "settled":
        return tuple(missing)
    if not gathered.signs:
        missing.append("what the failed print looks like: no sign is known yet")
    for check in sorted(checks, key=lambda check: -check.expected_bits)[:3]:
        question = knowledge.checks[check.id]
        sign = knowledge.signs.get(question.sign or "")
        missing.append(f"{check.name} ({check.expected_bits:.2f} bits expected)" if sign is None else sign.ask)
    return tuple(missing)
