"""Every rule finds its seeded fault, stays quiet beside it, and is not asked where it lacks a fact.

Windows come from the material table (its sources are checked there); the trade rules tested here are common
practice, no source. The melt model's figures are checked against published numbers in tests/physics and
tests/outside.
"""

from __future__ import annotations

import pytest

from beadwright.audit.ask import Context
from beadwright.audit.flow import melt_capacity
from beadwright.audit.run import RULES, run_audit
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.load import load_knowledge
from beadwright.knowledge.material_table import load_materials

GOOD = {
    "nozzle_temp_c": 210.0,
    "bed_temp_c": 60.0,
    "fan_percent": 100.0,
    "first_layer_fan_percent": 0.0,
    "layer_height_mm": 0.2,
    "line_width_mm": 0.45,
    "speed_mm_s": 60.0,
    "first_layer_speed_mm_s": 25.0,
    "first_layer_height_mm": 0.2,
    "first_layer_nozzle_temp_c": 215.0,
    "bottom_solid_layers": 4.0,
    "top_solid_layers": 5.0,
    "wall_lines": 3.0,
    "infill_percent": 20.0,
    "support_gap_mm": 0.2,
    "retraction_mm": 0.8,
    "extruder": "direct",
    "nozzle_mm": 0.4,
    "kinematics": "cartesian",
    "accel_mm_s2": 1500.0,
    "flow_percent": 100.0,
    "z_hop_mm": 0.2,
    "diameter_mm": 1.75,
    "filament_diameter_mm": 1.75,
    "min_layer_time_s": 10.0,
}
FROM_FILE = {
    "flow_mm3_s": 5.0,
    "layer_count": 100,
    "crossings_without_lift": 0,
    "moves_outside_mm": 0.0,
    "retractions_on_10_mm": 4,
    "slenderness": 1.0,
    "file_ends_abruptly": False,
    "file_shift_mm": (0.0, 0.0),
    "nozzle_never_heated": False,
    "bed_off_at_start": False,
    "coldest_feed_c": 210.0,
    "start_not_understood": 0,
}

