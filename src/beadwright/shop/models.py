"""The tables of a shop, as SQLAlchemy reads them. The migrations make them; a test holds both equal.

    shop ─ one row: the last case number given out
    cases ─┬─ exhibits   one a file handed in; the bytes lie beside the database under their SHA-256
           ├─ events     append-only: what was done, when, and what it replaced (an undo puts that back)
           ├─ outcomes   what it turned out to be; at most one a case
           └─ diagnoses  the last answer worked out, so that a list of cases need not work them all out again

The text of the case file in `cases.case_toml` is the source of truth for what a case says; title, story and
opened are copied out of it for lists and searches.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    DateTime,
    Dialect,
    ForeignKey,
    MetaData,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Moment(TypeDecorator[datetime]):
    """A moment in UTC, aware on both sides; a naive one is refused, since nobody could say when it was."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is not None and value.tzinfo is None:
            raise ValueError(f"{value!r} has no time zone")
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Table(DeclarativeBase):
    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {datetime: Moment, dict[str, Any]: JSON}  # noqa: RUF012


class ShopRecord(Table):
    """The shop itself. Its one row hands out case numbers, so that none is ever given twice."""

    __tablename__ = "shop"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    last_number: Mapped[int]
    made_at: Mapped[datetime]


class CaseRecord(Table):
    """One failed print and all that is known of it."""

    __tablename__ = "cases"

    id: Mapped[int] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(unique=True)
    title: Mapped[str]
    story: Mapped[str]
    opened: Mapped[date]
    status: Mapped[str] = mapped_column(index=True)
    waits_for: Mapped[str]
    case_toml: Mapped[str]
    created_at: Mapped[datetime]
    changed_at: Mapped[datetime]
    revision: Mapped[int]

    exhibits: Mapped[list[ExhibitRecord]] = relationship(order_by="ExhibitRecord.id", cascade="all, delete-orphan")
    outcome: Mapped[OutcomeRecord | None] = relationship(cascade="all, delete-orphan")
    diagnosis: Mapped[DiagnosisRecord | None] = relationship()


class ExhibitRecord(Table):
    """One thing handed in. `name` is for people, unique in its case; bytes are found by `sha256` alone."""

    __tablename__ = "exhibits"
    __table_args__ = (UniqueConstraint("case_id", "name"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    case_id: Mapped[int] = mapped_column(ForeignKey("cases.id"), index=True)
    sha256: Mapped[str] = mapped_column(index=True)
    name: Mapped[str]
    kind: Mapped[str]
    note: Mapped[str]
    bytes: Mapped[int] = mapped_column(BigInteger)
    added_at: Mapped[datetime]


class EventRecord(Table):
    """One thing done to a case. Rows are added and never changed; `before` is what the change replaced."""

    __tablename__ = "events"

    id: Mapped[int] = mapped_column(primary_key=True)
    case_id: Mapped[int] = mapped_column(ForeignKey("cases.id"), index=True)
    kind: Mapped[str]
    payload: Mapped[dict[str, Any]]
    before: Mapped[dict[str, Any]]
    at: Mapped[datetime]


class OutcomeRecord(Table):
    """What a case turned out to be: a known cause, or words where none fits."""

    __tablename__ = "outcomes"

    id: Mapped[int] = mapped_column(primary_key=True)
    case_id: Mapped[int] = mapped_column(ForeignKey("cases.id"), unique=True)
    cause: Mapped[str | None] = mapped_column(index=True)
    text: Mapped[str]
    was_right: Mapped[bool | None]
    note: Mapped[str]
    closed_at: Mapped[datetime]


class DiagnosisRecord(Table):
    """An answer as it was worked out from one revision of a case by one version of the program."""

    __tablename__ = "diagnoses"

    case_id: Mapped[int] = mapped_column(ForeignKey("cases.id"), primary_key=True)
    revision: Mapped[int]
    version: Mapped[str]
    made_at: Mapped[datetime]
    content: Mapped[str]
