"""The steps that changes to a case are made of; each works inside a transaction that its caller opened."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from beadwright.case.model import Case
from beadwright.case.read import read_case
from beadwright.case.write import to_toml
from beadwright.errors import CaseChangedError, InputError, NotFoundError
from beadwright.shop.content import title_of, with_exhibit
from beadwright.shop.exhibits import Kept, Source
from beadwright.shop.models import CaseRecord, DiagnosisRecord, EventRecord, ExhibitRecord, ShopRecord
from beadwright.shop.names import display_name, plain_text, unique_name
from beadwright.shop.rows import CaseRow, EventKind
from beadwright.shop.state import case_row, difference, snapshot


@dataclass(frozen=True)
class Handed:
    """A thing handed in, not yet stored. `name` is what its owner calls it."""

    source: Source
    name: str
    kind: str = ""
    note: str = ""


def find_case(tx: Session, number: int, *, to_change: bool = False, revision: int | None = None) -> CaseRecord:
    """Return the record of a case; `to_change` keeps others from changing it until the transaction ends.

    NotFoundError for no such case; CaseChangedError when `revision` is given and no longer the case's.
    """
    query = select(CaseRecord).where(CaseRecord.number == number)
    record = tx.scalars(query.with_for_update() if to_change else query).one_or_none()
    if record is None:
        raise NotFoundError(f"there is no case {number}", fix="`beadwright case list` shows those there are")
    if revision is not None and revision != record.revision:
        raise CaseChangedError(
            "someone else changed the case meanwhile; nothing was written",
            where=f"case {number}",
            fix="Look at it as it is now, then say it again",
        )
    return record


def log(
    tx: Session,
    record: CaseRecord,
    kind: EventKind,
    payload: dict[str, Any],
    before: dict[str, Any],
    when: datetime,
) -> CaseRow:
    """Write down a change just made, `before` being the snapshot until then; return the case as it is."""
    record.revision += 1
    record.changed_at = when
    changed = difference(before, snapshot(record)) if before else {}
    tx.add(EventRecord(case_id=record.id, kind=kind, payload=payload, before=changed, at=when))
    tx.flush()
    return case_row(record)


def case_events(tx: Session, record: CaseRecord) -> list[EventRecord]:
    return list(tx.scalars(select(EventRecord).where(EventRecord.case_id == record.id).order_by(EventRecord.id)))


def next_number(tx: Session) -> int:
    """Give out the next case number. One whose transaction is undone is given out again, others never."""
    tx.execute(update(ShopRecord).values(last_number=ShopRecord.last_number + 1))  # others wait on this row
    return tx.execute(select(ShopRecord.last_number)).scalar_one()


def stated_case(record: CaseRecord) -> Case:
    return read_case(record.case_toml, f"case {record.number}")


def write_content(record: CaseRecord, case: Case) -> None:
    """Make `case` what the record says."""
    record.case_toml = plain_text(to_toml(case))
    record.title = plain_text(title_of(case))
    record.story = plain_text(case.case.story)


def attach(record: CaseRecord, handed: Handed, kept: Kept, when: datetime) -> str:
    """Give kept bytes to a case and return their name there; bytes it already holds keep their name."""
    require_open(record)
    kind, note = plain_text(handed.kind), plain_text(handed.note)
    known = next((one for one in record.exhibits if one.sha256 == kept.sha256), None)
    if known is None:
        taken = {one.name for one in record.exhibits}
        known = ExhibitRecord(
            sha256=kept.sha256,
            name=unique_name(display_name(handed.name), taken),
            kind=kind,
            note=note,
            bytes=kept.bytes,
            added_at=when,
        )
        record.exhibits.append(known)
    known.kind, known.note = kind or known.kind, note or known.note
    write_content(record, with_exhibit(stated_case(record), known.name, known.kind, known.note))
    return known.name


def require_open(record: CaseRecord) -> None:
    if record.status != "open":
        raise InputError("is closed", where=f"case {record.number}", fix="Reopen it first")


def was_right_about(kept: DiagnosisRecord | None, cause: str | None) -> bool | None:
    """Return whether the kept answer had `cause` on top; None when there was no answer."""
    if kept is None:
        return None
    ranked = json.loads(kept.content).get("causes", [])
    return bool(ranked) and ranked[0]["id"] == cause
