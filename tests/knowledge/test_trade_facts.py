"""What every operator knows, held in the tables. Each of these: common practice, no source."""

from __future__ import annotations

import pytest

from beadwright.knowledge.cross_check import reached_signs
from beadwright.knowledge.load import Knowledge, load_knowledge

FILLED = ["carbon_fibre", "glass_fibre"]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def _strongest(knowledge: Knowledge, sign: str) -> str:
    return max(knowledge.causes.values(), key=lambda cause: cause.signs.get(sign, 0.0)).id


def test_exact_diagonal_is_one_motor(knowledge: Knowledge) -> None:
    """On a two-belt machine a shift along ±45° is one motor losing steps, any other direction both."""
    assert _strongest(knowledge, "shift_diagonal") == "one_motor_lost_steps"
    assert _strongest(knowledge, "shift_off_diagonal") == "several_motors_lost_steps"
    one, several = knowledge.causes["one_motor_lost_steps"], knowledge.causes["several_motors_lost_steps"]
    assert one.signs["shift_diagonal"] > 8 * several.signs["shift_diagonal"]
    assert several.signs["shift_off_diagonal"] > 8 * one.signs["shift_off_diagonal"]


def test_ovals_on_a_two_belt_machine_point_at_the_belts(knowledge: Knowledge) -> None:
    assert _strongest(knowledge, "holes_not_round") == "belts_unequal"
    assert knowledge.causes["belt_slack"].signs["holes_not_round"] >= 0.4
    (condition,) = (c for c in knowledge.causes["belts_unequal"].context if c.fact == "kinematics")
    assert condition.equals == "corexy"
    assert condition.else_bits <= -4


def test_cold_lines_stand_proud_and_are_struck(knowledge: Knowledge) -> None:
    """Too cold → lines do not join, stand proud, get struck → a shift; a lift on travel may help."""
    causes = knowledge.causes
    assert causes["nozzle_too_cold"].leads_to["lines_stand_proud"] >= 0.3
    assert causes["lines_stand_proud"].leads_to["nozzle_strikes"] >= 0.3
    assert causes["nozzle_strikes"].signs["layer_shift"] >= 0.2
    assert causes["nozzle_too_cold"].signs["walls_not_joined"] >= 0.3
    lift = knowledge.remedies["lift_on_travel"]
    assert {"nozzle_strikes", "lines_stand_proud", "nozzle_too_cold"} <= set(lift.cures)
    assert [change.rule for change in lift.change] == ["lift_for_proud_lines"]


def test_curled_overhangs_are_struck(knowledge: Knowledge) -> None:
    assert knowledge.causes["overhang_curls"].leads_to["nozzle_strikes"] >= 0.3
    assert "overhang_curls" in knowledge.causes["cooling_too_weak"].leads_to


def test_flexible_plastic_must_be_dry(knowledge: Knowledge) -> None:
    context = knowledge.causes["filament_damp"].context
    assert any(c.one_of and {"tpu_95a", "tpu_85a"} <= set(c.one_of) and c.bits >= 1 for c in context)
    assert any(c.fact == "dried_days_ago" and c.below == 2 and c.bits <= -2 for c in context)
    assert any(c.fact == "opened_days" and c.above == 30 and c.bits >= 1 for c in context)


def test_two_bottom_layers_are_too_few(knowledge: Knowledge) -> None:
    assert "three or four" in knowledge.causes["bottom_too_thin"].text
    assert "three or four" in knowledge.remedies["more_bottom_layers"].text
    assert knowledge.checks["count_bottom_layers"].yes_means == "two or fewer"


def test_small_support_gap_fuses(knowledge: Knowledge) -> None:
    assert _strongest(knowledge, "support_fused") == "support_gap_too_small"
    assert "0.15–0.17 mm" in knowledge.causes["support_gap_too_small"].text


def test_fault_that_fades_with_the_spool_is_damp_outside(knowledge: Knowledge) -> None:
    """Ripple on two machines with one spool that fades as it empties is the filament: damp outer wraps."""
    cause = knowledge.causes["outer_wraps_damp"]
    assert _strongest(knowledge, "bands_fade_with_spool") == "outer_wraps_damp"
    assert cause.signs["two_printers_same_spool"] >= 0.5
    assert cause.lives_in == "filament"


def test_fibres_eat_brass(knowledge: Knowledge) -> None:
    cause = knowledge.causes["abrasive_on_soft_nozzle"]
    by_fact = {condition.fact: condition for condition in cause.context}
    assert set(FILLED) <= set(by_fact["filler"].one_of or ())
    assert by_fact["filler"].else_bits <= -6
    assert by_fact["nozzle_material"].equals == "brass"
    assert cause.leads_to["nozzle_worn"] >= 0.7


def test_dragging_spool_bands_a_print_and_a_decoupled_feed_does_not(knowledge: Knowledge) -> None:
    cause = knowledge.causes["spool_drags"]
    assert cause.signs["bands_irregular"] >= 0.3
    assert cause.signs["bands_regular"] >= 0.2
    assert knowledge.remedies["decouple_the_feed"].cures["spool_drags"] >= 0.7


def test_light_alone_can_fake_bands(knowledge: Knowledge) -> None:
    cause = knowledge.causes["raking_light"]
    assert {"bands_regular", "bands_irregular", "marks_only_in_one_light"} <= set(cause.signs)
    assert all(not knowledge.remedies[remedy].change for remedy in cause.remedies)


def test_shrinkage_warps_and_tears_off(knowledge: Knowledge) -> None:
    assert knowledge.causes["shrinkage_warp"].leads_to["part_came_loose"] >= 0.2
    assert {"spaghetti", "came_off_bed"} <= reached_signs(knowledge.causes, "shrinkage_warp")


def test_bent_screw_marks_every_part_at_the_same_heights(knowledge: Knowledge) -> None:
    assert _strongest(knowledge, "bands_same_heights") == "screw_wobble"


def test_heat_creep_comes_late_and_warm(knowledge: Knowledge) -> None:
    signs = knowledge.causes["heat_creep"].signs
    assert min(signs["after_some_hours"], signs["flow_fades"], signs["worse_in_summer"]) >= 0.4
    assert "starts_at_once" not in signs
