"""Two files side by side: known differences found, the same file alike, and good for bad turning the table round."""

from __future__ import annotations

import json
import re

import jsonschema
import pytest

from beadwright.audit.run import RULES
from beadwright.exhibits.compare import compare
from beadwright.exhibits.compared import QUANTITIES, compare_schema
from beadwright.exhibits.toolpath_file import look
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.material_table import load_materials
from specimens.toolpaths import box, cylinder, plate

SCHEMA = compare_schema()
PLA = Facts([Fact("polymer", "pla", Origin.RECORD, "the case")])


def looked(spec_or_text, name: str = "part.gcode"):
    text = spec_or_text if isinstance(spec_or_text, str) else spec_or_text.text
    return look(text.encode(), name=name, facts=PLA, materials=load_materials(), heat=True)


def held(good, bad):
    page = compare(good, bad)
    jsonschema.validate(json.loads(json.dumps(page.model_dump(), allow_nan=False)), SCHEMA)
    return page


def rows(page):
    return {row.name: row for row in page.differences}


SIZE = (24, 24, 6)


@pytest.fixture(scope="module")
def good():
    return looked(box(SIZE), "good.gcode")


def test_a_file_held_against_itself(good):
    page = held(good, good)
    assert page.differences == ()
    assert page.only_bad == page.only_good == ()
    assert page.same_part.verdict == "same"
    assert page.same_part.profile_match == 1.0
    assert "nozzle_temp_c" in page.same


@pytest.mark.parametrize(
    ("settings", "name", "before", "after"),
    [
        ({"nozzle_temp_c": 190.0}, "nozzle_temp_c", 210, 190),
        ({"bed_temp_c": 45.0}, "bed_temp_c", 60, 45),
        ({"speed_mm_s": 160.0}, "speed_mm_s", 80, 160),
        ({"outer_speed_mm_s": 80.0}, "outer_speed_mm_s", 40, 80),
        ({"fan_percent": 0.0}, "fan_percent", 100, 0),
        ({"accel_mm_s2": 8000.0}, "accel_mm_s2", 2000, 8000),
        ({"bottom_solid_layers": 1}, "bottom_solid_layers", 4, 1),
        ({"top_solid_layers": 1}, "top_solid_layers", 4, 1),
        ({"wall_lines": 1}, "wall_lines", 2, 1),
        ({"retraction_mm": 4.0}, "retraction_mm", 0.8, 4.0),
        ({"z_hop_mm": 0.0}, "z_hop_mm", 0.2, 0.0),
        ({"flow_percent": 85.0}, "line_width_mm", 0.45, 0.45 * 0.85 + 0.2 * (1 - 3.14159 / 4) * 0.15),
        ({"first_layer_speed_mm_s": 60.0}, "first_layer_speed_mm_s", 25, 60),
        ({"first_layer_height_mm": 0.3}, "first_layer_height_mm", 0.2, 0.3),
    ],
)
def test_one_setting_that_differs_is_named_with_both_values(good, settings, name, before, after):
    found = rows(held(good, looked(box(SIZE, **settings))))
    assert name in found
    assert float(found[name].good) == pytest.approx(before, rel=0.02, abs=0.5 if before > 50 else 0.02)
    assert float(found[name].bad) == pytest.approx(after, rel=0.02, abs=0.5 if after > 50 else 0.02)
    assert found[name].bits > 0


def test_what_the_audit_blames_comes_first(good):
    page = held(good, looked(box(SIZE, bottom_solid_layers=1, travel_speed_mm_s=220.0)))
    assert page.differences[0].name == "bottom_solid_layers"
    assert page.differences[0].finding == "bottom_too_thin"
    assert page.differences[0].bears_on
    assert "bottom_too_thin" in {finding.rule for finding in page.only_bad}
    assert "travel_speed_mm_s" in rows(page)


def test_swapping_the_files_swaps_the_values(good):
    other = looked(box(SIZE, nozzle_temp_c=190.0, fan_percent=20.0, speed_mm_s=120.0, z_hop_mm=0.0))
    there, back = rows(held(good, other)), rows(held(other, good))
    assert set(there) == set(back)
    for name, row in there.items():
        assert (row.good, row.bad) == (back[name].bad, back[name].good), name
        assert row.size == pytest.approx(back[name].size, rel=1e-6), name
    assert [f.rule for f in held(good, other).only_bad] == [f.rule for f in held(other, good).only_good]


def test_where_along_the_height_they_differ(good):
    text = box(SIZE).text
    mark = re.search(r"; layer 21 at height", text)
    assert mark is not None
    page = held(good, looked(text[: mark.start()] + "M106 S64\nM220 S50\n" + text[mark.start() :]))
    fan = rows(page)["fan_percent"]
    assert fan.where.z_mm == pytest.approx((4.2, 6.0), abs=0.21)
    assert fan.share == pytest.approx(10 / 30, abs=0.05)
    assert fan.bad == pytest.approx(25.1, abs=0.5)
    assert "they differ between" in fan.text


@pytest.mark.parametrize(
    ("other", "verdict"),
    [
        (box((24, 24, 6), centre_mm=(60.0, 140.0)), "same"),
        (box((24, 24, 6), layer_height_mm=0.15), "same"),
        (box((24, 24, 6), brim_loops=6, skirt_loops=3), "same"),
        (box((24, 24, 6), wall_lines=1, infill_percent=60), "same"),
        (box((36, 36, 9)), "scaled"),
        (cylinder(24, 6), "other"),
        (plate((60, 40, 1.2)), "other"),
    ],
)
def test_the_same_part_or_another(good, other, verdict):
    page = held(good, looked(other))
    assert page.same_part.verdict == verdict
    assert page.same_part.text.endswith(".")


def test_turned_by_ninety_degrees():
    page = held(looked(box((30, 16, 4))), looked(box((16, 30, 4))))
    assert page.same_part.verdict == "turned"


def test_moved_on_the_bed(good):
    page = held(good, looked(box(SIZE, centre_mm=(60.0, 140.0))))
    assert page.same_part.moved_mm == pytest.approx((-50, 30), abs=0.1)
    assert "moved on the bed" in page.same_part.text


def test_a_file_that_lays_nothing(good):
    empty = looked("G21\nG90\nM104 S200\nG1 X10 Y10 F3000\nG1 E5 F300\n")
    page = held(good, empty)
    assert page.same_part.verdict == "unknown"


def test_rules_named_in_the_table_exist():
    known = {rule.__name__ for rule in RULES}
    for quantity in QUANTITIES:
        assert set(quantity.rules) <= known, quantity.name
    assert len({quantity.name for quantity in QUANTITIES}) == len(QUANTITIES)
