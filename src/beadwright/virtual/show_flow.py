"""What the print and the hot end show of melt, drive and strand: strengths in just noticeable steps, 1 seen by half."""

from __future__ import annotations

from beadwright.virtual.melt import Melt
from beadwright.virtual.world import World

Strengths = dict[str, float]


def flow_shown(world: World, melt: Melt) -> Strengths:
    """Amount of plastic: too little, too much, uneven, fading."""
    c, spool, part = world.condition, world.spool, world.part
    lack, extra = max(1 - melt.delivered, 0.0), max(melt.delivered - 1, 0.0)
    ground = melt.slip * (0.5 + part.retractions) + 0.5 * c.crushed * part.retractions + _back_and_forth(world)
    uneven = (
        spool.uneven / 0.05 + c.gear_runout / 0.05 + melt.slip / 0.25 + 0.5 * max(melt.wet_outer - 0.7, 0) + c.lag * 0.3
    )
    jam = max(ground / 0.45 - 0.6, 0.0) + max(c.blocked / 0.75 - 0.7, 0.0) + (2.0 if c.buckle > 0.7 else 0.0)
    jam += 1.4 * spool.tangle * (spool.tangle > 0.75) + 2.2 * (c.heater_weak > 0.85) + 1.6 * (melt.creep > 1.3)
    fades = (
        1.6 * melt.creep
        + 1.6 * ground
        + 1.8 * spool.tangle
        + 1.4 * c.buckle
        + 0.9 * c.blocked * c.grip * (c.blocked > 0.3)
    )
    snapped = 2.2 * spool.brittle + 0.8 * max(spool.tangle - 0.6, 0) * (spool.polymer not in ("tpu_95a",))
    over = max(melt.over - 0.9, 0)
    return {
        "thin_flow": lack / 0.13,
        "gaps_between_lines": lack / 0.1 + (melt.cold > 0.5) * 0.5 * melt.cold,
        "excess_plastic": extra / 0.07,
        "holes_in_top": (lack / 0.14 + 0.0) * part.flat_top * 1.2,
        "infill_broken": lack / 0.16 + 0.6 * over + 0.35 * melt.cold,
        "walls_not_joined": lack / 0.14 + 0.6 * melt.cold,
        "no_flow": jam,
        "flow_fades": fades + jam * 0.4,
        "layers_missing": 0.55 * fades * (fades > 0.9),
        "clicking_extruder": melt.slip / 0.09 * (1 - 0.75 * (c.grip < 0.6)),
        "filament_chewed": ground / 0.22 + (c.grip < 0.7) * 0.6,
        "line_width_uneven": uneven,
        "bands_irregular": 0.9 * spool.uneven / 0.05
        + 1.2 * spool.drag
        + 0.5 * max(melt.wet_outer - 0.8, 0)
        + 0.5 * melt.slip / 0.2,
        "filament_snapped": snapped,
        "filament_snaps_when_bent": 2.4 * spool.brittle,
        "filament_buckled": 2.4 * c.buckle,
        "strand_curls_at_nozzle": 1.9 * c.blocked / 0.5 + 3 * c.worn_mm / 0.1 * 0.3,
        "dirt_from_nozzle": 2.2 * (c.blocked > 0.15) * (0.4 + c.blocked),
        "gear_slips_on_strand": 2.0 * (1 - c.grip) / 0.4,
        "weak_part": max(lack - 0.06, 0) / 0.12,
        "print_stopped_early": 0.5 * snapped + 0.6 * (jam > 1.2),
        "detail_lost": 6 * c.worn_mm + 0.7 * (extra / 0.1) + 5 * max(c.bore_error_mm, 0),
        "bore_worn": c.worn_mm / 0.05,
        "bore_not_as_set": abs(c.bore_error_mm) / 0.08,
        "strand_measured_uneven": spool.uneven / 0.025,
        "spool_jerks": 1.6 * spool.drag + 1.9 * spool.tangle,
        "strand_crossed_or_knotted": 2.3 * spool.tangle,
        "gear_seen_wobbling": c.gear_runout / 0.04,
        "infill_shows_through": 0.25 * (extra / 0.1),
        "plastic_on_nozzle_block": 0.55 * extra / 0.08 + 2.0 * c.leak + 0.4 * melt.ooze * (melt.ooze > 0.9),
        "melted_plastic_leaks_above_nozzle": 2.3 * c.leak,
        "liner_gap_or_burnt": 2.2 * c.liner,
        "strand_end_swollen": 1.6 * (melt.creep > 0.5) * melt.creep + 0.5 * c.liner,
        "hot_end_fan_weak": 2.2 * (1 - c.cold_side_fan),
        "near_many_retractions": (1.2 * part.retractions / 0.5) * (ground > 0.2 or melt.creep > 0.7),
        "burnt_smell": 0.9 * max(melt.hot - 2.0, 0) + 0.6 * c.liner + 1.2 * (c.wire > 0.75),
        "dark_specks": 0.9 * c.blocked + 0.5 * max(melt.hot - 1, 0) + 1.1 * c.leak,
        "bands_regular": 1.3 * c.gear_runout / 0.06 + 0.4 * spool.drag,
        "spacing_is_gear_turn": 1.4 * c.gear_runout / 0.06,
        "feed_never_calibrated": 1.3 * (abs(c.feed_scale - 1) > 0.06),
        "diameter_setting_off": 2.5 * (abs(world.settings.filament_diameter_mm - 1.75) > 0.05),
        "abrasive_through_soft_nozzle": 2.5
        * (spool.filler in ("carbon_fibre", "glass_fibre", "glow") and world.machine.nozzle_material == "brass"),
        "filled_filament_before": 1.4 * (spool.filler is not None and c.blocked > 0.2),
    }


