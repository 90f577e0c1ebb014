"""A case's record as a value: to hand out, to keep as it was before a change, to put back at an undo."""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from sqlalchemy.orm import Session

from beadwright.shop.models import CaseRecord, EventRecord, ExhibitRecord, OutcomeRecord
from beadwright.shop.rows import CaseRow, EventKind, EventRow, ExhibitRow, OutcomeRow, Status, WaitsFor

_PLAIN = ("case_toml", "title", "story", "status", "waits_for")
_EXHIBIT = ("name", "sha256", "kind", "note", "bytes")
_OUTCOME = ("cause", "text", "was_right", "note")


def snapshot(record: CaseRecord) -> dict[str, Any]:
    """Return all that a change may touch, as JSON can hold it."""
    state: dict[str, Any] = {name: getattr(record, name) for name in _PLAIN}
    state["exhibits"] = [
        {name: getattr(one, name) for name in _EXHIBIT} | {"added_at": one.added_at.isoformat()}
        for one in record.exhibits
    ]
    outcome = record.outcome
    state["outcome"] = outcome and (
        {name: getattr(outcome, name) for name in _OUTCOME} | {"closed_at": outcome.closed_at.isoformat()}
    )
    return state


def difference(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """Return those parts of `before` that are no longer so: all that an undo needs."""
    return {name: value for name, value in before.items() if after[name] != value}


def restore(tx: Session, record: CaseRecord, state: dict[str, Any]) -> None:
    """Put back those parts of a case's state that are given."""
    for name in _PLAIN:
        setattr(record, name, state.get(name, getattr(record, name)))
    if "exhibits" in state:
        record.exhibits = []
        tx.flush()  # rows of the same name may come back
        record.exhibits = [ExhibitRecord(**_dated(one, "added_at")) for one in state["exhibits"]]
    if "outcome" in state:
        record.outcome = None
        tx.flush()
        if state["outcome"] is not None:
            record.outcome = OutcomeRecord(**_dated(state["outcome"], "closed_at"))


def _dated(values: dict[str, Any], name: str) -> dict[str, Any]:
    return values | {name: datetime.fromisoformat(values[name])}


def case_row(record: CaseRecord) -> CaseRow:
    return CaseRow(
        number=record.number,
        title=record.title,
        story=record.story,
        opened=record.opened,
        status=cast(Status, record.status),
        waits_for=cast(WaitsFor, record.waits_for),
        case_toml=record.case_toml,
        created_at=record.created_at,
        changed_at=record.changed_at,
        revision=record.revision,
        exhibits=tuple(exhibit_row(one) for one in record.exhibits),
        outcome=outcome_row(record.outcome) if record.outcome else None,
    )


def exhibit_row(record: ExhibitRecord) -> ExhibitRow:
    return ExhibitRow(
        name=record.name,
        sha256=record.sha256,
        kind=record.kind,
        note=record.note,
        bytes=record.bytes,
        added_at=record.added_at,
    )


def outcome_row(record: OutcomeRecord) -> OutcomeRow:
    return OutcomeRow(
        cause=record.cause,
        text=record.text,
        was_right=record.was_right,
        note=record.note,
        closed_at=record.closed_at,
    )


def event_rows(records: list[EventRecord]) -> tuple[EventRow, ...]:
    """Return events in the order they were done; those that an undo took back are marked."""
    undone = {record.payload["undoes"] for record in records if record.kind == "undo"}
    return tuple(
        EventRow(record.id, cast(EventKind, record.kind), record.payload, record.at, undone=record.id in undone)
        for record in records
    )


def last_standing(records: list[EventRecord]) -> EventRecord | None:
    """Return the newest event that an undo can take back: not the opening, no undo, not yet taken back."""
    standing = {row.id for row in event_rows(records) if row.kind not in ("opened", "undo") and not row.undone}
    return max((record for record in records if record.id in standing), key=lambda record: record.id, default=None)
