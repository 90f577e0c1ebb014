"""What can be done to a case: each act is one transaction that also adds the event it can be undone by."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from beadwright.case.model import Case
from beadwright.case.read import read_case
from beadwright.errors import InputError
from beadwright.shop import content
from beadwright.shop.changing import (
    Handed,
    attach,
    case_events,
    find_case,
    log,
    next_number,
    require_open,
    stated_case,
    was_right_about,
    write_content,
)
from beadwright.shop.database import Database
from beadwright.shop.exhibits import LIMIT_BYTES, ExhibitFolder, Source
from beadwright.shop.models import CaseRecord, OutcomeRecord
from beadwright.shop.names import display_name, plain_text
from beadwright.shop.rows import WAITS_FOR, CaseRow, EventKind, ExhibitRow, WaitsFor
from beadwright.shop.state import last_standing, restore, snapshot

Clock = Callable[[], datetime]
Edit = Callable[[CaseRecord], None]


class Changes:
    """The half of `Store` that writes.

    Every act takes `when`, for the time it was done when that is not now, and most take `revision`: the one
    that its asker saw. CaseChangedError when the case has moved on, NotFoundError when there is no such case.
    """

    def __init__(self, database: Database, exhibits: ExhibitFolder, clock: Clock) -> None:
        self.database = database
        self.exhibits = exhibits
        self._clock = clock

    def begin(self) -> AbstractContextManager[Session]:
        """Open the one kind of transaction that writes: kept when the block ends, undone when it raises."""
        return self.database.begin()

    def new_case(self, case: Case | str, when: datetime | None = None, exhibits: Sequence[Handed] = ()) -> CaseRow:
        """Open a case with its exhibits, all or nothing.

        Text is a case file's, TOML or JSON; CaseError when wrong. `exhibits` are added to the lines the case
        already has.
        """
        moment = when or self._clock()
        stated = read_case(case) if isinstance(case, str) else case
        kept = [(handed, self.exhibits.keep(handed.source, handed.name)) for handed in exhibits]
        with self.begin() as tx:
            record = CaseRecord(
                number=next_number(tx),
                opened=stated.case.opened or moment.date(),
                status="open",
                waits_for="our check",
                created_at=moment,
                changed_at=moment,
                revision=0,
            )
            write_content(record, stated)
            for handed, bytes_kept in kept:
                attach(record, handed, bytes_kept, moment)
            tx.add(record)
            tx.flush()
            return log(tx, record, "opened", {}, {}, moment)

    def add_exhibit(
        self,
        number: int,
        name: str,
        source: Source,
        kind: str = "",
        note: str = "",
        *,
        limit_bytes: int = LIMIT_BYTES,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> ExhibitRow:
        """Keep a thing handed in. Adding what the case already holds changes its kind and note, no more.

        `source` is a path, bytes or an open binary stream. ExhibitError when it cannot be read or is larger
        than `limit_bytes`; StoreError when there is no room or no right to write. Nothing half-written stays.
        """
        with self.database.read() as tx:  # before copying gigabytes in vain
            require_open(find_case(tx, number, revision=revision))
        handed = Handed(source, name, kind, note)
        kept = self.exhibits.keep(source, name, limit_bytes)
        moment = when or self._clock()
        attached: list[str] = []

        def edit(record: CaseRecord) -> None:
            attached.append(attach(record, handed, kept, moment))

        payload = {"sha256": kept.sha256, "name": display_name(name), "kind": plain_text(kind)}
        payload["note"] = plain_text(note)
        row = self._change(number, "added", payload, edit, revision, moment)
        return next(one for one in row.exhibits if one.name == attached[0])

    def answer(
        self,
        number: int,
        check: str,
        result: str,
        *,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> CaseRow:
        """Answer a check: yes, no or unsure. A second answer takes the first one's place."""
        payload = {"check": check, "result": result}
        return self._restate(
            number, "answered", payload, lambda c: content.with_answer(c, check, result), revision, when
        )

    def set_sign(
        self,
        number: int,
        sign: str,
        present: bool,
        confidence: float = 0.95,
        *,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> CaseRow:
        """Say that a sign is there or is not, with confidence 0…1."""
        payload = {"sign": sign, "present": present, "confidence": confidence}
        return self._restate(
            number, "sign", payload, lambda c: content.with_sign(c, sign, present, confidence), revision, when
        )

    def add_trial(
        self,
        number: int,
        trial: Mapping[str, Any],
        *,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> CaseRow:
        """Add a print attempt: printer, spool, file, surroundings (text) and defect (true or false)."""
        return self._restate(number, "trial", dict(trial), lambda c: content.with_trial(c, trial), revision, when)

    def set_measured(
        self,
        number: int,
        values: Mapping[str, Any],
        *,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> CaseRow:
        """Set measured values by name, unit in the name; None takes one away."""
        return self._restate(
            number, "measured", dict(values), lambda c: content.with_measured(c, values), revision, when
        )

    def edit_story(
        self,
        number: int,
        story: str | None = None,
        title: str | None = None,
        *,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> CaseRow:
        """Replace the story, the title or both."""
        payload = {"story": story, "title": title}
        return self._restate(number, "story", payload, lambda c: content.with_story(c, story, title), revision, when)

    def wait_for(
        self, number: int, what: WaitsFor, *, revision: int | None = None, when: datetime | None = None
    ) -> CaseRow:
        """Say what an open case waits for."""
        if what not in WAITS_FOR:
            raise InputError(f"a case cannot wait for {what!r}", fix=f"Say one of: {', '.join(WAITS_FOR)}")

        def edit(record: CaseRecord) -> None:
            require_open(record)
            record.waits_for = what

        return self._change(number, "waits", {"waits_for": what}, edit, revision, when)

    def note(self, number: int, text: str, who: str = "", *, when: datetime | None = None) -> CaseRow:
        """Note something beside the case: a thought, somebody's guess. Also on a closed case."""
        payload = {"text": plain_text(text), "who": plain_text(who)}
        return self._change(number, "note", payload, lambda record: None, None, when)

    def close(
        self,
        number: int,
        cause: str | None = None,
        text: str = "",
        note: str = "",
        *,
        was_right: bool | None = None,
        revision: int | None = None,
        when: datetime | None = None,
    ) -> CaseRow:
        """Close a case with what it turned out to be: a cause's id, or words where none fits.

        `was_right` says whether the program had it on top; when left out, the kept diagnosis tells.
        """
        if not cause and not text.strip():
            raise InputError(
                "a case is closed with what it turned out to be",
                fix="Name a cause, or say it in words; 'not found' is an answer too",
            )
        moment = when or self._clock()
        said = {"cause": cause or None, "text": plain_text(text), "note": plain_text(note)}

        def edit(record: CaseRecord) -> None:
            require_open(record)
            right = was_right_about(record.diagnosis, cause) if was_right is None else was_right
            record.status, record.waits_for = "closed", "nothing"
            record.outcome = OutcomeRecord(**said, was_right=right, closed_at=moment)

        return self._change(number, "closed", said, edit, revision, moment)

    def reopen(self, number: int, *, revision: int | None = None, when: datetime | None = None) -> CaseRow:
        """Open a closed case again; its outcome no longer counts, and stays in the events."""

        def edit(record: CaseRecord) -> None:
            if record.status != "closed":
                raise InputError("is open already", where=f"case {number}")
            record.status, record.waits_for, record.outcome = "open", "our check", None

        return self._change(number, "reopened", {}, edit, revision, when)

    def undo(self, number: int, *, revision: int | None = None, when: datetime | None = None) -> CaseRow:
        """Take back the last change that still stands; again takes back the one before. The opening stays."""
        with self.begin() as tx:
            record = find_case(tx, number, to_change=True, revision=revision)
            last = last_standing(case_events(tx, record))
            if last is None:
                raise InputError("has nothing left to take back", where=f"case {number}")
            before = snapshot(record)
            restore(tx, record, last.before)
            return log(tx, record, "undo", {"undoes": last.id, "kind": last.kind}, before, when or self._clock())

    def _restate(
        self,
        number: int,
        kind: EventKind,
        payload: dict[str, Any],
        restated: Callable[[Case], Case],
        revision: int | None,
        when: datetime | None,
    ) -> CaseRow:
        def edit(record: CaseRecord) -> None:
            require_open(record)
            write_content(record, restated(stated_case(record)))

        return self._change(number, kind, payload, edit, revision, when)

    def _change(
        self,
        number: int,
        kind: EventKind,
        payload: dict[str, Any],
        edit: Edit,
        revision: int | None,
        when: datetime | None,
    ) -> CaseRow:
        with self.begin() as tx:
            record = find_case(tx, number, to_change=True, revision=revision)
            before = snapshot(record)
            edit(record)
            return log(tx, record, kind, payload, before, when or self._clock())
