"""The case file's law: what is read, what is refused and how that is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from beadwright.case.quick import case_from_arguments
from beadwright.case.read import CaseProblemsError, check_case, read_case
from beadwright.case.schema import case_schema
from beadwright.case.write import to_toml
from beadwright.errors import CaseError
from beadwright.facts import Facts, Origin

# The workshop, its people and its parts are invented.
FULL = """
[case]
title = "Pump bracket, shifted"
story = "It went sideways at 18 mm."
opened = 2026-03-14
first_seen = "printer and file were good last week"

[printer]
kinematics = "corexy"
moving_bed = "z"
travel_mm = [300, 300, 320]
extruder = "direct"
nozzle_mm = 0.4
belt_pitch_mm = 2
pulley_teeth = 20

[material]
polymer = "petg"
opened_days = 40
dried = { temp_c = 65, hours = 6, days_ago = 30 }

[settings]
nozzle_temp_c = 230
"Lüfter" = "50 %"
"Layer height (mm)" = "0,2"
"Temperature" = "2100"
"colour" = "blue"

[measured]
shift_mm = [0.8, 0.8]
roundness = { d_max_mm = 20.2, d_min_mm = 19.8, long_axis_deg = 45 }
heater = { swing_c = 6, period_s = 22 }

[[sign]]
id = "layer_shift"

[[answer]]
check = "belt_feel"
result = "ja"

[[trial]]
printer = "north"
defect = true

