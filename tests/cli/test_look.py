"""`beadwright look` as a person and as a program calls it."""

from __future__ import annotations

import json

import pytest
import typer
from typer.testing import CliRunner

from beadwright.cli.look import facts_from_options, register
from beadwright.cli.look_page import chosen_rows, duration
from beadwright.errors import BeadwrightError
from beadwright.exhibits.toolpath_file import look
from specimens.toolpaths import box

app = typer.Typer()
register(app)
app.command("other")(lambda: None)  # with a second command, `look` keeps its name
runner = CliRunner()


@pytest.fixture
def part(tmp_path):
    return box((24, 24, 3), bottom_solid_layers=1).save(tmp_path / "part.gcode")


def test_a_page_for_people(part):
    result = runner.invoke(app, ["look", str(part), "--material", "PLA"])
    assert result.exit_code == 0
    text = " ".join(result.stdout.split())
    assert "part.gcode" in text
    assert "15 layers to 3 mm" in text
    assert "Only 1 solid layer lies at the bottom" in text
    assert "PLA" in text
    assert "nan" not in text


def test_every_layer_when_asked(part):
    some = runner.invoke(app, ["look", str(part), "--layers", "none"]).stdout
    every = runner.invoke(app, ["look", str(part), "--layers", "all"]).stdout
    assert len(every.splitlines()) >= len(some.splitlines()) + 15


def test_json_of_one_file_is_one_document(part):
    result = runner.invoke(app, ["look", str(part), "--json"])
    assert result.exit_code == 0
    page = json.loads(result.stdout)
    assert page["format"] == "beadwright.look/1"
    assert page["file"] == "part.gcode"


def test_json_of_several_files_is_one_document_a_line(part, tmp_path):
    other = box((10, 10, 1)).save(tmp_path / "other.gcode")
    result = runner.invoke(app, ["look", str(part), str(other), "--json"])
    pages = [json.loads(line) for line in result.stdout.splitlines()]
    assert [page["file"] for page in pages] == ["part.gcode", "other.gcode"]


def test_one_bad_file_does_not_hide_the_others(part, tmp_path):
    empty = tmp_path / "empty.gcode"
    empty.write_bytes(b"")
    result = runner.invoke(app, ["look", str(empty), str(part), "--json"])
    assert result.exit_code == 2
    assert json.loads(result.stdout)["file"] == "part.gcode"
    assert "empty.gcode" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_a_single_bad_file_raises_our_own_error(tmp_path):
    result = runner.invoke(app, ["look", str(tmp_path / "none.gcode")])
    assert isinstance(result.exception, BeadwrightError)
    assert result.exception.exit_code == 2
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--printer", "tricycle"], "--printer"),
        (["--travel", "1,2"], "--travel"),
        (["--travel", "a,b,c"], "--travel"),
        (["--nozzle", "-1"], "--nozzle"),
        (["--layers", "many"], "--layers"),
        (["--material", "cheese"], "cheese"),
        (["--melt-zone", "0"], "--melt-zone"),
    ],
)
def test_an_option_that_will_not_do_is_named(part, options, word):
    result = runner.invoke(app, ["look", str(part), *options])
    assert isinstance(result.exception, BeadwrightError)
    assert word in str(result.exception)
    assert result.exception.fix


def test_options_become_facts():
    facts = facts_from_options("PA6-CF", "corexy", 0.6, 20.0, "220 x 220 x 250", 1.75)
    assert facts.text("polymer") == "pa6"
    assert facts.text("filler") == "carbon_fibre"
    assert facts.text("kinematics") == "corexy"
    assert facts.number("nozzle_mm") == 0.6
    assert facts.best("travel_mm").value == (220.0, 220.0, 250.0)
    assert all(fact.where.startswith("--") for fact in facts)


def test_a_small_machine_is_found_too_small(part):
    result = runner.invoke(app, ["look", str(part), "--travel", "100,100,100", "--json"])
    assert "outside_machine" in {finding["rule"] for finding in json.loads(result.stdout)["findings"]}


def test_few_rows_tell_the_story():
    rows = look(box((12, 12, 12)).data).look.per_layer
    chosen = chosen_rows(rows)
    assert len(rows) == 60
    assert {0, 1, 59} <= set(chosen)
    assert len(chosen) <= 14
    assert 4 in chosen  # where the solid bottom ends


@pytest.mark.parametrize(("seconds", "said"), [(0, "0 s"), (119.6, "120 s"), (600, "10 min"), (3600, "1 h 00 min")])
def test_times_are_said(seconds, said):
    assert duration(seconds) == said
