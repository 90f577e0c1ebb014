"""Faults of hot end, drive and filament."""

from __future__ import annotations

from beadwright.physics.bead import bead_area_mm2
from beadwright.virtual.fault import DAILY, NOW_AND_THEN, OFTEN, SELDOM, Fault, Rng, between
from beadwright.virtual.healthy import material
from beadwright.virtual.world import World


def _cold(world: World, severity: float, rng: Rng) -> None:
    window = material(world.spool.polymer).nozzle_temp_c
    world.settings.nozzle_temp_c = float(round(window.min - between(6, 30, severity)))


def _hot(world: World, severity: float, rng: Rng) -> None:
    window = material(world.spool.polymer).nozzle_temp_c
    world.settings.nozzle_temp_c = float(round(window.max + between(6, 28, severity)))
    world.part.travels = max(world.part.travels, 0.4)


def _too_fast_to_melt(world: World, severity: float, rng: Rng) -> None:
    capacity = material(world.spool.polymer).max_flow_mm3_s.at(world.machine.melt_zone_mm)
    area = float(bead_area_mm2(world.settings.line_width_mm, world.settings.layer_height_mm))
    world.settings.speed_mm_s = float(round(capacity * between(1.25, 2.2, severity) / area))


def _blocked(world: World, severity: float, rng: Rng) -> None:
    world.condition.blocked = between(0.3, 0.85, severity)


def _creep(world: World, severity: float, rng: Rng) -> None:
    world.condition.cold_side_fan = between(0.5, 0.0, severity)
    world.part.hours = max(world.part.hours, 1.5)
    world.room.room_c += float(rng.uniform(0, 8))
    world.machine.enclosed = world.machine.enclosed or bool(rng.random() < 0.4)


def _worn(world: World, severity: float, rng: Rng) -> None:
    world.condition.worn_mm = between(0.05, 0.2, severity)


def _abrasive(world: World, severity: float, rng: Rng) -> None:
    world.machine.nozzle_material = "brass"
    world.condition.worn_mm = between(0.06, 0.25, severity)


def _leak(world: World, severity: float, rng: Rng) -> None:
    world.condition.leak = between(0.4, 1.0, severity)


def _idler(world: World, severity: float, rng: Rng) -> None:
    if rng.random() < 0.65:
        world.condition.grip = between(0.5, 0.25, severity)
    else:
        world.condition.crushed = between(0.6, 1.4, severity)


def _gear(world: World, severity: float, rng: Rng) -> None:
    world.condition.gear_runout = between(0.05, 0.15, severity)


def _buckles(world: World, severity: float, rng: Rng) -> None:
    world.condition.buckle = between(0.5, 1.0, severity)


def _sensor(world: World, severity: float, rng: Rng) -> None:
    if rng.random() < 0.3:
        world.condition.sensor_jumps = between(0.5, 1.2, severity)
    world.condition.sensor_off_c = between(15, 40, severity) * (1 if rng.random() < 0.65 else -1)


def _heater(world: World, severity: float, rng: Rng) -> None:
    world.condition.heater_weak = between(0.5, 1.0, severity)


def _loop(world: World, severity: float, rng: Rng) -> None:
    world.condition.swing_c = between(6, 20, severity)


def _liner(world: World, severity: float, rng: Rng) -> None:
    world.condition.liner = between(0.5, 1.2, severity)


def _bore(world: World, severity: float, rng: Rng) -> None:
    wrong = float(rng.choice([size for size in (0.25, 0.4, 0.6, 0.8) if abs(size - world.machine.nozzle_mm) > 0.1]))
    world.condition.bore_error_mm = wrong - world.machine.nozzle_mm


def _damp(world: World, severity: float, rng: Rng) -> None:
    spool = world.spool
    spool.storage_rh = float(round(between(45, 72, severity) + rng.normal(0, 3)))
    spool.opened_days = float(round(between(15, 250, severity) * rng.lognormal(0, 0.3)))
    spool.dried_days_ago = float(round(min(20 + 60 * severity, spool.opened_days))) if rng.random() < 0.15 else None


def _outer(world: World, severity: float, rng: Rng) -> None:
    spool = world.spool
    spool.opened_days, spool.g_left, spool.dried_days_ago = (
        float(rng.integers(2, 9)),
        float(rng.uniform(650, 980)),
        None,
    )
    spool.storage_rh = between(50, 85, severity)


def _brittle(world: World, severity: float, rng: Rng) -> None:
    world.spool.brittle = between(0.5, 1.0, severity)
    world.spool.opened_days = max(world.spool.opened_days, float(rng.uniform(100, 500)))


def _uneven(world: World, severity: float, rng: Rng) -> None:
    world.spool.uneven = between(0.04, 0.13, severity)


def _other_polymer(world: World, severity: float, rng: Rng) -> None:
    others = {
        "pla": ("petg", "abs"),
        "petg": ("pla", "abs", "tpu_95a"),
        "abs": ("petg", "pla"),
        "asa": ("pla", "petg"),
        "tpu_95a": ("pla", "petg"),
        "pa12": ("petg", "tpu_95a"),
        "pa6": ("petg",),
        "pc": ("petg", "abs"),
    }
    world.spool.true_polymer = str(rng.choice(others[world.spool.polymer]))