def _back_and_forth(world: World) -> float:
    """Strand ground by being drawn back and forth more than the gear bears."""
    usual = 1.6 if world.machine.extruder == "direct" else 6.5
    return 0.55 * max(world.settings.retraction_mm / usual - 1.2, 0.0) * (0.4 + world.part.retractions)


def melt_shown(world: World, melt: Melt) -> Strengths:
    """Heat and water: strings, pits, drips, weak welds, sheen."""
    c, part, s = world.condition, world.part, world.settings
    wet = max(max(melt.wet, melt.wet_outer) - 0.55, 0.0)
    weak = 1 - melt.weld
    pulled = max(s.retraction_mm / (1.6 if world.machine.extruder == "direct" else 6.5) - 1.1, 0.0)
    swing = max(c.swing_c - 2, 0.0)
    return {
        "stringing": melt.ooze * (0.45 + 0.75 * part.travels),
        "nozzle_drips": 0.85 * melt.hot + 1.2 * wet + 0.5 * max(melt.ooze - 0.9, 0),
        "blobs": 0.5 * melt.hot + 1.2 * wet + 0.9 * max(melt.ooze - 0.8, 0) + 0.9 * c.lag,
        "seam_lumps": 0.45 * melt.hot
        + 1.3 * c.lag
        + 0.5 * max(melt.ooze - 0.8, 0)
        + 0.5 * max(melt.delivered - 1, 0) / 0.08,
        "corners_bulge": 1.9 * c.lag + 0.5 * max(melt.delivered - 1, 0) / 0.1,
        "gap_after_travel": 1.2 * c.lag + 1.3 * pulled + 0.7 * max(melt.ooze - 1.0, 0),
        "popping_or_steam": 2.6 * wet,
        "bubbles_in_bead": 2.5 * wet + 0.4 * max(melt.hot - 2, 0),
        "rough_surface": 2.0 * wet + 0.55 * melt.cold + 0.25 * melt.slip / 0.1,
        "dull_where_glossy": 0.7 * melt.cold + 0.8 * max(melt.over - 0.95, 0) / 0.2 + 0.35 * wet + 0.8 * swing / 6,
        "layers_split": weak / 0.45 * 0.9 * (0.5 + part.height_mm / 60 * 0.5),
        "weak_part": weak / 0.32 + 0.45 * wet * (world.spool.polymer not in ("pla", "abs", "asa")),
        "walls_not_joined": 0.4 * weak / 0.4,
        "lines_proud": 0.7 * melt.cold + 0.55 * max(melt.over - 1, 0) / 0.2 + 0.8 * max(melt.delivered - 1.04, 0) / 0.1,
        "droopy_small_features": 0.5 * melt.hot,
        "bridge_sags": 0.5 * melt.hot * (part.bridge_mm > 0),
        "overhang_rough": 0.4 * melt.hot * (part.overhang > 0),
        "temperature_swings_seen": swing / 3 + 1.6 * c.sensor_jumps,
        "bands_regular": 0.8 * swing / 6,
        "bands_irregular": 0.5 * swing / 6 * 0.6 + 0.5 * c.sensor_jumps,
        "temperature_reads_wrong": abs(c.sensor_off_c) / 14 + 0.7 * c.sensor_jumps,
        "sensor_out_of_place": abs(c.sensor_off_c) / 12,
        "heater_error_shown": 2.0 * (c.heater_weak > 0.45) * c.heater_weak
        + 1.5 * max(c.sensor_jumps - 0.4, 0)
        + 1.2 * max(c.wire - 0.4, 0),
        "heats_too_slowly": 2.0 * c.heater_weak + 1.1 * c.supply_weak,
        "heater_loose": 1.9 * c.heater_weak,
        "bands_fade_with_spool": 2.4 * max(melt.wet_outer - melt.wet, 0) / 0.5,
        "stored_open": 1.6
        * (world.spool.opened_days > 25 and world.spool.storage_rh > 35 and world.spool.dried_days_ago is None),
        "strand_acts_like_other": 2.0 * (world.spool.true_polymer != world.spool.polymer),
        "support_fused": 0.25 * melt.hot * (part.needs_support > 0.2),
    }
