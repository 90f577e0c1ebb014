"""Limits, symmetries and the one policy for arguments: what must hold whatever the numbers are."""

from __future__ import annotations

import inspect
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.physics import (
    bead,
    belts,
    bessel,
    cooling,
    heater,
    marks,
    mass,
    melt,
    moisture,
    ringing,
    roundness,
    sag,
    warp,
    wear,
    weld,
)

SMALL = settings(max_examples=50, deadline=None)  # other work shares the cores
coordinates = st.floats(-1e3, 1e3)


@SMALL
@given(coordinates, coordinates)
def test_two_belts_come_back(x: float, y: float) -> None:
    assert np.allclose(belts.head_from_belts(*belts.belts_from_head(x, y)), (x, y), rtol=1e-12, atol=1e-12)


@SMALL
@given(st.floats(0.01, 10))
def test_one_belt_moves_along_a_diagonal_and_both_along_an_axis(slip: float) -> None:
    dx, dy = belts.head_from_belts(slip, 0.0)
    assert dx == dy
    dx, dy = belts.head_from_belts(slip, slip)
    assert (dx, dy) == (slip, 0)


@SMALL
@given(st.floats(0.05, 1), st.floats(1, 100), st.floats(0.002, 0.05))
def test_string_comes_back_and_stiffness_only_raises_it(span: float, tension: float, mu: float) -> None:
    hz = belts.string_frequency_hz(span, tension, mu)
    assert belts.string_tension_n(hz, span, mu) == pytest.approx(tension)
    assert belts.string_frequency_hz(span, 4 * tension, mu) == pytest.approx(2 * hz)
    pinned = belts.pinned_span_frequency_hz(span, tension, mu, 1e-9)
    assert hz <= pinned < 1.001 * hz


def test_clamped_span_refuses_a_stiff_bar() -> None:
    assert math.isnan(belts.clamped_span_frequency_hz(0.02, 1.0, 0.008, 1e-3))


def test_strand_heats_from_outside_in() -> None:
    fo = np.geomspace(1e-5, 3, 200)
    axis, mean = melt.axis_theta(fo), melt.mean_theta(fo)
    assert np.all(np.diff(axis) <= 1e-4)  # where six terms take over from 1
    assert np.all(np.diff(mean) < 0)
    assert np.all(axis >= mean)
    assert np.all((axis <= 1 + 1e-4) & (axis > 0))


@SMALL
@given(st.floats(180, 400), st.floats(1, 30), st.floats(5, 40), st.floats(4e-8, 2e-7))
def test_melt_zone_inverts(wall: float, flow: float, length: float, alpha: float) -> None:
    fo = melt.fourier_number(alpha, length * 1e-3, flow * 1e-9)
    core = melt.core_temperature(wall, 25.0, fo)
    assert 25 - 0.1 <= core <= wall
    if float(melt.axis_theta(fo)) < 0.9 and wall - core > 0.01:
        assert melt.wall_for_core(core, 25.0, fo) == pytest.approx(wall, rel=1e-6)
        assert melt.largest_flow(alpha, length * 1e-3, wall, 25.0, core) == pytest.approx(flow * 1e-9, rel=1e-4)


def test_flow_limit_scales_with_length_and_not_with_diameter() -> None:
    one, two = (melt.largest_flow(6e-8, length, 240, 25, 170) for length in (0.012, 0.024))
    assert two == pytest.approx(2 * one)
    assert "diameter" not in inspect.signature(melt.largest_flow).parameters


@pytest.mark.parametrize(("wall", "core"), [(170.0, 170.0), (160.0, 170.0), (240.0, 20.0), (20.0, 10.0)])
def test_flow_limit_is_nan_where_no_flow_or_any_would_do(wall: float, core: float) -> None:
    assert math.isnan(melt.largest_flow(6e-8, 0.012, wall, 25, core))


