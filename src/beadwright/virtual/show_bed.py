"""What the print shows of the first layer, hold, warp, cooling, shells, support, model; strengths, 1 seen by half."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

import numpy as np

from beadwright.virtual.healthy import material
from beadwright.virtual.melt import Melt
from beadwright.virtual.world import World

Strengths = dict[str, float]


@dataclass(frozen=True)
class Hold:
    """How the part sits: `grip` 1 is sound; lifts and strikes in just noticeable steps."""

    grip: float
    warp: float
    curl: float  # of overhanging edges
    strikes: float
    loose: float  # chance-like strength of the part coming off


def hold_of(world: World, melt: Melt) -> Hold:
    """Return how firmly the part stands and what pulls at it."""
    s, c, part, room = world.settings, world.condition, world.part, world.room
    stuff = material(world.spool.true_polymer)
    cool_bed = max(stuff.bed_temp_c.min - s.bed_temp_c, 0) / 12
    high = max(c.start_gap_mm, 0) / 0.12 + 0.5 * c.tilt_mm / 0.15
    fast = max(s.first_layer_speed_mm_s / 38 - 1, 0)
    grip = c.surface_grip * (1 - 0.75 * c.grease) * exp(-0.5 * cool_bed - 0.55 * high - 0.45 * fast)
    bare = 0.0 if world.machine.enclosed else 1.0
    need = {"none": 0.1, "helpful": 0.3, "recommended": 0.9, "required": 1.3}[stuff.chamber.need]
    pull = (stuff.warp_rank.best - 1) / 3 * (0.35 + 0.9 * bare * need) * min(part.length_mm / 80, 1.8)
    pull += 0.55 * room.draught * (0.3 + need) + 0.3 * cool_bed * (stuff.warp_rank.best > 1)
    over_fan = max(s.fan_percent - stuff.part_fan_percent.max, 0) / 45
    pull += 0.9 * over_fan * (stuff.warp_rank.best > 2)
    warp = pull / max(grip, 0.15) * 0.8
    curl = _curl(world, melt)
    low_hop = 1.0 if s.z_hop_mm < 0.1 else 0.45
    proud = 0.6 * melt.cold + 0.5 * max(melt.over - 1, 0) / 0.2 + 0.8 * max(melt.delivered - 1.04, 0) / 0.1
    strikes = low_hop * (0.8 * curl + 0.8 * proud + 0.45 * warp + 0.35 * (s.z_hop_mm < 0.1) * part.travels * 1.6)
    slender = part.height_mm / part.foot_mm * (0.5 if s.brim_mm >= 3 else 1.0)
    load = (0.12 + 0.1 * slender) * (1 + 0.7 * min(strikes, 2)) + 0.12 * min(warp, 2)
    loose = max(load / max(grip, 0.1) - 0.55, 0) * 2.0
    return Hold(grip, warp, curl, strikes, loose)


def _curl(world: World, melt: Melt) -> float:
    stuff, s, c, part = material(world.spool.true_polymer), world.settings, world.condition, world.part
    fan = s.fan_percent * c.fan_share / 100
    lack = max(stuff.part_fan_percent.min / 100 - fan, 0) * 2.0
    short = max(7 - min(part.small_top_s, part.layer_time_s), 0) / 6
    bare = part.needs_support * (not s.support_on)
    return part.overhang / 0.25 * (0.9 * lack + 0.4 * short + 0.25 * melt.hot) + 1.1 * bare


def bed_shown(world: World, hold: Hold) -> Strengths:
    """First layer, hold and warp."""
    s, c, room = world.settings, world.condition, world.room
    stuff = material(world.spool.true_polymer)
    gap, scatter = c.start_gap_mm, c.start_scatter_mm * (1 if world.seed % 3 else -1)
    high, low = max(gap + max(scatter, 0), 0) / 0.07, max(-gap - min(scatter, 0), 0) / 0.06
    tilt, slip = c.tilt_mm / 0.11, max(1 - hold.grip, 0)
    hot_bed = max(s.bed_temp_c - stuff.bed_temp_c.max, 0) / 12
    fast = max(s.first_layer_speed_mm_s / 38 - 1, 0)
    return {
        "first_layer_open": high + 0.55 * tilt,
        "first_layer_ploughed": low + 0.45 * tilt,
        "first_layer_uneven": 1.2 * tilt + 0.2 * fast,
        "wide_foot": 0.7 * low + 1.1 * hot_bed,
        "stuck_too_well": 0.75 * low + 0.5 * hot_bed + 2.2 * max(c.surface_grip - 1.2, 0),
        "first_layer_drags": 0.6 * high + 1.1 * fast + 1.0 * slip * (slip > 0.3),
        "corner_lifted": hold.warp,
        "layers_split": 0.4 * hold.warp * (stuff.warp_rank.best > 2),
        "came_off_bed": hold.loose,
        "spaghetti": 0.75 * hold.loose,
        "knocking_heard": 0.5 * hold.strikes,
        "clicking_extruder": 0.5 * low,
        "plate_touched": 1.9 * c.grease,
        "no_flow": 0.3 * low * (low > 2.5),
        "foothold_small": (world.part.height_mm / world.part.foot_mm) / 4.0 * (s.brim_mm < 3),
        "polymer_misfits_surface": 2.0 * max(0.8 - c.surface_grip, 0) / 0.4,
        "washing_no_help": 1.3 * max(0.8 - c.surface_grip, 0) / 0.4,
        "worse_in_cold": 1.4 * room.draught + 0.4 * hold.warp * (room.room_c < 19),
        "one_side_only": 1.1 * room.draught + 0.9 * (c.fan_share < 0.6) * (world.part.overhang > 0),
        "support_fell": 0.9 * s.support_slender * (world.part.needs_support > 0.2) + 0.0,
        "plate_moved": 2.0 * room.plate_slid,
        "someone_touched_it": 1.9 * room.knock,
        "plastic_on_nozzle_block": 0.5 * hold.loose * (hold.loose > 1),
        "thin_flow": 0.25 * low,
    }


def shape_shown(world: World, melt: Melt, hold: Hold) -> Strengths:
    """Cooling, shells, support, model and file."""
    s, c, part = world.settings, world.condition, world.part
    stuff = material(world.spool.true_polymer)
    fan = s.fan_percent * c.fan_share
    lack = max(stuff.part_fan_percent.min - fan, 0) / 45
    short = max(8 - min(part.small_top_s, part.layer_time_s), 0) / 4
    thin = 0.2 / s.layer_height_mm
    top_lack = max(stuff.shell.top_solid_layers_min * thin - s.top_solid_layers, 0) / thin
    floor_lack = max(stuff.shell.bottom_solid_layers_min * thin - s.bottom_solid_layers, 0) / thin
    sparse = max(14 - s.infill_percent, 0) / 6
    want = stuff.support_gap_mm.best
    tight, wide = max(want - s.support_gap_mm, 0) / 0.07, max(s.support_gap_mm - want, 0) / 0.09
    on = part.needs_support * s.support_on
    bare = part.needs_support * (not s.support_on)
    narrow = max(s.line_width_mm * 0.95 - part.thin_wall_mm, 0) / 0.12
    shrunk = 0.0 if s.shrink_allowed else stuff.shrinkage_percent.best / 100 * part.length_mm / 0.25
    walls = max(2 - s.wall_lines, 0)
    return {
        "overhang_rough": part.overhang / 0.2 * (1.1 * lack + 0.3 * short) + 1.5 * bare,
        "overhang_curled_up": hold.curl,
        "bridge_sags": (part.bridge_mm > 0) * (1.2 * lack + 0.7 * bare) + 0.4 * max(part.bridge_mm - 30, 0) / 10 * lack,
        "droopy_small_features": 1.2 * short + 0.6 * lack * (part.small_top_s < 14),
        "layer_takes_seconds": 1.3 * short,
        "part_fan_not_turning": 2.4 * (c.fan_share < 0.2),
        "several_at_once_fine": 0.9 * short,
        "holes_in_top": part.flat_top * (0.75 * top_lack + 0.5 * sparse),
        "bottom_see_through": 0.95 * floor_lack,
        "infill_shows_through": 1.2 * walls + 0.25 * sparse,
        "weak_part": 0.9 * sparse + 0.9 * walls + 0.4 * floor_lack * 0.5,
        "few_walls_or_fill": 1.9 * walls + 1.5 * sparse,
        "support_fused": on * 2.0 * tight,
        "part_damaged_by_support": on * 1.5 * tight,
        "support_came_away": on * (1.3 * wide + 1.5 * s.support_slender) + 0.0 * bare,
        "support_lifts_off_easily": on * 1.5 * wide,
        "support_fell": on * 1.8 * s.support_slender,
        "support_forgotten": 2.2 * bare,
        "spaghetti": 1.0 * bare + on * 0.9 * s.support_slender,
        "features_missing": 1.6 * narrow + 0.8 * part.mesh_open,
        "wall_thin_in_drawing": 1.7 * narrow,
        "gaps_between_lines": 0.5 * narrow * 0.8,
        "wrong_fill_or_holes": 1.9 * part.mesh_open,
        "layers_missing": 0.9 * part.mesh_open,
        "seen_in_file_view": 1.3 * part.mesh_open
        + 1.2 * narrow
        + 2.0 * (s.file_shift_mm != (0.0, 0.0))
        + 1.5 * (s.cut_at < 1)
        + 1.2 * (s.outside_mm > 0),
        "size_wrong": shrunk * (0.4 + part.fits),
        "holes_small_outside_right": 0.25 * shrunk,
        "error_grows_with_length": 0.9 * shrunk,
        "print_stopped_early": 2.2 * (s.cut_at < 1)
        + 2.2 * world.room.power_cut
        + 1.2 * (c.heater_weak > 0.5)
        + 1.0 * max(c.wire - 0.35, 0)
        + 1.2 * max(c.supply_weak - 0.5, 0),
        "copy_is_shorter": 1.4 * (s.cut_at < 1),
        "head_ran_into_end": 2.2 * (s.outside_mm > 0) + 1.3 * s.for_other_machine + 0.6 * (c.start_scatter_mm > 0.3),
        "file_for_other_machine": 2.0 * s.for_other_machine,
        "part_off_centre": 1.6 * s.for_other_machine,
        "dull_where_glossy": 0.3 * lack,
        "stringing": 0.12 * lack,
    }


def circumstances(world: World, rng: np.random.Generator) -> Strengths:
    """What the sender can tell of its history: each by the chance that the fault brings, all or nothing."""
    return {name: 3.0 * (rng.random() < chance) for name, chance in world.history.items()}
