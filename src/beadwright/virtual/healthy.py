"""Draws sound prints: machine, spool, settings inside their windows, part and room. Shares are judgement, no source."""

from __future__ import annotations

from functools import cache

import numpy as np

from beadwright.knowledge.material_shapes import Material
from beadwright.knowledge.material_table import load_materials
from beadwright.physics.bead import bead_area_mm2
from beadwright.virtual.water import water_ratio
from beadwright.virtual.world import Condition, Machine, Part, Room, Settings, Spool, World

POLYMERS = {"pla": 0.36, "petg": 0.24, "abs": 0.09, "asa": 0.07, "tpu_95a": 0.11, "pa12": 0.05, "pc": 0.03, "pa6": 0.05}


@cache
def material(key: str) -> Material:
    """Return a row of the material table."""
    return load_materials()[key]


def sound_world(rng: np.random.Generator) -> World:
    """Return a print that ought to come out well."""
    machine = sound_machine(rng)
    spool = sound_spool(rng, machine)
    room = Room(room_c=float(rng.normal(22, 3)), room_rh=float(np.clip(rng.normal(47, 10), 20, 75)))
    part = sound_part(rng)
    settings = sound_settings(rng, machine, material(spool.polymer))
    if material(spool.polymer).chamber.need in ("recommended", "required"):
        machine.enclosed = True
    if spool.filler in ("carbon_fibre", "glass_fibre", "glow"):
        machine.nozzle_material = "hardened_steel"
    if part.needs_support > 0.4:
        settings.support_on = True
    if part.height_mm > 4 * part.foot_mm:
        settings.brim_mm = 5.0
    return World(
        machine,
        Condition(tilt_mm=float(abs(rng.normal(0, 0.02)))),
        spool,
        settings,
        part,
        room,
        luck=float(rng.lognormal(0, 0.1)),
        seed=int(rng.integers(2**31)),
        at=float(rng.uniform(0.08, 0.9)),
    )


def sound_machine(rng: np.random.Generator) -> Machine:
    kinematics = str(rng.choice(["cartesian", "corexy", "delta"], p=[0.52, 0.41, 0.07]))
    size = float(rng.choice([180, 220, 250, 300]))
    quick = kinematics == "corexy"
    return Machine(
        kinematics=kinematics,
        moving_bed={"cartesian": "y", "corexy": "z", "delta": "none"}[kinematics],
        extruder="bowden" if rng.random() < (0.8 if kinematics == "delta" else 0.27) else "direct",
        enclosed=bool(rng.random() < (0.55 if quick else 0.12)),
        travel_mm=(size, size, size * 1.1),
        nozzle_mm=float(rng.choice([0.25, 0.4, 0.6, 0.8], p=[0.05, 0.78, 0.13, 0.04])),
        nozzle_material=str(rng.choice(["brass", "hardened_steel", "ruby"], p=[0.72, 0.26, 0.02])),
        pulley_teeth=float(rng.choice([16, 20], p=[0.25, 0.75])),
        motor_step_deg=float(rng.choice([1.8, 0.9], p=[0.8, 0.2])),
        screw_lead_mm=float(rng.choice([2, 4, 8], p=[0.2, 0.15, 0.65])),
        melt_zone_mm=float(rng.choice([12, 20], p=[0.7, 0.3])),
        drive_gear_mm=float(rng.choice([8, 11])),
        bed_surface=str(rng.choice(["textured sheet", "smooth sheet", "glass"], p=[0.5, 0.35, 0.15])),
        frame_hz=float(rng.uniform(75, 120) if quick else rng.uniform(38, 65)),
        pull_out_accel_mm_s2=float(rng.uniform(18000, 30000) if quick else rng.uniform(7000, 12000)),
    )


def sound_spool(rng: np.random.Generator, machine: Machine) -> Spool:
    """A spool dry enough for its plastic: fresh, dried, or kept dry; soft ones seldom meet a long guide tube."""
    polymer = str(rng.choice(list(POLYMERS), p=list(POLYMERS.values())))
    if polymer == "tpu_95a" and machine.extruder == "bowden":
        machine.extruder = "direct"
    filler = (
        str(rng.choice(["carbon_fibre", "glass_fibre"])) if polymer.startswith("pa") and rng.random() < 0.3 else None
    )
    if polymer == "pla" and rng.random() < 0.06:
        filler = str(rng.choice(["wood", "glow"]))
    spool = Spool(polymer, polymer, filler)
    for _ in range(60):
        spool.opened_days = float(np.round(rng.lognormal(np.log(25), 1.1)))
        spool.storage_rh = float(np.round(rng.choice([15, 25, 45]) + rng.normal(0, 4)))
        spool.dried_days_ago = float(rng.integers(0, 20)) if rng.random() < 0.4 else None
        spool.g_left = float(np.round(rng.uniform(80, 980)))
        if max(water_ratio(spool, material(polymer))) < 0.55:
            return spool
    spool.opened_days, spool.dried_days_ago, spool.storage_rh = 20.0, 0.0, 15.0
    return spool


