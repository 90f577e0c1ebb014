"""Faults of bed and first layer, cooling, settings, file, support and model."""

from __future__ import annotations

from beadwright.physics.bead import bead_area_mm2
from beadwright.virtual.fault import DAILY, NOW_AND_THEN, OFTEN, SELDOM, Fault, Rng, between
from beadwright.virtual.faults_motion import stall_if_overtaxed
from beadwright.virtual.healthy import material
from beadwright.virtual.world import World


def _high(world: World, severity: float, rng: Rng) -> None:
    world.condition.start_gap_mm = between(0.07, 0.3, severity)


def _low(world: World, severity: float, rng: Rng) -> None:
    world.condition.start_gap_mm = -between(0.06, 0.2, severity)


def _grease(world: World, severity: float, rng: Rng) -> None:
    world.condition.grease = between(0.6, 1.1, severity)


def _cold_bed(world: World, severity: float, rng: Rng) -> None:
    low = material(world.spool.polymer).bed_temp_c.min
    world.settings.bed_temp_c = float(max(round(low - between(12, 45, severity)), 0))


def _hot_bed(world: World, severity: float, rng: Rng) -> None:
    world.settings.bed_temp_c = float(round(material(world.spool.polymer).bed_temp_c.max + between(8, 28, severity)))


def _tilt(world: World, severity: float, rng: Rng) -> None:
    world.condition.tilt_mm = between(0.12, 0.45, severity)


def _surface(world: World, severity: float, rng: Rng) -> None:
    sticks = world.spool.polymer in ("tpu_95a", "petg") and rng.random() < 0.35
    world.condition.surface_grip = between(1.7, 2.4, severity) if sticks else between(0.5, 0.15, severity)


def _first_fast(world: World, severity: float, rng: Rng) -> None:
    world.settings.first_layer_speed_mm_s = float(round(between(50, 110, severity)))


def _foothold(world: World, severity: float, rng: Rng) -> None:
    world.part.height_mm = between(60, 170, severity)
    world.part.foot_mm = world.part.height_mm / between(5, 11, severity)
    world.settings.brim_mm = 0.0


def _weak_fan(world: World, severity: float, rng: Rng) -> None:
    low = material(world.spool.polymer).part_fan_percent.min
    world.settings.fan_percent = float(max(round(low * between(0.5, 0.0, severity)), 0))
    world.part.overhang = max(world.part.overhang, 0.25)


def _strong_fan(world: World, severity: float, rng: Rng) -> None:
    high = material(world.spool.polymer).part_fan_percent.max
    world.settings.fan_percent = float(min(round(high + between(30, 80, severity)), 100))


def _quick_layers(world: World, severity: float, rng: Rng) -> None:
    world.part.small_top_s = between(5.0, 1.5, severity)


def _little_retraction(world: World, severity: float, rng: Rng) -> None:
    usual = 0.6 if world.machine.extruder == "direct" else 3.6
    world.settings.retraction_mm = round(usual * between(0.5, 0.0, severity), 1)
    world.part.travels = max(world.part.travels, 0.4)


def _much_retraction(world: World, severity: float, rng: Rng) -> None:
    usual = 1.6 if world.machine.extruder == "direct" else 6.5
    world.settings.retraction_mm = round(usual * between(1.8, 4.0, severity), 1)
    world.part.retractions = between(0.5, 1.0, severity)


def _lag(world: World, severity: float, rng: Rng) -> None:
    world.condition.lag = between(0.5, 1.2, severity)
    world.part.corners = max(world.part.corners, 0.5)


def _little_feed(world: World, severity: float, rng: Rng) -> None:
    world.condition.feed_scale = 1 - between(0.08, 0.25, severity)


def _much_feed(world: World, severity: float, rng: Rng) -> None:
    world.condition.feed_scale = 1 + between(0.06, 0.25, severity)


def _top(world: World, severity: float, rng: Rng) -> None:
    world.settings.top_solid_layers = 3 - round(2 * severity)
    world.part.flat_top = max(world.part.flat_top, 0.6)


def _bottom(world: World, severity: float, rng: Rng) -> None:
    world.settings.bottom_solid_layers = 2 - int(severity > 0.5)


def _sparse(world: World, severity: float, rng: Rng) -> None:
    world.settings.infill_percent = float(round(between(9, 2, severity)))


def _walls(world: World, severity: float, rng: Rng) -> None:
    world.settings.wall_lines = 1


