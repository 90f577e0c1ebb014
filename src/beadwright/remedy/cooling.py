"""The part fan and the time a layer is given: cold enough to carry the next, warm enough to weld to it."""

from __future__ import annotations

import math

from beadwright.physics.cooling import time_to_cool
from beadwright.remedy.target import Ask, Target, lower_to, raise_to, unless_there

FAN_STEP = 20.0  # percent, a step that shows; common practice
STILL_H, FULL_FAN_H = (
    25.0,
    65.0,
)  # W/(m² K) on a part's top, still air and full fan; common practice in models
ROOM_C = 25.0
BELOW_MELTING_K = 40.0  # crystals have formed by then; common practice
LONGEST_S, SHORTEST_S = 30.0, 5.0
SHOWS_PERCENT = 5.0


def window_fan(ask: Ask) -> Target | None:
    """The part fan to start from with this material."""
    if ask.material is None:
        return None
    fan = ask.material.part_fan_percent
    goal = fan.first_layer if ask.fact.startswith("first_layer") and fan.first_layer is not None else fan.typical
    return unless_there(ask, goal, _fan_text(ask), SHOWS_PERCENT)


def more_fan(ask: Ask) -> Target | None:
    """A step more air, within what the material stands."""
    if ask.material is None:
        return None
    fan = ask.material.part_fan_percent
    goal = fan.typical if ask.now is None else min(fan.max, max(ask.now + FAN_STEP, fan.typical))
    return raise_to(ask, goal, f"{_fan_text(ask)}, and more air sets the plastic sooner")


def less_fan(ask: Ask) -> Target | None:
    """A step less air, within what the material needs."""
    if ask.material is None:
        return None
    fan = ask.material.part_fan_percent
    goal = fan.typical if ask.now is None else max(fan.min, min(ask.now - FAN_STEP, fan.typical))
    return lower_to(ask, goal, f"{_fan_text(ask)}, and less air leaves the joint hot for longer")


def min_layer_time(ask: Ask) -> Target | None:
    """Seconds a layer needs until its top has set, by air over its top face alone."""
    material = ask.material
    if material is None:
        return None
    solid = setting_temperature(ask)
    air = max(ROOM_C, ask.given("chamber_temp_c", ROOM_C))
    nozzle = ask.given("nozzle_temp_c", material.nozzle_temp_c.typical)
    if not air < solid < nozzle:
        return None
    fan = ask.given("fan_percent", material.part_fan_percent.typical)
    film = STILL_H + (FULL_FAN_H - STILL_H) * min(max(fan, 0.0), 100.0) / 100
    height = ask.given("layer_height_mm", 0.2) * 1e-3
    tau = material.density_kg_m3.best * material.specific_heat_j_kg_k.best * height / film
    seconds = float(time_to_cool(tau, nozzle, air, solid))
    why = (
        f"a {height * 1e3:g} mm layer takes about {seconds:.0f} s to fall from {nozzle:g} to {solid:g} °C, "
        f"where {material.abbreviation} sets, with the fan at {fan:g} % (a factor of two either way)"
    )
    return raise_to(ask, float(math.ceil(min(max(seconds, SHORTEST_S), LONGEST_S))), why)


def setting_temperature(ask: Ask) -> float:
    """Return where the plastic stops giving way [°C]: glass transition, or a little below melting if that is
    higher."""
    assert ask.material is not None
    glass, melting = ask.material.glass_transition_c.best, ask.material.melting_c
    if melting is None or ask.material.sets_amorphous:
        return glass
    return max(glass, melting.best - BELOW_MELTING_K)


def _fan_text(ask: Ask) -> str:
    assert ask.material is not None
    fan = ask.material.part_fan_percent
    return f"{ask.material.abbreviation} works with {fan.min:g}–{fan.max:g} % (common practice)"
