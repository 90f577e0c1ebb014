"""The virtual printer: sound prints show next to nothing, faults show what the trade knows of them, severity tells.

Expected signs are trade facts (common practice, no source); amounts are held against the drive's geometry.
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, degrees, hypot

import numpy as np
import pytest

from beadwright.knowledge.load import load_knowledge
from beadwright.virtual.fault import Fault
from beadwright.virtual.faults import FAULTS
from beadwright.virtual.healthy import material, sound_world
from beadwright.virtual.show import chance_seen, shown
from beadwright.virtual.show_motion import quantum_mm
from beadwright.virtual.world import World

BY_ID = {fault.id: fault for fault in FAULTS}


def worlds(fault: Fault, count: int, seed: int = 0) -> list[World]:
    rng = np.random.default_rng(seed)
    found: list[World] = []
    while len(found) < count:
        world = sound_world(rng)
        if fault.fits(world):
            found.append(world)
    return found


def mean_strength(name: str, sign: str, severity: float = 0.6, count: int = 20) -> float:
    fault, rng = BY_ID[name], np.random.default_rng(1)
    return float(
        np.mean([shown(fault.applied(w, severity, rng)).strength.get(sign, 0.0) for w in worlds(fault, count)])
    )


def test_every_fault_and_sign_is_one_that_the_tables_name() -> None:
    knowledge = load_knowledge()
    assert len(FAULTS) == len(BY_ID) >= 60
    assert {fault.family for fault in FAULTS} == {cause.family for cause in knowledge.causes.values()}
    for fault in FAULTS:
        assert fault.id in knowledge.causes
        for world in worlds(fault, 3):
            changed = shown(fault.applied(world, 0.7, np.random.default_rng(2)))
            assert set(changed.strength) <= set(knowledge.signs), fault.id


def test_sound_prints_show_next_to_nothing() -> None:
    rng = np.random.default_rng(3)
    seen = [sum(map(chance_seen, shown(sound_world(rng)).strength.values())) for _ in range(80)]
    assert np.mean(seen) < 0.8


def test_a_fault_leaves_the_sound_print_untouched() -> None:
    world = sound_world(np.random.default_rng(4))
    before = repr(world)
    for fault in FAULTS:
        if fault.fits(world):
            fault.applied(world, 0.8, np.random.default_rng(5))
    assert repr(world) == before


@pytest.mark.parametrize(
    ("name", "sign"),
    [
        ("filament_damp", "popping_or_steam"),
        ("nozzle_too_cold", "walls_not_joined"),
        ("nozzle_too_cold", "lines_proud"),
        ("nozzle_too_hot", "stringing"),
        ("nozzle_starts_too_high", "first_layer_open"),
        ("bed_greasy", "came_off_bed"),
        ("nozzle_starts_too_low", "first_layer_ploughed"),
        ("flow_beyond_melt", "thin_flow"),
        ("fed_too_much", "excess_plastic"),
        ("screw_wobble", "bands_regular"),
        ("support_gap_too_small", "support_fused"),
        ("cooling_too_weak", "overhang_rough"),
        ("shrinking_polymer_unshielded", "corner_lifted"),
        ("heat_creep", "flow_fades"),
        ("retraction_too_little", "stringing"),
        ("bottom_too_thin", "bottom_see_through"),
        ("layer_time_too_short", "droopy_small_features"),
    ],
)
def test_a_fault_shows_what_the_trade_knows_of_it_and_more_so_when_grave(name: str, sign: str) -> None:
    mild, grave = mean_strength(name, sign, 0.1), mean_strength(name, sign, 0.9)
    assert grave > max(0.5, mild)


@pytest.mark.parametrize("kinematics", ["cartesian", "corexy"])
def test_one_stalled_motor_moves_the_print_by_whole_periods_along_its_own_direction(kinematics: str) -> None:
    fault, rng = BY_ID["one_motor_lost_steps"], np.random.default_rng(6)
    for world in worlds(fault, 25):
        machine = replace(world.machine, kinematics=kinematics)
        dx, dy = fault.applied(replace(world, machine=machine), 0.5, rng).shifts[0]
        angle = degrees(atan2(dy, dx)) % 90
        assert angle == pytest.approx(45.0 if kinematics == "corexy" else angle // 45 * 90, abs=1e-6)
        travel = max(abs(dx + dy), abs(dx - dy)) if kinematics == "corexy" else hypot(dx, dy)
        periods = travel / quantum_mm(world)
        assert periods == pytest.approx(round(periods), abs=1e-9)
        assert periods >= 1


def test_raising_a_cold_nozzle_into_its_window_mends_the_welds() -> None:
    fault, rng = BY_ID["nozzle_too_cold"], np.random.default_rng(7)
    for world in worlds(fault, 10):
        cold = fault.applied(world, 0.7, rng)
        warm = replace(
            cold, settings=replace(cold.settings, nozzle_temp_c=material(cold.spool.polymer).nozzle_temp_c.typical)
        )
        assert shown(warm).melt.weld > shown(cold).melt.weld


def test_drying_a_damp_spool_ends_the_steam() -> None:
    fault, rng = BY_ID["filament_damp"], np.random.default_rng(8)
    for world in worlds(fault, 10):
        damp = fault.applied(world, 0.8, rng)
        dried = replace(damp, spool=replace(damp.spool, dried_days_ago=0.0))
        assert shown(damp).strength["popping_or_steam"] > 0.3
        assert shown(dried).strength.get("popping_or_steam", 0.0) == 0.0