# rule, material, what is wrong, least level
FAULTS = [
    ("nozzle_below_window", "petg", {"nozzle_temp_c": 205.0}, "fault"),
    ("nozzle_below_window", "pla", {"nozzle_temp_c": 185.0}, "warn"),
    ("nozzle_above_window", "pla", {"nozzle_temp_c": 250.0}, "fault"),
    ("bed_below_window", "abs", {"bed_temp_c": 60.0}, "fault"),
    ("bed_above_window", "pla", {"bed_temp_c": 85.0}, "fault"),
    ("bed_off", "abs", {"bed_temp_c": 0.0, "bed_off_at_start": True}, "fault"),
    ("bed_off", "pla", {"bed_temp_c": 0.0, "bed_off_at_start": True}, "warn"),
    ("nozzle_never_heated", "pla", {"nozzle_never_heated": True}, "fault"),
    ("cold_extrusion", "pla", {"coldest_feed_c": 120.0}, "danger"),
    ("flow_above_melt_capacity", "petg", {"flow_mm3_s": 22.0}, "fault"),
    ("flow_percent_odd", "pla", {"flow_percent": 80.0}, "warn"),
    ("layer_above_bore", "pla", {"layer_height_mm": 0.38}, "warn"),
    ("line_width_odd", "pla", {"line_width_mm": 0.25}, "fault"),
    ("fan_below_window", "pla", {"fan_percent": 0.0}, "fault"),
    ("fan_above_window", "abs", {"fan_percent": 100.0}, "fault"),
    ("fan_on_first_layer", "pla", {"first_layer_fan_percent": 100.0}, "warn"),
    ("layer_time_short", "pla", {"min_layer_seconds": 2.5}, "warn"),
    ("first_layer_fast", "pla", {"first_layer_speed_mm_s": 90.0}, "fault"),
    ("first_layer_thin", "pla", {"first_layer_height_mm": 0.05}, "warn"),
    ("first_layer_thick", "pla", {"first_layer_height_mm": 0.5}, "fault"),
    ("first_layer_colder", "pla", {"first_layer_nozzle_temp_c": 190.0}, "warn"),
    ("foothold_small", "pla", {"slenderness": 12.0}, "warn"),
    ("bottom_too_thin", "pla", {"bottom_solid_layers": 1.0}, "fault"),
    ("bottom_too_thin", "pla", {"bottom_solid_layers": 2.0}, "warn"),
    ("top_too_thin", "petg", {"top_solid_layers": 2.0}, "fault"),
    ("infill_too_sparse", "pla", {"infill_percent": 4.0}, "warn"),
    ("walls_too_few", "pla", {"wall_lines": 1.0}, "note"),
    ("support_gap_small", "tpu_95a", {"support_gap_mm": 0.05}, "fault"),
    ("support_gap_large", "tpu_95a", {"support_gap_mm": 0.4}, "fault"),
    ("no_lift_over_beads", "pla", {"crossings_without_lift": 2500}, "warn"),
    ("retractions_grind", "pla", {"retractions_on_10_mm": 60}, "fault"),
    ("retraction_short", "pla", {"retraction_mm": 0.8, "extruder": "bowden"}, "warn"),
    ("retraction_long", "pla", {"retraction_mm": 7.0}, "fault"),
    ("outside_machine", "pla", {"moves_outside_mm": 12.0}, "fault"),
    ("acceleration_high", "pla", {"accel_mm_s2": 9000.0}, "warn"),
    ("speed_high", "pla", {"speed_mm_s": 320.0}, "warn"),
    ("file_ends_abruptly", "pla", {"file_ends_abruptly": True}, "fault"),
    ("file_shifts", "pla", {"file_shift_mm": (2.0, 0.0)}, "warn"),
    ("diameter_differs", "pla", {"filament_diameter_mm": 2.85}, "fault"),
    ("first_layer_nozzle_off", "petg", {"first_layer_nozzle_temp_c": 190.0}, "fault"),
    ("first_layer_bed_cold", "abs", {"first_layer_bed_temp_c": 60.0}, "fault"),
    ("bed_softens_foot", "petg", {"bed_temp_c": 90.0}, "note"),
    ("layer_thin", "pla", {"layer_height_mm": 0.04}, "note"),
    ("outer_starved", "pla", {"outer_flow_percent": 70.0}, "warn"),
    ("first_layer_flow_odd", "pla", {"first_layer_flow_percent": 60.0}, "note"),
    ("short_layer_little_air", "pla", {"min_layer_seconds": 4.0, "fan_at_shortest_percent": 20.0}, "warn"),
    ("bottom_thin_somewhere", "pla", {"bottom_thinnest_layers": 1, "bottom_thin_percent": 8.0}, "warn"),
    ("top_thin_somewhere", "pla", {"top_thinnest_layers": 2, "top_thin_at_mm": (20.0, 30.0)}, "warn"),
    ("gap_under_top_wide", "pla", {"gap_under_top_mm": 11.0}, "warn"),
    ("wall_narrow", "pla", {"narrow_wall_percent": 30.0}, "warn"),
    ("support_wall_close", "pla", {"support_gap_xy_mm": 0.0}, "warn"),
    ("support_fast", "pla", {"support_speed_mm_s": 220.0}, "note"),
    ("travels_unretracted", "pla", {"open_travels_unretracted": 400}, "warn"),
    ("retraction_fast", "pla", {"retraction_mm_s": 120.0}, "warn"),
    ("overhang_steep", "pla", {"overhang_60_percent": 25.0}, "warn"),
    ("overhang_steep", "pla", {"overhang_60_percent": 25.0, "fan_percent": 0.0}, "fault"),
    ("contour_in_air", "pla", {"contour_in_air_mm": 60.0}, "warn"),
    ("island_in_air", "pla", {"islands_in_air": 2}, "fault"),
    ("bridge_long", "pla", {"bridge_span_mm": 60.0}, "warn"),
    ("bridge_fast", "pla", {"bridge_span_mm": 15.0, "bridge_speed_mm_s": 160.0}, "warn"),
    ("bridge_little_air", "pla", {"bridge_span_mm": 15.0, "bridge_fan_percent": 20.0}, "warn"),
    ("neck_thin", "pla", {"neck_slenderness": 18.0, "neck_area_mm2": 9.0}, "warn"),
    ("brim_missing", "abs", {"brim_mm": 0.0, "contact_area_mm2": 100.0, "slenderness": 4.0}, "warn"),
    ("raft_gap_odd", "pla", {"raft_gap_mm": 0.0}, "note"),
    ("not_primed", "pla", {"primed_mm": 0.0}, "note"),
    ("change_not_primed", "pla", {"primed_after_change_mm": 0.5}, "warn"),
    ("outer_faster", "pla", {"outer_speed_mm_s": 90.0, "inner_speed_mm_s": 45.0}, "warn"),
    ("layer_not_whole_steps", "pla", {"layer_height_mm": 0.18, "screw_lead_mm": 8.0}, "note"),
    ("heat_left_on", "pla", {"nozzle_end_c": 210.0, "bed_end_c": 60.0}, "warn"),
    ("no_lift_at_end", "pla", {"end_lift_mm": 0.0, "end_away_mm": 0.0}, "note"),
    ("outer_fast", "pla", {"outer_speed_mm_s": 220.0}, "warn"),
    ("outer_accel_high", "pla", {"outer_accel_mm_s2": 9000.0}, "warn"),
    ("travel_fast", "pla", {"travel_speed_mm_s": 600.0}, "warn"),
    ("fan_jumps", "pla", {"fan_jumps": 3}, "note"),
    ("nozzle_changes", "pla", {"nozzle_step_c": 20.0}, "warn"),
    ("layer_time_jumps", "pla", {"layer_time_ratio": 8.0, "min_layer_seconds": 7.0}, "note"),
    ("outer_speed_steps", "pla", {"outer_speed_steps": 12}, "note"),
    ("flow_steps", "pla", {"flow_step_ratio": 6.0}, "note"),
    ("moves_dense", "pla", {"moves_per_second": 4000}, "warn"),
    ("pause_in_print", "pla", {"pause_count": 2}, "note"),
    ("seam_scattered", "pla", {"seam_scattered_percent": 90.0}, "note"),
    ("above_machine", "pla", {"above_machine_mm": 6.0}, "fault"),
    ("abrasive_on_brass", "pla", {"filler": "carbon_fibre", "nozzle_material": "brass"}, "warn"),
    ("bore_small_for_filler", "pla", {"filler": "wood", "nozzle_mm": 0.25, "line_width_mm": 0.3}, "warn"),
    ("soft_on_bowden", "tpu_95a", {"extruder": "bowden"}, "warn"),
    ("chamber_missing", "peek", {"enclosed": False}, "warn"),
    ("chamber_too_warm", "pla", {"chamber_temp_c": 50.0}, "warn"),
    ("flow_trickles", "pla", {"flow_mm3_s": 0.2}, "note"),
]
SAYS_WHAT_CLEARS = 0.9  # share of the rules above whose finding names the change that would clear it
CAUSES = load_knowledge().causes
ORDER = ["note", "warn", "fault", "danger"]