@SMALL
@given(st.floats(0.05, 0.6), st.floats(1.0, 4.0))
def test_bead_inverts_and_lies_between_circle_and_rectangle(height: float, ratio: float) -> None:
    width = height * ratio
    area = bead.bead_area_mm2(width, height)
    assert bead.bead_width_mm(area, height) == pytest.approx(width)
    assert math.pi / 4 * height**2 * (1 - 1e-12) <= area <= width * height
    assert bead.line_pitch_mm(width, height) * height == pytest.approx(float(area))
    assert bead.flow_ratio(width, width, height) == 1


def test_bead_just_outside_its_range() -> None:
    assert math.isnan(bead.bead_area_mm2(0.199, 0.2))
    assert bead.bead_area_mm2(0.2, 0.2) == pytest.approx(math.pi / 4 * 0.04)
    assert math.isnan(bead.bead_width_mm(0.03, 0.2))


def test_lumped_cooling_just_outside_its_range() -> None:
    # a square bar 4 mm wide: area over perimeter 1 mm, Bi = h 1e-3 / k
    inside = cooling.cooling_time_constant(16e-6, 16e-3, 1000, 1000, 1.0, 99.9)
    outside = cooling.cooling_time_constant(16e-6, 16e-3, 1000, 1000, 1.0, 100.1)
    assert inside == pytest.approx(1e3 / 99.9)
    assert math.isnan(outside)
    assert math.isnan(cooling.time_to_cool(1.0, 200.0, 25.0, 25.0))
    assert cooling.time_to_cool(1.0, 200.0, 25.0, 200.0) == 0


def test_fin_tends_to_the_lumped_body_when_it_moves_fast() -> None:
    args = 0.08e-6, 1.1e-3, 1050.0, 2080.0, 0.177, 60.0
    tau = float(cooling.cooling_time_constant(*args[:2], 1050.0, 2080.0, 0.177, 60.0))
    fast = 10.0
    assert 1 / (float(cooling.fin_decay(fast, *args)) * fast) == pytest.approx(tau, rel=1e-6)


def test_joint_starts_at_the_mean_and_ends_at_the_body() -> None:
    first, last = cooling.interface_temperature(2e-4, 1e-7, 230.0, 80.0, np.array([1e-9, 1e6]))
    assert first == pytest.approx(155)
    assert last == pytest.approx(80, abs=0.1)


def test_air_that_hardly_moves_has_no_answer() -> None:
    assert math.isnan(cooling.cylinder_film_coefficient(1e-3, 1e-4, 2e-5, 0.03, 0.7))
    assert math.isnan(cooling.wall_film_coefficient(1e3, 1.0, 2e-5, 0.03, 0.7))


def test_shifts_are_one_at_the_reference_and_healing_never_exceeds_one() -> None:
    assert weld.wlf_shift(80.0, 80.0) == 0
    assert weld.arrhenius_shift(200.0, 200.0, 8e4) == 0
    assert np.all(np.isnan(weld.wlf_shift(np.array([79.9, 180.1]), 80.0)))
    assert weld.healing_degree(np.array([1e9]), np.array([1.0])) == 1
    assert weld.healing_degree(np.array([0.0]), np.array([1.0])) == 0
    many = weld.healing_degree(np.full((3, 4), 2.0), np.full((3, 4), 100.0))
    assert np.allclose(many, 0.08**0.25)


@SMALL
@given(st.floats(0.05, 5), st.floats(0.05, 5), st.floats(0.1, 10), st.floats(0.1, 10))
def test_bimetal_does_not_care_which_layer_is_named_first(t1: float, t2: float, e1: float, e2: float) -> None:
    one = warp.bimetal_curvature(t1, t2, e1, e2, 1e-3)
    assert warp.bimetal_curvature(t2, t1, e2, e1, 1e-3) == pytest.approx(float(one))
    assert warp.bimetal_curvature(t1, t2, e1, e2, -1e-3) == pytest.approx(-float(one))


