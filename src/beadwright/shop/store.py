"""The shop's store: cases and what was handed in, kept so that what was acknowledged survives a kill.

Every operation is one transaction, and returns only when its change is on the disk. Each change adds an event
that holds what it replaced: that is what `undo` puts back.

    location.py  which shop       exhibits.py  bytes by their hash     changes.py   what can be done to a case
    database.py  transactions     upgrade.py   the schema, migrated    changing.py  the steps of a change
    models.py    the tables       content.py   what a case says        state.py     a record as a value
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Self

from sqlalchemy import select
from sqlalchemy.orm import selectinload

from beadwright.shop import keeping
from beadwright.shop.changes import Changes, Clock
from beadwright.shop.changing import Handed, case_events, find_case
from beadwright.shop.database import BUSY_TIMEOUT_S, Database, make_folder
from beadwright.shop.exhibits import ExhibitFolder
from beadwright.shop.location import ShopLocation
from beadwright.shop.models import CaseRecord, DiagnosisRecord
from beadwright.shop.rows import CaseRow, EventRow, Status, Swept, Verified
from beadwright.shop.state import case_row, event_rows
from beadwright.shop.upgrade import bring_up_to_date

__all__ = ["Handed", "Store", "local_now"]


def local_now() -> datetime:
    """Return this moment, aware of the machine's time zone."""
    return datetime.now().astimezone()


class Store(Changes):
    """An open shop. Use as a context manager, or call `dispose` when done. Safe to share between threads."""

    @classmethod
    def open(cls, location: ShopLocation, *, clock: Clock = local_now, busy_timeout_s: float = BUSY_TIMEOUT_S) -> Store:
        """Open the shop, made at first use, its schema brought up to date. Raises StoreError."""
        make_folder(location, busy_timeout_s=busy_timeout_s)
        database = Database(location, busy_timeout_s=busy_timeout_s)
        try:
            bring_up_to_date(database, clock())
        except BaseException:
            database.close()
            raise
        return cls(database, ExhibitFolder(location.exhibits), clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.dispose()

    def dispose(self) -> None:
        """Let go of the database."""
        self.database.close()

    # --- looking ---

    def get(self, number: int) -> CaseRow:
        """Return one case; NotFoundError when there is none of that number."""
        with self.database.read() as tx:
            return case_row(find_case(tx, number))

    def list_cases(self, status: Status | None = None) -> list[CaseRow]:
        """Return cases, oldest first."""
        query = select(CaseRecord).order_by(CaseRecord.opened, CaseRecord.number)
        if status is not None:
            query = query.where(CaseRecord.status == status)
        query = query.options(selectinload(CaseRecord.exhibits), selectinload(CaseRecord.outcome))
        with self.database.read() as tx:
            return [case_row(record) for record in tx.scalars(query)]

    def events(self, number: int) -> tuple[EventRow, ...]:
        """Return what was done to a case, in the order it was done whatever the clock said."""
        with self.database.read() as tx:
            return event_rows(case_events(tx, find_case(tx, number)))

    def exhibit_path(self, sha256: str) -> Path:
        """Return where an exhibit's bytes are. ValueError for anything but a SHA-256."""
        return self.exhibits.path(sha256)

    # --- answers worked out ---

    def keep_diagnosis(
        self, number: int, revision: int, version: str, diagnosis_json: str, when: datetime | None = None
    ) -> None:
        """Keep an answer worked out from `revision` by `version` of the program; only the last is kept."""
        with self.begin() as tx:
            record = find_case(tx, number, to_change=True)
            if record.diagnosis is None or revision >= record.diagnosis.revision:
                values = {"revision": revision, "version": version, "content": diagnosis_json}
                tx.merge(DiagnosisRecord(case_id=record.id, made_at=when or self._clock(), **values))

    def kept_diagnosis(self, number: int, version: str) -> str | None:
        """Return the kept answer's JSON while it holds (same revision, same version); else None."""
        with self.database.read() as tx:
            record = find_case(tx, number)
            kept = record.diagnosis
            holds = kept is not None and kept.revision == record.revision and kept.version == version
            return kept.content if kept is not None and holds else None

    # --- looking after ---

    def sweep(self, now: datetime | None = None) -> Swept:
        """Remove leftovers of kills older than a day; report kept bytes that no case holds."""
        return keeping.sweep(self.database, self.exhibits, now or self._clock())

    def verify(self) -> Verified:
        """Read everything again: exhibits against their hashes, the database against itself."""
        return keeping.verify(self.database, self.exhibits)
