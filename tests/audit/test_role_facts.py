"""Facts that need roles, each against an answer known by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from beadwright.audit.contours import hold_contours
from beadwright.toolpath.roles_model import Role
from specimens.prints import awning, gallery, on_raft, one_by_one, pierced, two_tools, uneven
from specimens.recipe import Recipe
from specimens.regions import Region
from specimens.toolpaths import SOLID, SPARSE, Slice, box, bridge, build, cone, cylinder, table

HEAD = "G21\nG90\nM83\nM190 S60\nM109 S210\n"
END = "G1 E-1 F1800\nG0 Z40\nM104 S0\nM140 S0\n"


def loop(z: float, x: float, y: float, size: float, e_per_mm: float = 0.0338488) -> str:
    """A square contour with its low corner at (x, y), relative extrusion: 0.45 × 0.2 mm beads of 1.75 mm filament."""
    corners = [(x + size, y), (x + size, y + size), (x, y + size), (x, y)]
    return f"G0 Z{z:.2f} F6000\nG0 X{x:.3f} Y{y:.3f}\n" + "".join(
        f"G1 X{a:.3f} Y{b:.3f} E{size * e_per_mm:.5f} F1800\n" for a, b in corners
    )


@pytest.mark.parametrize("width", [0.4, 0.6])
@pytest.mark.parametrize("flow", [100.0, 90.0])
def test_width_and_flow_by_role(measure, tell, value_of, width, flow):
    """Section A = ((w − h) h + π h²/4) · flow; a bead's width is A/h + h (1 − π/4)."""
    spec = box((30, 24, 4), line_width_mm=width, flow_percent=flow)
    found = measure(spec.data, tell(line_width_mm=width))
    expected = spec.recipe.area(0.2) / 0.2 + 0.2 * (1 - math.pi / 4)
    for word in ("outer", "inner", "solid", "sparse"):
        assert value_of(found, f"{word}_width_mm") == pytest.approx(expected, abs=0.003), word
        assert value_of(found, f"{word}_flow_percent") == pytest.approx(flow, abs=0.5), word
    assert value_of(found, "first_layer_flow_percent") == pytest.approx(flow, abs=0.5)


def test_speed_and_acceleration_of_contours(measure, value_of):
    found = measure(box((30, 24, 4), speed_mm_s=70, outer_speed_mm_s=33, accel_mm_s2=1700).data)
    assert value_of(found, "outer_speed_mm_s") == pytest.approx(33, abs=0.06)
    assert value_of(found, "inner_speed_mm_s") == pytest.approx(70, abs=0.06)
    assert value_of(found, "sparse_speed_mm_s") == pytest.approx(70, abs=0.06)
    assert value_of(found, "outer_accel_mm_s2") == 1700


@pytest.mark.parametrize("lines", [1, 2, 3, 4])
def test_beads_per_wall_are_counted(measure, value_of, lines):
    assert value_of(measure(box((30, 24, 4), wall_lines=lines).data), "wall_lines") == lines


@pytest.mark.parametrize("infill", [10, 15, 25, 40])
def test_infill_is_width_over_spacing(measure, value_of, infill):
    found = measure(box((50, 44, 4), infill_percent=infill).data)
    assert value_of(found, "infill_percent") == pytest.approx(infill, rel=0.06)
    assert value_of(found, "infill_spacing_mm") == pytest.approx(45 / infill, rel=0.06)


@pytest.mark.parametrize("step", [0.1, 0.19, 0.3, 0.5])
def test_overhang_of_a_cone_is_its_angle(measure, step):
    """The radius grows by `step` a layer of 0.2 mm: atan(step / 0.2) from the vertical, on every layer."""
    spec = cone(30, 4, step)
    found = measure(spec.data)
    angles = found.by_role.contours.angle_deg
    outer = (found.by_role.roles.role == Role.OUTER) & (found.moves.layer > 0)
    assert np.median(angles[outer]) == pytest.approx(spec.truth["overhang_deg"], abs=0.5)
    beyond_45, beyond_60 = (spec.truth["overhang_deg"] > limit for limit in (45, 60))
    facts = {fact.name: fact.value for fact in found.facts}
    assert facts["overhang_45_percent"] == pytest.approx(100.0 * beyond_45, abs=3)
    assert facts["overhang_60_percent"] == pytest.approx(100.0 * beyond_60, abs=3)


