"""The tables of causes, signs, checks, remedies and cautions: they load, hold together and cover the trade.

A broken table must be told by file, table and key. Facts of the trade that the tables honour are each marked
"common practice, no source": they are held here so that nobody loses them while adding to the tables.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from beadwright.errors import KnowledgeError
from beadwright.knowledge.cross_check import reached_signs
from beadwright.knowledge.load import Knowledge, load_knowledge
from beadwright.knowledge.material_table import load_fillers, load_materials, load_nozzle_metals
from beadwright.knowledge.model import Cause, Family, Phrases
from beadwright.remedy.rules import RULES

FILLED = ["carbon_fibre", "glass_fibre"]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


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
    assert {cause.family for cause in knowledge.causes.values() if not cause.mechanism} == set(
        get_args(Family)
    )


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
    links = [
        p for cause in knowledge.causes.values() for p in (*cause.signs.values(), *cause.leads_to.values())
    ]
    assert min(links) >= 0.02
    assert max(links) <= 0.98
    assert all(0.001 <= sign.leak <= 0.15 for sign in knowledge.signs.values())
    assert all(0.2 <= sign.report_when_present <= 0.98 for sign in knowledge.signs.values())
    assert all(
        0.005 <= check.leak <= 0.4 and max(check.yes.values(), default=0) <= 0.98
        for check in knowledge.checks.values()
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
    terms = set(
        re.findall(r"^\[(?:term\.)?(\w+)\]", (_shipped() / "terms.toml").read_text("utf-8"), re.MULTILINE)
    )
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


# ------------------------------------------------------------ facts of the trade
# Each of these: common practice, no source.


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


# ------------------------------------------------------------ broken tables


def _shipped() -> Path:
    import beadwright.knowledge.load as module

    return Path(module.__file__).parent


def _load(folder: Path, **tables: str) -> Knowledge:
    """Write tables by file stem (`causes` goes to causes/mine.toml) and load them over the shipped ones."""
    for stem, text in tables.items():
        path = folder / "causes" / "mine.toml" if stem == "causes" else folder / f"{stem}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return load_knowledge(folder)


CAUSE = """
[cause.mine]
name = "Mine"
family = "motion"
lives_in = "printer"
prior = 0.01
text = "A cause of our own."
signs = { popping_or_steam = 0.5 }
remedies = ["my_remedy"]
"""
REMEDY = """
[remedy.my_remedy]
name = "Mine"
text = "Do it."
minutes = 1
cures = { mine = 0.5 }
"""
SIGN = """
[sign.my_sign]
name = "Mine"
text = "One sees it."
leak = 0.01
ask = "Is it there?"
"""


def test_people_add_their_own(tmp_path: Path) -> None:
    mine = _load(tmp_path, causes=CAUSE, remedies=REMEDY)
    assert mine.causes["mine"].signs == {"popping_or_steam": 0.5}
    assert len(mine.causes) == len(load_knowledge().causes) + 1
    assert "mine" not in load_knowledge().causes


def test_a_known_id_overrides_key_by_key_and_link_by_link(tmp_path: Path) -> None:
    change = "[cause.screw_wobble]\nprior = 0.05\nsigns = { stringing = 0.03 }\n"
    mine, shipped = (
        _load(tmp_path, causes=change).causes["screw_wobble"],
        load_knowledge().causes["screw_wobble"],
    )
    assert mine.prior == 0.05
    assert mine.signs == {**shipped.signs, "stringing": 0.03}
    assert mine.text == shipped.text


def test_an_empty_folder_changes_nothing(tmp_path: Path) -> None:
    assert load_knowledge(tmp_path) == load_knowledge()


def _cause(**changes: str) -> str:
    """Return the sample cause with lines replaced by key."""
    text = CAUSE
    for key, value in changes.items():
        line = f"{key} = {value}"
        text, count = re.subn(rf"^{key} = .*$", line, text, flags=re.MULTILINE)
        text = text if count else f"{text}{line}\n"
    return text


BROKEN = {
    "unknown sign": (
        {"causes": _cause(signs="{ nonesuch = 0.5 }"), "remedies": REMEDY},
        r"mine\.toml: \[cause\.mine\] signs: there is no sign 'nonesuch'",
    ),
    "unknown effect": (
        {"causes": _cause(leads_to="{ nonesuch = 0.5 }"), "remedies": REMEDY},
        r"\[cause\.mine\] leads_to: there is no cause 'nonesuch'",
    ),
    "unknown remedy": ({"causes": CAUSE}, r"\[cause\.mine\] remedies: there is no remedy 'my_remedy'"),
    "unknown caution": (
        {"causes": _cause(cautions='["nonesuch"]'), "remedies": REMEDY},
        r"\[cause\.mine\] cautions: there is no caution 'nonesuch'",
    ),
    "unknown rival": (
        {"causes": _cause(excludes='["nonesuch"]'), "remedies": REMEDY},
        r"\[cause\.mine\] excludes: there is no cause 'nonesuch'",
    ),
    "unknown source": (
        {"causes": _cause(source='"Nobody1999"'), "remedies": REMEDY},
        r"\[cause\.mine\] source: there is no source 'Nobody1999'",
    ),
    "circle": (
        {"causes": _cause(leads_to="{ mine = 0.5 }"), "remedies": REMEDY},
        r"links run in a circle: mine → mine",
    ),
    "long circle": (
        {"causes": "[cause.nozzle_strikes]\nleads_to = { overhang_curls = 0.5 }\n"},
        r"links run in a circle: .*nozzle_strikes",
    ),
    "circle of signs": (
        {"signs": '[sign.layer_shift]\nimplies = ["shift_diagonal"]\n'},
        r"links run in a circle: .*layer_shift",
    ),
    "no sign": (
        {"causes": _cause(signs="{}"), "remedies": REMEDY},
        r"\[cause\.mine\]: it brings about no sign",
    ),
    "no remedy": (
        {"causes": _cause(remedies="[]"), "remedies": REMEDY},
        r"\[cause\.mine\]: it has no remedy",
    ),
    "remedy that does not cure": (
        {"causes": _cause(remedies='["dry_spool"]'), "remedies": REMEDY},
        r"\[cause\.mine\] remedies: remedy 'dry_spool' does not cure it",
    ),
    "no check": (
        {
            "causes": _cause(signs="{ my_sign = 0.5 }"),
            "remedies": REMEDY,
            "signs": SIGN,
        },
        r"\[cause\.mine\]: no check bears on it",
    ),
    "mechanism with a prior": (
        {"causes": _cause(mechanism="true"), "remedies": REMEDY},
        r"\[cause\.mine\]: a mechanism has prior 0",
    ),
    "root without a prior": (
        {"causes": _cause(prior="0"), "remedies": REMEDY},
        r"\[cause\.mine\]: a mechanism has prior 0",
    ),
    "mechanism out of reach": (
        {"causes": _cause(mechanism="true", prior="0"), "remedies": REMEDY},
        r"\[cause\.mine\]: no cause leads to this mechanism",
    ),
    "two tests in one condition": (
        {
            "causes": _cause(context='[{ fact = "room_c", above = 1, below = 2, bits = 1, text = "x" }]'),
            "remedies": REMEDY,
        },
        r"\[cause\.mine\] context: the condition on 'room_c' has 2 tests",
    ),
    "unreached sign": ({"signs": SIGN}, r"signs\.toml: \[sign\.my_sign\]: no cause brings it about"),
    "no question": (
        {"signs": '[sign.stringing]\nask = "Strings."\n'},
        r"\[sign\.stringing\] ask: it has no question",
    ),
    "capitals in a phrase": (
        {"signs": '[sign.stringing]\nphrases = { en = ["Strings"] }\n'},
        r"\[sign\.stringing\] phrases\.en: 'Strings' is not in lower case",
    ),
    "check with both": (
        {"checks": "[check.bend_the_strand]\nyes = { mine = 0.5 }\n", "causes": CAUSE, "remedies": REMEDY},
        r"\[check\.bend_the_strand\]: a check either settles one 'sign'",
    ),
    "remedy for nothing": (
        {"remedies": '[remedy.idle]\nname = "Idle"\ntext = "Wait."\nminutes = 1\n'},
        r"remedies\.toml: \[remedy\.idle\]: it cures nothing",
    ),
    "change without a number": (
        {"remedies": '[remedy.slow_down]\nchange = [{ fact = "speed_mm_s" }]\n'},
        r"\[remedy\.slow_down\] change\.speed_mm_s: a change has one way",
    ),
    "probability above one": (
        {"causes": _cause(prior="1.5"), "remedies": REMEDY},
        r"mine\.toml: \[cause\.mine\] prior: .*\(found 1\.5\)",
    ),
    "unknown key": (
        {"causes": _cause(colour='"red"'), "remedies": REMEDY},
        r"\[cause\.mine\] colour: .* Known keys are",
    ),
    "bad id": ({"remedies": REMEDY.replace("remedy.my_remedy", "remedy.My_Remedy")}, r"My_Remedy\] id: "),
    "no TOML": ({"checks": "[check.\n"}, r"checks\.toml: not readable as TOML"),
    "wrong table": ({"checks": '[cheque.one]\nname = "x"\n'}, r"checks\.toml: 'cheque' is not expected here"),
    "value for a table": ({"checks": "[check]\none = 1\n"}, r"check\.one is a value, not a table"),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_a_broken_table_is_told_by_file_table_and_key(fault: str, tmp_path: Path) -> None:
    tables, message = BROKEN[fault]
    with pytest.raises(KnowledgeError, match=message) as told:
        _load(tmp_path, **tables)
    assert told.value.where
    assert told.value.fix


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="no such folder"):
        load_knowledge(tmp_path / "absent")


def test_a_folder_in_place_of_a_table_is_told(tmp_path: Path) -> None:
    (tmp_path / "signs.toml").mkdir()
    with pytest.raises(KnowledgeError, match=r"signs\.toml: cannot be opened"):
        load_knowledge(tmp_path)


def test_bytes_that_are_no_text_are_told(tmp_path: Path) -> None:
    (tmp_path / "signs.toml").write_bytes(b"\xff\xfe[sign]")
    with pytest.raises(KnowledgeError, match=r"signs\.toml: not readable as TOML"):
        load_knowledge(tmp_path)


def test_a_stray_file_is_told_rather_than_ignored(tmp_path: Path) -> None:
    (tmp_path / "sign.toml").write_text("", encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"sign\.toml: no table of that name is read"):
        load_knowledge(tmp_path)


def test_one_id_in_two_files_of_one_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "causes").mkdir()
    (tmp_path / "causes" / "again.toml").write_text(CAUSE, encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"\[cause\.mine\] stands already in .*again\.toml"):
        _load(tmp_path, causes=CAUSE, remedies=REMEDY)


def test_a_chain_reaches_its_signs() -> None:
    """first → second → a sign."""
    first = Cause(
        id="first", name="", family="motion", lives_in="printer", prior=0.1, text="", leads_to={"second": 1}
    )
    second = Cause(
        id="second", name="", family="motion", lives_in="printer", prior=0.1, text="", signs={"s": 1}
    )
    assert reached_signs({"first": first, "second": second}, "first") == {"s"}
