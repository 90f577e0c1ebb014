"""Heat along the print: against closed forms where they exist, against construction where they do not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from beadwright.audit.heat_history import (
    healing_rate,
    heat_history,
    in_force,
    sets_at,
    usual_healing,
    wall_temperature,
)
from beadwright.audit.heat_kernels import column_of_layers, strand_temperatures, times_since_below
from beadwright.facts import Facts
from beadwright.knowledge.material_table import load_materials
from beadwright.physics.cooling import cooling_time_constant, interface_temperature
from beadwright.physics.melt import core_temperature, fourier_number
from beadwright.physics.weld import arrhenius_shift
from beadwright.toolpath.columns import Events
from specimens.toolpaths import box, large_file

PLA = load_materials()["pla"]
HEAD = "G21\nG90\nM83\nM190 S60\nM109 S215\nG0 Z0.2 F6000\n"


def rows(count: int, feed_mm_s: float, per_mm: float = 0.0338, mm: float = 50.0, z: float = 0.2) -> str:
    """`count` straight beads to and fro at one speed, all at height z."""
    lines = [f"G0 X100 Y100 Z{z:g} F6000"]
    for k in range(count):
        x = 100 + (mm if k % 2 == 0 else 0)
        lines.append(f"G1 X{x:g} Y{100 + 0.4 * (k // 2):g} E{mm * per_mm:.5f} F{feed_mm_s * 60:g}")
    return "\n".join(lines) + "\n"


def history(measure, text: str, material=PLA, **facts: object):
    known = Facts() if not facts else facts["facts"]
    found = measure(text)
    return heat_history(found.moves, known.also(found.facts), material), found


# the melt zone ----------------------------------------------------------------------------------------
def test_a_steady_flow_gives_the_cores_closed_form(measure):
    """Fo = pi alpha L / Q [Incropera2007 sec. 5.6]: nothing but rows at one speed, long after the start."""
    # acceleration as good as infinite: the plan's mean flow is then section times speed
    text = HEAD + "M204 S1000000\nM205 J100\n" + rows(60, 60.0)
    heat, found = history(measure, text)
    flow = 60.0 * 0.0338 * math.pi * 1.75**2 / 4
    expected = core_temperature(215.0, 25.0, fourier_number(PLA.melt_diffusivity_m2_s, 0.012, flow * 1e-9))
    late = heat.move_core_c[np.flatnonzero(found.moves.bead)[30:]]
    assert late == pytest.approx(float(expected), abs=1.5)
    assert heat.residence_s[0] == pytest.approx(12.0 / (60.0 * 0.0338), rel=0.05)


def test_what_stood_in_the_zone_before_the_start_is_as_hot_as_the_wall(measure):
    heat, found = history(measure, HEAD + rows(20, 60.0))
    first = np.flatnonzero(found.moves.bead)[:3]  # 3 x 1.7 mm of filament, less than the zone
    assert heat.move_core_c[first] == pytest.approx(215.0, abs=1e-3)


def test_standing_still_warms_what_is_in_the_zone(measure):
    """After a wait the next zone's length comes out hotter, and only that."""
    heat, found = history(measure, HEAD + rows(30, 100.0) + "G4 P20000\n" + rows(30, 100.0))
    beads = np.flatnonzero(found.moves.bead)
    before, after, later = (heat.move_core_c[beads[at]] for at in (28, 33, 55))
    assert after > before + 20
    assert later == pytest.approx(before, abs=4)


def test_more_flow_is_colder_and_a_longer_zone_warmer(measure):
    from beadwright.facts import Fact, Origin

    slow, _ = history(measure, HEAD + rows(60, 40.0))
    fast, _ = history(measure, HEAD + rows(60, 120.0))
    long = Facts([Fact("melt_zone_mm", 20.0, Origin.RECORD)])
    helped, _ = history(measure, HEAD + rows(60, 120.0), facts=long)
    assert slow.core_c[0] > fast.core_c[0] + 20
    assert helped.core_c[0] > fast.core_c[0] + 10
    assert slow.cold_share[0] == 0
    assert fast.cold_share[0] > 0.5
    assert fast.cold_spans() == [(0, 0)]
    assert any("taken" in words for words in fast.assumes)
    assert "melt zone 20 mm, good to ±30 % in flow" in helped.assumes