def test_a_shrinking_cone_and_a_hole_do_not_overhang(measure, value_of):
    assert value_of(measure(cone(30, 4, -0.2).data), "overhang_45_percent") == 0
    assert value_of(measure(pierced().data), "overhang_45_percent") == 0


def test_a_closing_hole_overhangs(measure):
    """A tube whose outside is upright and whose bore shrinks by 0.4 mm in radius a layer: atan(0.4/0.2) = 63.4°."""
    layers = ""
    for k in range(1, 9):
        low, high = 18 + 0.4 * k, 42 - 0.4 * k
        layers += loop(0.2 * k, 10.45, 10.45, 39.1) + loop(0.2 * k, 10, 10, 40)
        layers += loop(0.2 * k, low - 0.45, low - 0.45, high - low + 0.9) + loop(0.2 * k, low, low, high - low)
        for y in np.arange(low, high, 1.2):  # filling on two sides: one part
            for a, b in ((10.8, low - 0.8), (high + 0.8, 49.2)):
                layers += f"G0 X{a:.2f} Y{y:.2f} F6000\nG1 X{b:.2f} E{abs(b - a) * 0.0338488:.5f} F1800\n"
    found = measure(HEAD + layers + END)
    angle = found.by_role.contours.angle_deg
    x, y = found.moves.toolpath.x, found.moves.toolpath.y
    bore = (np.minimum(x, y) > 17) & (np.maximum(x, y) < 43) & (found.moves.layer > 0) & found.moves.bead
    bore &= found.by_role.roles.role == Role.OUTER
    assert bore.sum() == 28
    assert np.nanmedian(angle[bore]) == pytest.approx(math.degrees(math.atan2(0.4, 0.2)), abs=0.5)


@pytest.mark.parametrize("pier", [8.0, 12.0])
def test_a_bridge_is_as_long_as_the_way_between_piers(measure, value_of, pier):
    spec = bridge((44, 12, 2), (pier, 12, 4), speed_mm_s=61)
    found = measure(spec.data)
    assert value_of(found, "bridge_span_mm") == pytest.approx(spec.truth["bridge_span_mm"], abs=1.6)
    assert found.places["bridge_span_mm"].layers == (21, 21)
    assert value_of(found, "bridge_fan_percent") == 100
    assert value_of(found, "contour_in_air_mm") == 0


def test_a_roof_between_two_walls(measure, value_of):
    """Two walls of 8 mm, middles 22 mm apart: 14 mm of air."""
    assert value_of(measure(gallery().data), "bridge_span_mm") == pytest.approx(14, abs=1.6)


@pytest.mark.parametrize("gap_layers", [1, 2, 3])
def test_gap_over_support(measure, value_of, gap_layers):
    found = measure(table((40, 20, 2), (10, 20, 4), support_gap_layers=gap_layers).data)
    assert value_of(found, "support_gap_mm") == pytest.approx(0.2 * gap_layers, abs=0.011)


@pytest.mark.parametrize("gap", [0.3, 0.8, 1.2])
def test_gap_beside_support(measure, value_of, gap):
    """A walled support: its loop runs along the wall, `gap` clear of it."""
    found = measure(awning(walled=True, support_gap_xy_mm=gap).data)
    assert value_of(found, "support_gap_xy_mm") == pytest.approx(gap, abs=0.01)


def test_flaps_over_air_and_over_support(measure, value_of):
    """Flaps of 10 × 20 mm on both sides of a pillar: two ends and four sides of contour over air, 2·20 + 4·10 mm."""
    bare = measure(table((30, 20, 2), (10, 20, 4), support=False).data)
    assert value_of(bare, "contour_in_air_mm") == pytest.approx(80, rel=0.15)
    assert bare.places["contour_in_air_mm"].layers == (21, 21)
    assert value_of(measure(table((30, 20, 2), (10, 20, 4)).data), "contour_in_air_mm") == 0


