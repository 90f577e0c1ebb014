"""A clean file of every kind yields no finding above "note"; the same file with one thing wrong yields that
finding.
"""

from __future__ import annotations

import math

import pytest

from beadwright.audit.run import run_audit
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.material_table import load_materials
from specimens.toolpaths import box, bridge, cone, cylinder, plate, table, vase

PRINTER = {
    "kinematics": "cartesian", "travel_mm": (220.0, 220.0, 250.0), "extruder": "direct", "nozzle_mm": 0.4,
    "diameter_mm": 1.75,
}  # fmt: skip


def known(polymer: str) -> Facts:
    facts = {**PRINTER, "polymer": polymer}
    return Facts(Fact(name, value, Origin.RECORD, "the case") for name, value in facts.items())


def settings_for(polymer: str) -> dict[str, object]:
    """Recipe fields that suit a polymer; flow at half of what the table allows."""
    material = load_materials()[polymer]
    speed = 0.5 * material.max_flow_mm3_s.at(12.0) / 0.0814
    return {
        "nozzle_temp_c": material.nozzle_temp_c.typical, "bed_temp_c": material.bed_temp_c.typical,
        "fan_percent": material.part_fan_percent.typical, "speed_mm_s": round(speed),
        "outer_speed_mm_s": round(0.7 * speed), "first_layer_speed_mm_s": min(20, round(0.5 * speed)),
        "bottom_solid_layers": material.shell.bottom_solid_layers_min,
        "top_solid_layers": material.shell.top_solid_layers_min, "wall_lines": 3,
    }  # fmt: skip


def audit_of(measure, spec, polymer: str):
    facts = known(polymer)
    found = measure(spec.data, facts)
    return run_audit(facts.also(found.facts), load_materials()[polymer], found.places)


def above_note(audit) -> list[tuple[str, str]]:
    return [(finding.rule, finding.text) for finding in audit.findings if finding.level != "note"]


@pytest.mark.parametrize("polymer", sorted(load_materials()))
def test_a_clean_box_of_every_polymer_is_quiet(measure, polymer):
    audit = audit_of(measure, box((40, 30, 4), **settings_for(polymer)), polymer)
    assert above_note(audit) == []
    assert len(audit.quiet) > 20


@pytest.mark.parametrize("shape", [
    lambda **s: plate((70, 50, 2.4), **s),
    lambda **s: cylinder(36, 5, arcs=True, **s),
    lambda **s: cone(30, 5, 0.1, **s),
    lambda **s: table((40, 30, 3), (16, 30, 3), **s),
    lambda **s: bridge((50, 30, 3), (16, 30, 3), **s),
    lambda **s: vase(60, 10, **{**s, "wall_lines": 1, "speed_mm_s": 40, "outer_speed_mm_s": 30}),
])  # fmt: skip
@pytest.mark.parametrize("dialect", [{}, {"relative_extrusion": True, "inch": True}])
def test_a_clean_file_of_every_shape_is_quiet(measure, shape, dialect):
    spec = shape(**{**settings_for("pla"), **dialect})
    assert above_note(audit_of(measure, spec, "pla")) == []


SEEDED = [
    ("nozzle_below_window", "petg", {"nozzle_temp_c": 205.0}),
    ("nozzle_above_window", "pla", {"nozzle_temp_c": 255.0}),
    ("bed_below_window", "abs", {"bed_temp_c": 50.0}),
    ("bed_off", "abs", {"bed_temp_c": None}),
    ("nozzle_never_heated", "pla", {"nozzle_temp_c": None}),
    ("cold_extrusion", "pla", {"nozzle_temp_c": 140.0}),
    ("fan_below_window", "pla", {"fan_percent": 0.0}),
    ("fan_above_window", "abs", {"fan_percent": 100.0}),
    ("fan_on_first_layer", "pla", {"first_layer_fan_percent": 100.0}),
    ("bottom_too_thin", "pla", {"bottom_solid_layers": 1}),
    ("top_too_thin", "petg", {"top_solid_layers": 2}),
    ("infill_too_sparse", "pla", {"infill_percent": 4.0}),
    ("first_layer_fast", "pla", {"first_layer_speed_mm_s": 90.0, "accel_mm_s2": 8000.0}),
    ("layer_above_bore", "pla", {"layer_height_mm": 0.4}),
    ("line_width_odd", "pla", {"line_width_mm": 0.9}),
    ("outside_machine", "pla", {"outside_mm": 15.0}),
    ("retraction_long", "pla", {"retraction_mm": 6.0}),
    ("acceleration_high", "pla", {"accel_mm_s2": 12000.0}),
    ("file_ends_abruptly", "pla", {"cut_short": 0.6}),
]


@pytest.mark.parametrize(("rule", "polymer", "change"), SEEDED)
def test_a_fault_seeded_in_the_file_is_found_there(measure, rule, polymer, change):
    spec = box((40, 30, 4), **{**settings_for(polymer), **change})
    found = {finding.rule: finding for finding in audit_of(measure, spec, polymer).findings}
    assert rule in found, sorted(found)
    assert found[rule].level != "note"
    assert "part.gcode" in found[rule].origin
    where = found[rule].where
    assert where.lines is None or where.lines[0] >= 1
    assert math.isfinite(found[rule].value)


def test_too_much_flow_is_placed_where_it_happens(measure):
    settings = {**settings_for("petg"), "speed_mm_s": 260.0, "outer_speed_mm_s": 60.0, "accel_mm_s2": 3900.0}
    finding = next(
        f
        for f in audit_of(measure, box((80, 60, 4), **settings), "petg").findings
        if f.rule == "flow_above_melt_capacity"
    )
    assert finding.level == "fault"
    assert "core of the filament reaches" in finding.text
    assert finding.where.layers is not None
    assert finding.where.layers[0] >= 2  # the slow first layer is not to blame


def test_retractions_on_one_stretch_are_found(measure):
    """Thirty dots of 0.2 mm of filament each, a retraction between: 30 · 0.2 = 6 mm of filament."""
    dots = "".join(
        f"G0 X{10 + 5 * (k % 2)} Y10\nG1 E1 F1800\nG1 X{10 + 5 * (k % 2)} Y11 E.2\nG1 E-1\n" for k in range(40)
    )
    text = (
        "G21\nG90\nM83\nM190 S60\nM109 S210\nG0 Z.2 F6000\nG1 E-1 F1800\n"
        + dots
        + "G0 Z.4\n"
        + dots
        + "M104 S0\nG0 Z9\n"
    )
    found = measure(text, known("pla"))
    rules = {
        f.rule: f for f in run_audit(known("pla").also(found.facts), load_materials()["pla"], found.places).findings
    }
    assert rules["retractions_grind"].level == "fault"


def test_knowledge_knows_every_cause_that_findings_bear_on(measure):
    from beadwright.knowledge.load import load_knowledge

    causes = set(load_knowledge().causes)
    named = set()
    for _rule, polymer, change in SEEDED:
        spec = box((30, 24, 2.4), **{**settings_for(polymer), **change})
        audit = audit_of(measure, spec, polymer)
        named |= {cause for answer in (*audit.findings, *audit.quiet) for cause in answer.bears_on}
    assert named <= causes, named - causes
