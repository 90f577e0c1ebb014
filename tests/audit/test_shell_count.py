"""Solid layers and crossings counted from the beads, on shapes laid with known counts."""

from __future__ import annotations

import pytest

from specimens.toolpaths import box, cone, cylinder, table


@pytest.mark.parametrize("bottom", [1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("infill", [0, 10, 20, 40])
def test_layers_of_a_box_are_counted(measure, bottom, infill):
    top = 7 - bottom
    shells = measure(
        box((24, 20, 4), bottom_solid_layers=bottom, top_solid_layers=top, infill_percent=infill).data
    ).shells
    assert (shells.bottom, shells.top) == (bottom, top)
    assert (shells.bottom_thin, shells.top_thin) == (bottom, top)


@pytest.mark.parametrize(("bottom", "top", "infill"), [(1, 6, 15), (2, 3, 25), (4, 4, 0), (6, 1, 40)])
@pytest.mark.parametrize("dialect", [{}, {"arcs": True}, {"relative_extrusion": True}])
def test_layers_of_a_cylinder_are_counted(measure, bottom, top, infill, dialect):
    spec = cylinder(26, 4, bottom_solid_layers=bottom, top_solid_layers=top, infill_percent=infill, **dialect)
    shells = measure(spec.data).shells
    assert (shells.bottom, shells.top) == (bottom, top)


@pytest.mark.parametrize("height", [0.1, 0.15, 0.3])
def test_counts_do_not_depend_on_the_layer_height(measure, height):
    spec = box(
        (24, 24, 4),
        layer_height_mm=height,
        first_layer_height_mm=0.2,
        bottom_solid_layers=3,
        top_solid_layers=5,
    )
    shells = measure(spec.data).shells
    assert (shells.bottom, shells.top) == (3, 5)


@pytest.mark.parametrize("loops", [0, 3])
@pytest.mark.parametrize("brim", [0, 6])
def test_skirt_and_brim_are_not_taken_for_the_part(measure, loops, brim):
    spec = box((24, 24, 3), skirt_loops=loops, brim_loops=brim, bottom_solid_layers=3, top_solid_layers=4)
    shells = measure(spec.data).shells
    assert (shells.bottom, shells.top) == (3, 4)


def test_a_solid_part_has_no_count(measure, value_of):
    found = measure(box((24, 24, 2), bottom_solid_layers=10, top_solid_layers=10).data)
    assert value_of(found, "bottom_solid_layers") is None
    assert value_of(found, "top_solid_layers") is None
    assert value_of(found, "infill_percent") is None


def test_a_wide_bead_and_thin_flow_are_still_solid(measure):
    for change in ({"line_width_mm": 0.65}, {"flow_percent": 88.0}):
        shells = measure(box((26, 26, 4), bottom_solid_layers=2, top_solid_layers=3, **change).data).shells
        assert (shells.bottom, shells.top) == (2, 3), change


@pytest.mark.parametrize("infill", [10, 20, 40])
def test_infill_is_the_share_of_the_inside_that_is_plastic(measure, value_of, infill):
    """Rows spaced width · 100 / infill: plastic is pitch / width = 0.905 of that share, joins add some."""
    found = measure(box((40, 40, 4), infill_percent=infill).data)
    assert value_of(found, "infill_percent") == pytest.approx(infill, rel=0.2)


def test_a_slab_on_a_pillar_is_judged_by_its_own_top(measure):
    shells = measure(table((40, 26, 3), (14, 26, 3), bottom_solid_layers=3, top_solid_layers=4).data).shells
    assert shells.top == 4


def test_a_spreading_cone_keeps_its_counts(measure):
    shells = measure(cone(24, 4, 0.15, bottom_solid_layers=4, top_solid_layers=4).data).shells
    assert (shells.bottom, shells.top) == (4, 4)


def test_a_sliver_is_too_small_to_judge(measure):
    shells = measure(box((4, 4, 4)).data).shells
    assert shells.bottom is None
    assert shells.top is None


SQUARE = "G1 X{0} Y{0} E1 F1800\nG1 X{1} E1\nG1 Y{1} E1\nG1 X{0} E1\nG1 Y{0} E1\n"
HEAD = "G21\nG90\nM83\nM109 S210\nG0 Z0.2\nG0 X10 Y10 F6000\n"


def crossings(measure, travel: str) -> int:
    """Two separate squares of beads, 10–30 and 50–70, with `travel` between."""
    far = SQUARE.format(50, 70)
    text = HEAD + SQUARE.format(10, 30) + "G0 Y5\nG0 X45\n" + travel + "G0 X50 Y50\n" + far + "M104 S0\nG0 Z5\n"
    return int(measure(text).shells.crossings.sum())


def test_a_travel_over_laid_beads_at_their_height_is_counted(measure):
    assert crossings(measure, "") == 0
    assert crossings(measure, "G0 X20 Y5\nG0 X20 Y40\nG0 X45\n") == 1  # in and out of the square, one travel


def test_a_lifted_travel_is_not_counted(measure):
    assert crossings(measure, "G0 Z0.6\nG0 X20 Y5\nG0 X20 Y40\nG0 X45\nG0 Z0.2\n") == 0


def test_a_lift_of_a_hair_does_not_count_as_lift(measure):
    assert crossings(measure, "G0 Z0.22\nG0 X20 Y5\nG0 X20 Y40\nG0 X45\nG0 Z0.2\n") == 1


def test_what_is_laid_later_is_not_crossed(measure):
    assert crossings(measure, "G0 X60 Y5\nG0 X60 Y80\nG0 X45\n") == 0


def test_where_the_crossing_is_said(measure):
    found = measure(box((30, 30, 2), z_hop_mm=0.0, retract_beyond_mm=50.0).data)
    assert found.shells.crossings.sum() > 0
    place = found.places["crossings_without_lift"]
    assert place.layers is not None
    lifted = measure(box((30, 30, 2), z_hop_mm=0.4, retract_beyond_mm=0.5).data)
    assert lifted.shells.crossings.sum() == 0
