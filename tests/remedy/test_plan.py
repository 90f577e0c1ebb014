"""The plan: numbers from the case, the most worthwhile step first, warnings in words."""

from __future__ import annotations

import pytest

from beadwright.diagnosis.result import PlanStep, RankedCause
from beadwright.errors import KnowledgeError
from beadwright.facts import Fact, Facts, Origin, Value
from beadwright.knowledge.load import Knowledge
from beadwright.knowledge.material_table import load_materials
from beadwright.knowledge.model import Cause, Caution, Change, Remedy
from beadwright.remedy.plan import plan_steps

MATERIALS = load_materials()


def cause(key: str, *remedies: str, cautions: tuple[str, ...] = ()) -> Cause:
    return Cause(
        id=key,
        name=key.replace("_", " "),
        family="hot end",
        lives_in="file",
        prior=0.1,
        text="Invented for this test.",
        remedies=remedies,
        cautions=cautions,
    )


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


def remedy(key: str, cures: dict[str, float], minutes: float = 5, **more: object) -> Remedy:
    return Remedy.model_validate(
        {
            "id": key,
            "name": key.replace("_", " "),
            "text": "Do it.",
            "minutes": minutes,
            "cures": cures,
            **more,
        }
    )


def shop(causes: list[Cause], remedies: list[Remedy], cautions: list[Caution] | None = None) -> Knowledge:
    return Knowledge(
        causes={one.id: one for one in causes},
        signs={},
        checks={},
        remedies={one.id: one for one in remedies},
        cautions={one.id: one for one in cautions or []},
        sources={},
        files={},
    )


def facts(**known: Value) -> Facts:
    return Facts([Fact(name, value, Origin.FILE) for name, value in known.items()])


COLD = cause("nozzle_too_cold", "hotter", cautions=("mains", "fumes"))
DAMP = cause("filament_damp", "dry")
HOTTER = remedy(
    "hotter",
    {"nozzle_too_cold": 0.9},
    change=[{"fact": "nozzle_temp_c", "rule": "heat_for_flow"}],
    may_worsen=["stringing"],
    cautions=["hot_metal"],
)
DRY = remedy(
    "dry",
    {"filament_damp": 0.9},
    minutes=30,
    change=[{"fact": "dried_temp_c", "rule": "drying_temp"}, {"fact": "dried_hours", "rule": "drying_hours"}],
)
HOT = Caution(id="hot_metal", level="care", text="Hot metal burns.")
STOP = Caution(id="mains", level="stop", text="Unplug it.")
FUMES = Caution(id="fumes", level="care", text="Air the room.")
SHOP = shop([COLD, DAMP], [HOTTER, DRY], [HOT, STOP, FUMES])
CASE = facts(polymer="petg", nozzle_temp_c=215.0, flow_mm3_s=9.0)


def plan(*entries: tuple[Cause, float], case: Facts = CASE, knowledge: Knowledge = SHOP) -> tuple[PlanStep, ...]:
    return plan_steps([ranked(*entry) for entry in entries], case, knowledge, MATERIALS)


def test_a_step_carries_its_number_and_the_reason() -> None:
    first = plan((COLD, 0.8), (DAMP, 0.1))[0]
    assert first.id == "hotter"
    before, after = first.change["nozzle_temp_c"]
    assert before == 215
    assert after == 240
    assert "215 → 240 °C, because PETG must reach 170 °C" in first.why
    assert "“nozzle too cold” (80 % likely; 90 % of such cases cured)" in first.why
    assert first.chance == pytest.approx(0.72)
    assert first.may_worsen == ("stringing",)
    assert first.cautions == (
        "Unplug it.",
        "Hot metal burns.",
    )  # a cause's mild warning leads the sheet instead


def test_the_ranking_moves_the_plan() -> None:
    assert [step.id for step in plan((COLD, 0.8), (DAMP, 0.1))] == ["hotter", "dry"]
    assert [step.id for step in plan((DAMP, 0.8), (COLD, 0.1))] == ["dry", "hotter"]


