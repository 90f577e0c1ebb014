"""What is read from stories: against labelled stories of our own, and rule by rule.

No published set of such messages is known to us; the stories are invented and labelled by hand.
The bars say how well the reader does on language like ours, not how well on anybody's.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.exhibits.story import StoryReading, read_story
from beadwright.facts import Facts, Origin
from beadwright.knowledge.load import load_knowledge
from beadwright.knowledge.model import Sign

STORIES: list[dict[str, Any]] = tomllib.loads((Path(__file__).parent / "stories.toml").read_text("utf-8"))["story"]
KNOWLEDGE = load_knowledge()


def read(text: str) -> StoryReading:
    return read_story(text, KNOWLEDGE, vectors=False)


def signs(text: str) -> dict[str, bool]:
    return {sign.id: sign.present for sign in read(text).signs}


def score(stories: list[dict[str, Any]]) -> tuple[float, float]:
    """Return (recall, precision); a sign's implied signs count as said."""
    hit = missed = wrong = 0
    for story in stories:
        got = {(sign.id, sign.present) for sign in read(story["text"]).signs}
        implied = {(other, True) for one, there in got if there for other in KNOWLEDGE.signs[one].implies}
        want = {(one, True) for one in story["present"]} | {(one, False) for one in story.get("absent", ())}
        allowed = set(story.get("may", ()))
        hit += len(want & (got | implied))
        missed += len(want - got - implied)
        wrong += len([one for one in got - want if one[0] not in allowed])
    return hit / (hit + missed), hit / (hit + wrong)


def test_labelled_signs_exist() -> None:
    labels = {one for story in STORIES for key in ("present", "absent", "may") for one in story.get(key, ())}
    assert labels <= set(KNOWLEDGE.signs)
    assert len(STORIES) >= 40


def test_recall_and_precision_on_the_stories_it_was_tuned_on() -> None:
    recall, precision = score([story for story in STORIES if not story.get("held_out")])
    assert recall >= 0.9
    assert precision >= 0.9


def test_recall_and_precision_on_held_out_stories() -> None:
    """The bar is lower on recall: these were written afterwards and no phrase was added for them."""
    recall, precision = score([story for story in STORIES if story.get("held_out")])
    assert recall >= 0.6
    assert precision >= 0.85


@pytest.mark.parametrize(
    ("text", "present"),
    [
        ("There is no stringing at all.", False),
        ("It prints without any stringing", False),
        ("no blobs, zits or stringing", False),
        ("It isn't stringy", False),
        ("I never had stringing", False),
        ("Keine Fäden zu sehen.", False),
        ("Fäden gibt es keine", False),
        ("Pas de fils entre les tours", False),
        ("sin hilos entre las torres", False),
        ("I used to have stringing but fixed it", False),
        ("I had stringing, it is gone", False),
        ("hardly any stringing", False),
        ("I can't get rid of the stringing", True),
        ("nothing helps, it won't stop stringing", True),
        ("not only stringing but warping too", True),
        ("no clicking but stringing everywhere", True),
        ("why is there stringing?", True),
        ("stringging all over", True),
    ],
)
def test_negation(text: str, present: bool) -> None:
    assert signs(text).get("stringing") is present


@pytest.mark.parametrize(
    "text",
    [
        "Could this be stringing?",
        "I raised the retraction to avoid stringing",
        "My friend says it is stringing because the filament is wet",
        "",
        "😭😭😭",
    ],
)
def test_questions_purposes_and_hearsay_are_no_signs(text: str) -> None:
    assert signs(text) == {}


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("I think it's the belts", "belt_slack"),
        ("my friend says it's wet filament", "filament_damp"),
        ("Ich vermute, dass das Filament feucht ist", "filament_damp"),
        ("Je pense que c'est l'humidité", "filament_damp"),
        ("Creo que son las correas", "belt_slack"),
        ("Is it the bed level?", "bed_not_level"),
        ("probably a loose belt", "belt_slack"),
    ],
)
def test_a_theory_is_noted_and_is_no_sign(text: str, cause: str) -> None:
    reading = read(text)
    assert reading.signs == ()
    assert [cause in theory.cause_ids for theory in reading.theories] == [True]


def test_what_is_seen_stays_a_sign_beside_a_theory() -> None:
    reading = read("I think it's the belts, there is stringing everywhere. The layers shifted.")
    assert {sign.id for sign in reading.signs} == {"stringing", "layer_shift"}
    assert len(reading.theories) == 1


def test_a_sign_carries_its_words_and_place() -> None:
    text = "Guten Tag 🙂 zwischen den Türmen sind überall Fäden."
    (sign,) = read(text).signs
    assert text[slice(*sign.span)] == sign.phrase
    assert "Fäden" in sign.phrase


