"""The plan over the shipped tables: every rule named exists, every cause is answered."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from beadwright.diagnosis.result import RankedCause
from beadwright.facts import Fact, Facts, Origin, Value
from beadwright.knowledge.load import load_knowledge
from beadwright.knowledge.material_table import load_materials
from beadwright.knowledge.model import Cause
from beadwright.remedy.plan import plan_steps
from beadwright.remedy.rules import RULES

MATERIALS = load_materials()


def facts(**known: Value) -> Facts:
    return Facts([Fact(name, value, Origin.FILE) for name, value in known.items()])


def ranked(entry: Cause, probability: float) -> RankedCause:
    return RankedCause(
        id=entry.id,
        name=entry.name,
        family=entry.family,
        lives_in=entry.lives_in,
        probability=probability,
        because=(),
        remedies=entry.remedies,
    )


def test_every_rule_named_in_the_shipped_remedies_exists() -> None:
    named = {change.rule for one in load_knowledge().remedies.values() for change in one.change if change.rule}
    assert named
    assert named <= set(RULES)


def test_every_shipped_cause_gets_a_plan() -> None:
    knowledge = load_knowledge()
    case = facts(polymer="petg", nozzle_temp_c=215.0, flow_mm3_s=9.0, speed_mm_s=120.0, layer_height_mm=0.2)
    for key, entry in knowledge.causes.items():
        if entry.mechanism:
            continue
        steps = plan_steps([ranked(entry, 0.9)], case, knowledge, MATERIALS)
        assert steps, f"no remedy answers {key}"
        assert max(one.chance for one in steps) > 0.3, key
        for one in steps:
            assert one.text
            assert one.why
            assert one.chance == pytest.approx(0.9 * knowledge.remedies[one.id].cures[key], abs=1e-4)


def test_shipped_plan_for_a_starved_nozzle_names_heat_and_a_slower_print() -> None:
    knowledge = load_knowledge()
    entry = knowledge.causes["flow_beyond_melt"]
    case = facts(polymer="petg", nozzle_temp_c=215.0, flow_mm3_s=14.0, speed_mm_s=150.0)
    steps = plan_steps([ranked(entry, 0.9)], case, knowledge, MATERIALS)
    moved: dict[str, Callable[[float, float], bool]] = {
        "nozzle_temp_c": lambda old, new: new > old,
        "speed_mm_s": lambda old, new: new < old,
    }
    changes = {name: pair for step in steps for name, pair in step.change.items()}
    for name, better in moved.items():
        before, after = changes[name]
        assert before is not None
        assert better(before, after)