def test_effort_and_side_effects_decide_between_equals() -> None:
    quick = remedy("quick", {"nozzle_too_cold": 0.5}, minutes=2)
    long = remedy("long", {"nozzle_too_cold": 0.5}, minutes=90)
    risky = remedy("risky", {"nozzle_too_cold": 0.5}, minutes=2, may_worsen=["stringing", "blobs"])
    both = shop([cause("nozzle_too_cold")], [long, risky, quick])
    assert [step.id for step in plan((COLD.model_copy(update={"remedies": ()}), 0.9), knowledge=both)] == [
        "quick",
        "risky",
        "long",
    ]


def test_chance_adds_over_the_causes_a_step_answers() -> None:
    wide = remedy("wide", {"nozzle_too_cold": 0.5, "filament_damp": 0.25})
    step = plan((COLD, 0.6), (DAMP, 0.2), knowledge=shop([COLD, DAMP], [HOTTER, DRY, wide], [HOT]))
    assert {one.id: one.chance for one in step}["wide"] == pytest.approx(0.35)


def test_without_facts_the_step_stands_without_a_number() -> None:
    step = plan((COLD, 0.8), case=facts())[0]
    assert step.change == {}
    assert step.text == "Do it."
    assert step.why.startswith("Aimed at “nozzle too cold”")


def test_fixed_steps_and_factors() -> None:
    fixed = remedy(
        "fixed",
        {"nozzle_too_cold": 0.9},
        change=[
            {"fact": "outer_speed_mm_s", "factor": 0.65},
            {"fact": "z_hop_mm", "by": 0.2},
            {"fact": "fan_percent", "to": 0.0},
            {"fact": "brim_mm", "by": 2.0},
        ],
    )
    known = facts(outer_speed_mm_s=100.0, z_hop_mm=0.2, fan_percent=50.0)
    step = plan((cause("nozzle_too_cold"), 0.9), case=known, knowledge=shop([COLD], [fixed], [HOT]))[0]
    assert step.change == {"outer_speed_mm_s": (100, 65), "z_hop_mm": (0.2, 0.4), "fan_percent": (50, 0)}


def test_stop_comes_before_care() -> None:
    both = remedy("both", {"nozzle_too_cold": 0.9}, cautions=["hot_metal", "mains"])
    step = plan((cause("nozzle_too_cold"), 0.9), knowledge=shop([COLD], [both], [HOT, STOP]))[0]
    assert step.cautions == ("Unplug it.", "Hot metal burns.")


def test_unlikely_causes_get_no_step() -> None:
    assert [step.id for step in plan((COLD, 0.9), (DAMP, 0.01))] == ["hotter"]
    assert plan() == ()


def test_a_change_is_not_offered_again_unless_it_goes_further() -> None:
    less = remedy("less", {"nozzle_too_cold": 0.5}, change=[{"fact": "nozzle_temp_c", "by": 10}])
    further = remedy("further", {"nozzle_too_cold": 0.4}, change=[{"fact": "nozzle_temp_c", "by": 40}])
    other_way = remedy("other_way", {"nozzle_too_cold": 0.3}, change=[{"fact": "nozzle_temp_c", "by": -10}])
    steps = plan((COLD, 0.9), knowledge=shop([COLD], [HOTTER, less, further, other_way], [HOT]))
    assert [step.id for step in steps] == ["hotter", "further", "other_way"]


@pytest.mark.parametrize(
    ("knowledge", "message"),
    [
        (shop([COLD], []), "remedy 'hotter'"),
        (shop([COLD], [HOTTER]), "caution 'hot_metal'"),
        (
            shop(
                [COLD],
                [HOTTER.model_copy(update={"change": (Change(fact="nozzle_temp_c", rule="wish"),)})],
                [HOT],
            ),
            "rule 'wish'",
        ),
    ],
)
def test_a_contradiction_in_the_tables_is_named(knowledge: Knowledge, message: str) -> None:
    with pytest.raises(KnowledgeError, match=message):
        plan((COLD, 0.9), knowledge=knowledge)