def test_confidence_falls_with_doubt() -> None:
    plain = read("there is stringing").signs[0].confidence
    hedged = read("maybe a bit of stringing").signs[0].confidence
    assert hedged == 0.65 < plain


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("printing at 210", "nozzle_temp_c", 210.0),
        ("nozzle 419 °F", "nozzle_temp_c", 215.0),
        ("PETG bei 245 Grad", "nozzle_temp_c", 245.0),
        ("raised the nozzle from 210 to 230", "nozzle_temp_c", 230.0),
        ("PLA 215/60", "bed_temp_c", 60.0),
        ("Bett 60 °C", "bed_temp_c", 60.0),
        ("0.2 layers", "layer_height_mm", 0.2),
        ("0,2 mm Schichthöhe", "layer_height_mm", 0.2),
        ("100% fan", "fan_percent", 100.0),
        ("fan off", "fan_percent", 0.0),
        ("print speed 150", "speed_mm_s", 150.0),
        ("speed 300 mm/s", "speed_mm_s", 300.0),
        ("first layer speed 20", "first_layer_speed_mm_s", 20.0),
        ("0.6 nozzle", "nozzle_mm", 0.6),
        ("retraction 0.8 mm at 40 mm/s", "retraction_mm", 0.8),
        ("infill 15%", "infill_percent", 15.0),
        ("2 bottom layers", "bottom_solid_layers", 2.0),
        ("it began at 18 mm", "onset_z_mm", 18.0),
        ("ab 22 mm Höhe versetzt", "onset_z_mm", 22.0),
        ("shifted by 0.8 mm in x and 0.8 mm in y", "shift_mm", (0.8, 0.8)),
        ("the layers shifted 2 mm, only in x", "shift_mm", (2.0, 0.0)),
        ("my corexy with a bowden", "kinematics", "corexy"),
        ("printed in PETG", "polymer", "petg"),
        ("switched from PLA to PETG", "polymer", "petg"),
        ("PLA prints fine, PETG does not", "polymer", "petg"),
    ],
)
def test_numbers_and_words_become_facts(text: str, name: str, value: Any) -> None:
    fact = Facts(read(text).facts).best(name)
    assert fact is not None, read(text).facts
    assert fact.value == pytest.approx(value) if not isinstance(value, str) else fact.value == value
    assert fact.origin is Origin.STORY
    assert fact.where.startswith("the story: ")


@pytest.mark.parametrize(
    "text",
    [
        "the label says 230",
        "you should print at 230",
        "the part is 50 mm wide",
        "I printed 210 parts",
        "nozzle at 2100",
    ],
)
def test_numbers_that_are_no_settings(text: str) -> None:
    assert read(text).facts == ()


def test_a_span_carries_its_uncertainty() -> None:
    fact = Facts(read("nozzle 210-230 °C").facts).best("nozzle_temp_c")
    assert fact is not None
    assert fact.value == 220.0
    assert fact.u == pytest.approx(20 / 12**0.5)  # rectangular distribution, JCGM 100:2008 sec. 4.3.7


def test_two_polymers_are_noted_not_guessed() -> None:
    reading = read("I tried PETG and ABS, both string")
    assert "polymer" not in Facts(reading.facts)
    assert any("several polymers" in note for note in reading.notes)


def test_a_story_too_long_is_cut_with_a_note() -> None:
    reading = read("there is stringing. " * 11_000)
    assert {sign.id for sign in reading.signs} == {"stringing"}
    assert "only the first 200000" in reading.notes[0]


def test_likeness_is_asked_only_where_the_lexicon_is_silent() -> None:
    asked: list[str] = []

    def likeness(said: Sequence[str], known: Mapping[str, Sign]) -> list[tuple[str, float] | None]:
        asked.extend(said)
        return [("stringing", 0.6)] * len(said)

    text = "There is stringing. The wall resembles a garden after rain. No such thing on the wall. Hello."
    reading = read_story(text, KNOWLEDGE, likeness=likeness)
    assert asked == ["The wall resembles a garden after rain"]
    assert [sign.confidence >= 0.85 for sign in reading.signs] == [True]


@settings(deadline=None)
@given(st.text(max_size=300))
def test_any_text_is_read_without_a_crash(text: str) -> None:
    reading = read(text)
    for sign in reading.signs:
        assert text[slice(*sign.span)] == sign.phrase
        assert 0 < sign.confidence <= 1


SAID = "no not stringing layer shift at 210 , . ? but i think belts 0,2 mm from to °C PETG fan 100 % keine Fäden"
WORDS = st.sampled_from([*SAID.split(), "\n"])


@settings(deadline=None)
@given(st.lists(WORDS, max_size=40))
def test_any_words_of_the_trade_are_read_without_a_crash(words: list[str]) -> None:
    read(" ".join(words))