def test_a_single_layer_has_nothing_to_bend() -> None:
    assert math.isnan(warp.stack_radius(1, 0.2, 9e-5, 80))


def test_moisture_is_even_handed() -> None:
    f = np.geomspace(1e-6, 2, 100)
    shares = moisture.strand_uptake(f)
    assert np.all(np.diff(shares) > 0)
    assert moisture.strand_uptake(0.0) == 0
    inside = (shares > 1e-3) & (shares < 1 - 1e-6)
    assert np.allclose(moisture.strand_number(shares[inside]), f[inside], rtol=1e-3)
    assert math.isnan(moisture.strand_number(1.0))
    assert moisture.diffusivity_at(3e-12, 23, 45e3, 23) == 3e-12
    assert moisture.oven_humidity_percent(23, 50, 23) == 50


@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.8])
def test_winding_comes_back_and_dries_faster_the_smaller_its_hub(ratio: float) -> None:
    shares = np.array([0.2, 0.5, 0.9])
    times = moisture.winding_number(shares, ratio)
    assert np.allclose(moisture.winding_uptake(times, ratio), shares, atol=1e-6)
    assert np.all(times < moisture.winding_number(shares, ratio + 0.1))
    assert np.all(np.isnan(moisture.winding_number(np.array([0.05, 1.0]), ratio)))
    assert math.isnan(moisture.winding_uptake(0.001, ratio))


def test_equal_masses_add_equal_cubes() -> None:
    radii = wear.worn_bore_radius(0.2e-3, 5.0, np.array([0.0, 0.5, 1.0]), 1200.0, 1.3e9)
    assert radii[0] == pytest.approx(0.2e-3)
    assert np.diff(radii**3)[0] == pytest.approx(np.diff(radii**3)[1])
    assert wear.worn_volume(1e-3, 1, 1, 2e9) == pytest.approx(float(wear.worn_volume(1e-3, 1, 1, 1e9)) / 2)


@SMALL
@given(st.floats(10, 300), st.floats(5, 200))
def test_ripples_come_back_and_double_with_speed(speed: float, hz: float) -> None:
    spacing = ringing.ripple_spacing_mm(speed, hz)
    assert ringing.ripple_frequency_hz(speed, spacing) == pytest.approx(hz)
    assert ringing.ripple_spacing_mm(2 * speed, hz) == pytest.approx(2 * float(spacing))
    height = ringing.ripple_height_mm(3000, hz)
    assert ringing.accel_for_height_mm_s2(height, hz) == pytest.approx(3000)
    assert ringing.ripple_decay(0.0, spacing, 0.05) == 1


def test_a_cycle_in_step_with_the_layers_stands_still() -> None:
    assert marks.apparent_layers(20.0, 60.0) == math.inf
    assert marks.apparent_layers(30.0, 20.0) == pytest.approx(3.0)
    assert np.allclose(marks.tooth_spacing_two_belts_mm(2.0, 90.0), 2.0)


@SMALL
@given(st.floats(-2, 2), st.floats(5, 200))
def test_skew_comes_back(skew: float, diameter: float) -> None:
    longest, shortest = roundness.skewed_diameters_mm(diameter, skew)
    assert longest * shortest == pytest.approx(diameter**2)  # a shear keeps the area
    assert roundness.skew_from_diameters(longest, shortest) == pytest.approx(abs(skew), abs=1e-6)
    if abs(skew) > 1e-9:  # below that the sense of the shear is lost in rounding
        assert roundness.long_axis_deg(-skew) == pytest.approx(-float(roundness.long_axis_deg(skew)))


