"""What each page of the bench shows, worded: the templates compute nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from beadwright.diagnosis.wording import lower_first, percent
from beadwright.report.page import Row, SheetPage, worth_showing

if TYPE_CHECKING:
    from beadwright.diagnosis.result import Diagnosis
    from beadwright.knowledge.load import Knowledge
    from beadwright.shop.rows import CaseRow, EventRow
    from beadwright.workup import Workup

CLOSED_SHOWN = 8
TABLES = ("causes", "signs", "checks")
PRINTERS = (
    ("cartesian", "one motor an axis"),
    ("corexy", "two crossed belts (corexy)"),
    ("delta", "three arms (delta)"),
    ("other", "some other way"),
)
EVENT_WORDS = {
    "added": "added {name}",
    "answered": "answered {check}: {result}",
    "sign": "said about {sign}",
    "trial": "added a print attempt",
    "measured": "typed a measured value",
    "story": "changed the words",
    "waits": "waits for {waits_for}",
    "note": "added a note",
    "closed": "closed the case",
    "reopened": "opened it again",
}


@dataclass(frozen=True)
class CaseLine:
    """One case in a list."""

    number: int
    title: str
    age: str
    waits_for: str
    answer: str


@dataclass(frozen=True)
class BenchPage:
    title: str
    lede: str
    open: tuple[CaseLine, ...]
    closed: tuple[CaseLine, ...]


@dataclass(frozen=True)
class NewPage:
    title: str
    problem: str
    story: str
    title_given: str
    material: str
    printer: str
    materials: tuple[str, ...]
    printers: tuple[tuple[str, str], ...] = PRINTERS


@dataclass(frozen=True)
class SignView:
    id: str
    name: str
    phrase: str


@dataclass(frozen=True)
class Answered:
    name: str
    result: str


@dataclass(frozen=True)
class CasePage:
    number: int
    status: str
    is_open: bool
    revision: int
    sheet: SheetPage
    story_signs: tuple[SignView, ...]
    answered: tuple[Answered, ...]
    can_undo: str  # what would be taken back, in words; empty when nothing
    causes: tuple[tuple[str, str], ...]  # id and name, likeliest first
    outcome: str
    notice: str = ""


@dataclass(frozen=True)
class Entry:
    id: str
    name: str
    text: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Group:
    name: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class LibraryPage:
    title: str
    lede: str
    table: str
    word: str
    groups: tuple[Group, ...]
    tables: tuple[tuple[str, str], ...] = tuple((table, table.capitalize()) for table in TABLES)


@dataclass(frozen=True)
class ProblemPage:
    title: str
    text: str
    back: str
    back_words: str
    kept: str = ""


def age_words(since: datetime, now: datetime) -> str:
    """Word how long ago something was; a clock that jumped back reads as just now.

    >>> from datetime import UTC
    >>> age_words(datetime(2026, 3, 1, tzinfo=UTC), datetime(2026, 3, 4, tzinfo=UTC))
    '3 days'
    """
    seconds = max(0.0, (now - since).total_seconds())
    for unit, size in (("week", 604800), ("day", 86400), ("hour", 3600), ("minute", 60)):
        count = int(seconds // size)
        if count >= (2 if unit == "week" else 1):
            return f"{count} {unit}{'s' if count != 1 else ''}"
    return "just now"


def bench_page(
    rows: list[CaseRow], answers: dict[int, Diagnosis | None], knowledge: Knowledge, now: datetime
) -> BenchPage:
    """List open cases oldest first, and what lately closed ones turned out to be."""
    opened = [row for row in rows if row.status == "open"]
    closed = [row for row in rows if row.status == "closed"]
    closed.sort(key=lambda row: row.outcome.closed_at if row.outcome else row.changed_at, reverse=True)
    return BenchPage(
        title="Bench",
        lede=_lede(len(opened)),
        open=tuple(
            CaseLine(row.number, row.title, f"opened {_ago(opened_at(row), now)}", row.waits_for,
                     answer_words(answers.get(row.number)))
            for row in opened
        ),
        closed=tuple(
            CaseLine(row.number, row.title, f"closed {_ago(row.changed_at, now)}", "", outcome_words(row, knowledge))
            for row in closed[:CLOSED_SHOWN]
        ),
    )  # fmt: skip


def opened_at(row: CaseRow) -> datetime:
    """Return when a case was opened: the day it states, where that is not the day it was typed in."""
    stated = datetime(row.opened.year, row.opened.month, row.opened.day, tzinfo=row.created_at.tzinfo)
    return row.created_at if stated.date() == row.created_at.date() else stated


def _ago(since: datetime, now: datetime) -> str:
    words = age_words(since, now)
    return words if words == "just now" else f"{words} ago"


def _lede(count: int) -> str:
    if count == 0:
        return "Nothing waits."
    return "One case waits." if count == 1 else f"{count} cases wait, the oldest first."


def answer_words(diagnosis: Diagnosis | None) -> str:
    """Word an answer for a list: the leading cause and how sure, or that it is open."""
    if diagnosis is None or not diagnosis.causes:
        return ""
    top = diagnosis.causes[0]
    chance = percent(top.probability)
    if diagnosis.verdict == "open":
        return f"Still open; so far {lower_first(top.name)}, {chance}"
    return f"{top.name}, {chance}"


def outcome_words(row: CaseRow, knowledge: Knowledge) -> str:
    """Word what a case turned out to be."""
    if row.outcome is None:
        return ""
    known = knowledge.causes.get(row.outcome.cause or "")
    what = known.name if known else (row.outcome.cause or row.outcome.text)
    right = {True: " The bench had it on top.", False: " The bench had something else on top."}
    note = row.outcome.note.strip()
    extra = f" {note[:1].upper()}{note[1:].rstrip('.')}." if note else ""
    judged = "" if row.outcome.was_right is None else right[row.outcome.was_right]
    return f"It was: {lower_first(what)}.{extra}{judged}"


def case_page(
    row: CaseRow, workup: Workup, sheet: SheetPage, events: tuple[EventRow, ...], *, notice: str = ""
) -> CasePage:
    """Word a case sheet with its forms."""
    knowledge = workup.knowledge
    settled = {line.id for line in workup.case.sign}
    story = workup.story.signs if workup.story else ()
    asked = [sign for sign in story if sign.id not in settled]
    return CasePage(
        number=row.number,
        status=f"open, waits for {row.waits_for}" if row.status == "open" else "closed",
        is_open=row.status == "open",
        revision=row.revision,
        sheet=sheet,
        story_signs=tuple(
            SignView(sign.id, ("" if sign.present else "no ") + lower_first(knowledge.signs[sign.id].name), sign.phrase)
            for sign in asked
        ),
        answered=tuple(
            Answered(
                knowledge.checks[line.check].name if line.check in knowledge.checks else line.check,
                line.result,
            )
            for line in workup.case.answer
        ),
        can_undo=_undo_words(events),
        causes=_cause_choices(workup.diagnosis, knowledge),
        outcome=outcome_words(row, knowledge),
        notice=notice,
    )


def _undo_words(events: tuple[EventRow, ...]) -> str:
    standing = [event for event in events if not event.undone and event.kind not in ("opened", "undo")]
    if not standing:
        return ""
    last = standing[-1]
    try:
        return EVENT_WORDS.get(last.kind, last.kind).format(**last.payload).replace("_", " ")
    except KeyError:
        return last.kind


def _cause_choices(diagnosis: Diagnosis, knowledge: Knowledge) -> tuple[tuple[str, str], ...]:
    first = [cause.id for cause in worth_showing(diagnosis)]
    rest = sorted((cause.name, cause.id) for cause in knowledge.causes.values() if cause.id not in first)
    return tuple((cause, knowledge.causes[cause].name) for cause in first) + tuple((id_, name) for name, id_ in rest)


def library_page(knowledge: Knowledge, table: str, word: str) -> LibraryPage:
    """List a table of the knowledge, grouped, with the entries that hold `word`."""
    makers = {"causes": _cause_groups, "signs": _sign_groups, "checks": _check_groups}
    groups = makers[table](knowledge)
    wanted = word.casefold().strip()
    kept = [
        Group(group.name, tuple(e for e in group.entries if wanted in f"{e.id} {e.name} {e.text}".casefold()))
        for group in groups
    ]
    ledes = {
        "causes": "What can go wrong, where it lives, how it shows, and how sure each number is.",
        "signs": "What can be seen, heard or felt, and what brings it about.",
        "checks": "What can be done to learn more, and what it costs.",
    }
    return LibraryPage("Library", ledes[table], table, word, tuple(group for group in kept if group.entries))


def _source(knowledge: Knowledge, key: str) -> Row:
    source = knowledge.sources.get(key)
    return Row("source", source.mark if source else key)


def _chances(links: dict[str, float], names: dict[str, str]) -> str:
    ordered = sorted(links.items(), key=lambda item: -item[1])
    return "; ".join(f"{names.get(key, key)} {percent(chance)}" for key, chance in ordered)


def _cause_groups(knowledge: Knowledge) -> list[Group]:
    sign_names = {sign.id: sign.name for sign in knowledge.signs.values()}
    cause_names = {cause.id: cause.name for cause in knowledge.causes.values()}
    remedy_names = {remedy.id: remedy.name for remedy in knowledge.remedies.values()}
    groups: dict[str, list[Entry]] = {}
    for cause in knowledge.causes.values():
        rows = [Row("lives in", f"the {cause.lives_in}"), Row("shows as", _chances(cause.signs, sign_names))]
        if cause.leads_to:
            rows.append(Row("leads to", _chances(cause.leads_to, cause_names)))
        rows.append(Row("remedies", "; ".join(remedy_names.get(one, one) for one in cause.remedies)))
        rows.append(_source(knowledge, cause.source))
        groups.setdefault(cause.family, []).append(Entry(cause.id, cause.name, cause.text, tuple(rows)))
    return [Group(name.capitalize(), tuple(entries)) for name, entries in groups.items()]


def _sign_groups(knowledge: Knowledge) -> list[Group]:
    entries = []
    for sign in knowledge.signs.values():
        bringers = {cause.name: cause.signs[sign.id] for cause in knowledge.causes.values() if sign.id in cause.signs}
        rows = (
            Row("brought about by", _chances(bringers, {})),
            Row("ask", sign.ask),
            _source(knowledge, sign.source),
        )
        entries.append(Entry(sign.id, sign.name, sign.text, rows))
    return [Group("Signs", tuple(entries))]


def _check_groups(knowledge: Knowledge) -> list[Group]:
    order = {
        "ask": "Ask",
        "look": "Look",
        "tool": "With a tool",
        "part": "With a part",
        "reprint": "Print again",
    }
    names = {cause.id: cause.name for cause in knowledge.causes.values()}
    groups: dict[str, list[Entry]] = {effort: [] for effort in order}
    for check in knowledge.checks.values():
        rows = [Row("price", f"{check.minutes:g} min" + (f", {check.money:g} in money" if check.money else ""))]
        if check.sign:
            rows.append(Row("settles", knowledge.signs[check.sign].name))
        if check.yes:
            rows.append(Row("yes points to", _chances(check.yes, names)))
        rows.append(_source(knowledge, check.source))
        groups[check.effort].append(Entry(check.id, check.name, check.text, tuple(rows)))
    return [Group(order[effort], tuple(entries)) for effort, entries in groups.items() if entries]
