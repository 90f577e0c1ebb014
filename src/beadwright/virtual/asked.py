"""What a check would find on a virtual print: a sign looked at, or a trial made, measured on the world itself.

A check that looks at a sign finds what an attentive reader sees. One with a result of its own is worked out from the
world: what a thermometer would read, whether a print with one thing changed comes out better. Never from the tables.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Literal

from beadwright.virtual.fault import Rng
from beadwright.virtual.healthy import material
from beadwright.virtual.observe import INSPECTED
from beadwright.virtual.show import Shown, shown
from beadwright.virtual.show_motion import oval_mm
from beadwright.virtual.world import World

Result = Literal["yes", "no", "unsure"]
Truth = Callable[[World, Shown], bool]
RIGHT = 0.95  # chance that a person reads the result right: judgement, no source
CURED = 0.55  # a fault whose strength falls below this share is called gone or clearly less


def fault_strength(result: Shown, only: frozenset[str] | None = None) -> float:
    """Return how bad a print looks: the strengths of what is to be seen on it, each counted up to 2."""
    return sum(
        min(value, 2.0)
        for name, value in result.strength.items()
        if (
            name in only
            if only
            else name not in INSPECTED and not name.startswith(("since_", "after_", "at_", "worse_"))
        )
    )


def better_with(change: Callable[[World], None], only: str = "") -> Truth:
    """Return a trial: print once more with something changed, and see whether the fault is clearly less."""
    signs = frozenset(only.split())

    def trial(world: World, result: Shown) -> bool:
        changed = deepcopy(world)
        change(changed)
        before = fault_strength(result, signs)
        return before > 0.7 and fault_strength(shown(changed), signs) < CURED * before

    return trial


def _dried(world: World) -> None:
    world.spool.dried_days_ago = 0.0
    world.spool.brittle *= 0.5


def _other_spool(world: World) -> None:
    spool = world.spool
    spool.brittle = spool.uneven = spool.drag = spool.tangle = 0.0
    spool.true_polymer, spool.dried_days_ago = spool.polymer, 0.0


def _hotter(world: World, kelvin: float = 12.0) -> None:
    world.settings.nozzle_temp_c += kelvin


def _slower(world: World) -> None:
    world.settings.speed_mm_s *= 0.5
    world.settings.first_layer_speed_mm_s *= 0.6
    world.part.layer_time_s *= 1.7


def _gentle(world: World) -> None:
    world.settings.accel_mm_s2 *= 0.5
    world.settings.speed_mm_s *= 0.9


def _more_retraction(world: World) -> None:
    world.settings.retraction_mm = max(world.settings.retraction_mm * 1.5, 0.8)


def _shielded(world: World) -> None:
    world.machine.enclosed, world.room.draught = True, 0.0
    world.room.room_c = max(world.room.room_c, 22.0)


def _washed(world: World) -> None:
    world.condition.grease = 0.0


def _several(world: World) -> None:
    world.part.small_top_s *= 2
    world.part.layer_time_s *= 2


def _window(name: str) -> Callable[[World], tuple[float, float]]:
    def ends(world: World) -> tuple[float, float]:
        window = getattr(material(world.spool.polymer), name)
        return window.min, window.max

    return ends


_nozzle, _bed, _fan = _window("nozzle_temp_c"), _window("bed_temp_c"), _window("part_fan_percent")
_THERE_AGAIN = ("file", "model")


def _wall_off(world: World, result: Shown) -> bool:
    return (
        abs(result.melt.delivered - 1) > 0.07 or world.spool.uneven > 0.07 or abs(world.condition.bore_error_mm) > 0.3
    )


def _hundred_mm(world: World, result: Shown) -> bool:
    return abs(world.condition.feed_scale - 1) > 0.02 or world.condition.grip < 0.6 or world.condition.blocked > 0.6


def _hard_push(world: World, result: Shown) -> bool:
    c = world.condition
    return (
        c.blocked > 0.35 or result.melt.cold > 1.2 or result.melt.creep > 0.8 or c.liner > 0.6 or c.bore_error_mm < -0.1
    )


def _slips_when_fast(world: World, result: Shown) -> bool:
    return result.melt.slip > 0.05


def _stays_on_spool(world: World, result: Shown) -> bool:
    s = world.spool
    return (
        max(result.melt.wet, result.melt.wet_outer) > 0.9
        or s.brittle > 0.3
        or s.uneven > 0.03
        or s.true_polymer != s.polymer
    )


def _file_or_room(world: World, result: Shown) -> bool:
    """What another printer would repeat with this spool and file."""
    sound = deepcopy(world)
    sound.condition = type(world.condition)()
    sound.shifts = (world.settings.file_shift_mm,) if world.settings.file_shift_mm != (0.0, 0.0) else ()
    return fault_strength(shown(sound)) > 0.5 * fault_strength(result)


def _same_height_again(world: World, result: Shown) -> bool:
    s, p = world.settings, world.part
    lasting = (
        s.cut_at < 1
        or s.outside_mm > 0
        or s.file_shift_mm != (0.0, 0.0)
        or p.mesh_open > 0.4
        or world.condition.cable_pull > 0.6
    )
    return lasting or result.strength.get("droopy_small_features", 0) > 1 or result.strength.get("holes_in_top", 0) > 1


TRUTH: dict[str, Truth] = {
    "spool_on_other_printer": _file_or_room,
    "other_spool_here": better_with(_other_spool),
    "dry_and_print_again": better_with(
        _dried, "stringing popping_or_steam bubbles_in_bead rough_surface blobs filament_snapped"
    ),
    "listen_at_nozzle": lambda w, r: max(r.melt.wet, r.melt.wet_outer) > 0.75,
    "weigh_spool_dry": lambda w, r: max(r.melt.wet, 0.5 * r.melt.wet_outer) > 0.8,
    "inner_against_outer": lambda w, r: r.melt.wet_outer - r.melt.wet > 0.2,
    "slow_feed_by_hand": _hard_push,
    "cold_pull_shape": lambda w, r: w.condition.blocked > 0.25 or w.condition.liner > 0.6,
    "hotter_feed_test": better_with(
        _hotter, "thin_flow gaps_between_lines clicking_extruder infill_broken walls_not_joined"
    ),
    "feed_at_two_speeds": _slips_when_fast,
    "hundred_mm_feed": _hundred_mm,
    "measure_wall": _wall_off,
    "weigh_the_part": lambda w, r: r.melt.delivered < 0.95,
    "measure_strand": lambda w, r: w.spool.uneven > 0.025 or abs(w.settings.filament_diameter_mm - 1.75) > 0.05,
    "gear_teeth_marks": lambda w, r: r.melt.slip > 0.08 or w.condition.crushed > 0.3 or w.condition.grip < 0.7,
    "gear_turn_mark": lambda w, r: w.condition.gear_runout > 0.04,
    "touch_the_cold_side": lambda w, r: w.condition.cold_side_fan < 0.6,
    "open_door_trial": lambda w, r: r.melt.creep > 0.6 or w.condition.driver_hot > 0.3,
    "look_at_nozzle_tip": lambda w, r: w.condition.worn_mm > 0.05,
    "read_nozzle_mark": lambda w, r: abs(w.condition.bore_error_mm) > 0.1,
    "filler_and_nozzle": lambda w, r: w.spool.filler is not None and w.machine.nozzle_material == "brass",
    "thermometer_on_nozzle": lambda w, r: abs(w.condition.sensor_off_c) > 10 or w.condition.swing_c > 10,
    "band_spacing_against_screw": lambda w, r: w.condition.screw_runout_mm > 0.03,
    "two_sections": lambda w, r: (
        max(w.condition.gear_runout * 20, w.condition.bed_swing_k / 5, w.spool.uneven * 20, w.spool.drag) > 0.8
        or w.condition.swing_c > 5
    ),
    "roll_the_screw": lambda w, r: w.condition.screw_runout_mm > 0.05,
    "pluck_the_belts": lambda w, r: (
        min(w.condition.belt_n) < 11 or min(w.condition.belt_n) / max(w.condition.belt_n) < 0.75
    ),
    "mark_pulley_and_shaft": lambda w, r: w.condition.pulley_loose > 0.3,
    "same_file_again": _same_height_again,
    "half_acceleration": better_with(_gentle, "ringing_marks motor_buzz machine_shakes layer_shift"),
    "echo_spacing_with_speed": lambda w, r: r.strength.get("ringing_marks", 0.0) > 0.7,
    "oval_axis": lambda w, r: oval_mm(w)[0] > 0.1 and oval_mm(w)[1] % 90 > 20,
    "bar_at_two_lengths": lambda w, r: r.strength.get("error_grows_with_length", 0.0) > 0.7,
    "error_on_one_axis": lambda w, r: r.strength.get("one_axis_off_in_size", 0.0) > 0.7 or w.condition.play_mm > 0.12,
    "cables_at_corners": lambda w, r: w.condition.cable_pull > 0.4 or w.condition.wire > 0.7,
    "rock_the_nozzle": lambda w, r: w.condition.head_loose_mm > 0.06,
    "watch_a_layer": lambda w, r: r.hold.strikes > 0.6,
    "pull_apart": lambda w, r: r.melt.weld < 0.7,
    "feeler_at_start": lambda w, r: w.condition.start_gap_mm > 0.06,
    "wash_and_retry": better_with(_washed, "came_off_bed first_layer_drags corner_lifted spaghetti"),
    "water_on_plate": lambda w, r: w.condition.grease > 0.4,
    "bed_thermometer": lambda w, r: w.room.room_c < 14 and w.room.draught > 0.5,
    "bed_temperature_asked": lambda w, r: w.settings.bed_temp_c < _bed(w)[0],
    "bed_hotter_than_window": lambda w, r: w.settings.bed_temp_c > _bed(w)[1],
    "first_layer_speed_asked": lambda w, r: w.settings.first_layer_speed_mm_s > 40,
    "home_ten_times": lambda w, r: w.condition.start_scatter_mm > 0.03 or w.condition.head_loose_mm > 0.15,
    "mark_on_underside": lambda w, r: bool(w.shifts) and not w.room.knock,
    "hold_hand_at_fan": lambda w, r: w.condition.fan_share < 0.7,
    "fan_in_file": lambda w, r: w.settings.fan_percent < _fan(w)[0],
    "fan_above_window": lambda w, r: w.settings.fan_percent > _fan(w)[1],
    "two_at_once": better_with(_several, "droopy_small_features overhang_rough overhang_curled_up bridge_sags"),
    "worst_side": lambda w, r: r.strength.get("one_side_only", 0.0) > 0.7,
    "thread_for_draught": lambda w, r: w.room.draught > 0.4,
    "shield_and_retry": better_with(_shielded, "corner_lifted layers_split weak_part came_off_bed"),
    "nozzle_setting_below": lambda w, r: w.settings.nozzle_temp_c < _nozzle(w)[0] + 2,
    "nozzle_setting_above": lambda w, r: w.settings.nozzle_temp_c > _nozzle(w)[1] - 2,
    "cooler_string_trial": better_with(lambda w: _hotter(w, -10.0), "stringing blobs nozzle_drips"),
    "more_retraction_trial": better_with(_more_retraction, "stringing blobs"),
    "retraction_asked": lambda w, r: w.settings.retraction_mm < (0.4 if w.machine.extruder == "direct" else 2.5),
    "retraction_long_asked": lambda w, r: w.settings.retraction_mm > (2.2 if w.machine.extruder == "direct" else 8.0),
    "count_bottom_layers": lambda w, r: w.settings.bottom_solid_layers <= 2,
    "count_top_layers": lambda w, r: w.settings.top_solid_layers <= 3,
    "fill_percent_asked": lambda w, r: w.settings.infill_percent < 12,
    "wall_count_asked": lambda w, r: w.settings.wall_lines <= 2,
    "lift_set": lambda w, r: w.settings.z_hop_mm < 0.05,
    "diameter_asked": lambda w, r: abs(w.settings.filament_diameter_mm - 1.75) > 0.05,
    "layer_against_bore": lambda w, r: (
        w.settings.layer_height_mm > 0.8 * (w.machine.nozzle_mm + w.condition.bore_error_mm)
    ),
    "whose_profile": lambda w, r: w.settings.for_other_machine > 0,
    "read_the_last_lines": lambda w, r: w.settings.cut_at < 1,
    "gap_asked": lambda w, r: w.settings.support_gap_mm < material(w.spool.polymer).support_gap_mm.best - 0.05,
    "gap_wide_asked": lambda w, r: w.settings.support_gap_mm > 0.3,
    "anything_in_the_air": lambda w, r: w.part.needs_support > 0.2 and not w.settings.support_on,
    "support_foot": lambda w, r: w.settings.support_slender > 0.4,
    "mesh_closed": lambda w, r: w.part.mesh_open > 0,
    "thin_walls_in_model": lambda w, r: w.part.thin_wall_mm < w.settings.line_width_mm,
    "slack_loop": lambda w, r: w.spool.drag > 0.5 or w.spool.tangle > 0.4,
    "wiggle_cables": lambda w, r: w.condition.wire > 0.3,
    "clocks_blinking": lambda w, r: w.room.power_cut > 0,
    "heats_slowly": lambda w, r: w.condition.heater_weak > 0.3 or w.condition.supply_weak > 0.6,
    "line_with_speed_steps": lambda w, r: w.condition.lag > 0.4,
    "bed_heater_clock": lambda w, r: w.condition.bed_swing_k > 4,
    "warpable_plastic": lambda w, r: (
        material(w.spool.polymer).chamber.need in ("recommended", "required") and not w.machine.enclosed
    ),
    "how_long_open": lambda w, r: w.spool.opened_days > 20 and w.spool.dried_days_ago is None,
    "part_slender": lambda w, r: w.part.height_mm / w.part.foot_mm > 4.5 and w.settings.brim_mm < 3,
    "surface_and_plastic": lambda w, r: w.condition.surface_grip < 0.7 or w.condition.surface_grip > 1.3,
}

# Signs that are trials themselves.
HELPED: dict[str, Truth] = {
    "drying_helped": TRUTH["dry_and_print_again"],
    "slower_helped": better_with(_slower),
    "hotter_helped": better_with(_hotter),
    "lower_acceleration_helped": TRUTH["half_acceleration"],
    "several_at_once_fine": TRUTH["two_at_once"],
    "first_layer_slower_sticks": better_with(_slower, "came_off_bed first_layer_drags"),
}


def answer(check: str, sign: str | None, world: World, result: Shown, seen: frozenset[str], rng: Rng) -> Result:
    """Return what a person answers to a check; "unsure" where this world has no truth for it."""
    truth: bool | None
    if sign in HELPED:
        truth = HELPED[sign](world, result)
    elif sign is not None:
        truth = sign in seen
    else:
        known = TRUTH.get(check)
        truth = None if known is None else known(world, result)
    if truth is None:
        return "unsure"
    return "yes" if truth == (rng.random() < RIGHT) else "no"
