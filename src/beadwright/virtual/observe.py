"""What a sender sees, tells and measures of a print: thresholds, reading noise, things left out, things misread."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import pi
from typing import Any

import numpy as np

from beadwright.physics.bead import bead_width_mm, free_strand_diameter_mm
from beadwright.physics.belts import string_frequency_hz
from beadwright.virtual.fault import Rng
from beadwright.virtual.show import Shown, chance_seen
from beadwright.virtual.show_motion import oval_mm
from beadwright.virtual.world import World

# Found only by looking for it: with tools, under covers, in the file, in the settings, on the spool.
INSPECTED = frozenset(
    [
        "axis_play_felt",
        "axis_stiff_by_hand",
        "belt_soft",
        "belts_sound_unlike",
        "nozzle_rocks",
        "motor_very_hot",
        "pulley_turns_on_shaft",
        "cable_catches",
        "wire_damaged",
        "fault_moves_with_cable",
        "loses_place_when_hot",
        "bore_worn",
        "bore_not_as_set",
        "strand_measured_uneven",
        "strand_crossed_or_knotted",
        "gear_seen_wobbling",
        "spacing_is_gear_turn",
        "spacing_is_screw_lead",
        "gear_slips_on_strand",
        "liner_gap_or_burnt",
        "strand_end_swollen",
        "hot_end_fan_weak",
        "dirt_from_nozzle",
        "filament_snaps_when_bent",
        "feed_never_calibrated",
        "diameter_setting_off",
        "abrasive_through_soft_nozzle",
        "filled_filament_before",
        "temperature_reads_wrong",
        "sensor_out_of_place",
        "heats_too_slowly",
        "heater_loose",
        "stored_open",
        "strand_acts_like_other",
        "screw_seen_bent",
        "bands_same_heights",
        "bands_with_bed_heater",
        "frame_parts_loose",
        "plate_touched",
        "foothold_small",
        "polymer_misfits_surface",
        "washing_no_help",
        "layer_takes_seconds",
        "several_at_once_fine",
        "few_walls_or_fill",
        "support_forgotten",
        "wall_thin_in_drawing",
        "seen_in_file_view",
        "copy_is_shorter",
        "file_for_other_machine",
        "house_power_failed",
        "supply_sags",
        "marks_only_in_one_light",
        "error_grows_with_length",
        "one_axis_off_in_size",
        "holes_small_outside_right",
        "plate_moved",
        "part_fan_not_turning",
        "someone_touched_it",
        "spool_jerks",
    ]
)


@dataclass(frozen=True)
class Habits:
    """How senders report; shares are judgement, no source, but for the third that the accuracy bar leaves out."""

    tells: float = 2 / 3  # of what can be seen or heard without looking for it
    inspects: float = 0.35  # of what has to be looked for
    false_reports: float = 0.08  # cases with one thing reported that is not there
    denials: float = 0.6  # things looked for and not seen, on average
    measures: float = 0.45  # of what could be measured
    settings_known: float = 0.6
    typed_wrong: float = 0.02
    trials: float = 0.1


@dataclass(frozen=True)
class Told:
    """A report: what the pipeline gets."""

    signs: tuple[tuple[str, bool, float], ...] = ()  # id, present, confidence
    printer: dict[str, Any] = field(default_factory=dict)
    material: dict[str, Any] = field(default_factory=dict)
    settings: dict[str, Any] = field(default_factory=dict)
    measured: dict[str, Any] = field(default_factory=dict)
    trials: tuple[dict[str, Any], ...] = ()


def seen_signs(result: Shown, rng: Rng) -> frozenset[str]:
    """Return what an attentive reader would see, chance near the threshold included: the truth for checks."""
    seen = {name for name, strength in sorted(result.strength.items()) if rng.random() < chance_seen(strength)}
    if seen & {"shift_one_axis", "shift_diagonal", "shift_off_diagonal", "shift_repeats", "part_turned"}:
        seen.add("layer_shift")
    return frozenset(seen)


def told_of(
    world: World, result: Shown, seen: frozenset[str], lives_in: tuple[str, ...], habits: Habits, rng: Rng
) -> Told:
    """Return one sender's report."""
    return Told(
        _signs(world, seen, lives_in, habits, rng),
        _printer(world, habits, rng),
        _material(world, habits, rng),
        _settings(world, habits, rng),
        _measured(world, result, seen, habits, rng),
        _trials(lives_in, habits, rng),
    )


