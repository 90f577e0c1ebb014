"""The formulas that a remedy's `change.rule` may name."""

from __future__ import annotations

from beadwright.remedy import cooling, drying, feed, heat, machine, shape
from beadwright.remedy.target import Rule

RULES: dict[str, Rule] = {
    rule.__name__: rule
    for rule in (
        heat.heat_for_flow,
        heat.cap_flow,
        heat.window_nozzle,
        heat.cool_nozzle,
        heat.window_bed,
        heat.nozzle_hardened,
        cooling.window_fan,
        cooling.more_fan,
        cooling.less_fan,
        cooling.min_layer_time,
        shape.bottom_layers,
        shape.top_layers,
        shape.support_gap_wider,
        shape.support_gap_closer,
        shape.lift_for_proud_lines,
        shape.slower_first_layer,
        shape.first_layer_height,
        shape.layer_height_max,
        feed.retraction_more,
        feed.retraction_less,
        feed.flow_ratio_from_wall,
        drying.drying_temp,
        drying.drying_hours,
        machine.accel_lower,
        machine.belt_hz_target,
        machine.skew_correction,
    )
}