@SMALL
@given(st.floats(-1, 1), st.floats(-0.01, 0.01))
def test_four_callipers_tell_skew_from_scale(skew: float, scale: float) -> None:
    shear = np.array([[1 + scale / 2, math.tan(math.radians(skew))], [0.0, 1 - scale / 2]])
    inverse = np.linalg.inv(shear)
    angles = np.radians([0, 45, 90, 135])
    # calliper jaws are tangent planes: the support width of the ellipse along each direction
    widths = 50 * np.linalg.norm(np.array([np.cos(angles), np.sin(angles)]).T @ np.linalg.inv(inverse), axis=1)
    found, difference, mean = roundness.skew_and_scale(*widths)
    assert found == pytest.approx(skew, abs=0.03)
    assert difference == pytest.approx(scale, abs=6e-4)
    assert mean == pytest.approx(50, rel=2e-3)


def test_relay_with_too_wide_a_band_has_no_answer() -> None:
    assert math.isnan(heater.ultimate_gain(50, 1.0, 1.0))
    assert heater.ultimate_gain(100, 5) == pytest.approx(2 * float(heater.ultimate_gain(50, 5)))


def test_clamped_beam_and_catenary_limits() -> None:
    assert sag.catenary_sag(1e-3, 0.01, 1.0) == pytest.approx(1e-3 * 0.01**2 / 8, rel=1e-4)  # taut: a parabola
    assert sag.slack_sag(20.0, 0.0) == 0
    assert sag.molten_sag_rate(1e-3, 0.02, 3e3, 1e-15) == pytest.approx(
        16 * float(sag.molten_sag_rate(1e-3, 0.01, 3e3, 1e-15))
    )


def test_length_and_mass_come_back() -> None:
    metres = mass.filament_length_m(0.25, 1270, 1.75)
    assert mass.filament_mass_g(metres * 1e3, 1270, 1.75) == pytest.approx(250)
    assert mass.expected_cost(2.0, 1.0) == 2
    with pytest.raises(ValueError, match="chance"):
        mass.expected_cost(2.0, 1.5)


MODELS = [
    function
    for module in (bead, belts, cooling, marks, mass, melt, moisture, ringing, sag, warp, wear)
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
]
FREE = {
    "x",
    "y",
    "a",
    "b",
    "f",
    "theta",
    "share",
    "mismatch",
    "curvature",
    "biot",
    "radius_ratio",
    "cells",
    "angle_deg",
}


def signed(parameter: str) -> bool:
    """Whether a parameter may be negative: a temperature, a difference, a coordinate."""
    return parameter in FREE or parameter.endswith(("_c", "_k")) or parameter in ("temp_c", "excess")


@pytest.mark.parametrize("function", MODELS, ids=lambda function: f"{function.__module__[19:]}.{function.__name__}")
def test_impossible_arguments_are_named(function) -> None:  # type: ignore[no-untyped-def]
    names = [p.name for p in inspect.signature(function).parameters.values()]
    good = {name: 0.5 if name in ("chance", "radius_ratio", "share", "theta") else 2.0 for name in names}
    good |= {name: value for name, value in (("air_c", 1.0), ("inlet_c", 0.5), ("poisson", 0.3)) if name in names}
    for name in names:
        if signed(name) or name in ("harmonic", "poisson", "shrink_percent"):
            continue
        with pytest.raises(ValueError, match=name):
            function(**{**good, name: -1.0})


def test_scalars_and_arrays_take_the_same_path() -> None:
    widths = np.array([0.40, 0.45, 0.10])
    areas = bead.bead_area_mm2(widths, 0.2)
    assert areas.shape == (3,)
    assert np.array_equal(areas, [bead.bead_area_mm2(w, 0.2) for w in widths], equal_nan=True)
    assert bead.bead_area_mm2(0.4, 0.2).shape == ()
    flows = melt.largest_flow(6e-8, np.array([0.012, 0.02]), 240.0, 25.0, 170.0)
    assert flows.shape == (2,)
    assert widths.tolist() == [0.40, 0.45, 0.10]  # arguments stay as they were


def test_bessel_beyond_its_range_is_nan() -> None:
    assert math.isnan(bessel.j0(40.1))
    assert math.isnan(bessel.j1(-40.1))
    assert bessel.j0(40.0) == pytest.approx(0.00736689058423, abs=1e-12)  # computed with a library