def _signs(
    world: World, seen: frozenset[str], lives_in: tuple[str, ...], habits: Habits, rng: Rng
) -> tuple[tuple[str, bool, float], ...]:
    lines = []
    for name in sorted(seen):
        share = habits.inspects if name in INSPECTED else habits.tells
        if rng.random() < share:
            lines.append((name, True, float(rng.choice([0.85, 0.9, 0.95]))))
    if len(set(lives_in)) == 1 and rng.random() < 0.15:
        there = {"printer": "one_printer_only", "filament": "two_printers_same_spool", "model": "one_file_only"}
        lines += [(there[lives_in[0]], True, 0.85)] if lives_in[0] in there else []
    plain = sorted(EVERYDAY - seen)
    if rng.random() < habits.false_reports:
        lines.append((str(rng.choice(plain)), True, float(rng.choice([0.75, 0.85]))))
    told = {name for name, _, _ in lines}
    absent = [name for name in plain if name not in told]
    lines += [(str(name), False, 0.9) for name in rng.choice(absent, rng.poisson(habits.denials), replace=False)]
    return tuple(lines)


EVERYDAY = frozenset(
    [
        "layer_shift",
        "stringing",
        "blobs",
        "gaps_between_lines",
        "thin_flow",
        "excess_plastic",
        "rough_surface",
        "layers_split",
        "weak_part",
        "corner_lifted",
        "came_off_bed",
        "wide_foot",
        "first_layer_open",
        "ringing_marks",
        "bands_regular",
        "bands_irregular",
        "holes_not_round",
        "popping_or_steam",
        "clicking_extruder",
        "overhang_rough",
        "bridge_sags",
        "knocking_heard",
        "seam_lumps",
        "holes_in_top",
        "dark_specks",
        "print_stopped_early",
        "spaghetti",
        "size_wrong",
        "after_some_hours",
        "starts_at_once",
        "since_new_spool",
        "since_nozzle_change",
    ]
)


def _some(values: dict[str, Any], share: float, rng: Rng) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None and rng.random() < share}


def _printer(world: World, habits: Habits, rng: Rng) -> dict[str, Any]:
    m = world.machine
    known = _some(
        {
            "extruder": m.extruder,
            "enclosed": m.enclosed,
            "nozzle_mm": m.nozzle_mm,
            "nozzle_material": m.nozzle_material,
        },
        0.65,
        rng,
    )
    drive = {
        "belt_pitch_mm": m.belt_pitch_mm,
        "pulley_teeth": m.pulley_teeth,
        "motor_step_deg": m.motor_step_deg,
        "screw_lead_mm": m.screw_lead_mm,
        "drive_gear_mm": m.drive_gear_mm,
        "melt_zone_mm": m.melt_zone_mm,
    }
    known |= drive if rng.random() < 0.45 else {}
    return known | _some({"kinematics": m.kinematics, "moving_bed": m.moving_bed}, 0.85, rng)


def _material(world: World, habits: Habits, rng: Rng) -> dict[str, Any]:
    spool = world.spool
    known = _some({"polymer": spool.polymer, "filler": spool.filler}, 0.9, rng)
    known |= _some(
        {"opened_days": spool.opened_days, "storage_rh": spool.storage_rh, "spool_g_left": spool.g_left}, 0.35, rng
    )
    if spool.dried_days_ago is not None and rng.random() < 0.6:
        known["dried"] = {"days_ago": spool.dried_days_ago, "hours": spool.dried_hours}
    if "opened_days" in known:
        known["opened_days"] = float(max(round(known["opened_days"] * rng.lognormal(0, 0.2)), 0))
    if "storage_rh" in known:
        known["storage_rh"] = float(np.clip(round(known["storage_rh"] + rng.normal(0, 5)), 3, 95))
    return known


