"""From a case to its answer, exhibits good and bad."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from beadwright.case.quick import case_from_arguments
from beadwright.case.read import check_case, read_case
from beadwright.diagnosis.result import Diagnosis
from beadwright.workup import ExhibitFile, Workup, case_from_command, exhibits_beside, files_named, work_up

EXAMPLE = Path(__file__).parent.parent / "examples" / "tern-lane"


class Kept:
    """Where readings of toolpaths are kept between work-ups."""

    def __init__(self) -> None:
        self.values: dict[object, object] = {}

    def get(self, key: object) -> object:
        return self.values.get(key)

    def put(self, key: object, value: object) -> object:
        self.values[key] = value
        return value


@pytest.fixture(scope="module")
def bracket() -> Workup:
    return work_up(read_case(EXAMPLE / "case.toml"), exhibits_beside(read_case(EXAMPLE / "case.toml"), EXAMPLE))


def test_the_example_has_the_right_cause_on_top_for_the_right_reasons(bracket: Workup) -> None:
    """Common practice, no source: TPU on a quick direct-drive machine wants 240-250 °C, 210 is far too cold."""
    top = bracket.diagnosis.causes[0]
    assert top.id == "nozzle_too_cold"
    assert bracket.diagnosis.verdict in ("settled", "leaning")
    reasons = {because.evidence for because in top.because if because.bits > 0}
    assert {"rule:flow_above_melt_capacity", "rule:nozzle_below_window"} <= reasons
    assert any(evidence.startswith("sign:") for evidence in reasons)


def test_the_example_s_plan_starts_with_the_temperature_the_trade_would_choose(bracket: Workup) -> None:
    first = bracket.diagnosis.plan[0]
    was, to = first.change["nozzle_temp_c"]
    assert was == 210
    assert 240 <= to <= 250
    assert first.cautions


def test_the_lost_steps_are_seen_and_named_as_a_consequence(bracket: Workup) -> None:
    shifted = next(cause for cause in bracket.diagnosis.causes if cause.id == "one_motor_lost_steps")
    assert shifted.at_work > 0.5 > shifted.probability


def test_the_sender_s_theory_is_noted_and_not_counted(bracket: Workup) -> None:
    assert any("belts" in theory for theory in bracket.diagnosis.theories)
    slack = [cause.probability for cause in bracket.diagnosis.causes if cause.id in ("belt_slack", "belts_unequal")]
    assert max(slack, default=0.0) < 0.05


def test_the_answer_survives_json(bracket: Workup) -> None:
    text = bracket.diagnosis.model_dump_json()
    assert Diagnosis.model_validate_json(text) == bracket.diagnosis
    assert "NaN" not in text


def test_probabilities_and_bits_hang_together(bracket: Workup) -> None:
    for cause in bracket.diagnosis.causes:
        assert 0 <= cause.probability <= cause.at_work + 1e-9 <= 1 + 2e-9
    assert 0 < bracket.diagnosis.none_of_these < 1


def test_a_story_alone_is_enough_to_start() -> None:
    diagnosis = work_up(case_from_arguments((), story="it hisses and the walls are hairy")).diagnosis
    assert diagnosis.causes[0].id == "filament_damp"
    assert diagnosis.next_checks


def test_what_cannot_be_used_is_said_and_the_rest_goes_on(tmp_path: Path) -> None:
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0" + bytes(2000))
    (tmp_path / "empty.gcode").write_bytes(b"")
    (tmp_path / "noise.bin").write_bytes(random.Random(1).randbytes(3000))
    (tmp_path / "words.txt").write_text("it pops and hisses while printing, and there are strings", "utf-8")
    (tmp_path / "page.csv").write_text("name;value\nnozzle temperature;240 °C\nwobble factor;7\n", "utf-8")
    names = ("photo.jpg", "empty.gcode", "noise.bin", "words.txt", "page.csv", "missing.gcode")
    workup = work_up(case_from_arguments(()), files_named([tmp_path / name for name in names]))
    unread = "\n".join(workup.diagnosis.unread)
    for name in ("photo.jpg", "empty.gcode", "noise.bin", "missing.gcode", "wobble factor"):
        assert name in unread
    assert len(workup.exhibits) == len(names)
    assert workup.facts.number("nozzle_temp_c") == 240
    assert workup.diagnosis.causes[0].id == "filament_damp"


def test_the_file_beats_the_settings_and_the_disagreement_is_shown() -> None:
    case = case_from_arguments((), material="TPU 95A", settings={"nozzle_temp_c": 245})
    workup = work_up(case, files_named([EXAMPLE / "bracket.gcode"]))
    assert workup.facts.number("nozzle_temp_c") == 210
    assert any("nozzle" in line and "245" in line for line in workup.diagnosis.conflicts)


def test_a_toolpath_is_read_once_by_content() -> None:
    readings = Kept()
    exhibit = ExhibitFile("bracket.gcode", EXAMPLE / "bracket.gcode", sha256="a" * 64)
    case = case_from_arguments((), material="TPU 95A")
    first = work_up(case, (exhibit,), readings=readings)  # type: ignore[arg-type]
    gone = ExhibitFile("bracket.gcode", Path("/nowhere"), kind="toolpath", sha256="a" * 64)
    second = work_up(case, (gone,), readings=readings)  # type: ignore[arg-type]
    assert first.diagnosis == second.diagnosis
    other = work_up(case_from_arguments((), material="PLA"), (exhibit,), readings=readings)  # type: ignore[arg-type]
    assert len(readings.values) == 2  # another polymer, another audit
    assert other.audit != first.audit


def test_a_kept_reading_is_not_served_to_a_smaller_machine() -> None:
    readings = Kept()
    exhibit = ExhibitFile("bracket.gcode", EXAMPLE / "bracket.gcode", sha256="a" * 64)
    rules = []
    for travel in ([250, 210, 220], [100, 100, 220]):
        case = check_case({"printer": {"travel_mm": travel}}, "case")
        workup = work_up(case, (exhibit,), readings=readings)  # type: ignore[arg-type]
        rules.append({finding.rule for finding in workup.audit.findings})
    assert "outside_machine" not in rules[0]
    assert "outside_machine" in rules[1]


def test_a_case_file_and_typed_words_go_together() -> None:
    case, files = case_from_command([EXAMPLE / "case.toml"], story="only strings", material="PETG", printer=None)
    assert case.case.story == "only strings"
    assert case.material.polymer == "PETG"
    assert case.printer.kinematics == "corexy"
    assert [file.name for file in files] == ["bracket.gcode"]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=400), name=st.sampled_from(["a.gcode", "b.txt", "c.csv", "d", "e.jpg"]))
def test_any_bytes_under_any_name_give_an_answer(tmp_path: Path, content: bytes, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    workup = work_up(case_from_arguments(()), files_named([path]))
    assert workup.exhibits[0].name == name
    assert workup.diagnosis.format == "beadwright.diagnosis/1"


def test_a_folder_as_an_exhibit_is_told() -> None:
    workup = work_up(case_from_arguments(()), (ExhibitFile("here", Path(os.curdir)),))
    assert "here" in workup.diagnosis.unread[0]


def test_cautions_are_sentences_wherever_they_stand(bracket: Workup) -> None:
    diagnosis = bracket.diagnosis
    shown = [*diagnosis.cautions]
    shown += [caution for check in diagnosis.next_checks for caution in check.cautions]
    shown += [caution for step in diagnosis.plan for caution in step.cautions]
    assert shown
    assert all(caution.endswith(".") and " " in caution for caution in shown)
