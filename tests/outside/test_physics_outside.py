"""The models against something outside: handbook tables, worked examples, a general numerics library.

Beside each check stands its source and how it is known:

    verified   the value was read in a public text
    memory     recalled from the cited work; the page was not seen
    computed   evaluated by another route: a library's Bessel functions, quadrature, simulation

Tags in brackets are those of knowledge/sources.toml.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, optimize, special

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


def near(value: float, rel: float = 1e-6, absolute: float = 0.0) -> object:
    return pytest.approx(value, rel=rel, abs=absolute)


# --------------------------------------------------------------------------------------- belts and steppers


def test_two_belt_matrices_are_those_of_the_course_page() -> None:
    # verified, [TwoBeltCourse]: head = [0.5 0.5; 0.5 -0.5] belts, belts = [1 1; 1 -1] head
    forward, back = np.array([[0.5, 0.5], [0.5, -0.5]]), np.array([[1.0, 1.0], [1.0, -1.0]])
    points = np.array([[3.0, 1.0], [-2.5, 7.25], [0.0, 0.0]]).T
    assert np.array_equal(np.array(belts.belts_from_head(*points)), back @ points)
    assert np.array_equal(np.array(belts.head_from_belts(*points)), forward @ points)


def test_one_slipping_belt_moves_the_head_along_the_diagonal() -> None:
    # computed: 0.8 mm on belt a -> (0.4, 0.4), 0.565685 mm at 45°; one 2 mm tooth on b -> (1, -1), 1.414214
    # mm at -45°
    dx, dy = belts.head_from_belts(0.8, 0.0)
    assert (math.hypot(dx, dy), math.degrees(math.atan2(dy, dx))) == (near(0.565685, 1e-6), near(45.0))
    dx, dy = belts.head_from_belts(0.0, 2.0)
    assert (math.hypot(dx, dy), math.degrees(math.atan2(dy, dx))) == (near(1.414214, 1e-6), near(-45.0))


@pytest.mark.parametrize(
    ("step_deg", "microsteps", "teeth", "pitch", "per_mm", "quantum"),
    [(1.8, 16, 20, 2.0, 80, 0.8), (1.8, 16, 16, 2.0, 100, 0.64), (0.9, 16, 20, 2.0, 160, 0.4)],
)
def test_steps_per_mm(
    step_deg: float, microsteps: int, teeth: int, pitch: float, per_mm: float, quantum: float
) -> None:
    # computed by hand: (360/step) * microsteps / (teeth * pitch); four full steps, [Acarnley2002] memory
    assert belts.steps_per_mm(step_deg, microsteps, teeth, pitch) == near(per_mm)
    assert belts.slip_quantum_mm(step_deg, teeth, pitch) == near(quantum)


def test_the_rotor_settles_one_period_away() -> None:
    # computed: two-phase torque of an energised motor is periodic in four full steps, [KenjoSugawara1994]
    # memory; a rotor let go just beyond the unstable point runs to the next stable one, here by damped
    # simulation
    def motion(_: float, state: np.ndarray) -> list[float]:
        return [state[1], -math.sin(math.pi / 2 * state[0]) * 400 - 30 * state[1]]  # angle in full steps

    end = integrate.solve_ivp(motion, (0, 5), [2.05, 0.0], rtol=1e-9, atol=1e-9).y[0, -1]
    assert end == near(belts.FULL_STEPS_PER_PERIOD, absolute=1e-6)


def test_belt_pulley_pitch_diameter() -> None:
    # memory, [ISO5294]: pitch diameter = teeth * pitch / pi, 20 teeth of 2 mm -> 12.7324 mm
    assert belts.full_step_mm(1.8, 20, 2.0) * 200 / math.pi == near(12.7324, 1e-5)


@pytest.mark.parametrize(("span", "tension", "hz"), [(0.15, 20.0, 166.6667), (0.20, 30.0, 153.0931)])
def test_mersenne_string(span: float, tension: float, hz: float) -> None:
    # Mersenne 1636 as in [FletcherRossing1998] ch. 2 (memory); values computed
    assert belts.string_frequency_hz(span, tension, 0.008) == near(hz)
    assert belts.string_tension_n(hz, span, 0.008) == near(tension)


def test_stiff_spans_against_a_discretised_beam_under_tension() -> None:
    # computed: E I y'''' - T y'' = mu w² y by finite differences; formula [FletcherRossing1998] sec. 2.18
    # (memory)
    span, tension, mu, stiff, n = 0.20, 30.0, 0.008, 2e-5, 240
    step = span / n
    second = (np.diag(np.full(n - 1, -2.0)) + np.diag(np.ones(n - 2), 1) + np.diag(np.ones(n - 2), -1)) / step**2
    pinned = stiff * second @ second - tension * second
    found = math.sqrt(np.linalg.eigvalsh(pinned)[0] / mu) / (2 * math.pi)
    assert belts.pinned_span_frequency_hz(span, tension, mu, stiff) == near(found, 1e-5)
    clamped = pinned.copy()
    clamped[0, 0] += 2 * stiff / step**4  # a mirrored neighbour holds the slope at zero
    clamped[-1, -1] += 2 * stiff / step**4
    found = math.sqrt(np.linalg.eigvalsh(clamped)[0] / mu) / (2 * math.pi)
    assert belts.clamped_span_frequency_hz(span, tension, mu, stiff) == near(found, 2e-3)


# ------------------------------------------------------------------------------------------------ melt zone


def test_bessel_functions_and_zeros_against_the_library() -> None:
    x = np.linspace(-40, 40, 2001)
    assert np.allclose(bessel.j0(x), special.j0(x), rtol=0, atol=1e-13)
    assert np.allclose(bessel.j1(x), special.j1(x), rtol=0, atol=1e-13)
    assert np.allclose(bessel.J0_ZEROS, special.jn_zeros(0, 6), rtol=1e-15)
    assert np.allclose(bessel.J1_ZEROS[1:], special.jn_zeros(1, 5), rtol=1e-15)
    assert np.allclose(bessel.J1_AT_J0_ZEROS, special.j1(special.jn_zeros(0, 6)), rtol=1e-13)


# memory, [Incropera2007] Table 5.1, infinite cylinder: Bi, zeta_1 [rad], C_1
ONE_TERM_TABLE = [
    (0.01, 0.1412, 1.0025), (0.02, 0.1995, 1.0050), (0.05, 0.3143, 1.0124), (0.1, 0.4417, 1.0246),
    (0.2, 0.6170, 1.0483), (0.3, 0.7465, 1.0712), (0.5, 0.9408, 1.1143), (1.0, 1.2558, 1.2071),
    (2.0, 1.5994, 1.3384), (3.0, 1.7887, 1.4191), (4.0, 1.9081, 1.4698), (5.0, 1.9898, 1.5029),
    (10.0, 2.1795, 1.5677), (20.0, 2.2880, 1.5919), (50.0, 2.3572, 1.6002),
]  # fmt: skip


@pytest.mark.parametrize(("biot", "zeta", "weight"), ONE_TERM_TABLE)
def test_one_term_cylinder_table(biot: float, zeta: float, weight: float) -> None:
    root = optimize.brentq(lambda z: z * special.j1(z) - biot * special.j0(z), 1e-9, special.jn_zeros(0, 1)[0])
    assert root == near(zeta, absolute=1e-4)  # the printed table against the library
    ours = melt.convective_roots(biot)
    assert ours[0] == near(root, 1e-10)
    at_axis = melt.convective_theta(0.0, 1.0, biot)
    assert at_axis * math.exp(root**2) == near(weight, 3e-3)  # C_1, higher terms gone at Fo = 1
    assert melt.convective_theta(0.0, 3.0, biot) * math.exp(3 * root**2) == near(weight, absolute=1e-4)


def test_convective_cylinder_full_series() -> None:
    # verified, [NellisKlein]: r/R 0.3, Fo 0.23, Bi 1.02 -> 0.8034
    assert melt.convective_theta(0.3, 0.23, 1.02) == near(0.8034, absolute=5e-5)


def test_held_wall_is_the_limit_of_a_perfect_film() -> None:
    assert melt.convective_theta(0.0, 0.3, 1e5) == near(float(melt.axis_theta(0.3)), 1e-4)


@pytest.mark.parametrize(
    ("fo", "axis", "mean"), [(0.1, 0.84836, 0.39418), (0.2, 0.50149, 0.21785), (0.4, 0.15849, 0.06843)]
)
def test_held_wall_series(fo: float, axis: float, mean: float) -> None:
    # computed with 40 terms from a library's zeros; series [CarslawJaeger1959] sec. 7.6 (memory)
    q = special.jn_zeros(0, 40)
    assert np.sum(2 / (q * special.j1(q)) * np.exp(-q * q * fo)) == near(axis, absolute=1e-5)
    assert melt.axis_theta(fo) == near(axis, absolute=1e-5)
    assert melt.mean_theta(fo) == near(mean, absolute=1e-5)


def test_six_terms_and_short_forms_hold_for_every_fo() -> None:
    q = special.jn_zeros(0, 400)
    fo = np.geomspace(1e-4, 2, 120)
    axis = np.sum(2 / (q * special.j1(q)) * np.exp(-np.outer(fo, q * q)), axis=1)
    mean = np.sum(4 / q**2 * np.exp(-np.outer(fo, q * q)), axis=1)
    late = fo > 3e-4  # 400 alternating terms of the library's own series settle from here on
    assert np.allclose(melt.axis_theta(fo)[late], axis[late], rtol=0, atol=1e-4)
    assert np.allclose(melt.mean_theta(fo), mean, rtol=0, atol=1e-4)


def test_melt_zone_example() -> None:
    # computed: alpha 6e-8, L 12 mm, Q 10 mm³/s, 25 -> 215 °C; L 20 mm
    assert melt.fourier_number(6e-8, 0.012, 1e-8) == near(0.226195, 2e-6)
    assert melt.core_temperature(215, 25, melt.fourier_number(6e-8, 0.012, 1e-8)) == near(132.92, absolute=5e-3)
    assert melt.core_temperature(215, 25, melt.fourier_number(6e-8, 0.020, 1e-8)) == near(180.60, absolute=5e-3)
    # theta_c 0.342 -> 8.471 mm³/s by one term, which at this Fo is 0.1 % off the series
    wall = 25 + (150 - 25) / (1 - 0.342)
    assert melt.largest_flow(6e-8, 0.012, wall, 25, 150) == near(8.471e-9, 2e-3)
    assert melt.melt_power(1240, 1e-8, 1800, 190) == near(4.2408)
    assert melt.nozzle_pressure(500, 0.6e-3, 0.2e-3, 1e-8) == near(4.775e6, 1e-4)


def test_heated_strand_against_finite_differences() -> None:
    # computed: radial conduction in a cylinder with its surface held, implicit steps; a route without any
    # series
    n, fo_end, steps = 200, 0.226195, 4000
    r = (np.arange(n) + 0.5) / n
    faces = np.arange(1, n) / n
    link = faces * n / 1.0
    matrix = np.zeros((n, n))
    for i, g in enumerate(link):
        matrix[i, i] -= g
        matrix[i, i + 1] += g
        matrix[i + 1, i + 1] -= g
        matrix[i + 1, i] += g
    matrix[-1, -1] -= 2 * n
    matrix /= (r / n)[:, None]
    step = np.linalg.inv(np.eye(n) - fo_end / steps * matrix)
    theta = np.linalg.matrix_power(step, steps) @ np.ones(n)
    assert melt.axis_theta(fo_end) == near(theta[0], absolute=2e-3)
    assert melt.mean_theta(fo_end) == near(float(np.sum(theta * r) / np.sum(r)), absolute=1e-3)


# ----------------------------------------------------------------------------------------------------- bead


@pytest.mark.parametrize(
    ("w", "h", "area", "feed", "pitch"),
    [
        (0.45, 0.20, 0.0814159, 0.0338488, 0.4070796),
        (0.40, 0.20, 0.0714159, 0.0296913, 0.3570796),
        (0.42, 0.28, 0.1007752, 0.0418975, 0.3599115),
        (0.20, 0.20, 0.0314159, 0.0130612, 0.1570796),
    ],
)
def test_bead_section(w: float, h: float, area: float, feed: float, pitch: float) -> None:
    # computed from the stadium; the area also by quadrature of its outline
    def width_at(z: float) -> float:
        return w - h + 2 * math.sqrt(max((h / 2) ** 2 - (z - h / 2) ** 2, 0.0))

    assert integrate.quad(width_at, 0, h)[0] == near(area, 1e-6)
    assert bead.bead_area_mm2(w, h) == near(area, 1e-6)
    assert bead.filament_per_path(w, h, 1.75) == near(feed, 2e-6)
    assert bead.line_pitch_mm(w, h) == near(pitch, 1e-6)


def test_filament_sections_and_diameter_errors() -> None:
    # computed
    assert bead.filament_area_mm2(1.75) == near(2.405282)
    assert bead.filament_area_mm2(2.85) == near(6.379397)
    assert bead.diameter_flow_factor(1.70, 1.75) == near(0.943673)
    assert bead.diameter_flow_factor(1.80, 1.75) == near(1.057959)


# -------------------------------------------------------------------------------------------------- cooling


def test_film_coefficient_of_the_handbook_cylinder() -> None:
    # memory, [Incropera2007] Example 7.4: 12.7 mm, 10 m/s, air at 350 K -> Re 6071, Nu 40.6, h 96 W/(m² K)
    h = cooling.cylinder_film_coefficient(10.0, 12.7e-3, 20.92e-6, 0.030, 0.70)
    assert h == near(96, absolute=0.5)
    assert h * 12.7e-3 / 0.030 == near(40.6, absolute=0.05)


def test_film_coefficients_of_strand_and_wall() -> None:
    # computed from [ChurchillBernstein1977] and the laminar plate (both memory)
    air = 20.92e-6, 0.030, 0.70
    strand = cooling.cylinder_film_coefficient(np.array([1.0, 3.0, 5.0]), 0.4e-3, *air)
    wall = cooling.wall_film_coefficient(np.array([1.0, 3.0, 5.0]), 0.03, *air)
    assert np.allclose(strand, [181.2, 297.9, 378.6], atol=0.06)
    assert np.allclose(wall, [22.33, 38.67, 49.92], atol=6e-3)


def test_lumped_bead() -> None:
    # computed: bead 0.45 x 0.20, top and flanks in air of 25 °C
    area, perimeter = float(bead.bead_area_mm2(0.45, 0.20)) * 1e-6, ((0.45 - 0.2) + math.pi * 0.2) * 1e-3
    tau = cooling.cooling_time_constant(area, perimeter, 1050, 1400, 0.2, 60)
    assert perimeter * 1e3 == near(0.87832, 1e-5)
    assert tau == near(2.27103, 1e-5)
    assert cooling.biot_number(area, perimeter, 60, 0.2) == near(0.0278, absolute=5e-5)
    assert cooling.time_to_cool(tau, 230, 25, 105) == near(2.13700, 1e-5)


def test_lumped_body_against_the_exact_cylinder() -> None:
    # computed: Bi 0.1, Fo 5 (on R): mean of the exact series 0.37696, lumped 0.36788, 2.4 % low
    zeta = melt.convective_roots(0.1)
    mean = np.sum(
        4 / zeta**2 * special.j1(zeta) ** 2 / (special.j0(zeta) ** 2 + special.j1(zeta) ** 2) * np.exp(-(zeta**2) * 5)
    )
    tau = float(cooling.cooling_time_constant(math.pi, 2 * math.pi, 1.0, 1.0, 1.0, 0.1))  # R = 1
    assert mean == near(0.37696, 1e-4)
    assert math.exp(-5 / tau) == near(0.36788, 1e-4)


def test_moving_fin() -> None:
    # computed; conduction along the bead hardly matters: 2.62664 s against 2.62651 s lumped
    area = float(bead.bead_area_mm2(0.45, 0.20)) * 1e-6
    m = cooling.fin_decay(0.025, area, 1.12832e-3, 1050, 2080, 0.177, 60)
    assert m == near(15.2286, 1e-5)
    assert 1 / (m * 0.025) == near(2.62664, 1e-5)
    assert cooling.cooling_time_constant(area, 1.12832e-3, 1050, 2080, 0.177, 60) == near(2.62651, 1e-5)


@pytest.mark.parametrize(("time", "temp"), [(0.1, 154.649), (0.4, 143.203), (1.0, 127.168)])
def test_joint_of_layer_and_body(time: float, temp: float) -> None:
    # computed: heat kernel over the layer and its mirror image, by quadrature
    s, alpha = 0.2e-3, 1e-7
    spread = math.sqrt(4 * alpha * time)
    share = integrate.quad(lambda x: math.exp(-((x / spread) ** 2)) / (spread * math.sqrt(math.pi)), 0, 2 * s)[0]
    assert 80 + 150 * share == near(temp, 1e-5)
    assert cooling.interface_temperature(s, alpha, 230, 80, time) == near(temp, 1e-5)


def test_air_alone_does_not_explain_the_measured_weld() -> None:
    # verified, [SeppalaMigler2016] abstract: about 100 K/s in ABS, about 1 s above Tg. By air alone the first
    # second takes a good third of the excess, half of that rate; the joint with the layer below falls far
    # faster at first.
    area, perimeter = float(bead.bead_area_mm2(0.45, 0.20)) * 1e-6, 0.87832e-3
    tau = float(cooling.cooling_time_constant(area, perimeter, 1050, 1400, 0.2, 60))
    assert (230 - 25) / tau < 100
    drop = 230 - float(cooling.interface_temperature(0.2e-3, 1e-7, 230, 80, 1.0))
    assert 60 < drop < 150


# ------------------------------------------------------------------------------------------ weld and warp


def test_wlf_universal_constants() -> None:
    # constants [Williams1955], memory; form verified, [IUPAC12821]; values computed
    shifts = weld.wlf_shift(np.array([10.0, 50.0, 100.0]), 0.0)
    assert np.allclose(shifts, [-2.83117, -8.58268, -11.50396], atol=5e-6)


def test_healing() -> None:
    # computed from the fourth-root law, [WoolOConnor1981] memory
    assert weld.healing_degree(np.array([50 / 16]), np.array([50.0])) == near(0.5)
    assert weld.healing_degree(np.array([50 / 81]), np.array([50.0])) == near(1 / 3)
    assert weld.healing_degree(np.array([2.0, 3.0]), np.array([50.0, 200.0])) == near(0.484273)


def test_bimetal_cantilever() -> None:
    # verified, [BimetalExample] E.15: L 3000, equal halves of 150, mismatch 5e-6 * 50 -> tip 5.625
    curvature = warp.bimetal_curvature(150.0, 150.0, 1.0, 1.0, 5e-6 * 50)
    assert warp.free_tip_rise(3000.0, curvature) == near(5.625, 1e-9)


def test_bimetal_strip_of_two_metals() -> None:
    # formula [Timoshenko1925], memory; R 1303.571 mm computed, here also by balance of forces and moments
    t1, t2, e1, e2, strain = 1.0, 1.0, 70.0, 200.0, 11e-6 * 100
    inertia1, inertia2 = t1**3 / 12, t2**3 / 12
    arm = (t1 + t2) / 2
    # force F: curvature = F arm/(E1 I1 + E2 I2); strains meet: strain = F/(E1 t1) + F/(E2 t2) + curvature arm
    rigid = e1 * inertia1 + e2 * inertia2
    force = strain / (1 / (e1 * t1) + 1 / (e2 * t2) + arm**2 / rigid)
    assert rigid / (force * arm) == near(1303.571, 1e-6)
    assert 1 / warp.bimetal_curvature(t1, t2, e1, e2, strain) == near(1303.571, 1e-6)


@pytest.mark.parametrize(
    ("n", "drop", "lift"), [(5, 80, 6.86808), (20, 80, 0.512982), (40, 80, 0.131625), (20, 35, 0.224436)]
)
def test_stack_of_layers(n: int, drop: float, lift: float) -> None:
    # formula [WangXiJin2007], memory; values computed; identical with a bimetal of n - 1 layers under one
    radius = warp.stack_radius(n, 0.25, 90e-6, drop)
    assert warp.corner_lift(100.0, radius) == near(lift, 1e-5)
    assert 1 / warp.bimetal_curvature((n - 1) * 0.25, 0.25, 1.0, 1.0, 90e-6 * drop) == near(float(radius), 1e-12)


def test_locked_stress() -> None:
    # computed: 2.0 GPa * 90e-6 * 80 = 14.4 MPa; 22.1538 MPa in two directions at Poisson 0.35
    assert warp.locked_stress(2000.0, 90e-6, 80.0) == near(14.4)
    assert warp.locked_plate_stress(2000.0, 90e-6, 80.0, 0.35) == near(22.1538, 1e-5)


# ------------------------------------------------------------------------------------------------- moisture


@pytest.mark.parametrize(
    ("f", "share"),
    [
        (0.0001, 0.0224674), (0.01, 0.215474), (0.05, 0.452121), (0.1, 0.605824), (0.2, 0.782148),
        (0.4, 0.93157), (0.6, 0.97848), (1.0, 0.99787),
    ],
)  # fmt: skip
def test_crank_cylinder(f: float, share: float) -> None:
    # [Crank1975] eq. 5.23 (memory), computed with 2000 terms of a library's zeros
    q = special.jn_zeros(0, 2000)
    assert 1 - np.sum(4 / q**2 * np.exp(-q * q * f)) == near(share, absolute=1.5e-4 if f < 0.001 else 1e-5)
    assert moisture.strand_uptake(f) == near(share, absolute=2e-5)


@pytest.mark.parametrize(("share", "f"), [(0.5, 0.063058), (0.9, 0.334413), (0.99, 0.732557)])
def test_crank_times(share: float, f: float) -> None:
    # half time D t/a² = 0.063: memory of [Crank1975]; digits computed
    assert moisture.strand_number(share) == near(f, 1e-4)


@pytest.mark.parametrize(("diffusivity", "hours"), [(1e-12, 13.41), (3e-12, 4.470), (2e-13, 67.05)])
def test_half_time_of_a_strand(diffusivity: float, hours: float) -> None:
    # computed for 1.75 mm
    assert float(moisture.strand_number(0.5)) * 0.875e-3**2 / diffusivity / 3600 == near(hours, 1e-3)


def test_plane_sheet_half_time_constant() -> None:
    # verified, [PlaneSheetExample]: D 1e-10, half thickness 0.2 mm, 100 s -> uptake 0.562233541762 (checks
    # the series), from which the one-face half time 0.19674 l²/D of the pack model follows
    n = 2 * np.arange(500) + 1

    def uptake(f: float) -> float:
        return float(1 - np.sum(8 / (n * math.pi) ** 2 * np.exp(-((n * math.pi / 2) ** 2) * f)))

    assert uptake(1e-10 * 100 / 0.2e-3**2) == near(0.562233541762, absolute=1e-12)
    assert near(optimize.brentq(lambda f: uptake(f) - 0.5, 0.01, 1), 1e-5) == moisture.SLAB_HALF_TIME


@pytest.mark.parametrize(("f", "share"), [(0.05, 0.33842), (0.2, 0.62917), (0.5, 0.86962)])
def test_hollow_winding_with_sealed_hub(f: float, share: float) -> None:
    # computed with the roots of J1(p r1) Y0(p r2) = J0(p r2) Y1(p r1), [Crank1975] sec. 5.4 (memory), r1/r2
    # 0.4
    r1, r2 = 0.4 / 0.6, 1 / 0.6

    def cross(p: float) -> float:
        return float(special.j1(p * r1) * special.y0(p * r2) - special.j0(p * r2) * special.y1(p * r1))

    grid = np.linspace(0.05, 200, 20000)
    values = [cross(p) for p in grid]
    roots = np.array(
        [
            optimize.brentq(cross, a, b)
            for a, b, va, vb in zip(grid, grid[1:], values, values[1:], strict=False)
            if va * vb < 0
        ]
    )
    j1, y1 = special.j1(roots * r1), special.y1(roots * r1)
    end = special.y0(roots * r2), special.j0(roots * r2), special.y1(roots * r2), special.j1(roots * r2)
    slope = r2 * (end[3] * y1 - end[2] * j1)  # flux of J0(pr) Y1(p r1) - Y0(pr) J1(p r1) at r2, over p
    norm = (
        r2**2 * (end[3] * y1 - end[2] * j1) ** 2
        - r1**2 * (special.j0(roots * r1) * y1 - special.y0(roots * r1) * j1) ** 2
    ) / 2
    left = np.sum((slope / roots) ** 2 / norm * np.exp(-(roots**2) * f)) / ((r2**2 - r1**2) / 2)
    assert 1 - left == near(share, absolute=2e-4)
    assert moisture.winding_uptake(f, 0.4) == near(share, absolute=1e-3)


def test_hollow_winding_half_time() -> None:
    # computed: r1/r2 0.4, sealed hub: 0.11755; a thin winding tends to the flat slab, 0.19674
    assert moisture.winding_number(0.5, 0.4) == near(0.11755, 2e-3)
    assert moisture.winding_number(0.5, 0.9995) == near(0.19674, 2e-3)


@pytest.mark.parametrize(("activation", "start", "end", "factor"), [(50_000, 23, 70, 16.139), (43_000, 20, 100, 43.91)])
def test_arrhenius_diffusivity(activation: float, start: float, end: float, factor: float) -> None:
    assert moisture.diffusivity_at(1.0, start, activation, end) == near(factor, 2e-4)  # computed


def test_polyetherimide_diffusivities_imply_their_activation_energy() -> None:
    # verified data, [Merdas2000]: about 1e-12 at 20 °C, 16e-12 at 100 °C -> 31.52 kJ/mol (computed)
    assert moisture.diffusivity_at(1e-12, 20, 31_520, 100) == near(16e-12, 2e-3)


@pytest.mark.parametrize(
    ("density", "uptake", "temps"),
    [
        (1240, 0.3, {23: 5.9e-9, 50: 2.8e-8, 80: 1.2e-7}),
        (1210, 0.5, {23: 3.7e-9, 50: 1.7e-8, 80: 7.2e-8}),
        (1130, 2.8, {23: 6.9e-10, 50: 3.3e-9, 80: 1.4e-8}),
    ],
)
def test_pack_diffusivity(density: float, uptake: float, temps: dict[int, float]) -> None:
    # derived, a factor of two either way; the digits computed a second time with tabulated vapour pressures
    pressures = {23: 2810.0, 50: 12_352.0, 80: 47_414.0}  # Pa, steam tables, memory
    for temp, expected in temps.items():
        vapour = 0.5 * pressures[temp] * 0.018015 / (8.314 * (temp + 273.15))
        partition = density * uptake / 100 / vapour
        by_hand = 2.5e-5 * ((temp + 273.15) / 296.15) ** 1.8 * 0.1 / 1.3 / (0.9 * partition + 0.1)
        assert by_hand == near(expected, 0.05)  # two digits printed
        assert moisture.pack_diffusivity(density, uptake, temp) == near(by_hand, 0.03)


def test_oven_air_is_not_dry() -> None:
    # steam tables (memory): 2810, 12352, 47414 Pa at 23, 50, 80 °C; Magnus stays within 3 % of them
    assert moisture.oven_humidity_percent(23, 50, 80) == near(50 * 2810 / 47_414, 0.03)
    assert moisture.oven_humidity_percent(23, 50, 50) == near(50 * 2810 / 12_352, 0.03)


# --------------------------------------------------------------------------------------------- wear, marks


def test_archard() -> None:
    # computed from [Archard1953] (memory): k 1e-3, 10 N, 1000 m, 1.5 GPa -> 6.6667 mm³
    assert wear.worn_volume(1e-3, 10, 1000, 1.5e9) == near(6.6667e-9, 1e-5)
    # the bore by small steps of mass against its closed form
    r, k, rho, hard = 0.2e-3, 10.0, 1200.0, 1.3e9
    steps = 20000
    for _ in range(steps):
        r += k / hard / (rho * math.pi * r * r) * 0.5 / steps
    assert wear.worn_bore_radius(0.2e-3, k, 0.5, rho, hard) == near(r, 1e-5)


def test_worn_bore_pressure() -> None:
    # computed: (0.40/0.45)^4, (0.40/0.50)^4
    assert wear.pressure_ratio(0.40, 0.45) == near(0.6243, 1e-4)
    assert wear.pressure_ratio(0.40, 0.50) == near(0.4096, 1e-4)


def test_marks() -> None:
    # computed identities
    area = float(bead.bead_area_mm2(0.45, 0.20))
    assert ringing.ripple_spacing_mm(100, 50) == near(2.0)
    assert marks.path_of_filament_mm(marks.gear_turn_filament_mm(11.0), 1.75, area) == near(1020.94, 1e-5)
    assert marks.path_of_filament_mm(marks.gear_turn_filament_mm(7.3), 1.75, area) == near(677.531, 1e-5)
    assert marks.gear_turn_filament_mm(160.0) == near(502.655)
    assert marks.path_of_filament_mm(marks.gear_turn_filament_mm(160.0), 1.75, area) == near(14850.0, 1e-5)
    assert marks.height_of_filament_mm(marks.gear_turn_filament_mm(160.0), 1.75, 200.0) == near(6.04513, 1e-5)
    assert marks.cycle_layers(30, 20) == near(1.5)
    assert marks.apparent_layers(22, 20) == near(11.0)
    a, b = marks.tooth_spacing_two_belts_mm(2.0, 45.0)
    assert (a, b) == (near(1.414214), math.inf)


def test_ripple_height_against_a_simulated_mass_on_a_spring() -> None:
    # computed: a carriage at constant deceleration stops; what swings on is a/w² about the end point
    w, accel = 2 * math.pi * 50, 3000.0
    swing = integrate.solve_ivp(
        lambda _, s: [s[1], -w * w * s[0]], (0, 0.1), [accel / w**2, 0.0], rtol=1e-9, atol=1e-12
    ).y[0]
    assert np.abs(swing).max() == near(float(ringing.ripple_height_mm(accel, 50)), 1e-6)


# ---------------------------------------------------------------------------------------- roundness, heater


@pytest.mark.parametrize(
    ("skew", "difference", "axis"),
    [(0.25, 0.218168, 44.9375), (0.5, 0.436343, 44.875), (1.0, 0.872753, 44.75)],
)
def test_skewed_circle(skew: float, difference: float, axis: float) -> None:
    # computed; also by singular values of the shear, a route of its own
    singular = np.linalg.svd(np.array([[1.0, math.tan(math.radians(skew))], [0.0, 1.0]]))
    longest, shortest = roundness.skewed_diameters_mm(50.0, skew)
    assert longest - shortest == near(difference, 4e-6)
    assert np.allclose([longest, shortest], 50 * singular.S)
    assert roundness.long_axis_deg(skew) == near(axis, absolute=1e-4)
    direction = math.degrees(math.atan2(*singular.U[::-1, 0])) % 180
    assert roundness.long_axis_deg(skew) == near(direction, absolute=1e-9)


def test_shrink() -> None:
    assert roundness.shrink_command_factor(0.6) == near(1.006036)  # computed


def test_relay_gain() -> None:
    # formula [AstromHagglund1984], memory; values computed
    assert heater.ultimate_gain(50, 5) == near(12.732395)
    assert heater.ultimate_gain(50, 5, 1) == near(12.994947)


def test_ziegler_nichols() -> None:
    # [ZieglerNichols1942], memory; values computed
    pid = heater.pid_settings(12.732395, 40)
    assert (float(pid.gain), float(pid.integral_s), float(pid.derivative_s)) == (near(7.639437), 20, 5)
    assert np.allclose(pid.parallel, [7.639437, 0.381972, 38.197186], rtol=1e-6)
    pi = heater.pi_settings(12.732395, 40)
    assert (float(pi.gain), float(pi.integral_s)) == (near(5.729578), near(33.3333, 1e-5))


@pytest.mark.parametrize(
    ("lag", "swing", "period", "true"),
    [(2, 0.393469, 3.327186, 3.806883), (10, 0.095163, 3.818057, 16.35055)],
)
def test_relay_cycle_and_how_far_the_estimate_falls_short(lag: float, swing: float, period: float, true: float) -> None:
    # computed two ways: closed form, and the true ultimate gain from the phase condition of the loop
    found, cycle = heater.relay_swing(1.0, 1.0, 1.0, lag)
    assert (found, cycle) == (near(swing, 5e-6), near(period, 2e-6))
    w = optimize.brentq(lambda x: x + math.atan(lag * x) - math.pi, 0.5, 3.0)
    assert math.hypot(1, lag * w) == near(true, 1e-6)
    assert 0.80 < heater.ultimate_gain(1.0, found) / true < 0.86


def test_relay_cycle_by_simulation() -> None:
    # computed: a relay on a delayed lag, stepped in time
    step, lag, delay = 1e-3, 2.0, 1.0
    out, relay, history = 0.01, 1.0, [1.0] * int(delay / step)
    trace, switches = [], []
    for i in range(40_000):
        if (relay > 0) == (out > 0):
            relay = -relay
            switches.append(i * step)
        history.append(relay)
        out += step * (history.pop(0) - out) / lag
        trace.append(out)
    swing, period = heater.relay_swing(1.0, 1.0, delay, lag)
    assert max(trace[20_000:]) == near(float(swing), 2e-3)
    assert 2 * np.mean(np.diff(switches[6:])) == near(float(period), 2e-3)


# ----------------------------------------------------------------------------------------------- mass, sag


@pytest.mark.parametrize(("density", "metres"), [(1240, 335.284), (1040, 399.761), (1270, 327.364), (1130, 367.922)])
def test_length_of_a_kilogram(density: float, metres: float) -> None:
    assert mass.filament_length_m(1.0, density, 1.75) == near(metres, 2e-6)  # computed


def test_length_of_thick_filament() -> None:
    assert mass.filament_length_m(1.0, 1240, 2.85) == near(126.415, 4e-6)  # computed
    assert mass.filament_mass_g(1000, 1240, 1.75) == near(2.982550)


def test_sagging_beams() -> None:
    # beams: [Roark], memory; values computed
    assert sag.pinned_sag(1000, 2, 200e9, 8e-6) == near(0.130208e-3, 1e-5)
    weight, inertia = sag.strand_weight(0.4e-3, 1200), sag.strand_inertia(0.4e-3)
    assert (weight, inertia) == (near(1.478808e-3), near(1.256637e-15))
    assert sag.pinned_sag(weight, 0.01, 2e9, inertia) == near(7.66145e-8, 1e-5)
    assert sag.molten_sag_rate(weight, 0.01, 3000, inertia) == near(17.025e-3, 1e-4)
    assert sag.catenary_sag(weight, 0.01, 1e-4) == near(0.184935e-3, 1e-5)


def test_slack_against_the_arc_length_of_a_parabola() -> None:
    # computed: 1 % excess on 20 mm -> 1.22 mm
    depth = float(sag.slack_sag(20.0, 0.01))
    assert depth == near(1.22, absolute=5e-3)
    arc = integrate.quad(lambda x: math.sqrt(1 + (8 * depth * x / 400) ** 2), -10, 10)[0]
    assert arc == near(20 * 1.01, 1e-4)