[[exhibit]]
file = "part.gcode"
"""


def test_a_full_case_gives_facts_with_their_provenance() -> None:
    facts = Facts(read_case(FULL).facts())
    assert facts.text("kinematics") == "corexy"
    assert facts.text("polymer") == "petg"
    assert facts.number("fan_percent") == 50.0
    assert facts.number("layer_height_mm") == 0.2
    assert facts.number("d_max_mm") == 20.2
    assert facts.number("swing_c") == 6.0
    assert facts.number("dried_days_ago") == 30.0
    shift, fan, travel = facts.best("shift_mm"), facts.best("fan_percent"), facts.best("travel_mm")
    assert shift is not None
    assert shift.value == (0.8, 0.8)
    assert shift.origin is Origin.MEASURED
    assert fan is not None
    assert fan.origin is Origin.CLAIM
    assert fan.where == "[settings] Lüfter"
    assert travel is not None
    assert travel.origin is Origin.RECORD


def test_what_is_not_understood_is_listed_not_lost() -> None:
    unread = read_case(FULL).unread()
    assert len(unread) == 2
    assert any("2100 is outside the plausible range" in line for line in unread)
    assert any('colour = "blue"' in line for line in unread)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("[printer]\nnozle_mm = 0.4", "line 2, [printer] nozle_mm is not a known key; did you mean nozzle"),
        ("[prnter]\nnozzle_mm = 0.4", "line 1, [prnter] is not a known key; did you mean printer?"),
        ("[printer]\nnozzle_mm = 40", "40.0 is not a value from 0.08 to 3 mm"),
        ("[printer]\nnozzle_mm = \"wide\"", "[printer] nozzle_mm is 'wide'; should be a valid number"),
        ("[printer]\nkinematics = \"corexi\"", "none of: one of cartesian, corexy, delta, other"),
        ("[printer]\nenclosed = 1", "[printer] enclosed is 1; should be a valid boolean"),
        ("[settings]\nnozzle_temp_c = 2100", "expected a value from 120 to 500 °C"),
        ("[measured]\nroundness = { d_max_mm = -2 }", "expected a value from 0.1 to 3000 mm"),
        ("[[sign]]\nid = \"a\"\n[[sign]]\nid = \"b\"\nconfidence = 2", "line 5, [[sign]] 2 confidence is 2"),
        ("[[sign]]\npresent = true", "[[sign]] 1 id is missing"),
        ("[[answer]]\ncheck = \"x\"\nresult = \"perhaps so\"", "write yes, no or unsure"),
        ("[case]\nopened = \"soon\"", "write it as 2026-03-14"),
        ("[case]\ntitle = ", "no valid TOML: invalid value at the end"),
        ("[case]\n\ntitle = x y", "no valid TOML: line 3, invalid value"),
        ("{\"case\": {\"title\": \"a\", \"title\": \"b\"}}", "'title' is given twice"),
        ("{\"settings\": {\"fan_percent\": NaN}}", "NaN is no number"),
        ("{\"settings\": {\"fan_percent\": null}}", "a text, a number, true or false"),
        ("[" * 100_000, "no valid TOML"),
        ("[1]", "[1]"),
        ("{\"a\": " * 5_000, "nested too deeply"),
        ("[material]\npolymer = \"petgg\"", "petg"),
        ("a." * 1_000_000 + "b = 1", "line 1 holds a key of many parts"),
        ("[settings]\nx = inf", "inf is no ordinary number"),
    ],
)  # fmt: skip
def test_a_wrong_case_is_told_where_and_what_would_do(text: str, expected: str) -> None:
    with pytest.raises(CaseError) as caught:
        read_case(text, "case.toml")
    assert str(caught.value).startswith("case.toml: ")
    assert expected in str(caught.value)


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(CaseProblemsError) as caught:
        read_case("[printer]\nnozzle_mm = 40\nbelt_pitch_mm = 99\n[case]\nstori = 'x'")
    assert len(caught.value.problems) == 3


def test_files_that_are_no_case_end_in_one_sentence(tmp_path: Path) -> None:
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'[case]\ntitle = "D\xfcse"\n')
    with pytest.raises(CaseError, match="line 2 holds bytes that are no UTF-8"):
        read_case(latin)
    with pytest.raises(CaseError, match="cannot be opened"):
        read_case(tmp_path / "absent.toml")
    with pytest.raises(CaseError, match="cannot be opened"):
        read_case(tmp_path)
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 5_000_001)
    with pytest.raises(CaseError, match="too large"):
        read_case(big)


def test_json_with_the_same_keys_is_the_same_case(tmp_path: Path) -> None:
    case = read_case(FULL)
    path = tmp_path / "case.json"
    path.write_text(case.model_dump_json(exclude_defaults=True), "utf-8")
    assert read_case(path) == case


def test_written_and_read_back_is_the_same_case() -> None:
    case = read_case(FULL)
    assert read_case(to_toml(case)) == case


def test_the_schema_accepts_a_case_and_refuses_what_the_reader_refuses() -> None:
    from jsonschema import Draft202012Validator

    schema = case_schema()
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    stated = json.loads(read_case(FULL).model_dump_json(exclude_defaults=True))
    assert not list(validator.iter_errors(stated))
    for wrong in (
        {"printer": {"nozzle_mm": 40}},
        {"printer": {"nozle_mm": 1}},
        {"printer": {"kinematics": "h"}},
        {"sign": [{}]},
    ):
        assert list(validator.iter_errors(wrong)), wrong


def test_a_case_from_arguments() -> None:
    case = case_from_arguments(["part.gcode"], "stringy", "PETG", "corexy bowden nozzle_mm=0.6", {"fan": "50%"})
    facts = Facts(case.facts())
    assert (facts.text("kinematics"), facts.text("extruder"), facts.number("nozzle_mm")) == (
        "corexy",
        "bowden",
        0.6,
    )
    assert case.exhibit[0].file == "part.gcode"
    assert facts.number("fan_percent") == 50.0
    with pytest.raises(CaseError, match="Did you mean corexy"):
        case_from_arguments(printer="corexi")
    with pytest.raises(CaseError, match="nozzle_mm"):
        case_from_arguments(printer="nozzle=0.6")


def test_a_key_that_looks_like_the_validator_s_own_mark_is_named() -> None:
    with pytest.raises(CaseError, match=r"\[key\]"):
        check_case({"[key]": None}, "case.toml")