def situation(change: dict[str, object]) -> Facts:
    values = {**GOOD, **change}
    in_file = {**FROM_FILE, **{name: value for name, value in change.items() if name in FROM_FILE}}
    typed = [Fact(name, value, Origin.CLAIM, "[settings]") for name, value in values.items() if name not in in_file]
    return Facts([*typed, *(Fact(name, value, Origin.FILE, "part.gcode") for name, value in in_file.items())])


@pytest.mark.parametrize(("rule", "polymer", "change", "level"), FAULTS)
def test_a_seeded_fault_is_found(rule, polymer, change, level):
    good = fitting(polymer)
    audit = run_audit(situation({**good, **change}), load_materials()[polymer])
    found = {finding.rule: finding for finding in audit.findings}
    assert rule in found, [finding.rule for finding in audit.findings]
    assert ORDER.index(found[rule].level) >= ORDER.index(level)
    assert found[rule].bears_on
    assert set(found[rule].bears_on) <= set(CAUSES)
    assert found[rule].text.endswith(".")
    assert "%s" not in found[rule].text
    assert "nan" not in found[rule].text


def fitting(polymer: str) -> dict[str, object]:
    """Settings that suit the polymer."""
    material = load_materials()[polymer]
    nozzle = material.nozzle_temp_c.typical
    gap = material.support_gap_mm
    return {
        "nozzle_temp_c": nozzle,
        "first_layer_nozzle_temp_c": nozzle,
        "coldest_feed_c": nozzle,
        "bed_temp_c": material.bed_temp_c.typical,
        "fan_percent": material.part_fan_percent.typical,
        "bottom_solid_layers": 5.0,
        "top_solid_layers": 6.0,
        "flow_mm3_s": 2.5,
        "speed_mm_s": 30.0,
        "support_gap_mm": gap.best,
    }


@pytest.mark.parametrize("polymer", sorted(load_materials()))
def test_fitting_settings_are_quiet_for_every_polymer(polymer):
    audit = run_audit(situation(fitting(polymer)), load_materials()[polymer])
    assert [(f.rule, f.level, f.text) for f in audit.findings] == []
    assert len(audit.quiet) > 25
    assert all(quiet.bits < 0 for quiet in audit.quiet)


