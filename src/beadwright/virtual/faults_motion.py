"""Faults of motion, frame, electronics, handling and surroundings."""

from __future__ import annotations

import numpy as np

from beadwright.virtual.fault import NOW_AND_THEN, OFTEN, SELDOM, Fault, Rng, between
from beadwright.virtual.show_motion import quantum_mm, stall_margin
from beadwright.virtual.world import World

Pair = tuple[float, float]


def head_move(world: World, a: float, b: float) -> Pair:
    """Where the print moves when the drives lose (a, b) of travel [mm]."""
    if world.machine.kinematics == "corexy":
        return (a + b) / 2, (a - b) / 2
    if world.machine.kinematics == "delta":
        angle = (world.seed % 3) * 2.094
        return a * float(np.cos(angle)) + b * 0.5, a * float(np.sin(angle)) + b * 0.3
    return a, b


def on_one_drive(world: World, travel: float, rng: Rng) -> Pair:
    a, b = (travel, 0.0) if rng.random() < 0.5 else (0.0, travel)
    return head_move(world, a, b)


def _periods(world: World, severity: float, rng: Rng) -> float:
    most = between(1, 9, severity)
    return float(rng.choice([-1, 1])) * quantum_mm(world) * int(rng.integers(1, max(int(most), 1) + 1))


def lose_one(world: World, severity: float, rng: Rng) -> None:
    first = on_one_drive(world, _periods(world, severity, rng), rng)
    more = (on_one_drive(world, _periods(world, severity, rng), rng),) if rng.random() < 0.2 + 0.3 * severity else ()
    world.shifts += (first, *more)


def lose_several(world: World, severity: float, rng: Rng) -> None:
    world.shifts += (head_move(world, _periods(world, severity, rng), _periods(world, severity, rng)),)
    if rng.random() < 0.35:
        world.shifts += (head_move(world, _periods(world, severity, rng), _periods(world, severity, rng)),)


def stall_if_overtaxed(world: World, rng: Rng, severity: float) -> None:
    """Lose steps with the chance that a margin this thin gives."""
    if rng.random() < np.clip((stall_margin(world) - 0.75) * 1.6, 0, 0.95):
        (lose_one if rng.random() < 0.75 else lose_several)(world, severity, rng)


def _tooth(world: World, severity: float, rng: Rng) -> None:
    teeth = 1 + int(rng.random() < 0.3 * severity)
    world.shifts += (on_one_drive(world, float(rng.choice([-1, 1])) * teeth * world.machine.belt_pitch_mm, rng),)
    world.condition.belt_n = (between(9, 5, severity), 20.0)
    world.history["belt_teeth_heard"] = 0.5


def _pulley(world: World, severity: float, rng: Rng) -> None:
    world.condition.pulley_loose = between(0.5, 1.0, severity)
    count = 1 + int(rng.random() < 0.5)
    a_first = rng.random() < 0.5
    for _ in range(count):
        slip = float(rng.uniform(0.4, 1 + 6 * severity) * rng.choice([-1, 1]))
        world.shifts += (head_move(world, slip if a_first else 0.0, 0.0 if a_first else slip),)
    world.condition.play_mm += 0.15 * (rng.random() < 0.3)


def _slack(world: World, severity: float, rng: Rng) -> None:
    low = between(9, 2, severity)
    world.condition.belt_n = (low, low * float(rng.uniform(0.9, 1.3)))
    world.condition.play_mm += between(0.02, 0.12, severity)
    if rng.random() < 0.15 * severity:
        _tooth(world, severity, rng)


def _unequal(world: World, severity: float, rng: Rng) -> None:
    world.condition.belt_n = (25.0, between(17, 8, severity))


def _play(world: World, severity: float, rng: Rng) -> None:
    world.condition.play_mm += between(0.1, 0.4, severity)
    world.condition.play_axis = int(rng.integers(2))


def _skew(world: World, severity: float, rng: Rng) -> None:
    world.condition.skew_deg = between(0.3, 1.4, severity) * float(rng.choice([-1, 1]))


def _bind(world: World, severity: float, rng: Rng) -> None:
    world.condition.friction = between(0.2, 0.6, severity)
    if rng.random() < 0.2 + 0.45 * severity:
        (lose_one if rng.random() < 0.85 else lose_several)(world, severity, rng)


def _wobble(world: World, severity: float, rng: Rng) -> None:
    world.condition.screw_runout_mm = between(0.04, 0.2, severity)