def test_two_tools_have_two_strands():
    """Tool 1 rests while tool 0 feeds: its strand stays in the zone all that time."""
    n = 400
    t = np.arange(1, n + 1, dtype=float)
    tool = np.zeros(n, np.uint8)
    tool[200:] = 1
    e = np.concatenate([np.arange(1, 201), np.arange(1, 201)]).astype(float)
    tool[100], e[100] = 1, 0.0  # one stray move of tool 1 long before
    tables = np.linspace(1.0, 0.0, 11) * np.ones((2, 1))
    wall = np.full(n, 200.0, np.float32)
    residence, core, mean = strand_temperatures(t, e, tool, np.ones(n, np.uint8), wall, 10.0, 1e-3, 25.0, tables, 1.0)
    assert residence[150] == pytest.approx(10.0, abs=1.1)  # 1 mm a second through 10 mm
    assert residence[205] == np.inf  # still what stood there before the file began
    assert residence[350] == pytest.approx(10.0)
    assert core[350] == pytest.approx(200 - 175 * 0.99, abs=1e-3)
    assert mean[350] == core[350]


def test_a_retraction_does_not_count_twice():
    t = np.arange(1, 41, dtype=float)
    forward = np.arange(1, 21, dtype=float)
    e = np.concatenate([forward, [19.0, 20.0], forward[:18] + 20])
    kind = np.ones(40, np.uint8)
    kind[20], kind[21] = 2, 3
    tables = np.linspace(1.0, 0.0, 11) * np.ones((2, 1))
    out = strand_temperatures(
        t, e, np.zeros(40, np.uint8), kind, np.full(40, 200.0, np.float32), 5.0, 1.0, 25.0, tables, 1.0
    )[0]
    assert out[19] == pytest.approx(5.0)
    assert out[23] == pytest.approx(7.0)  # two seconds more for the retraction
    assert np.isnan(out[20])
    assert np.isnan(out[21])


# the place below ----------------------------------------------------------------------------------------
def test_time_since_the_layer_below_is_the_layer_time(measure):
    heat, found = history(measure, box((30, 30, 5)).text)
    seconds = found.per_layer.seconds
    assert np.isnan(heat.gap_s[0])
    assert heat.gap_s[8:15] == pytest.approx(seconds[8:15], rel=0.15)


def test_objects_one_by_one_count_their_own_time():
    """Two towers, the second after the first: between layers of one tower passes that tower's time only."""
    clock = 0.0
    x, t, layer = [], [], []
    for tower in range(2):
        for k in range(10):
            for step in range(10):
                clock += 1.0
                x.append(100.0 * tower + step)
                t.append(clock)
                layer.append(k)
    n = len(x)
    gap = times_since_below(
        np.array(x), np.zeros(n), np.zeros(3), np.array(t), np.ones(n, np.uint8), np.array(layer, np.int32),
        np.array([-5.0, -5.0]), 3.0, np.array([60, 5]),
    )  # fmt: skip
    assert np.nanmax(gap[20:100]) < 21
    assert np.nanmedian(gap[120:]) == pytest.approx(10.0, abs=1.5)


# the column ---------------------------------------------------------------------------------------------
def lone(film: float, gap: float, conductivity: float = 0.2, steps: int = 24, edge: float = 0.0) -> float:
    """Temperature of a first layer of 0.2 mm after `gap` seconds, laid at 230 °C in air and on a bed of 25 °C."""
    table = column_of_layers(
        np.array([0.2e-3, 0.2e-3]), np.array([230.0, 230.0]), np.array([gap, 1.0]), np.full(2, film), np.full(2, edge),
        np.array([1050.0, 1400.0, conductivity]), 25.0, 25.0, np.zeros(2), 80.0, 80.0, 8, 1, steps,
    )  # fmt: skip
    return float(table[1, 0])


def test_a_layer_that_conducts_nothing_cools_as_a_lumped_body():
    """T = T_air + (T0 - T_air) exp(-t/tau) [Incropera2007 sec. 5.1], cooled on top and flanks."""
    edge = 2.0e3
    area, perimeter = 0.2e-3, 1 + edge * 0.2e-3  # per metre of width: top and flanks
    tau = float(cooling_time_constant(area, perimeter, 1050.0, 1400.0, 1.0, 60.0))
    for gap in (1.0, 3.0):
        expected = 25 + 205 * math.exp(-gap / tau)
        assert lone(60.0, gap, 1e-9, 40, edge) == pytest.approx(expected, abs=3.5)


