"""Attempts isolate where the cause lives; every further row moves the odds the way it should."""

from itertools import permutations

import pytest

from beadwright.diagnosis.inputs import Trial
from beadwright.diagnosis.trials import group_ratios, trials_text

FIRST = [Trial("A", "red", "box", "cellar", True)]


def place(trials):
    ratios = group_ratios(trials)
    return max(ratios, key=ratios.get)


def test_one_failure_alone_tells_nothing():
    assert group_ratios(FIRST) == pytest.approx(dict.fromkeys(group_ratios(FIRST), 1.0))


def test_same_spool_on_another_printer_failing_points_at_the_spool():
    rows = [*FIRST, Trial("B", "red", "vase", "attic", True), Trial("A", "blue", "vase", "cellar", False)]
    assert place(rows) == "filament"
    assert "points at the spool" in trials_text(rows, group_ratios(rows))


def test_another_spool_failing_on_the_same_printer_points_at_the_printer():
    assert (
        place([*FIRST, Trial("A", "blue", "vase", "attic", True), Trial("B", "red", "box", "attic", False)])
        == "printer"
    )


@pytest.mark.parametrize(
    ("row", "up", "down"),
    [
        (Trial("B", "red", "vase", "attic", True), "filament", "printer"),
        (Trial("A", "blue", "vase", "attic", True), "printer", "filament"),
        (Trial("A", "red", "vase", "attic", False), "file", "filament"),
        (Trial("B", "blue", "box", "attic", True), "file", "printer"),
        (Trial("A", "red", "box", "cellar", False), "handling", "printer"),
    ],
)
def test_one_more_row_shifts_the_odds_the_right_way(row, up, down):
    before, after = group_ratios(FIRST), group_ratios([*FIRST, row])
    assert after[up] / after[down] > 1.5 * before[up] / before[down]


def test_order_of_the_rows_makes_no_difference():
    rows = [*FIRST, Trial("B", "red", "vase", "", True), Trial("A", "blue", "", "cellar", False)]
    expected = group_ratios(rows)
    for turned in permutations(rows):
        assert group_ratios(turned) == pytest.approx(expected)
