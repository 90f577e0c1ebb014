"""`look --at`, `look --marks`, `look --heat` and `compare` as a person and as a program calls them."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from beadwright.cli.app import app
from beadwright.errors import InputError
from specimens.toolpaths import box

runner = CliRunner()


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("parts")
    good = box((20, 20, 4)).save(folder / "good.gcode")
    bad = box((20, 20, 4), bottom_solid_layers=1, fan_percent=20.0, pause_before_layer=9).save(folder / "bad.gcode")
    return str(good), str(bad)


def said(*words: str) -> str:
    result = runner.invoke(app, list(words))
    assert result.exit_code == 0, result.output
    return " ".join(result.stdout.split())


def test_at_a_layer(files):
    text = said("look", files[1], "--at", "layer:10", "--material", "PLA")
    assert "bad.gcode at layer:10" in text
    assert "Layer 10 of 20, z 1.8 … 2 mm" in text
    assert "A pause (line" in text
    assert "Steady: the speed of beads" in text
    assert "nan" not in text


def test_several_marks_as_json(files):
    page = json.loads(said("look", files[1], "--marks", "0.8,2.0", "--at", "layer:18", "--json"))
    assert page["format"] == "beadwright.there/1"
    assert [place["asked"] for place in page["places"]] == ["layer:18", "0.8", "2.0"]


def test_several_files_at_one_place(files):
    pages = [
        json.loads(line) for line in runner.invoke(app, ["look", *files, "--at", "2mm", "--json"]).stdout.splitlines()
    ]
    assert [page["file"] for page in pages] == ["good.gcode", "bad.gcode"]


def test_heat_by_layer(files):
    page = json.loads(said("look", files[0], "--heat", "--material", "PLA", "--json"))
    assert all(150 < row["core_c"] <= 210 for row in page["per_layer"])
    assert page["per_layer"][10]["weld_index"] > 0
    plain = json.loads(said("look", files[0], "--material", "PLA", "--json"))
    assert all(row["core_c"] is None for row in plain["per_layer"])
    assert plain["heat"] is None
    text = said("look", files[0], "--heat", "--material", "PLA")
    assert " core weld " in text
    assert "The core of the strand reaches 150 °C in all layers" in text


def test_too_cold_for_its_flow_is_a_number_with_a_place(tmp_path):
    """At 300 mm/s a 12 mm melt zone is asked for 24 mm³/s, twice what it heats; by the slow first layer it is not."""
    path = str(
        box((60, 60, 2), speed_mm_s=300.0, outer_speed_mm_s=200.0, accel_mm_s2=10000.0).save(tmp_path / "fast.gcode")
    )
    page = json.loads(said("look", path, "--heat", "--material", "PLA", "--json"))
    span = page["heat"]["cold"][0]
    assert span["where"]["layers"][0] == 2
    assert span["share"] > 0.3
    assert span["core_c"] < 120
    assert "Too cold for its flow in layers 2 to" in said("look", path, "--heat", "--material", "PLA")


@pytest.mark.parametrize("words", [("--at", "somewhere"), ("--at", "99mm"), ("--marks", ",")])
def test_a_place_that_is_none(files, words):
    result = runner.invoke(app, ["look", files[0], *words])
    assert isinstance(result.exception, InputError)


def test_compare_for_people(files):
    text = said("compare", *files, "--material", "PLA")
    assert "bad.gcode held against good.gcode" in text
    assert "Both print the same part" in text
    assert "Solid layers at the bottom: 4 in the good file, 1 here" in text
    assert "Part fan: 100 % in the good file, 20" in text
    assert "Nothing that matters differs" in said("compare", files[0], files[0])


def test_compare_for_programs(files):
    page = json.loads(said("compare", *files, "--material", "PLA", "--json"))
    assert page["format"] == "beadwright.compare/1"
    assert page["same_part"]["verdict"] == "same"
    bits = [row["bits"] for row in page["differences"]]
    assert bits == sorted(bits, reverse=True)


@pytest.mark.parametrize("which", ["there", "compare"])
def test_schemas_are_printed(which):
    assert json.loads(said("schema", which))["title"] == f"beadwright.{which}/1"
