"""Which value was in force where, for whom, and how long."""

from __future__ import annotations

import numpy as np
import pytest

from beadwright.audit.history import held, part_fan, prevailing, value_at
from beadwright.toolpath.columns import Events


def events(*rows: tuple[int, int, float, int]) -> Events:
    """Rows of (move, line, value, tool)."""
    table = np.array(rows, float).reshape(-1, 4)
    move, line, tool = (table[:, k].astype(np.int32) for k in (0, 1, 3))
    return Events(move, line, table[:, 2], tool)


def test_a_value_holds_from_its_move_on():
    table = events((2, 10, 200.0, -1), (5, 20, 220.0, -1))
    assert value_at(table, np.array([0, 2, 4, 5, 9, -1])) == pytest.approx(
        [np.nan, 200.0, 200.0, 220.0, 220.0, np.nan], nan_ok=True
    )


def test_held_adds_the_weight_of_the_moves_under_each_value():
    """Weights 1 … 6: before move 2 1 + 2, then 3 + 4 + 5, then 6."""
    values, span, lines = held(events((2, 10, 200.0, -1), (5, 20, 220.0, -1)), np.arange(1.0, 7.0))
    assert span.tolist() == [3.0, 12.0, 6.0]
    assert values[1:].tolist() == [200.0, 220.0]
    assert lines.tolist() == [0, 10, 20]


def test_two_events_before_one_move_leave_the_last():
    values, span, _ = held(events((2, 10, 200.0, -1), (2, 11, 205.0, -1)), np.ones(4))
    assert span[values == 200.0].tolist() == [0.0]
    assert span[values == 205.0].tolist() == [2.0]


def test_what_holds_longest_prevails_not_what_was_said_last():
    table = events((0, 1, 200.0, -1), (8, 2, 210.0, -1), (9, 3, 200.0, -1))
    assert prevailing(table, np.ones(10)) == 200.0
    assert np.isnan(prevailing(events(), np.ones(10)))
    assert prevailing(events(), np.ones(10), before=0.0) == 0.0
    assert np.isnan(prevailing(table, np.zeros(10)))


def test_only_the_part_fan_counts():
    table = events((0, 1, 40.0, 0), (1, 2, 100.0, 2), (2, 3, 60.0, -1))
    assert part_fan(table).value.tolist() == [40.0, 60.0]