def sound_settings(rng: np.random.Generator, machine: Machine, stuff: Material) -> Settings:
    def inside(low: float, high: float, typical: float) -> float:
        return float(np.round(np.clip(rng.normal(typical, (high - low) / 6), low, high)))

    window, bed, fan = stuff.nozzle_temp_c, stuff.bed_temp_c, stuff.part_fan_percent
    gap = stuff.support_gap_mm
    height = float(np.round(machine.nozzle_mm * rng.choice([0.4, 0.5, 0.6]), 2))
    width = float(np.round(machine.nozzle_mm * 1.1, 2))
    capacity = stuff.max_flow_mm3_s.at(machine.melt_zone_mm)
    quick = machine.kinematics == "corexy"
    speed = min(
        float(rng.uniform(90, 220) if quick else rng.uniform(40, 80)),
        0.62 * capacity / float(bead_area_mm2(width, height)),
    )
    shell = stuff.shell
    share = 0.2 / height
    return Settings(
        nozzle_temp_c=inside(window.min + 3, window.max - 3, window.typical),
        bed_temp_c=inside(bed.min, bed.max, bed.typical),
        fan_percent=inside(fan.min, fan.max, fan.typical),
        layer_height_mm=height,
        first_layer_height_mm=float(np.round(max(height, 0.5 * machine.nozzle_mm), 2)),
        line_width_mm=width,
        speed_mm_s=float(np.round(speed)),
        first_layer_speed_mm_s=float(rng.choice([20, 25, 30])),
        retraction_mm=float(
            np.round(rng.uniform(0.5, 1.2) if machine.extruder == "direct" else rng.uniform(3.5, 6), 1)
        ),
        z_hop_mm=float(rng.choice([0.2, 0.3, 0.4])),
        bottom_solid_layers=int(np.ceil(shell.bottom_solid_layers_min * share)) + int(rng.integers(0, 2)),
        top_solid_layers=int(np.ceil(shell.top_solid_layers_min * share)) + int(rng.integers(0, 2)),
        wall_lines=int(rng.choice([2, 3, 4], p=[0.3, 0.5, 0.2])),
        infill_percent=float(rng.choice([15, 20, 30, 40])),
        support_gap_mm=float(np.round(gap.best + rng.uniform(-0.01, 0.02), 2)),
        accel_mm_s2=float(rng.choice([5000, 8000, 10000]) if quick else rng.choice([800, 1500, 2500])),
    )


def sound_part(rng: np.random.Generator) -> Part:
    """Brackets, housings, vases, towers, plates: drawn by their features."""
    foot = float(rng.uniform(22, 90))
    height = float(np.clip(rng.lognormal(np.log(35), 0.6), 4, 180))
    return Part(
        height_mm=height,
        foot_mm=max(foot, height / 2.5),
        length_mm=float(foot * rng.uniform(1.0, 1.8)),
        layer_time_s=float(rng.uniform(12, 90)),
        small_top_s=float(rng.uniform(11, 40)),
        overhang=float(rng.choice([0.0, 0.15, 0.4], p=[0.35, 0.4, 0.25])),
        bridge_mm=float(rng.choice([0, 15, 35], p=[0.5, 0.35, 0.15])),
        needs_support=float(rng.choice([0, 0.3, 0.8], p=[0.5, 0.25, 0.25])),
        travels=float(rng.uniform(0.1, 1)),
        retractions=float(rng.uniform(0.05, 0.6)),
        flat_top=float(rng.uniform(0.1, 1)),
        round_holes=float(rng.choice([0, 0.7, 1], p=[0.3, 0.4, 0.3])),
        fits=float(rng.uniform(0, 1)),
        corners=float(rng.uniform(0.2, 1)),
        hours=float(np.clip(rng.lognormal(np.log(3.5), 0.7), 0.4, 30)),
    )
