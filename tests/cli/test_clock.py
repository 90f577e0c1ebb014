"""`beadwright clock` as a person and as a program calls it."""

from __future__ import annotations

import json

import jsonschema
import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from beadwright.case.read import check_case
from beadwright.cli.clock import register
from beadwright.errors import InputError
from beadwright.workup import files_named, json_schema, work_up
from specimens.marked import part

app = typer.Typer()
register(app)
app.command("other")(lambda: None)  # with a second command, `clock` keeps its name
runner = CliRunner()
EVERY_3 = ",".join(f"{z:.2f}" for z in np.arange(2.0, 34.0, 3.0))


@pytest.fixture(scope="module")
def wedge(tmp_path_factory):
    return part("tapered", np.random.default_rng(1), height_mm=36.0).save(
        tmp_path_factory.mktemp("clock") / "wedge.gcode"
    )


def run(*words):
    result = runner.invoke(app, ["clock", *(str(word) for word in words)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_a_page_for_people(wedge):
    text = " ".join(run(wedge, "--marks", EVERY_3, "--printer", "cartesian screw_lead_mm=3").stdout.split())
    assert "Even in height" in text
    assert "one turn of the lift screw" in text
    assert "screw_lead_mm = 3" in text
    assert "filament fed" in text  # a rival
    assert "nan" not in text


def test_json_follows_its_schema(wedge):
    printed = json.loads(run(wedge, "--marks", EVERY_3, "--json").stdout)
    jsonschema.validate(printed, json_schema("clock"))
    assert printed["format"] == "beadwright.clock/1"
    assert printed["verdict"] == "told"
    assert printed["rhythms"][0]["clock"] == "z"
    assert printed["rhythms"][0]["period"] == pytest.approx(3.0, abs=0.05)
    jsonschema.validate(json.loads(run(wedge, "--marks", "3,6,9", "--json").stdout), json_schema("clock"))


def test_too_few_marks_are_an_answer_not_an_error(wedge):
    result = run(wedge, "--marks", "3,6,9")
    assert result.exit_code == 0
    assert "Not enough to tell" in result.stdout


def test_strengths_tell_fading(wedge):
    falling = ",".join(f"{9 - 0.8 * k:.1f}" for k in range(11))
    text = " ".join(run(wedge, "--marks", EVERY_3, "--strengths", falling).stdout.split())
    assert "The marks fade along" in text


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("--marks", "3,x"), "'3,x'"),
        (("--marks", "3,6,500"), "outside the print"),
        (("--marks", EVERY_3, "--u", "0"), "--u was given as 0"),
        (("--marks", EVERY_3, "--strengths", "1,2"), "2 strengths for 11 marks"),
        (("--marks", EVERY_3, "--period", "-3"), "--period"),
    ],
)
def test_bad_input_ends_in_a_sentence(wedge, words, found):
    with pytest.raises(InputError, match=r"[.]$") as failure:
        run(wedge, *words)
    assert found in str(failure.value)


def test_marks_in_a_case_beside_a_toolpath_are_evidence(wedge):
    case = check_case(
        {
            "printer": {"kinematics": "cartesian", "screw_lead_mm": 3.0},
            "measured": {"marks_mm": [float(z) for z in EVERY_3.split(",")]},
            "sign": [{"id": "bands_regular"}],
        },
        "test",
    )
    first = work_up(case, files_named([wedge])).diagnosis.causes[0]
    assert first.id == "screw_wobble"
    assert any("even in height" in reason.text for reason in first.because)
    alone = work_up(case.model_copy(update={"measured": {}}), files_named([wedge])).diagnosis
    assert first.probability > 2 * next((one.probability for one in alone.causes if one.id == "screw_wobble"), 0.0)
