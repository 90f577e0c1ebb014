"""What the print and the machine show of motion: shifts, ripples, ovals, play, noises; strengths, 1 seen by half."""

from __future__ import annotations

from math import atan2, degrees, hypot

from beadwright.physics.belts import slip_quantum_mm
from beadwright.physics.ringing import ripple_height_mm
from beadwright.virtual.melt import Melt
from beadwright.virtual.world import World

Strengths = dict[str, float]
SEEN_SHIFT_MM = 0.25
SEEN_RIPPLE_MM = 0.03


def quantum_mm(world: World) -> float:
    """Belt travel of one electrical period of a motor."""
    m = world.machine
    return float(slip_quantum_mm(m.motor_step_deg, m.pulley_teeth, m.belt_pitch_mm))


def stall_margin(world: World) -> float:
    """Acceleration asked, and friction, over what the motors hold: above 1 they lose step."""
    m, c = world.machine, world.condition
    left = (1 - c.driver_hot) * (1 - 0.5 * c.supply_weak) - c.friction - 0.4 * c.cable_pull
    return world.settings.accel_mm_s2 / m.pull_out_accel_mm_s2 / max(left, 0.05)


def oval_mm(world: World) -> tuple[float, float]:
    """Return how far a 40 mm circle is out of round [mm], and the direction of its long axis [deg]."""
    c = world.condition
    slant, square = abs(c.skew_deg) * 0.0175 * 40, 1.6 * c.play_mm
    tight, loose = max(c.belt_n), min(c.belt_n)
    if world.machine.kinematics == "corexy":
        slant += 0.9 * (1 - loose / tight)  # one diagonal gives more than the other
        square += 0.35 * max(1 - tight / 14, 0)
    else:
        square += 0.6 * max(1 - loose / 14, 0)
    square += 40 * abs(c.steps_scale[0] - c.steps_scale[1])
    axis = 45.0 if slant > square else 0.0
    return hypot(slant, square), axis + 90 * (world.seed % 2)


def shift_shown(world: World) -> Strengths:
    """A step in the walls, its direction, and how it came about."""
    steps = [hypot(*one) for one in world.shifts]
    size = max(steps, default=0.0)
    seen = size / SEEN_SHIFT_MM
    if not seen:
        return {}
    dx, dy = world.shifts[0]
    angle = degrees(atan2(abs(dy), abs(dx)))
    axial, slant = min(angle, 90 - angle) < 5, abs(angle - 45) < 4
    reach = min(seen, 6.0)
    return {
        "layer_shift": seen,
        "shift_one_axis": reach * axial,
        "shift_diagonal": reach * slant,
        "shift_off_diagonal": reach * (not axial and not slant),
        "shift_repeats": 2.0 * (len(steps) > 1),
        "part_turned": 2.2 * world.turned,
        "spaghetti": 1.2 * (size > 8),
        "came_off_bed": 0.0,
    }