_SAID = (
    "nozzle_temp_c",
    "bed_temp_c",
    "fan_percent",
    "layer_height_mm",
    "line_width_mm",
    "speed_mm_s",
    "first_layer_speed_mm_s",
    "first_layer_height_mm",
    "flow_percent",
    "retraction_mm",
    "z_hop_mm",
    "bottom_solid_layers",
    "top_solid_layers",
    "wall_lines",
    "infill_percent",
    "accel_mm_s2",
    "brim_mm",
    "filament_diameter_mm",
)


def _settings(world: World, habits: Habits, rng: Rng) -> dict[str, Any]:
    """The settings page: often all or nothing, some lines left out, now and then two digits exchanged."""
    share = float(rng.choice([0.0, habits.settings_known, 0.95], p=[0.25, 0.5, 0.25]))
    said = _some({name: getattr(world.settings, name) for name in _SAID}, share, rng)
    if world.part.needs_support > 0.2 and world.settings.support_on:
        said |= _some({"support_gap_mm": world.settings.support_gap_mm}, share, rng)
    for name in list(said):
        if rng.random() < habits.typed_wrong:
            said[name] = _slip(float(said[name]))
    if rng.random() < 0.35:  # the file was looked at
        said |= {
            "slenderness": round(world.part.height_mm / world.part.foot_mm, 1),
            "min_layer_seconds": round(min(world.part.small_top_s, world.part.layer_time_s), 1),
            "moves_outside_mm": round(world.settings.outside_mm, 1),
        }
    return said


def _slip(value: float) -> float:
    """Exchange the last two digits of a whole number; other numbers stay."""
    text = f"{value:g}"
    return float(text[:-2] + text[-1] + text[-2]) if text.isdigit() and len(text) > 1 and text[-1] != "0" else value


def _measured(world: World, result: Shown, seen: frozenset[str], habits: Habits, rng: Rng) -> dict[str, Any]:
    values: dict[str, Any] = {}

    def measures(share: float = 1.0) -> bool:
        return bool(rng.random() < habits.measures * share)

    if world.shifts and "layer_shift" in seen and measures():
        u = float(rng.choice([0.05, 0.1, 0.15, 0.25, 0.4]))
        dx, dy = world.shifts[0]
        values["shift_mm"] = [round(dx + rng.normal(0, u), 2), round(dy + rng.normal(0, u), 2)]
        values |= {"shift_u_mm": u} if rng.random() < 0.7 or u > 0.15 else {}
        values |= (
            {"shift_at_mm": round(world.at * world.part.height_mm + rng.normal(0, 0.3), 1)}
            if rng.random() < 0.6
            else {}
        )
    if "holes_not_round" in seen and measures():
        out, axis = oval_mm(world)
        out += float(rng.normal(0, 0.03))
        values |= {
            "d_max_mm": round(40 + out / 2, 2),
            "d_min_mm": round(40 - abs(out) / 2, 2),
            "long_axis_deg": round(axis + rng.normal(0, 6), 0),
        }
    if "out_of_square" in seen and measures(0.5):
        values["skew_deg"] = round(world.condition.skew_deg + rng.normal(0, 0.05), 2)
    if measures(0.7 if "temperature_swings_seen" in seen else 0.06):
        values["swing_c"] = round(max(world.condition.swing_c + rng.normal(0, 0.4), 0.1), 1)
    if measures(0.7 if seen & {"thin_flow", "excess_plastic", "gaps_between_lines"} else 0.06):
        s = world.settings
        area = result.melt.delivered * (
            (s.line_width_mm - s.layer_height_mm) * s.layer_height_mm + pi * s.layer_height_mm**2 / 4
        )
        thread = float(free_strand_diameter_mm(area))  # too little plastic stays a round strand
        wall = thread if thread < s.layer_height_mm else float(bead_width_mm(area, s.layer_height_mm))
        values |= {"wall_mm": round(max(wall + rng.normal(0, 0.02), 0.03), 2), "wall_expected_mm": s.line_width_mm}
    if "thin_flow" in seen and measures(0.4):
        values |= {"mass_g": round(50 * result.melt.delivered * rng.normal(1, 0.015), 1), "expected_mass_g": 50.0}
    if measures(0.35 if "belt_soft" in seen or "holes_not_round" in seen else 0.02):
        hertz = float(string_frequency_hz(0.15, min(world.condition.belt_n), 0.008)) * float(rng.lognormal(0, 0.05))
        values |= {"belt_hz": round(hertz, 1), "belt_span_mm": 150.0}
    if "bands_regular" in seen and measures():
        values |= _marks(world, rng)
    if rng.random() < 0.12:
        values |= {"room_c": round(world.room.room_c), "room_rh": round(world.room.room_rh)}
    return values