def test_a_piece_begun_in_mid_air(measure, value_of):
    beside = "".join(loop(0.2 * k, 60, 60, 12) for k in range(6, 12))
    stack = "".join(loop(0.2 * k, 10, 10, 30) + (loop(0.2 * k, 60, 60, 12) if k > 5 else "") for k in range(1, 12))
    assert beside
    found = measure(HEAD + stack + END)
    assert value_of(found, "islands_in_air") == 1
    assert found.places["islands_in_air"].layers == (6, 6)
    grown = "".join(loop(0.2 * k, 10, 10, 30) + loop(0.2 * k, 60, 60, 12) for k in range(1, 12))
    assert value_of(measure(HEAD + grown + END), "islands_in_air") == 0


def test_raft_and_its_gap(measure, value_of):
    found = measure(on_raft(gap_mm=0.2, bottom_solid_layers=3).data)
    assert value_of(found, "raft_layers") == 3
    assert value_of(found, "raft_gap_mm") == pytest.approx(0.2, abs=0.011)
    assert value_of(found, "bottom_solid_layers") == 3  # the raft is no bottom


@pytest.mark.parametrize(("loops", "brim"), [(0, 0), (2, 0), (1, 8)])
def test_skirt_brim_and_foot(measure, value_of, loops, brim):
    spec = box((24, 20, 3), skirt_loops=loops, brim_loops=brim, prime=False)
    found = measure(spec.data)
    assert value_of(found, "skirt_loops") == loops
    assert value_of(found, "brim_mm") == pytest.approx(brim * 0.45, abs=0.46)
    if not brim:  # 24 × 20 mm, less what the rounded flanks leave at corners and between lines
        assert value_of(found, "contact_area_mm2") == pytest.approx(480, rel=0.06)
        fed = spec.truth["role_filament_mm"].get("skirt", 0.0)
        assert value_of(found, "primed_mm") == pytest.approx(fed, abs=0.9)


def test_a_neck_is_found_where_it_is_thin(measure, value_of):
    """A 20 mm foot, from layer 6 on a 4 × 4 mm column up to 10.2 mm: (10.2 − 1.2) / 4 = 2.2 at its lowest layer."""
    recipe = Recipe(wall_lines=2, infill_percent=20)
    x, y = recipe.centre_mm
    foot = [Slice(((Region(x, y, 20, 20), SOLID, 45.0),))] * 5
    column = [Slice(((Region(x, y, 4, 4), SPARSE, 45.0),))] * 46
    found = measure(build(recipe, foot + column).data)
    assert value_of(found, "neck_slenderness") == pytest.approx((10.2 - 1.2) / 4, rel=0.06)
    assert found.places["neck_slenderness"].layers == (6, 6)
    assert value_of(found, "neck_area_mm2") == pytest.approx(16, rel=0.12)


def test_the_seam(measure, value_of):
    """Contours of a bar start on the side towards +x; drawn from a new corner each layer they scatter."""
    lined_up = measure(cylinder(24, 4).data)
    assert value_of(lined_up, "seam_step_mm") == pytest.approx(0, abs=0.01)
    assert value_of(lined_up, "seam_angle_deg") % 360 == pytest.approx(0, abs=1)
    turned = ""
    for k in range(1, 13):
        corners = [(30, 10), (30, 30), (10, 30), (10, 10)]
        corners = corners[k % 4 :] + corners[: k % 4]
        turned += f"G0 Z{0.2 * k:.1f} F6000\nG0 X{corners[-1][0]} Y{corners[-1][1]}\n"
        turned += "".join(f"G1 X{a} Y{b} E.67698 F1800\n" for a, b in corners)
    scattered = measure(HEAD + turned + END)
    assert value_of(scattered, "seam_scattered_percent") == 100
    assert value_of(scattered, "seam_step_mm") == pytest.approx(20)
    assert value_of(scattered, "seam_angle_deg") is None


