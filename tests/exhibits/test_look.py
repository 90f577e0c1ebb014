"""`look`: the JSON of any file, against its schema and against what is true of the file by construction."""

from __future__ import annotations

import json

import jsonschema
import pytest

from beadwright.errors import ToolpathError
from beadwright.exhibits.look import look_schema
from beadwright.exhibits.toolpath_file import look
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.material_table import load_materials
from specimens.toolpaths import box, bridge, cylinder, table, vase

SCHEMA = look_schema()
HEAD = "G21\nG90\nM83\nM190 S60\nM109 S210\nG0 Z0.2 F6000\n"


def looked(data: bytes | str, **facts: object) -> dict:
    """Look, through JSON and back, checked against the schema."""
    raw = data.encode() if isinstance(data, str) else data
    known = Facts(Fact(name, value, Origin.RECORD, "the case") for name, value in facts.items())
    page = look(raw, name="part.gcode", facts=known, materials=load_materials()).look
    document = json.loads(json.dumps(page.model_dump(), allow_nan=False))
    jsonschema.validate(document, SCHEMA)
    return document


@pytest.mark.parametrize(
    "spec",
    [
        box((20, 20, 3)),
        box((20, 20, 3), inch=True),
        box((20, 20, 3), relative_extrusion=True),
        box((20, 20, 3), reset_e_each_layer=True, numbered=True, crlf=True),
        box((20, 20, 3), squeezed=True, lower=True),
        box((20, 20, 3), shift_words_mm=(-100.0, 20.0)),
        cylinder(20, 3, arcs=True),
        cylinder(20, 3, arcs=True, inch=True),
        table(),
        bridge(),
        box((20, 20, 3), pause_before_layer=4, dwell_s=3.0),
    ],
)
def test_the_document_says_what_is_true_of_the_file(spec):
    page, truth = looked(spec.data), spec.truth
    for name in ("lines", "moves", "beads", "retractions", "arcs", "extrusion", "units"):
        assert page[name] == truth[name], name
    assert page["bytes"] == len(spec.data)
    assert page["layers"]["count"] == truth["layer_count"]
    assert page["layers"]["z_mm"] == pytest.approx(truth["z_mm"], abs=2e-3)
    assert page["layers"]["first_mm"] == pytest.approx(truth["first_layer_height_mm"], abs=2e-3)
    assert page["layers"]["typical_mm"] == pytest.approx(truth["layer_height_mm"], abs=2e-3)
    assert page["filament_mm"] == pytest.approx(truth["filament_mm"], rel=1e-4)
    for box_name in ("bead_box", "move_box"):
        for got, expected in zip(page[box_name], truth[box_name], strict=True):
            assert got == pytest.approx(expected, abs=0.06), box_name  # chords of arcs cut a little off
    for name in ("nozzle_c", "bed_c"):
        assert page[name] == [list(pair) for pair in truth["events"][name]], name
    assert len(page["per_layer"]) == truth["layer_count"]
    assert page["problems"] == []


def test_volume_and_mass_follow_from_the_filament():
    """100 mm of 1.75 mm filament: π/4 · 1.75² · 100 = 240.528 mm³; PETG at 1270 kg/m³: 0.30547 g."""
    text = HEAD + "G1 X100 E50 F1800\nG1 X0 E50\nG1 X100 Y1 E-2\nM104 S0\nG0 Z9\n"
    page = looked(text, polymer="petg")
    assert page["filament_mm"] == pytest.approx(100.0)
    assert page["volume_mm3"] == pytest.approx(240.528, abs=1e-3)
    assert page["mass_g"] == pytest.approx(0.30547, abs=1e-4)
    assert "1270 kg/m³ for PETG" in page["mass_assumes"]
    assert "no diameter was given" in page["mass_assumes"]
    thick = looked(text, polymer="petg", filament_diameter_mm=2.85)
    assert thick["volume_mm3"] == pytest.approx(240.528 * (2.85 / 1.75) ** 2, rel=1e-5)


def test_without_a_material_mass_says_what_it_assumes():
    assert "no material was given" in looked(box((10, 10, 1)).data)["mass_assumes"]


def test_a_vase_counts_its_turns():
    spec = vase(30, 6)
    page = looked(spec.data)
    assert page["layers"]["count"] == pytest.approx(spec.truth["layer_count"], abs=1)


def test_two_tools_are_named():
    text = HEAD + "G1 X50 E2 F1800\nG1 Y50 E2\nT1\nM109 T1 S240\nG1 X0 E2\nG1 Y0 E2\nG0 Z9\nM104 S0\n"
    page = looked(text)
    assert page["tools"] == [0, 1]
    assert page["filament_mm"] == pytest.approx(8.0)


def test_what_was_not_understood_is_listed():
    page = looked("WARM_UP NOZZLE=210\n" + HEAD + "G1 X50 E2 F1800\nG1 Y50 E2\nM104 S0\nG0 Z9\n")
    assert page["problems"]
    assert page["problems"][0]["line"] == 1


def test_the_document_has_all_keys_of_version_1():
    page = looked(box((10, 10, 1)).data)
    assert page["format"] == "beadwright.look/1"
    assert {
        "file",
        "bytes",
        "lines",
        "extrusion",
        "units",
        "tools",
        "moves",
        "beads",
        "retractions",
        "arcs",
        "layers",
        "bead_box",
        "move_box",
        "filament_mm",
        "volume_mm3",
        "mass_g",
        "seconds",
        "nozzle_c",
        "bed_c",
        "fan_percent",
        "per_layer",
        "findings",
        "problems",
    } <= set(page)
    assert {"z_mm", "seconds", "flow_mm3_s", "speed_mm_s", "filament_mm", "retractions"} <= set(page["per_layer"][0])


def test_a_finding_carries_all_its_keys():
    page = looked(box((24, 24, 3), bottom_solid_layers=1).data, polymer="pla")
    finding = next(row for row in page["findings"] if row["rule"] == "bottom_too_thin")
    assert finding["level"] == "fault"
    assert finding["value"] == 1
    assert finding["window"] == [3, None]
    assert finding["source"] == "Practice"
    assert finding["where"]["layers"] == [1, 1]
    assert finding["bears_on"] == ["bottom_too_thin"]
    assert "part.gcode" in finding["origin"]


def test_long_tables_are_cut_and_say_so(monkeypatch):
    monkeypatch.setattr("beadwright.exhibits.toolpath_file.MOST_ROWS", 5)
    page = looked(box((10, 10, 3)).data)
    assert len(page["per_layer"]) == 5
    assert len(page["layers"]["z_mm"]) == 5
    assert page["layers"]["count"] == 15
    assert any("only the first 5" in sentence for sentence in page["left_out"])


def test_bead_only_in_height_has_no_layer_facts_but_a_document():
    page = looked("G21\nG90\nM83\nG0 X5 Y5 F6000\nG1 Z5 E1 F300\nG1 Z9 E1\n")
    assert page["beads"] == 2


def test_seconds_are_those_of_the_plan():
    result = look(box((20, 20, 3)).data, name="part.gcode")
    assert result.look.seconds == pytest.approx(result.plan.duration, abs=1e-3)
    assert result.look.seconds > result.toolpath.length.sum() / 150  # never faster than the fastest travel
    assert sum(row.seconds for row in result.look.per_layer) <= result.look.seconds
    assert result.timeline.convert([0.0], "s", "move")[0] == 0


def test_no_toolpath_is_refused_in_a_sentence():
    with pytest.raises(ToolpathError):
        looked(b"")
    with pytest.raises(ToolpathError):
        looked("G21\nG90\nG0 X5 F600\nG1 X9\n")