def _drag(world: World, severity: float, rng: Rng) -> None:
    world.spool.drag = between(0.6, 1.5, severity)


def _tangle(world: World, severity: float, rng: Rng) -> None:
    world.spool.tangle = between(0.5, 1.0, severity)


def drinks(world: World) -> bool:
    return material(world.spool.polymer).moisture_rank.best >= 2


MELT = (
    Fault(
        "nozzle_too_cold",
        "hot end",
        "file",
        OFTEN,
        _cold,
        history={"starts_at_once": 0.5, "since_setting_change": 0.25, "since_new_spool": 0.25},
    ),
    Fault(
        "nozzle_too_hot",
        "hot end",
        "file",
        NOW_AND_THEN,
        _hot,
        history={"starts_at_once": 0.45, "since_setting_change": 0.25, "since_new_spool": 0.2},
    ),
    Fault("flow_beyond_melt", "hot end", "file", OFTEN, _too_fast_to_melt, history={"since_setting_change": 0.5}),
    Fault(
        "nozzle_partly_blocked",
        "hot end",
        "printer",
        DAILY,
        _blocked,
        history={"worse_day_by_day": 0.35, "at_random_heights": 0.15},
    ),
    Fault(
        "heat_creep",
        "hot end",
        "printer",
        OFTEN,
        _creep,
        lambda w: w.spool.polymer in ("pla", "petg", "tpu_95a"),
        {"after_some_hours": 0.65, "worse_in_summer": 0.35, "at_random_heights": 0.25},
    ),
    Fault(
        "nozzle_worn",
        "hot end",
        "printer",
        SELDOM,
        _worn,
        lambda w: w.machine.nozzle_material == "brass",
        {"worse_day_by_day": 0.4},
    ),
    Fault(
        "abrasive_on_soft_nozzle",
        "filament",
        "printer",
        SELDOM,
        _abrasive,
        lambda w: w.spool.filler in ("carbon_fibre", "glass_fibre", "glow"),
        {"worse_day_by_day": 0.4, "since_new_spool": 0.3},
    ),
    Fault("hot_end_leaks", "hot end", "printer", SELDOM, _leak, history={"since_nozzle_change": 0.65}),
    Fault(
        "idler_pressure_wrong",
        "hot end",
        "printer",
        NOW_AND_THEN,
        _idler,
        history={"since_new_spool": 0.2, "since_drive_work": 0.15},
    ),
    Fault("drive_gear_eccentric", "hot end", "printer", SELDOM, _gear, lambda w: w.part.height_mm > 12),
    Fault(
        "soft_filament_buckles",
        "hot end",
        "printer",
        NOW_AND_THEN,
        _buckles,
        lambda w: w.spool.polymer == "tpu_95a",
        {"since_new_spool": 0.3},
    ),
    Fault(
        "temperature_sensor_fault",
        "hot end",
        "printer",
        SELDOM,
        _sensor,
        history={"since_nozzle_change": 0.3, "starts_at_once": 0.4},
    ),
    Fault("heater_fault", "hot end", "printer", SELDOM, _heater, history={"worse_day_by_day": 0.25}),
    Fault("heater_loop_swings", "hot end", "printer", SELDOM, _loop, history={"since_nozzle_change": 0.2}),
    Fault(
        "liner_degraded",
        "hot end",
        "printer",
        SELDOM,
        _liner,
        lambda w: w.machine.extruder == "bowden",
        {"worse_day_by_day": 0.4, "since_nozzle_change": 0.3},
    ),
    Fault(
        "nozzle_bore_mismatch",
        "hot end",
        "printer",
        SELDOM,
        _bore,
        history={"since_nozzle_change": 0.75, "starts_at_once": 0.55},
    ),
)

FILAMENT = (
    Fault(
        "filament_damp", "filament", "filament", DAILY, _damp, drinks, {"worse_day_by_day": 0.4, "starts_at_once": 0.2}
    ),
    Fault(
        "outer_wraps_damp",
        "filament",
        "filament",
        SELDOM,
        _outer,
        lambda w: material(w.spool.polymer).moisture_rank.best >= 3,
        {"since_new_spool": 0.25},
    ),
    Fault(
        "filament_brittle",
        "filament",
        "filament",
        NOW_AND_THEN,
        _brittle,
        lambda w: w.spool.polymer in ("pla", "petg", "pa6", "pa12"),
        {"worse_day_by_day": 0.3, "at_random_heights": 0.25},
    ),
    Fault(
        "filament_diameter_varies",
        "filament",
        "filament",
        SELDOM,
        _uneven,
        history={"since_new_spool": 0.6, "at_random_heights": 0.3},
    ),
    Fault(
        "filament_is_other_polymer",
        "filament",
        "filament",
        SELDOM,
        _other_polymer,
        history={"since_new_spool": 0.75, "starts_at_once": 0.6},
    ),
    Fault("spool_drags", "filament", "handling", NOW_AND_THEN, _drag, history={"since_new_spool": 0.2}),
    Fault("filament_tangled", "filament", "handling", OFTEN, _tangle, history={"at_random_heights": 0.5}),
)