def test_changes_of_tool(measure, value_of):
    found = measure(two_tools().data)
    assert value_of(found, "wipe_tower") is True
    assert value_of(found, "tool_change_count") == found.moves.toolpath.events.tool_change.move.size
    assert value_of(found, "primed_after_change_mm") > 10  # a layer of the tower
    assert value_of(measure(box((20, 20, 2)).data), "primed_after_change_mm") is None


def test_thin_walls(measure, value_of):
    """One contour in three at half the width: a third of the length is laid narrow."""
    thin = 0.0338488 * 0.45
    layers = "".join(
        loop(0.2 * k, 10, 10, 30) + loop(0.2 * k, 50, 10, 30) + loop(0.2 * k, 90, 10, 30, thin) for k in range(1, 9)
    )
    assert value_of(measure(HEAD + layers + END), "narrow_wall_percent") == pytest.approx(100 / 3, abs=0.5)


def test_travels_between_pieces_with_nothing_drawn_back(measure, value_of):
    layers = "".join(loop(0.2 * k, 10, 10, 20) + loop(0.2 * k, 50, 10, 20) for k in range(1, 11))
    assert value_of(measure(HEAD + layers + END), "open_travels_unretracted") == 10
    drawn = layers.replace("G0 X50", "G1 E-.8 F1800\nG0 X50").replace("G1 X70", "G1 E.8 F1800\nG1 X70", 0)
    drawn = "".join(
        line + "\n" + ("G1 E.8 F1800\n" if line.startswith("G0 X50") else "") for line in drawn.splitlines()
    )
    assert value_of(measure(HEAD + drawn + END), "open_travels_unretracted") == 0


def test_where_the_bottom_is_thin_it_is_told(measure, value_of):
    """A plate with three solid layers, but one where x is beyond its middle plus 10 mm."""
    recipe = Recipe(bottom_solid_layers=3, top_solid_layers=3, wall_lines=0)
    x, y = recipe.centre_mm
    wide, narrow = Region(x - 12, y, 46, 40), Region(x + 23, y, 24, 40)
    slices = []
    for k in range(16):
        thin = SOLID if k < 1 or k > 12 else SPARSE
        thick = SOLID if k < 3 or k > 12 else SPARSE
        angle = 45.0 if k % 2 else 135.0
        slices.append(Slice(((wide, thick, angle), (narrow, thin, angle))))
    found = measure(build(Recipe(wall_lines=1), slices).data)
    assert recipe.wall_lines == 0
    assert value_of(found, "bottom_solid_layers") == 3
    assert value_of(found, "bottom_thinnest_layers") == 1
    share = found.shells.below.thin_percent
    assert share == pytest.approx(100 * 24 / 70, abs=8)
    assert value_of(found, "bottom_thin_at_mm") == pytest.approx((x + 23, y), abs=2)


def test_solid_layers_are_known_by_their_thickness(measure, value_of):
    """Three layers of 0.2 mm under thinner ones: 0.6 mm."""
    found = measure(uneven(bottom_solid_layers=3).data)
    assert value_of(found, "bottom_solid_layers") == 3
    assert value_of(found, "bottom_thickness_mm") == pytest.approx(0.6)


def test_objects_with_levels_of_their_own_are_not_mangled(measure, value_of):
    found = measure(one_by_one((0.2, 0.28, 0.15)).data)
    assert value_of(found, "line_width_mm") == pytest.approx(0.45, abs=0.02)
    assert value_of(found, "overhang_45_percent") == pytest.approx(0, abs=1)
    assert value_of(found, "islands_in_air") == 0
    assert value_of(found, "bottom_solid_layers") is None  # not to be told layer by layer


def test_nothing_to_hold_on_to(measure):
    found = measure("G21\nG90\nM83\nG0 Z.2\nG1 X10 E1 F900\n")
    assert found.by_role is not None
    assert hold_contours(found.moves, found.by_role.roles) is not None