def motion_shown(world: World, melt: Melt, strikes: float) -> Strengths:
    """Everything of motion but shifts."""
    m, c, part, s = world.machine, world.condition, world.part, world.settings
    out = oval_mm(world)[0]
    slack = max(1 - min(c.belt_n) / 12, 0.0)
    hertz = m.frame_hz * (1 - 0.35 * c.frame_loose) * (1 - 0.25 * slack)
    ripple = float(ripple_height_mm(s.accel_mm_s2, hertz)) * (1 + 0.8 * c.frame_loose + 1.2 * slack)
    faster = max(s.speed_mm_s / (260 if m.kinematics == "corexy" else 110) - 1, 0.0)
    margin = stall_margin(world)
    wobble = c.screw_runout_mm / 0.05
    size_off = max(abs(scale - 1) for scale in c.steps_scale) * 60 / 0.25
    return {
        "ringing_marks": ripple / SEEN_RIPPLE_MM * (0.5 + part.corners) * 0.42
        + 0.5 * faster
        + 0.7 * c.head_loose_mm / 0.15,
        "machine_shakes": 1.3 * c.frame_loose + 0.25 * ripple / SEEN_RIPPLE_MM + 0.3 * faster,
        "frame_parts_loose": 2.2 * c.frame_loose,
        "bands_regular": wobble * (part.height_mm > 12) + 0.9 * c.bed_swing_k / 5,
        "screw_seen_bent": 0.8 * wobble,
        "bands_same_heights": 0.9 * wobble,
        "spacing_is_screw_lead": 1.1 * wobble * (part.height_mm > 2.5 * m.screw_lead_mm),
        "bands_with_bed_heater": 1.1 * c.bed_swing_k / 5,
        "bands_irregular": 0.6 * c.friction / 0.25
        + 0.5 * c.frame_loose
        + 0.9 * c.start_scatter_mm / 0.12 * 0.2
        + 0.6 * c.head_loose_mm / 0.15,
        "holes_not_round": out / 0.22 * part.round_holes,
        "out_of_square": abs(c.skew_deg) / 0.35,
        "size_wrong": size_off * (0.4 + part.fits) + 0.8 * c.play_mm / 0.15 * part.fits,
        "one_axis_off_in_size": size_off * 0.9,
        "error_grows_with_length": size_off * 0.8,
        "axis_play_felt": c.play_mm / 0.08 + 0.5 * c.head_loose_mm / 0.15,
        "axis_stiff_by_hand": c.friction / 0.18,
        "guide_noise": c.friction / 0.22,
        "belt_soft": 2.3 * max(1 - min(c.belt_n) / 14, 0),
        "belts_sound_unlike": 2.4 * (1 - min(c.belt_n) / max(c.belt_n)),
        "nozzle_rocks": c.head_loose_mm / 0.07,
        "motor_very_hot": c.driver_hot / 0.35,
        "motor_buzz": 1.0 * (margin > 0.95) * min(margin, 2) + 0.5 * c.wire + 0.7 * c.friction,
        "knocking_heard": strikes + 0.7 * (len(world.shifts) > 0 and margin > 1) + 0.8 * c.cable_pull,
        "pulley_turns_on_shaft": 2.3 * c.pulley_loose,
        "cable_catches": 2.2 * c.cable_pull,
        "wire_damaged": 2.0 * c.wire,
        "fault_moves_with_cable": 1.8 * c.wire,
        "gaps_between_lines": 0.7 * c.play_mm / 0.15 + 0.6 * slack + 0.5 * c.head_loose_mm / 0.2,
        "rough_surface": 0.35 * faster + 0.3 * c.frame_loose,
        "loses_place_when_hot": 1.5 * c.driver_hot / 0.4,
        "after_some_hours": 1.2 * (c.driver_hot > 0.2),
        "detail_lost": 0.5 * faster + 0.4 * c.play_mm / 0.2,
        "walls_not_joined": 0.5 * c.play_mm / 0.2,
        "start_height_varies": c.start_scatter_mm / 0.05 + 0.6 * c.head_loose_mm / 0.15,
        "lines_proud": 0.3 * c.head_loose_mm / 0.15,
        "scratches_on_top": 0.9 * strikes * (s.z_hop_mm < 0.1) + 0.4 * strikes,
        "marks_only_in_one_light": 2.4 * world.room.raking_light,
        "infill_broken": 0.4 * faster,
        "layers_missing": 0.5 * c.friction / 0.35 * 0.6,
        "machine_restarted": 2.2 * world.room.power_cut + 1.2 * c.supply_weak + 0.8 * max(c.wire - 0.4, 0),
        "house_power_failed": 1.8 * world.room.power_cut,
        "supply_sags": 1.8 * c.supply_weak,
        "worse_in_summer": 0.9 * (c.driver_hot > 0.2) + 1.0 * (melt.creep > 0.7),
    }
