"""What the bench's pages draw on: the store, the knowledge, and answers already worked out.

A work-up is kept in memory by case and revision, a toolpath's reading by its content, so that an answered check ranks
again without reading any file twice. Both keepings are bounded.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Generic, TypeVar

from beadwright import __version__
from beadwright.diagnosis.result import Diagnosis
from beadwright.report.page import SheetPage, Strip, sheet_page
from beadwright.report.strip import strips_of
from beadwright.report.xray import pictures_of
from beadwright.report.xray_figure import figures_of
from beadwright.shop.store import Store
from beadwright.web.pages import BenchPage, CasePage, bench_page, case_page
from beadwright.web.pictures import picture_type
from beadwright.workup import ExhibitFile, LookKey, ToolpathSeen, Workup, work_up

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge
    from beadwright.shop.rows import CaseRow

KEPT_WORKUPS = 64
KEPT_READINGS = 32
KEPT_STRIPS = 64

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Keep(Generic[K, V]):
    """A bounded memory of values by key, least lately used let go first. Safe between threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[K, V] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: K) -> V | None:
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
            return self._values.get(key)

    def put(self, key: K, value: V) -> V:
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
        return value

    def made(self, key: K, make: Callable[[], V]) -> V:
        """Return the kept value, else make and keep it. Two threads may both make it; both are right."""
        kept = self.get(key)
        return self.put(key, make()) if kept is None else kept


class Desk:
    """One open shop as the pages see it."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.readings: Keep[LookKey, ToolpathSeen] = Keep(KEPT_READINGS)
        self._workups: Keep[tuple[int, int], Workup] = Keep(KEPT_WORKUPS)
        self._strips: Keep[Hashable, tuple[Strip, ...]] = Keep(KEPT_STRIPS)

    @cached_property
    def knowledge(self) -> Knowledge:
        from beadwright.knowledge.load import load_knowledge

        return load_knowledge()

    def workup(self, row: CaseRow) -> Workup:
        """Return the case's work-up at this revision, and keep its answer in the store for lists."""
        made = self._workups.get((row.number, row.revision))
        if made is None:
            made = work_up(
                row.case(), self._files(row), knowledge=self.knowledge, readings=self.readings, draw=pictures_of
            )
            self._workups.put((row.number, row.revision), made)
            self.store.keep_diagnosis(row.number, row.revision, __version__, made.diagnosis.model_dump_json())
        return made

    def sheet(self, row: CaseRow, workup: Workup) -> SheetPage:
        """Word the case sheet, with strips drawn once and pictures served from the case."""
        strips = self._strips.made(workup.strip_key, lambda: (*figures_of(workup), *strips_of(workup)))
        images = {
            exhibit.name: f"/cases/{row.number}/exhibits/{exhibit.sha256}"
            for exhibit in row.exhibits
            if picture_type(self.store.exhibit_path(exhibit.sha256))
        }
        return sheet_page(workup, strips=strips, images=images)

    def case_page(self, number: int, notice: str = "") -> CasePage:
        """Word the whole page of one case."""
        row = self.store.get(number)
        workup = self.workup(row)
        return case_page(row, workup, self.sheet(row, workup), self.store.events(number), notice=notice)

    def bench_page(self, now: datetime) -> BenchPage:
        """Word the list of cases; answers come from the store, nothing is worked out for a list."""
        rows = self.store.list_cases()
        answers = {row.number: self._kept(row) for row in rows if row.status == "open"}
        return bench_page(rows, answers, self.knowledge, now)

    def _kept(self, row: CaseRow) -> Diagnosis | None:
        kept = self.store.kept_diagnosis(row.number, __version__)
        return None if kept is None else Diagnosis.model_validate_json(kept)

    def _files(self, row: CaseRow) -> tuple[ExhibitFile, ...]:
        return tuple(
            ExhibitFile(
                one.name,
                self.store.exhibit_path(one.sha256),
                kind=one.kind or None,
                note=one.note,
                sha256=one.sha256,
            )
            for one in row.exhibits
        )
