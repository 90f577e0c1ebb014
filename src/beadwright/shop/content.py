"""What a case says, changed one statement at a time: pure functions from one checked `Case` to the next.

A later statement on the same check, sign or file takes the earlier one's place; the store's events keep what
was said before. All raise CaseError for a value that a case file could not hold either.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from beadwright.case.model import Case
from beadwright.case.read import check_case

TITLE_WORDS = 9
Table = dict[str, Any]


def title_of(case: Case) -> str:
    """Return the title, else the first words of the story, else the first exhibit's name."""
    if case.case.title.strip():
        return case.case.title.strip()
    words = case.case.story.split()
    if words:
        return " ".join(words[:TITLE_WORDS])[:100] + (" …" if len(words) > TITLE_WORDS else "")
    return case.exhibit[0].file if case.exhibit else "untitled"


def with_answer(case: Case, check: str, result: str) -> Case:
    """Answer a check: `result` is yes, no or unsure."""
    return _with_line(case, "answer", {"check": check, "result": result}, "check")


def with_sign(case: Case, sign: str, present: bool, confidence: float) -> Case:
    """Say that a sign is there, or looked for and not there; confidence 0…1."""
    return _with_line(case, "sign", {"id": sign, "present": present, "confidence": float(confidence)}, "id")


def with_exhibit(case: Case, file: str, kind: str, note: str) -> Case:
    """Name an exhibit."""
    said = {"file": file, "kind": kind, "note": note}
    return _with_line(case, "exhibit", {key: value for key, value in said.items() if value}, "file")


def with_trial(case: Case, trial: Mapping[str, Any]) -> Case:
    """Add a print attempt: printer, spool, file, surroundings, defect."""
    return check_case({**_stated(case), "trial": [*_stated(case).get("trial", ()), dict(trial)]})


def with_measured(case: Case, values: Mapping[str, Any]) -> Case:
    """Set measured values by name; None takes one away."""
    merged = {**case.measured, **values}
    return check_case({**_stated(case), "measured": {key: value for key, value in merged.items() if value is not None}})


def with_story(case: Case, story: str | None, title: str | None) -> Case:
    """Replace the story, the title or both; None leaves one as it is."""
    said = {key: value for key, value in (("story", story), ("title", title)) if value is not None}
    return check_case({**_stated(case), "case": {**_stated(case).get("case", {}), **said}})


def _with_line(case: Case, section: str, line: Table, key: str) -> Case:
    lines = list(_stated(case).get(section, ()))
    places = [place for place, old in enumerate(lines) if old[key] == line[key]]
    if places:
        lines[places[0]] = line
    else:
        lines.append(line)
    return check_case({**_stated(case), section: lines})


def _stated(case: Case) -> Table:
    return case.model_dump(exclude_defaults=True)