def test_every_rule_is_seeded_above():
    asked = {rule for rule, *_ in FAULTS} | {"no_lift_set"}
    by_name = {rule.__name__ for rule in RULES}
    renamed = {"line_narrower_than_bore": "line_width_odd", "diameter_odd": "diameter_differs"}
    assert {renamed.get(name, name) for name in by_name} == asked


def test_findings_name_the_change_that_would_clear_them():
    clearing = set()
    for rule, polymer, change, _ in FAULTS:
        audit = run_audit(situation({**fitting(polymer), **change}), load_materials()[polymer])
        clearing |= {finding.rule for finding in audit.findings if finding.rule == rule and finding.clears}
    named = {rule for rule, *_ in FAULTS}
    assert len(clearing) >= SAYS_WHAT_CLEARS * len(named), named - clearing


def test_without_a_polymer_its_windows_are_not_asked():
    audit = run_audit(situation({"nozzle_temp_c": 150.0}))
    assert {
        "nozzle_below_window",
        "bed_below_window",
        "fan_below_window",
        "flow_above_melt_capacity",
        "support_gap_small",
    } <= set(audit.not_asked)
    assert "nozzle_below_window" not in {finding.rule for finding in audit.findings}


def test_nothing_known_asks_nothing():
    audit = run_audit(Facts())
    assert audit.findings == ()
    assert audit.quiet == ()
    assert len(audit.not_asked) == len(RULES)


def test_findings_come_gravest_first():
    audit = run_audit(
        situation({"coldest_feed_c": 100.0, "wall_lines": 1.0, "fan_percent": 0.0}), load_materials()["pla"]
    )
    levels = [ORDER.index(finding.level) for finding in audit.findings]
    assert levels == sorted(levels, reverse=True)
    assert levels[0] == ORDER.index("danger")


def test_settings_alone_are_enough_for_the_flow():
    """No file: 0.6 × 0.3 mm at 150 mm/s is ((0.6 − 0.3) 0.3 + π 0.3²/4) · 150 = 24.1 mm³/s."""
    typed = {"line_width_mm": 0.6, "layer_height_mm": 0.3, "speed_mm_s": 150.0, "nozzle_temp_c": 230.0}
    facts = Facts(Fact(name, value, Origin.CLAIM, "[settings]") for name, value in typed.items())
    finding = next(
        f for f in run_audit(facts, load_materials()["petg"]).findings if f.rule == "flow_above_melt_capacity"
    )
    assert finding.value == pytest.approx(24.1, abs=0.05)
    assert "claimed in the settings" in finding.origin
    assert finding.where.layers is None


def test_a_colder_nozzle_heats_less():
    context = Context(load_materials()["petg"])
    hot, cold = (melt_capacity(situation({"nozzle_temp_c": t}), context, 10.0) for t in (250.0, 215.0))
    assert cold.modelled < hot.modelled
    assert cold.core_c < hot.core_c
    assert cold.best <= hot.best


def test_a_longer_melt_zone_heats_in_proportion():
    """Conduction into a cylinder: the flow that reaches a core temperature is linear in length,
    [CarslawJaeger1959].
    """
    context = Context(load_materials()["pla"])
    short, long = (melt_capacity(situation({"melt_zone_mm": mm}), context) for mm in (10.0, 20.0))
    assert long.modelled == pytest.approx(2 * short.modelled)


def test_soft_polymers_are_bound_by_what_the_feed_can_push():
    context = Context(load_materials()["tpu_85a"])
    capacity = melt_capacity(Facts(), context)  # at the typical temperature
    assert capacity.best == pytest.approx(capacity.tabled, rel=0.05)
    assert capacity.best < 0.5 * capacity.modelled


def test_thin_layers_need_more_of_them():
    """3 layers of 0.2 mm are 0.6 mm: at 0.1 mm six are needed, at 0.3 mm two."""
    pla = load_materials()["pla"]
    fine = run_audit(situation({"bottom_solid_layers": 4.0, "layer_height_mm": 0.1}), pla)
    assert "bottom_too_thin" in {finding.rule for finding in fine.findings}
    coarse = run_audit(situation({"bottom_solid_layers": 2.0, "layer_height_mm": 0.3}), pla)
    assert "bottom_too_thin" not in {finding.rule for finding in coarse.findings}


def test_start_words_that_were_not_understood_soften_a_cold_start():
    change = {"nozzle_never_heated": True, "start_not_understood": 2}
    finding = next(
        f for f in run_audit(situation(change), load_materials()["pla"]).findings if f.rule == "nozzle_never_heated"
    )
    assert finding.level == "note"