def test_the_joint_falls_as_the_half_space_does():
    """Image solution of [CarslawJaeger1959] ch. 2: new layer on a like body, no loss to air."""
    alpha = 0.2 / (1050.0 * 1400.0)
    count = 40
    rate = np.ones(400)
    for wait in (0.05, 0.2):
        laid = np.full(count, 80.0)
        laid[-1] = 230.0
        gap = np.full(count, 1.0)
        gap[-1] = wait
        table = column_of_layers(
            np.full(count, 0.2e-3), laid, gap, np.full(count, 1e-9), np.zeros(count),
            np.array([1050.0, 1400.0, 0.2]), 80.0, 80.0, rate, 0.0, 140.0, 20, 6, 40,
        )  # fmt: skip
        assert table[-1, 1] == pytest.approx(155.0)  # first instant (T1 + T2)/2
        # the joint passes 140 °C at the time t that solves the closed form; both stay hot until then
        times = np.linspace(1e-4, 2.0, 20000)
        expected = min(wait, float(times[np.argmax(interface_temperature(0.2e-3, alpha, 230.0, 80.0, times) < 140.0)]))
        assert table[-1, 3] == pytest.approx(expected, rel=0.1)


def test_healing_is_the_integral_of_its_rate():
    """With a rate of 1 everywhere healing is the time that passes, as long as the layer counts."""
    table = column_of_layers(
        np.full(6, 0.2e-3), np.full(6, 230.0), np.full(6, 3.0), np.full(6, 30.0), np.zeros(6),
        np.array([1050.0, 1400.0, 0.2]), 60.0, 25.0, np.ones(400), 0.0, 0.0, 3, 2, 16,
    )  # fmt: skip
    assert table[2, 2] == pytest.approx(9.0)  # its own gap and the next two
    assert table[5, 2] == pytest.approx(3.0)


def test_longer_layers_and_more_air_weld_worse(measure):
    def weld(**settings):
        heat, _ = history(measure, box((20, 20, 5), **settings).text)
        return np.nanmedian(heat.weld_index[8:18])

    usual = weld()
    assert 0.5 < usual < 2.0
    assert weld(nozzle_temp_c=190.0) < usual < weld(nozzle_temp_c=230.0)
    assert weld(speed_mm_s=20.0, outer_speed_mm_s=10.0) < usual
    assert weld(fan_percent=0.0) > usual


def test_layers_far_above_a_warm_bed_are_cooler(measure):
    heat, _ = history(measure, box((30, 30, 8)).text)
    assert heat.below_c[2] > heat.below_c[15]
    assert np.isnan(heat.below_c[0])
    assert heat.joint_c[15] == pytest.approx((heat.bead_c[15] + heat.below_c[15]) / 2, abs=0.2)


# materials and missing things ---------------------------------------------------------------------------
def test_every_material_has_a_reference_or_says_nothing():
    for key, material in load_materials().items():
        usual = usual_healing(material)
        if material.flow_shift.model == "none":
            assert healing_rate(material) is None, key
            assert math.isnan(usual), key
        else:
            assert usual > 0, key
        assert sets_at(material) >= material.glass_transition_c.best


def test_the_rate_follows_the_shift_factor():
    rate = healing_rate(PLA)
    assert rate is not None
    at = 150 - int(sets_at(PLA))
    assert rate[at] == pytest.approx(10 ** -float(arrhenius_shift(150.0, 190.0, 80e3)))
    assert (np.diff(rate) >= 0).all()


def test_no_nozzle_temperature_no_core(measure):
    heat, _ = history(measure, "G21\nG90\nM83\nG0 Z0.2 F6000\n" + rows(20, 60.0))
    assert np.isnan(heat.core_c).all()
    assert np.isnan(heat.weld_index).all()
    assert heat.residence_s is not None


def test_values_in_force():
    events = Events(*(np.array(v, np.int32) for v in ([2, 4], [1, 2])), np.array([10.0, 20.0]), np.array([-1, -1]))
    assert in_force(events, 6, 0.0).tolist() == [0, 0, 10, 10, 20, 20]
    assert np.isnan(in_force(events, 6)[:2]).all()


def test_temperature_steps_reach_the_core(measure):
    text = HEAD + rows(30, 40.0) + "M104 S190\n" + rows(30, 40.0)
    heat, found = history(measure, text)
    beads = np.flatnonzero(found.moves.bead)
    wall = wall_temperature(found.moves)
    assert wall[beads[0]] == 215
    assert wall[beads[-1]] == 190
    assert heat.move_core_c[beads[29]] > heat.move_core_c[beads[-1]] + 20


def test_a_long_file_stays_within_memory(measure, tmp_path):
    path = tmp_path / "large.gcode"
    large_file(path, 1.0)
    heat, found = history(measure, path.read_bytes())
    assert len(heat) == found.moves.layer_count
    assert np.isfinite(heat.core_c).all()
