"""Facts measured in a file, each against an answer known by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from beadwright.audit.moves import weighted_quantiles
from beadwright.facts import Origin
from specimens.toolpaths import box, cylinder, vase

HEAD = "G21\nG90\nM83\nM190 S60\nM109 S210\n"


def layer(z: float, size: float = 10.0, e_per_mm: float = 0.03, feed: int = 1800) -> str:
    """A square loop at height z, extrusion relative."""
    sides = [(size, 0), (size, size), (0, size), (0, 0)]
    beads = "".join(f"G1 X{x:g} Y{y:g} E{size * e_per_mm:.5f} F{feed}\n" for x, y in sides)
    return f"G0 Z{z}\nG0 X0 Y0 F6000\n{beads}"


END = "G1 E-1 F1800\nM104 S0\nM140 S0\n"


def test_a_file_small_enough_to_reckon_by_hand(measure, value_of):
    """Two layers of a 10 mm square, 0.03 mm of filament a mm: 2 × 40 × 0.03 = 2.4 mm of filament.

    Section 0.03 · π/4 · 1.75² = 0.0721585 mm², at 0.2 mm layers a width of 0.0721585/0.2 + 0.2 (1 − π/4) =
    0.40371 mm.
    """
    found = measure(HEAD + layer(0.2) + layer(0.4) + END)
    assert value_of(found, "filament_mm") == pytest.approx(2.4, abs=1e-6)
    assert value_of(found, "line_width_mm") == pytest.approx(0.40371, abs=1e-4)
    assert value_of(found, "layer_count") == 2
    assert value_of(found, "layer_height_mm") == pytest.approx(0.2, abs=1e-6)
    assert value_of(found, "print_height_mm") == pytest.approx(0.4)
    assert value_of(found, "speed_mm_s") == pytest.approx(30.0, rel=1e-6)
    assert value_of(found, "travel_speed_mm_s") is None  # the head only ever rises
    assert value_of(found, "retraction_count") == 1
    # first layer: 40 mm · 0.0721585 mm² / 0.2 mm = 14.43 mm²; slenderness 0.4/√14.43
    assert value_of(found, "first_layer_area_mm2") == pytest.approx(14.4317, abs=1e-3)
    assert value_of(found, "slenderness") == pytest.approx(0.4 / math.sqrt(14.4317), abs=1e-4)


def test_what_a_retraction_takes_back_and_returns_is_not_counted_twice(measure, value_of):
    """Forward 1.2, back 2, forward 2 (returned) + 1.2: 2.4 mm."""
    body = layer(0.2) + "G1 E-2 F1800\nG1 E2 F1800\n" + layer(0.4)
    found = measure(HEAD + body + END)
    assert value_of(found, "filament_mm") == pytest.approx(2.4, abs=1e-6)
    assert value_of(found, "retraction_mm") == pytest.approx(1.5)  # median of 2 and 1
    assert value_of(found, "retraction_mm_s") == pytest.approx(30.0)


def test_backward_moves_in_a_row_are_one_retraction(measure, value_of):
    body = layer(0.2) + "G1 E-.5 F1800\nG0 X3\nG1 E-.5\nG1 E1\n" + layer(0.4)
    found = measure(HEAD + body + END)
    assert value_of(found, "retraction_count") == 2
    assert value_of(found, "retraction_mm") == pytest.approx(1.0)


def test_retractions_on_one_stretch_are_counted_by_filament_not_by_time(measure, value_of):
    """Twelve retractions with 0.5 mm of filament between each: 5.5 mm, all on one 10 mm stretch."""
    dab = "G1 X1 Y0 E.5 F1800\nG1 E-1\nG0 X0\nG1 E1\n"
    found = measure(HEAD + layer(0.2) + dab * 12 + layer(0.4) + END)
    assert value_of(found, "retractions_on_10_mm") == 13  # the twelve, and the one at the end 1.2 mm later
    sparse = dab.replace("E.5", "E6")
    found = measure(HEAD + layer(0.2) + sparse * 12 + layer(0.4) + END)
    assert value_of(found, "retractions_on_10_mm") == 3  # at 0 and 6 mm … and the last with the closing one


def test_each_tool_has_a_filament_of_its_own(measure, value_of):
    """Tool 0 feeds 1.2 mm, tool 1 feeds 1.2 mm: 2.4 mm in all."""
    found = measure(HEAD.replace("M109", "M109 T0") + layer(0.2) + "T1\nM104 T1 S230\n" + layer(0.4) + END)
    assert value_of(found, "filament_mm") == pytest.approx(2.4, abs=1e-6)
    assert found.per_layer.nozzle_c.tolist() == [210.0, 230.0]


def test_heat_and_fan_are_read_where_they_hold(measure, value_of):
    spec = box(
        (20, 20, 3),
        nozzle_temp_c=212,
        first_layer_nozzle_temp_c=222,
        bed_temp_c=58,
        first_layer_bed_temp_c=63,
        fan_percent=85,
    )
    found = measure(spec.data)
    expected = {
        "nozzle_temp_c": 212,
        "first_layer_nozzle_temp_c": 222,
        "bed_temp_c": 58,
        "first_layer_bed_temp_c": 63,
        "fan_percent": 85,
        "first_layer_fan_percent": 0,
        "bed_off_at_start": False,
        "nozzle_never_heated": False,
        "coldest_feed_c": 212,
    }
    for name, value in expected.items():
        assert value_of(found, name) == pytest.approx(value, abs=0.5), name
    assert "chamber_temp_c" not in {fact.name for fact in found.facts}


@pytest.mark.parametrize(
    "dialect",
    [
        {},
        {"relative_extrusion": True},
        {"inch": True},
        {"reset_e_each_layer": True},
        {"numbered": True, "crlf": True},
        {"squeezed": True, "lower": True},
    ],
)
def test_a_box_measures_alike_in_every_dialect(measure, value_of, dialect):
    spec = box((20, 20, 3), **dialect)
    found = measure(spec.data)
    truth = spec.truth
    assert value_of(found, "layer_count") == truth["layer_count"]
    assert value_of(found, "filament_mm") == pytest.approx(truth["filament_mm"], rel=1e-4)
    assert value_of(found, "retraction_count") == truth["retraction_count"]
    for name in (
        "layer_height_mm",
        "speed_mm_s",
        "first_layer_speed_mm_s",
        "travel_speed_mm_s",
        "retraction_mm",
        "retraction_mm_s",
        "accel_mm_s2",
    ):
        assert value_of(found, name) == pytest.approx(truth[name], rel=2e-3), name
    assert value_of(found, "z_hop_mm") == pytest.approx(truth["z_hop_mm"], abs=1e-3)
    assert value_of(found, "line_width_mm") == pytest.approx(truth["line_width_mm"], abs=0.005)
    assert value_of(found, "file_ends_abruptly") is False


def test_flow_is_bead_section_times_speed_where_the_head_cruises(measure, value_of):
    """Long beads at 60 mm/s, 0.45 × 0.2: 0.0814159 mm² · 60 = 4.885 mm³/s, less with acceleration."""
    spec = box((80, 80, 1.6), speed_mm_s=60, outer_speed_mm_s=60, first_layer_speed_mm_s=60, accel_mm_s2=20000)
    flow = value_of(measure(spec.data), "flow_mm3_s")
    assert 4.885 * 0.97 < flow <= 4.886


def test_a_wait_before_a_bead_does_not_dilute_its_flow(measure):
    plain = measure(HEAD + layer(0.2) + layer(0.4) + END)
    held = measure(HEAD + layer(0.2) + layer(0.4).replace("G1 X10 Y0", "G4 S20\nG1 X10 Y0") + END)
    assert held.per_layer.flow_median[1] == pytest.approx(plain.per_layer.flow_median[1], rel=0.02)  # the head stops
    assert held.per_layer.seconds[1] == pytest.approx(plain.per_layer.seconds[1] + 20, abs=0.5)


def test_the_per_layer_table_adds_up(measure, value_of):
    spec = cylinder(24, 4, arcs=True)
    found = measure(spec.data)
    table = found.per_layer
    assert table.z_mm == pytest.approx(spec.truth["z_mm"])
    assert table.filament_mm.sum() <= value_of(found, "filament_mm") + 1e-6
    assert table.filament_mm.sum() == pytest.approx(value_of(found, "filament_mm"), rel=0.02)  # less the priming
    assert table.seconds.sum() <= value_of(found, "print_seconds")
    shortest = int(table.seconds[1:].argmin()) + 1
    assert value_of(found, "min_layer_seconds") == pytest.approx(table.seconds[shortest])
    assert found.places["min_layer_seconds"].layers == (shortest + 1, shortest + 1)


def test_outside_is_measured_against_the_machine(measure, tell, value_of):
    known = tell(travel_mm=(220.0, 220.0, 250.0))
    assert value_of(measure(box((20, 20, 2)).data, known), "moves_outside_mm") == 0
    beyond = measure(box((20, 20, 2), outside_mm=7.5).data, known)
    assert value_of(beyond, "moves_outside_mm") == pytest.approx(7.5, abs=0.01)
    assert value_of(measure(box((20, 20, 2)).data), "moves_outside_mm") is None


def test_a_round_machine_is_bounded_by_its_radius(measure, tell, value_of):
    """On a delta with a 200 mm plate, (90, 90) lies 127.28 mm from the middle: 27.28 mm outside."""
    known = tell(travel_mm=(200.0, 200.0, 300.0), kinematics="delta")
    found = measure(HEAD + layer(0.2) + layer(0.4) + "G0 X90 Y90\n" + END, known)
    assert value_of(found, "moves_outside_mm") == pytest.approx(27.279, abs=0.01)


def test_a_file_cut_short_is_known_by_its_end(measure, value_of):
    whole = box((20, 20, 3))
    assert value_of(measure(whole.data), "file_ends_abruptly") is False
    cut = "\n".join(whole.text.splitlines()[: int(len(whole.text.splitlines()) * 0.7)])
    last_bead = cut[: cut.rindex("\nG1 X") + 1]  # up to a whole line
    last_bead = last_bead[: last_bead.rindex(" E")] if not last_bead.endswith("\n") else last_bead
    lines = last_bead.splitlines()
    while not (lines[-1].startswith("G1 ") and ("X" in lines[-1] or "Y" in lines[-1])):
        lines.pop()
    found = measure("\n".join(lines) + "\n")
    assert value_of(found, "file_ends_abruptly") is True
    assert value_of(found, "top_solid_layers") is None


def test_a_shift_in_the_file_is_found_and_geometry_is_not_taken_for_one(measure, value_of):
    body = "".join(layer(0.2 * k) for k in range(1, 6))
    moved = "".join(layer(0.2 * k).replace("X10", "X12").replace("X0", "X2") for k in range(6, 11))
    found = measure(HEAD + body + moved + END)
    assert value_of(found, "file_shift_mm") == pytest.approx((2.0, 0.0))
    assert found.places["file_shift_mm"].layers == (6, 6)
    grown = "".join(layer(0.2 * k, size=14) for k in range(6, 11))
    assert value_of(measure(HEAD + body + grown + END), "file_shift_mm") == (0.0, 0.0)


def test_every_fact_says_file_and_place(measure):
    found = measure(box((20, 20, 3)).data)
    assert {fact.origin for fact in found.facts} == {Origin.FILE}
    assert all(fact.where.startswith("part.gcode") for fact in found.facts)
    nozzle = next(fact for fact in found.facts if fact.name == "nozzle_temp_c")
    assert nozzle.where == "part.gcode, layers 2–15"


def test_an_open_vase_says_nothing_of_a_top(measure, value_of):
    found = measure(vase(30, 8).data)
    assert value_of(found, "top_solid_layers") is None
    assert value_of(found, "infill_percent") is None


def test_quantiles_of_many_values_are_those_of_a_full_sort():
    rng = np.random.default_rng(7)
    values, weights = rng.gamma(2.0, 3.0, 120_000), rng.random(120_000)
    order = np.argsort(values)
    running = np.cumsum(weights[order])
    for share in (0.05, 0.5, 0.95, 0.999):
        expected = values[order[np.searchsorted(running, share * running[-1])]]
        assert weighted_quantiles(values, weights, (share,))[0] == pytest.approx(expected, rel=1e-9)
    assert weighted_quantiles(np.full(60_000, 4.0), np.ones(60_000), (0.5,)) == (4.0,)
