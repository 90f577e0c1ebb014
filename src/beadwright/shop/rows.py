"""What the store hands out: frozen values, good after the transaction that read them is over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from beadwright.case.model import Case

Status = Literal["open", "closed"]
WaitsFor = Literal["our check", "the sender", "a part", "a reprint", "nothing"]
EventKind = Literal[
    "opened",
    "added",
    "answered",
    "sign",
    "trial",
    "measured",
    "story",
    "waits",
    "note",
    "closed",
    "reopened",
    "undo",
]
WAITS_FOR: tuple[WaitsFor, ...] = ("our check", "the sender", "a part", "a reprint", "nothing")


@dataclass(frozen=True)
class ExhibitRow:
    """One thing handed in; the bytes are at `Store.exhibit_path(sha256)`."""

    name: str  # unique within its case
    sha256: str
    kind: str  # "" while nobody said
    note: str
    bytes: int
    added_at: datetime


@dataclass(frozen=True)
class OutcomeRow:
    """What a case turned out to be: the id of a known cause, or `text` where none fits."""

    cause: str | None
    text: str
    was_right: bool | None  # whether the program had that cause on top; None when it had said nothing
    note: str
    closed_at: datetime


@dataclass(frozen=True)
class CaseRow:
    """One case as stored. `revision` grows with every change; hand it back to not write over another's."""

    number: int
    title: str
    story: str
    opened: date
    status: Status
    waits_for: WaitsFor
    case_toml: str
    created_at: datetime
    changed_at: datetime
    revision: int
    exhibits: tuple[ExhibitRow, ...]
    outcome: OutcomeRow | None

    def case(self) -> Case:
        """Return the case file's content, checked."""
        from beadwright.case.read import read_case

        return read_case(self.case_toml, f"case {self.number}")


@dataclass(frozen=True)
class EventRow:
    """One thing done to a case."""

    id: int
    kind: EventKind
    payload: dict[str, Any]
    at: datetime
    undone: bool


@dataclass(frozen=True)
class Damage:
    """An exhibit whose bytes are not what was handed in."""

    sha256: str
    found: Literal["missing", "changed", "unreadable"]
    cases: tuple[int, ...]  # numbers of the cases that hold it


@dataclass(frozen=True)
class Verified:
    """What `Store.verify` found."""

    exhibits: int
    bytes: int
    damaged: tuple[Damage, ...]
    database: str  # "ok", or what the database says is wrong

    @property
    def is_sound(self) -> bool:
        return not self.damaged and self.database == "ok"


@dataclass(frozen=True)
class Swept:
    """What `Store.sweep` removed and found."""

    removed: tuple[str, ...]  # names of unfinished files
    orphans: tuple[str, ...]  # SHA-256 of kept bytes that no case holds; left where they are