def _frame(world: World, severity: float, rng: Rng) -> None:
    world.condition.frame_loose = between(0.4, 1.0, severity)


def _ringing(world: World, severity: float, rng: Rng) -> None:
    world.machine.frame_hz *= between(0.65, 0.42, severity)
    world.settings.accel_mm_s2 *= between(1.0, 1.5, severity)


def _accel(world: World, severity: float, rng: Rng) -> None:
    world.settings.accel_mm_s2 = float(round(world.machine.pull_out_accel_mm_s2 * between(0.85, 1.7, severity), -2))
    stall_if_overtaxed(world, rng, severity)


def _driver(world: World, severity: float, rng: Rng) -> None:
    world.condition.driver_hot = between(0.35, 0.75, severity)
    world.part.hours = max(world.part.hours, 1.5)
    world.room.room_c += float(rng.uniform(0, 6))
    (lose_one if rng.random() < 0.85 else lose_several)(world, severity, rng)


def _loose_head(world: World, severity: float, rng: Rng) -> None:
    world.condition.head_loose_mm = between(0.1, 0.4, severity)


def _scale(world: World, severity: float, rng: Rng) -> None:
    off = between(0.006, 0.03, severity) * float(rng.choice([-1, 1]))
    scale = [1.0, 1.0, 1.0]
    for axis in rng.permutation(3)[: 1 + int(rng.random() < 0.3)]:
        scale[int(axis)] += off
    world.condition.steps_scale = (scale[0], scale[1], scale[2])
    world.part.fits = max(world.part.fits, 0.6)


def _cables(world: World, severity: float, rng: Rng) -> None:
    world.condition.cable_pull = between(0.5, 1.0, severity)
    if rng.random() < 0.65:
        (lose_one if rng.random() < 0.5 else lose_several)(world, severity, rng)


def _bed_cycles(world: World, severity: float, rng: Rng) -> None:
    world.condition.bed_swing_k = between(5, 14, severity)


def _home(world: World, severity: float, rng: Rng) -> None:
    world.condition.start_scatter_mm = between(0.06, 0.35, severity)


def _fan(world: World, severity: float, rng: Rng) -> None:
    world.condition.fan_share = between(0.5, 0.0, min(1.4 * severity, 1))
    world.part.overhang = max(world.part.overhang, 0.25)


def _power(world: World, severity: float, rng: Rng) -> None:
    world.room.power_cut = 1.0


def _supply(world: World, severity: float, rng: Rng) -> None:
    world.condition.supply_weak = between(0.5, 1.0, severity)
    if rng.random() < 0.3:
        lose_several(world, severity, rng)


def _wire(world: World, severity: float, rng: Rng) -> None:
    world.condition.wire = between(0.4, 1.0, severity)
    which = rng.random()
    if which < 0.3:
        world.condition.fan_share = 0.2
    elif which < 0.65:
        world.condition.sensor_jumps = between(0.4, 1, severity)


def _draught(world: World, severity: float, rng: Rng) -> None:
    world.machine.enclosed = False
    world.room.draught = between(0.6, 1.5, severity)
    world.room.room_c = float(rng.uniform(8, 18))
    world.part.length_mm = max(world.part.length_mm, 70)


def _bare_shrinker(world: World, severity: float, rng: Rng) -> None:
    world.machine.enclosed = False
    world.part.length_mm = between(60, 140, severity)


def _knock(world: World, severity: float, rng: Rng) -> None:
    world.room.knock = 1.0
    angle, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.5, 2 + 8 * severity)
    world.shifts += ((float(size * np.cos(angle)), float(size * np.sin(angle))),)
    world.turned = bool(rng.random() < 0.4)


def _plate(world: World, severity: float, rng: Rng) -> None:
    world.room.plate_slid = 1.0
    angle, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.5, 2 + 5 * severity)
    world.shifts += ((float(size * np.cos(angle)), float(size * np.sin(angle))),)
    world.turned = bool(rng.random() < 0.3)


def _light(world: World, severity: float, rng: Rng) -> None:
    world.room.raking_light = between(0.6, 1.0, severity)
    world.history["bands_regular"] = 0.45
    world.history["bands_irregular"] = 0.3


def needs_shield(world: World) -> bool:
    return world.spool.polymer in ("abs", "asa", "pc", "pa6", "pa12")


