"""Virtual cases end to end: the report, its words, the answers to checks, and how often the diagnosis is right.

The bars here are lower than those of benchmarks/accuracy.py, for few cases scatter.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from beadwright.case.read import check_case
from beadwright.knowledge.load import load_knowledge
from beadwright.knowledge.terms import load_terms
from beadwright.virtual.asked import HELPED, TRUTH, answer
from beadwright.virtual.draw import draw_case
from beadwright.virtual.faults import FAULTS
from beadwright.virtual.observe import EVERYDAY, INSPECTED, Habits, Told, case_of
from beadwright.virtual.score import Outcome, calibration_error, outcome, reliability
from beadwright.virtual.words import phrasebook, story_of

CASES = 60


@pytest.fixture(scope="module")
def benchmark_script() -> ModuleType:
    path = Path(__file__).parents[2] / "benchmarks" / "accuracy.py"
    spec = importlib.util.spec_from_file_location("accuracy", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_right_cause_is_mostly_among_the_first_three(benchmark_script: ModuleType) -> None:
    pairs = benchmark_script.run(CASES, Habits(inspects=2 / 3), asks=False, stories=False, processes=1)
    found = benchmark_script.figures([report for report, _ in pairs])
    assert found["first_three"] >= 0.7
    assert found["first"] >= 0.55
    assert found["calibration_error"] <= 0.2


def test_asking_settles_a_case_in_few_checks(benchmark_script: ModuleType) -> None:
    knowledge = load_knowledge()
    needed = [benchmark_script.from_report(draw_case(n), knowledge, asks=True).checks for n in range(8)]
    assert sum(count is not None and count <= 6 for count in needed) >= 3


def test_a_case_is_the_same_each_time_and_another_for_each_number() -> None:
    one, again, other = draw_case(3), draw_case(3), draw_case(4)
    assert one == again
    assert one.told != other.told


def test_every_fault_can_be_drawn_and_makes_a_case_file() -> None:
    for number, fault in enumerate(FAULTS):
        case = draw_case(number, only=fault.id)
        assert case.causes == (fault.id,)
        checked = check_case(case_of(case.told), fault.id)
        assert not checked.unread()


def test_what_is_measured_and_set_has_names_of_the_nomenclature() -> None:
    terms = load_terms()
    for number in range(40):
        told = draw_case(number).told
        assert set(told.measured) | set(told.settings) <= set(terms)


def test_signs_lists_and_sentences_name_signs_that_the_tables_know() -> None:
    signs = set(load_knowledge().signs)
    assert signs >= INSPECTED
    assert signs >= EVERYDAY
    assert set(HELPED) <= signs
    assert set(phrasebook()) <= signs
    assert all(set(sentences) == {"en", "de", "fr", "es"} for sentences in phrasebook().values())


def test_checks_with_a_truth_are_checks_of_the_tables_that_look_at_no_sign() -> None:
    checks = load_knowledge().checks
    assert set(TRUTH) <= set(checks)
    assert all(checks[name].sign is None for name in TRUTH)


def test_a_dry_spool_does_not_crackle_and_a_damp_one_does() -> None:
    damp, other = draw_case(1, only="filament_damp"), draw_case(1, only="screw_wobble")
    says = [
        [
            answer("listen_at_nozzle", None, case.world, case.result, case.seen, np.random.default_rng(k))
            for k in range(40)
        ]
        for case in (damp, other)
    ]
    assert says[0].count("yes") > 30
    assert says[1].count("no") > 30


def test_a_check_without_a_truth_is_answered_unsure() -> None:
    case = draw_case(2)
    assert answer("not_a_check", None, case.world, case.result, case.seen, np.random.default_rng(0)) == "unsure"


def test_a_story_says_each_sign_once_and_no_denial() -> None:
    names = ("stringing", "layer_shift", "came_off_bed")
    told = Told(signs=(*((name, True, 0.9) for name in names), ("blobs", False, 0.9)), material={"polymer": "petg"})
    for number in range(30):
        story = story_of(told, np.random.default_rng(number)).lower()
        for name in names:
            assert sum(line.lower() in story for lines in phrasebook()[name].values() for line in lines) == 1
        assert not any(line.lower() in story for lines in phrasebook()["blobs"].values() for line in lines)
        assert "petg" in story


def test_outcomes_say_where_the_truth_stands() -> None:
    ranked = [("a", 0.6), ("b", 0.25), ("c", 0.1), ("d", 0.02)]
    assert outcome(0, "x", ["a", "d"], ranked).right
    assert not outcome(0, "x", ["d"], ranked).in_three
    assert outcome(0, "x", ["e"], ranked).rank == 0
    assert outcome(0, "x", ["d"], ranked).true_chance == 0.02


def test_calibration_error_is_the_mean_gap_of_ten_bins() -> None:
    sure = [Outcome(n, "", ("a",), ("a",), 0.95, 0.95, 1 if n < 5 else 2) for n in range(10)]  # half right
    unsure = [Outcome(n, "", ("a",), ("a",), 0.35, 0.35, 1 if n < 7 else 2) for n in range(20)]  # 35 % right
    assert [b.count for b in reliability([*sure, *unsure])] == [20, 10]
    assert calibration_error([*sure, *unsure]) == pytest.approx((10 * 0.45 + 20 * 0.0) / 30)