def _fast(world: World, severity: float, rng: Rng) -> None:
    """Faster than the frame and the drives stand, the melt zone being long enough."""
    s, m = world.settings, world.machine
    s.speed_mm_s = float(round((260 if m.kinematics == "corexy" else 110) * between(1.4, 2.6, severity)))
    flow = s.speed_mm_s * float(bead_area_mm2(s.line_width_mm, s.layer_height_mm))
    capacity = material(world.spool.polymer).max_flow_mm3_s.melt_zone_20mm
    m.melt_zone_mm = max(m.melt_zone_mm, min(round(20 * flow / (0.75 * capacity)), 80.0))
    stall_if_overtaxed(world, rng, severity)


def _no_lift(world: World, severity: float, rng: Rng) -> None:
    world.settings.z_hop_mm = 0.0
    world.part.travels = between(0.6, 1.4, severity)
    world.part.overhang = max(world.part.overhang, 0.15)
    world.history["scratches_on_top"] = 0.6


def _thick(world: World, severity: float, rng: Rng) -> None:
    world.settings.layer_height_mm = round(world.machine.nozzle_mm * between(0.88, 1.1, severity), 2)


def _diameter(world: World, severity: float, rng: Rng) -> None:
    world.settings.filament_diameter_mm = 2.85 if rng.random() < 0.6 else float(rng.choice([1.55, 1.95]))


def _other_machine(world: World, severity: float, rng: Rng) -> None:
    world.settings.for_other_machine = between(0.7, 1.3, severity)
    if rng.random() < 0.5:
        world.condition.start_gap_mm = float(rng.choice([-0.12, 0.2]))
    if rng.random() < 0.4:
        world.settings.outside_mm = between(3, 40, severity)


def _outside(world: World, severity: float, rng: Rng) -> None:
    world.settings.outside_mm = between(2, 40, severity)
    if rng.random() < 0.5:
        world.shifts += ((round(between(1, 12, severity), 2), 0.0),)


def _cut(world: World, severity: float, rng: Rng) -> None:
    world.settings.cut_at = between(0.9, 0.2, severity)


def _file_shift(world: World, severity: float, rng: Rng) -> None:
    move = (round(float(rng.uniform(-6, 6)), 2), round(float(rng.uniform(-6, 6)), 2))
    world.settings.file_shift_mm = move
    world.shifts += (move,)


def _gap_small(world: World, severity: float, rng: Rng) -> None:
    want = material(world.spool.polymer).support_gap_mm.best
    world.settings.support_gap_mm = round(max(want - between(0.06, 0.2, severity), 0.0), 2)
    world.part.needs_support, world.settings.support_on = 0.8, True


def _gap_large(world: World, severity: float, rng: Rng) -> None:
    want = material(world.spool.polymer).support_gap_mm.best
    world.settings.support_gap_mm = round(want + between(0.1, 0.3, severity), 2)
    world.part.needs_support, world.settings.support_on = 0.8, True


def _no_support(world: World, severity: float, rng: Rng) -> None:
    world.part.needs_support, world.settings.support_on = between(0.5, 1.0, severity), False


def _weak_support(world: World, severity: float, rng: Rng) -> None:
    world.part.needs_support, world.settings.support_on = 0.8, True
    world.settings.support_slender = between(0.6, 1.2, severity)


def _thin_wall(world: World, severity: float, rng: Rng) -> None:
    world.part.thin_wall_mm = world.settings.line_width_mm * between(0.75, 0.3, severity)


def _mesh(world: World, severity: float, rng: Rng) -> None:
    world.part.mesh_open = between(0.5, 1.2, severity)


def _shrink(world: World, severity: float, rng: Rng) -> None:
    world.settings.shrink_allowed = False
    world.part.length_mm = between(60, 180, severity)
    world.part.fits = 1.0


BED = (
    Fault(
        "nozzle_starts_too_high",
        "first layer",
        "printer",
        DAILY,
        _high,
        history={"since_nozzle_change": 0.3, "since_printer_moved": 0.2, "starts_at_once": 0.4},
    ),
    Fault(
        "nozzle_starts_too_low",
        "first layer",
        "printer",
        OFTEN,
        _low,
        history={"since_nozzle_change": 0.3, "since_printer_moved": 0.2, "starts_at_once": 0.4},
    ),
    Fault(
        "bed_greasy",
        "first layer",
        "handling",
        DAILY,
        _grease,
        history={"worse_day_by_day": 0.25, "starts_at_once": 0.3},
    ),
    Fault(
        "bed_too_cold",
        "first layer",
        "file",
        NOW_AND_THEN,
        _cold_bed,
        lambda w: material(w.spool.polymer).bed_temp_c.min >= 50,
        {"since_setting_change": 0.25, "since_new_spool": 0.2},
    ),
    Fault("bed_too_hot", "first layer", "file", NOW_AND_THEN, _hot_bed, history={"since_setting_change": 0.25}),
    Fault("bed_not_level", "first layer", "printer", OFTEN, _tilt, history={"since_printer_moved": 0.4}),
    Fault("bed_surface_unsuited", "first layer", "printer", NOW_AND_THEN, _surface, history={"since_new_spool": 0.4}),
    Fault(
        "first_layer_too_fast", "first layer", "file", NOW_AND_THEN, _first_fast, history={"since_setting_change": 0.4}
    ),
    Fault("small_foothold", "first layer", "model", OFTEN, _foothold),
)

