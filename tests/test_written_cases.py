"""Failed prints as senders put them: is a right cause among the first three, and is "open" said where nothing carries?

Trade experience of our own, common practice, no source. The share that must be right is the bar of the diagnostician's
issue; each case is also listed by name when it fails, so that a table can be mended.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from beadwright.case.read import check_case
from beadwright.workup import Workup, work_up

CASES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "written_cases.toml").read_text("utf-8")
)["written"]
TOP_THREE_SHARE = 0.90


def worked_up(written: dict[str, Any]) -> Workup:
    raw: dict[str, Any] = {"case": {"story": written["story"]}}
    if "printer" in written:
        raw["printer"] = {"kinematics": written["printer"]}
    if "material" in written:
        raw["material"] = {"polymer": written["material"]}
    raw |= {section: written[section] for section in ("settings", "measured") if section in written}
    return work_up(check_case(raw, written["name"]))


def first_three(workup: Workup) -> list[str]:
    return [cause.id for cause in workup.diagnosis.causes[:3]]


def test_a_right_cause_is_among_the_first_three() -> None:
    missed = {}
    judged = [written for written in CASES if written["expect"]]
    for written in judged:
        leaders = first_three(worked_up(written))
        if not set(leaders) & set(written["expect"]):
            missed[written["name"]] = leaders
    assert 1 - len(missed) / len(judged) >= TOP_THREE_SHARE, missed


@pytest.mark.parametrize("written", [w for w in CASES if w.get("top")], ids=lambda w: w["name"])
def test_the_plain_ones_lead_with_the_right_cause(written: dict[str, Any]) -> None:
    assert first_three(worked_up(written))[0] in written["expect"]


@pytest.mark.parametrize("written", [w for w in CASES if w.get("open")], ids=lambda w: w["name"])
def test_the_ones_that_cannot_be_told_stay_open(written: dict[str, Any]) -> None:
    diagnosis = worked_up(written).diagnosis
    assert diagnosis.verdict == "open"
    assert diagnosis.missing
    assert diagnosis.next_checks