def band_spacing_mm(world: World) -> float | None:
    """Return the height from one band to the next [mm]; None where nothing in the machine makes them."""
    m, c, p, s = world.machine, world.condition, world.part, world.settings
    if c.screw_runout_mm:
        return m.screw_lead_mm
    if c.gear_runout:
        fed_mm3 = pi * m.drive_gear_mm * 2.405
        return fed_mm3 / (0.35 * p.foot_mm**2)
    seconds = 75.0 if c.bed_swing_k else 35.0 if c.swing_c > 2 else None
    return None if seconds is None else max(seconds / p.layer_time_s, 2.0) * s.layer_height_mm


def _marks(world: World, rng: Rng) -> dict[str, Any]:
    """Heights of bands with 15 % missed, two false, and 0.15 mm of reading error."""
    spacing = band_spacing_mm(world)
    if spacing is None or world.part.height_mm / spacing < 4:
        return {}
    heights = np.arange(spacing, world.part.height_mm, spacing)[:40]
    read = heights[rng.random(len(heights)) > 0.15] + rng.normal(0, 0.15, 1)
    marks = np.sort(np.append(read, rng.uniform(0, world.part.height_mm, 2)) + rng.normal(0, 0.15, len(read) + 2))
    return {"marks_mm": [round(float(mark), 2) for mark in marks if mark > 0]}


def _trials(lives_in: tuple[str, ...], habits: Habits, rng: Rng) -> tuple[dict[str, Any], ...]:
    """Up to three attempts with one thing exchanged at a time."""
    if rng.random() > habits.trials:
        return ()
    places = {"printer": "printer", "filament": "spool", "file": "file", "model": "file", "environment": "surroundings"}
    guilty = {places[place] for place in lives_in if place in places}
    base = {"printer": "one", "spool": "grey", "file": "bracket", "surroundings": "cellar"}
    rows: list[dict[str, Any]] = [base | {"defect": bool(guilty) or bool(rng.random() < 0.2)}]
    for item in rng.permutation(["printer", "spool", "file"])[: int(rng.integers(1, 3))]:
        there = bool(guilty - {str(item)})
        rows.append(base | {str(item): "another", "defect": bool(rng.random() < (0.9 if there else 0.08))})
    return tuple(
        {
            "printer": r["printer"],
            "spool": r["spool"],
            "file": r["file"],
            "surroundings": r["surroundings"],
            "defect": r["defect"],
        }
        for r in rows
    )


def case_of(told: Told) -> dict[str, Any]:
    """Return the report as a case table, without words."""
    case: dict[str, Any] = {
        "printer": told.printer,
        "material": told.material,
        "settings": told.settings,
        "measured": told.measured,
        "sign": [{"id": name, "present": present, "confidence": sure} for name, present, sure in told.signs],
        "trial": list(told.trials),
    }
    return {section: content for section, content in case.items() if content}


def without_signs(told: Told) -> Told:
    """Return the report with its signs left to the story."""
    return replace(told, signs=(), trials=())
