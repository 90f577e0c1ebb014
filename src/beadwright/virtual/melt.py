"""What the hot end and the drive do: heat, push against bite, plastic delivered, weld, ooze.

Melt heat by conduction (physics.melt), capacity scaled from the trade's table, weld by the temperature of the joint;
push and bite are shares of what a sound drive holds. Constants without a name beside them: judgement, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from beadwright.physics.bead import bead_flow_mm3_s, diameter_flow_factor
from beadwright.physics.melt import largest_flow
from beadwright.virtual.healthy import material
from beadwright.virtual.water import water_ratio
from beadwright.virtual.world import World

SOFT = {"tpu_95a": 0.75, "tpu_85a": 0.5}  # how well a soft strand can be pushed


@dataclass(frozen=True)
class Melt:
    """The state of the melt and the drive, in the units of the names; shares where none is given."""

    nozzle_c: float  # true
    cold: float  # true temperature below the plastic's window, in tens of kelvin
    hot: float  # above it
    over: float  # flow asked over flow that can be melted
    push: float  # force asked of the drive over its bite
    slip: float  # share of feed lost in the drive
    delivered: float  # plastic laid over plastic wanted
    weld: float  # strength of the joint over that of a sound print, at most 1
    ooze: float  # plastic lost in travels, 1 begins to string
    wet: float
    wet_outer: float
    creep: float  # softening above the melt zone, 1 jams a long print


def melt_of(world: World) -> Melt:
    """Return the state of the melt."""
    s, c = world.settings, world.condition
    stuff = material(world.spool.true_polymer)
    window = stuff.nozzle_temp_c
    nozzle = s.nozzle_temp_c - c.sensor_off_c - 25 * c.heater_weak
    cold, hot = max(window.min - nozzle, 0.0) / 10, max(nozzle - window.max, 0.0) / 10
    fed = s.flow_percent / 100 * c.feed_scale * float(diameter_flow_factor(1.75, s.filament_diameter_mm))
    asked = float(bead_flow_mm3_s(s.line_width_mm, s.layer_height_mm, s.speed_mm_s)) * fed
    over = asked / _capacity(world, nozzle)
    creep = _creep(world)
    push = _push(world, cold, over, creep)
    slip = float(np.clip(0.75 * (push - 1.0), 0.0, 0.9))
    bore = (1 + c.worn_mm / world.machine.nozzle_mm * 0.15) if c.worn_mm else 1.0
    outer, whole = water_ratio(world.spool, stuff)
    return Melt(
        nozzle,
        cold,
        hot,
        over,
        push,
        slip,
        fed * (1 - slip) * bore * (1 - 0.25 * c.leak),
        _weld(world, nozzle, over),
        _ooze(world, hot, whole),
        whole,
        outer,
        creep,
    )


def _capacity(world: World, nozzle_c: float) -> float:
    """Largest flow that melts through: the trade's table, carried to this temperature by conduction."""
    polymer, zone = world.spool.true_polymer, world.machine.melt_zone_mm
    stuff = material(polymer)
    typical = round(stuff.nozzle_temp_c.typical)
    ratio = _by_conduction(polymer, round(max(nozzle_c, 60.0))) / _by_conduction(polymer, typical)
    return stuff.max_flow_mm3_s.at(zone) * ratio * world.luck * (1 - 0.6 * world.condition.blocked)


@cache
def _by_conduction(polymer: str, wall_c: int) -> float:
    """Largest flow of a zone of 12 mm [mm³/s]; its length scales out of ratios."""
    stuff = material(polymer)
    target = min(stuff.core_target_c.best, wall_c - 10.0)
    return 1e9 * float(largest_flow(stuff.melt_diffusivity_m2_s, 12e-3, float(wall_c), 25.0, target))


def _creep(world: World) -> float:
    stuff = material(world.spool.true_polymer)
    soft = np.clip((95 - stuff.glass_transition_c.best) / 40, 0.2, 1.0)  # early softeners creep first
    warm = (world.room.room_c - 22) / 18 + (0.35 if world.machine.enclosed else 0.0)
    lost = 1 - world.condition.cold_side_fan
    return float(
        max(lost * 1.5 * soft * (1 + warm) + 0.25 * world.condition.liner * soft, 0.0) * min(world.part.hours, 4) / 2.5
    )


def _push(world: World, cold: float, over: float, creep: float) -> float:
    c, spool = world.condition, world.spool
    stiff = (0.25 + 0.4 * over**2) * 2 ** (cold / 1.4) / (1 - 0.93 * c.blocked) ** 1.5
    finer = (0.25 / 0.4) if c.bore_error_mm > 0.1 else (1.6 if c.bore_error_mm < -0.1 else 1.0)
    path = 0.4 * c.liner + 0.35 * spool.drag * (1.5 if world.machine.extruder == "direct" else 1.0) + 0.9 * spool.tangle
    near_bed = 0.25 * max(-c.start_gap_mm / 0.1, 0.0)
    bite = c.grip * (1 - 0.35 * c.crushed) * SOFT.get(spool.true_polymer, 1.0) * (1 - 0.4 * c.buckle)
    return float((stiff * finer + path + near_bed * 0.3 + 0.55 * creep) / max(bite, 0.05))


def _weld(world: World, nozzle_c: float, over: float) -> float:
    """Temperature of the joint (mean of melt and the layer below as it has cooled) against a sound print's."""
    stuff, s = material(world.spool.true_polymer), world.settings
    air = (45.0 if world.machine.enclosed else world.room.room_c) - 8 * world.room.draught
    chilled = 1 - float(
        np.exp(
            -world.part.layer_time_s
            / (14 / (0.35 + s.fan_percent * world.condition.fan_share / 100 + world.room.draught))
        )
    )
    melt = nozzle_c - 18 * max(over - 0.8, 0.0)
    joint = 0.6 * melt + 0.4 * (melt - (melt - air) * (0.45 + 0.45 * chilled))
    typical_fan = 1 - float(np.exp(-world.part.layer_time_s / (14 / (0.35 + stuff.part_fan_percent.typical / 100))))
    sound = stuff.nozzle_temp_c.min + 2
    base_air = 40.0 if stuff.chamber.need in ("recommended", "required") else 22.0
    wanted = 0.6 * sound + 0.4 * (sound - (sound - base_air) * (0.45 + 0.45 * typical_fan))
    thick = max(s.layer_height_mm / (world.machine.nozzle_mm + world.condition.bore_error_mm) - 0.78, 0.0) * 7.0
    return float(np.clip(2 ** ((joint - wanted) / 14 - thick), 0.0, 1.0))


def _ooze(world: World, hot: float, wet: float) -> float:
    s, c = world.settings, world.condition
    usual = 0.6 if world.machine.extruder == "direct" else 3.6
    pulled_back = s.retraction_mm * (1 - 0.5 * c.liner) / usual
    short = max(1 - pulled_back, 0.0)
    runny = {"tpu_95a": 0.35, "petg": 0.25, "pa12": 0.15, "pa6": 0.15}.get(world.spool.true_polymer, 0.1)
    return float(runny + 0.75 * hot + 1.6 * short + 1.6 * max(wet - 0.5, 0.0))