MOTION = (
    Fault("one_motor_lost_steps", "motion", "printer", NOW_AND_THEN, lose_one, history={"at_random_heights": 0.5}),
    Fault("several_motors_lost_steps", "motion", "printer", SELDOM, lose_several, history={"at_random_heights": 0.5}),
    Fault("belt_tooth_jumped", "motion", "printer", SELDOM, _tooth, history={"since_drive_work": 0.25}),
    Fault(
        "pulley_slips",
        "motion",
        "printer",
        NOW_AND_THEN,
        _pulley,
        history={"at_random_heights": 0.4, "since_drive_work": 0.35, "worse_day_by_day": 0.25},
    ),
    Fault("belt_slack", "motion", "printer", OFTEN, _slack, history={"worse_day_by_day": 0.25}),
    Fault(
        "belts_unequal",
        "motion",
        "printer",
        NOW_AND_THEN,
        _unequal,
        lambda w: w.machine.kinematics == "corexy" and w.part.round_holes > 0,
        {"since_drive_work": 0.4},
    ),
    Fault(
        "axis_play",
        "motion",
        "printer",
        NOW_AND_THEN,
        _play,
        lambda w: w.part.round_holes > 0,
        {"worse_day_by_day": 0.2},
    ),
    Fault(
        "axes_not_square",
        "motion",
        "printer",
        NOW_AND_THEN,
        _skew,
        history={"since_printer_moved": 0.3, "since_drive_work": 0.2},
    ),
    Fault(
        "guides_bind",
        "motion",
        "printer",
        NOW_AND_THEN,
        _bind,
        history={"worse_day_by_day": 0.3, "always_same_height": 0.25},
    ),
    Fault(
        "screw_wobble",
        "motion",
        "printer",
        NOW_AND_THEN,
        _wobble,
        lambda w: w.part.height_mm > 18,
        {"since_printer_moved": 0.1},
    ),
    Fault(
        "frame_loose",
        "motion",
        "printer",
        SELDOM,
        _frame,
        history={"since_printer_moved": 0.35, "worse_day_by_day": 0.2},
    ),
    Fault(
        "ringing",
        "motion",
        "printer",
        OFTEN,
        _ringing,
        lambda w: w.part.corners > 0.4,
        {"since_setting_change": 0.2, "since_printer_moved": 0.15},
    ),
    Fault("acceleration_too_high", "motion", "file", NOW_AND_THEN, _accel, history={"since_setting_change": 0.55}),
    Fault(
        "driver_too_hot",
        "motion",
        "printer",
        SELDOM,
        _driver,
        history={"after_some_hours": 0.7, "at_random_heights": 0.3},
    ),
    Fault("hot_end_loose", "motion", "printer", SELDOM, _loose_head, history={"since_nozzle_change": 0.45}),
    Fault(
        "steps_per_mm_wrong",
        "settings",
        "printer",
        SELDOM,
        _scale,
        history={"since_drive_work": 0.35, "since_setting_change": 0.3},
    ),
    Fault(
        "cables_snag",
        "handling",
        "printer",
        SELDOM,
        _cables,
        history={"always_same_height": 0.35, "since_drive_work": 0.15},
    ),
)

AROUND = (
    Fault("bed_heater_swings", "electronics", "printer", SELDOM, _bed_cycles, lambda w: w.part.height_mm > 15),
    Fault("home_switch_fault", "electronics", "printer", SELDOM, _home, history={"starts_at_once": 0.5}),
    Fault(
        "part_fan_fault",
        "electronics",
        "printer",
        NOW_AND_THEN,
        _fan,
        lambda w: w.settings.fan_percent >= 40,
        {"worse_day_by_day": 0.15},
    ),
    Fault("supply_interrupted", "electronics", "environment", NOW_AND_THEN, _power),
    Fault("power_supply_weak", "electronics", "printer", SELDOM, _supply, history={"at_random_heights": 0.4}),
    Fault(
        "wiring_loose",
        "electronics",
        "printer",
        NOW_AND_THEN,
        _wire,
        history={"at_random_heights": 0.45, "worse_day_by_day": 0.25},
    ),
    Fault(
        "cold_room_or_draught",
        "surroundings",
        "environment",
        NOW_AND_THEN,
        _draught,
        lambda w: w.spool.polymer != "tpu_95a",
        {"worse_in_cold": 0.5, "since_printer_moved": 0.25},
    ),
    Fault("shrinking_polymer_unshielded", "cooling", "environment", OFTEN, _bare_shrinker, needs_shield),
    Fault("part_knocked", "handling", "handling", SELDOM, _knock),
    Fault("plate_shifted", "handling", "handling", NOW_AND_THEN, _plate),
    Fault("raking_light", "looks", "environment", NOW_AND_THEN, _light),
)