COOLING = (
    Fault(
        "cooling_too_weak",
        "cooling",
        "file",
        OFTEN,
        _weak_fan,
        lambda w: material(w.spool.polymer).part_fan_percent.min >= 20,
        {"since_setting_change": 0.3},
    ),
    Fault(
        "cooling_too_strong",
        "cooling",
        "file",
        NOW_AND_THEN,
        _strong_fan,
        lambda w: material(w.spool.polymer).part_fan_percent.max <= 50,
        {"since_setting_change": 0.3},
    ),
    Fault("layer_time_too_short", "cooling", "file", OFTEN, _quick_layers, history={"always_same_height": 0.3}),
)

SETTINGS = (
    Fault(
        "retraction_too_little", "settings", "file", OFTEN, _little_retraction, history={"since_setting_change": 0.3}
    ),
    Fault(
        "retraction_too_much", "settings", "file", NOW_AND_THEN, _much_retraction, history={"since_setting_change": 0.4}
    ),
    Fault("pressure_lags", "settings", "printer", NOW_AND_THEN, _lag, history={"since_setting_change": 0.15}),
    Fault(
        "fed_too_little",
        "settings",
        "printer",
        OFTEN,
        _little_feed,
        history={"since_drive_work": 0.25, "starts_at_once": 0.35},
    ),
    Fault(
        "fed_too_much",
        "settings",
        "printer",
        OFTEN,
        _much_feed,
        history={"since_drive_work": 0.25, "starts_at_once": 0.35},
    ),
    Fault("top_too_thin", "settings", "file", OFTEN, _top),
    Fault("bottom_too_thin", "settings", "file", NOW_AND_THEN, _bottom),
    Fault("infill_too_sparse", "settings", "file", NOW_AND_THEN, _sparse),
    Fault("walls_too_thin", "settings", "file", NOW_AND_THEN, _walls),
    Fault("speed_too_high", "settings", "file", NOW_AND_THEN, _fast, history={"since_setting_change": 0.5}),
    Fault("no_lift_on_travel", "settings", "file", NOW_AND_THEN, _no_lift),
    Fault(
        "layer_too_thick",
        "settings",
        "file",
        SELDOM,
        _thick,
        history={"since_setting_change": 0.3, "since_nozzle_change": 0.25},
    ),
    Fault(
        "diameter_set_wrong",
        "settings",
        "file",
        SELDOM,
        _diameter,
        history={"starts_at_once": 0.5, "since_new_spool": 0.2},
    ),
    Fault(
        "machine_profile_wrong",
        "settings",
        "file",
        NOW_AND_THEN,
        _other_machine,
        history={"starts_at_once": 0.4, "since_setting_change": 0.25},
    ),
    Fault("file_moves_outside", "file", "file", SELDOM, _outside, history={"always_same_height": 0.3}),
    Fault("file_cut_short", "file", "file", NOW_AND_THEN, _cut, history={"always_same_height": 0.35}),
    Fault("file_shifts_itself", "file", "file", SELDOM, _file_shift, history={"always_same_height": 0.5}),
    Fault("support_gap_too_small", "support", "file", OFTEN, _gap_small),
    Fault("support_gap_too_large", "support", "file", NOW_AND_THEN, _gap_large),
    Fault("support_missing", "support", "file", OFTEN, _no_support),
    Fault("support_unstable", "support", "file", NOW_AND_THEN, _weak_support),
    Fault("wall_thinner_than_bead", "model", "model", OFTEN, _thin_wall),
    Fault("mesh_not_closed", "model", "model", NOW_AND_THEN, _mesh),
    Fault(
        "shrinkage_not_allowed_for",
        "model",
        "model",
        NOW_AND_THEN,
        _shrink,
        lambda w: material(w.spool.polymer).shrinkage_percent.best >= 0.4,
    ),
)
