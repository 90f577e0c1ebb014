"""Properties of the case file over anything that may be written into it."""

from __future__ import annotations

import datetime
import json
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.case.model import Case
from beadwright.case.read import check_case, read_case
from beadwright.case.write import to_toml
from beadwright.errors import CaseError

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
NAME = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
SCALAR = st.one_of(TEXT, st.booleans(), st.integers(-(10**9), 10**9), st.floats(-1e12, 1e12))
FREE = st.recursive(
    SCALAR, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAME, inner, max_size=3), max_leaves=4
)
CASES = st.fixed_dictionaries(
    {},
    optional={
        "case": st.fixed_dictionaries(
            {}, optional={"title": TEXT, "story": TEXT, "opened": st.dates(datetime.date(1970, 1, 1))}
        ),
        "printer": st.fixed_dictionaries(
            {},
            optional={
                "kinematics": st.sampled_from(["cartesian", "corexy", "delta", "other"]),
                "nozzle_mm": st.floats(0.08, 3),
                "travel_mm": st.tuples(*[st.floats(20, 3000)] * 3).map(list),
                "enclosed": st.booleans(),
            },
        ),
        "settings": st.dictionaries(NAME, FREE, max_size=4),
        "measured": st.dictionaries(NAME, FREE, max_size=4),
        "sign": st.lists(
            st.fixed_dictionaries({"id": NAME}, optional={"confidence": st.floats(0, 1), "present": st.booleans()}),
            max_size=3,
        ),
        "answer": st.lists(
            st.fixed_dictionaries({"check": NAME, "result": st.sampled_from(["yes", "no", "unsure"])}),
            max_size=3,
        ),
        "trial": st.lists(st.fixed_dictionaries({"defect": st.booleans()}, optional={"spool": TEXT}), max_size=3),
        "exhibit": st.lists(st.fixed_dictionaries({"file": NAME}, optional={"note": TEXT}), max_size=3),
    },
)
JSON_LIKE = st.recursive(
    st.none() | SCALAR,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=12) | st.sampled_from(list(Case.model_fields)), inner, max_size=3)
    ),
    max_leaves=8,
)


def case_of(raw: dict[str, Any]) -> Case | None:
    try:
        return check_case(raw)
    except CaseError:
        return None


@settings(deadline=None)
@given(CASES)
def test_written_and_read_back_is_the_same_case(raw: dict[str, Any]) -> None:
    case = case_of(raw)
    if case is not None:
        assert read_case(to_toml(case)) == case


@settings(deadline=None)
@given(CASES)
def test_json_carries_the_same(raw: dict[str, Any]) -> None:
    case = case_of(raw)
    if case is not None:
        assert read_case(json.dumps(case.model_dump(mode="json", exclude_defaults=True))) == case


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(list(Case.model_fields)) | st.text(max_size=8), JSON_LIKE, max_size=4))
def test_any_table_is_a_case_or_a_clear_refusal(raw: dict[str, Any]) -> None:
    case = case_of(raw)
    if case is not None:
        assert all(isinstance(line, str) for line in case.unread())
        case.facts()


@settings(deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_a_case_or_a_clear_refusal(text: str) -> None:
    try:
        read_case(text)
    except CaseError as error:
        said = str(error)
    else:
        return
    assert said.startswith("the case: ")


@settings(deadline=None)
@given(st.dictionaries(NAME, FREE, max_size=5))
def test_every_setting_becomes_a_fact_or_is_listed(table: dict[str, Any]) -> None:
    case = case_of({"settings": table})
    if case is not None:
        leaves = _count(case.settings)
        assert len({fact.where for fact in case.facts()}) + len(case.unread()) >= min(leaves, 1)
        assert len(case.facts()) + len(case.unread()) >= leaves or leaves > len(table)


def _count(table: dict[str, Any]) -> int:
    return sum(_count(value) if isinstance(value, dict) else 1 for value in table.values())
