"""The tables of causes, signs, checks, remedies and cautions load, hold together and cover the trade."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from beadwright.knowledge.load import Knowledge, load_knowledge
from beadwright.knowledge.material_table import load_fillers, load_materials, load_nozzle_metals
from beadwright.knowledge.model import Family, Phrases
from beadwright.remedy.rules import RULES


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


def _shipped() -> Path:
    import beadwright.knowledge.load as module

    return Path(module.__file__).parent


# ------------------------------------------------------------ what is there


def test_the_trade_is_covered(knowledge: Knowledge) -> None:
    """Breadth asked for at this stage: 75 causes, 75 signs, 80 checks, 80 remedies, 15 cautions."""
    counts = [
        len(table)
        for table in (
            knowledge.causes,
            knowledge.signs,
            knowledge.checks,
            knowledge.remedies,
            knowledge.cautions,
        )
    ]
    assert all(have >= want for have, want in zip(counts, [75, 75, 80, 80, 15], strict=True)), counts


def test_every_family_has_a_root_cause(knowledge: Knowledge) -> None:
    assert {cause.family for cause in knowledge.causes.values() if not cause.mechanism} == set(get_args(Family))


def test_loading_twice_gives_the_same_object() -> None:
    assert load_knowledge() is load_knowledge()


def test_mechanisms_stay_few_enough_to_enumerate(knowledge: Knowledge) -> None:
    """Inference runs over the 2^K configurations of led-to causes."""
    led = {other for cause in knowledge.causes.values() for other in cause.leads_to}
    assert len(led) <= 12
    assert {key for key, cause in knowledge.causes.items() if cause.mechanism} <= led


def test_priors_describe_a_failed_print(knowledge: Knowledge) -> None:
    """Between one and two root causes a print, and none so likely that it would win without evidence."""
    priors = [cause.prior for cause in knowledge.causes.values()]
    assert 1.0 <= sum(priors) <= 2.0
    assert max(priors) <= 0.1


def test_links_and_leaks_lie_in_their_ranges(knowledge: Knowledge) -> None:
    links = [p for cause in knowledge.causes.values() for p in (*cause.signs.values(), *cause.leads_to.values())]
    assert min(links) >= 0.02
    assert max(links) <= 0.98
    assert all(0.001 <= sign.leak <= 0.15 for sign in knowledge.signs.values())
    assert all(0.2 <= sign.report_when_present <= 0.98 for sign in knowledge.signs.values())
    assert all(
        0.005 <= check.leak <= 0.4 and max(check.yes.values(), default=0) <= 0.98 for check in knowledge.checks.values()
    )


def test_a_leak_is_smaller_than_the_strongest_link(knowledge: Knowledge) -> None:
    for key, sign in knowledge.signs.items():
        strongest = max((cause.signs.get(key, 0.0) for cause in knowledge.causes.values()), default=0.0)
        assert strongest > 2 * sign.leak, key


def test_phrases_are_lower_case_and_each_means_one_sign(knowledge: Knowledge) -> None:
    seen: dict[tuple[str, str], str] = {}
    for key, sign in knowledge.signs.items():
        for language, phrases in sign.phrases:
            for phrase in phrases:
                assert phrase == phrase.lower()
                assert seen.setdefault((language, phrase), key) == key, (phrase, seen[language, phrase], key)


@pytest.mark.parametrize("language", ["en", "de", "fr", "es"])
def test_every_sign_can_be_said_in_four_languages(knowledge: Knowledge, language: str) -> None:
    assert language in Phrases.model_fields
    assert not [key for key, sign in knowledge.signs.items() if not getattr(sign.phrases, language)]


def test_facts_named_in_the_tables_are_terms(knowledge: Knowledge) -> None:
    terms = set(re.findall(r"^\[(?:term\.)?(\w+)\]", (_shipped() / "terms.toml").read_text("utf-8"), re.MULTILINE))
    named = {condition.fact for cause in knowledge.causes.values() for condition in cause.context}
    named |= {change.fact for remedy in knowledge.remedies.values() for change in remedy.change}
    named |= {fact for check in knowledge.checks.values() for fact in check.facts}
    assert named - terms == set()


def test_polymers_and_fillers_in_conditions_are_in_the_materials(knowledge: Knowledge) -> None:
    """ "tpu" is what people say who do not know the hardness; the case keeps it as it is."""
    known = {
        "polymer": {*load_materials(), "tpu"},
        "filler": set(load_fillers()),
        "nozzle_material": set(load_nozzle_metals()),
    }
    for cause in knowledge.causes.values():
        for condition in cause.context:
            if condition.fact in known:
                keys = condition.one_of or (str(condition.equals),)
                assert set(keys) <= known[condition.fact], cause.id


def test_rules_in_changes_are_those_the_remedies_floor_offers(knowledge: Knowledge) -> None:
    rules = {change.rule for remedy in knowledge.remedies.values() for change in remedy.change if change.rule}
    assert rules <= set(RULES)


def test_context_moves_odds_within_reason(knowledge: Knowledge) -> None:
    for cause in knowledge.causes.values():
        for condition in cause.context:
            assert abs(condition.bits) <= 6, cause.id
            assert abs(condition.else_bits) <= 6, cause.id


def test_checks_that_settle_nothing_new_are_not_listed(knowledge: Knowledge) -> None:
    """Every check either looks at a sign or tells at least one cause's "yes" from chance."""
    for check in knowledge.checks.values():
        assert check.sign or max(check.yes.values()) > 2 * check.leak, check.id


# ------------------------------------------------------------ safety


DANGER = [
    "temperature_sensor_fault",
    "heater_fault",
    "wiring_loose",
    "power_supply_weak",
    "supply_interrupted",
]


@pytest.mark.parametrize("key", DANGER)
def test_dangers_lead_with_cautions(knowledge: Knowledge, key: str) -> None:
    cause = knowledge.causes[key]
    assert "mains" in cause.cautions
    assert any(knowledge.cautions[caution].level == "stop" for caution in cause.cautions)
    assert all(knowledge.remedies[remedy].cautions for remedy in cause.remedies)


@pytest.mark.parametrize("key", ["wiring_loose", "heater_fault", "power_supply_weak", "supply_interrupted"])
def test_mains_work_is_left_to_licensed_people(knowledge: Knowledge, key: str) -> None:
    assert "call_licensed_person" in knowledge.causes[key].remedies
    assert "licensed" in knowledge.remedies["call_licensed_person"].text


def test_no_remedy_asks_for_a_protection_to_be_defeated(knowledge: Knowledge) -> None:
    defeat = re.compile(
        r"\b(disable|bypass|bridge|defeat|turn off|switch off|remove)\b[^.]*\b(protection|cut-out|guard|fuse)"
    )
    for remedy in knowledge.remedies.values():
        assert not defeat.search(remedy.text.lower()), remedy.id
