"""The timeline strip: what it draws, what it keeps of a long print, and how it words itself."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np

from beadwright.report.axis import ticks
from beadwright.report.strip_drawing import (
    LEFT,
    MOST_POINTS,
    NARROW,
    RIGHT,
    Clock,
    Mark,
    StripRow,
    on_clock,
    strip_html,
    strip_svg,
    thinned,
)

HEIGHT = Clock("height", "mm", np.linspace(0.2, 20.0, 100))
LAYER_TIME = StripRow("layer time", "s", np.linspace(10.0, 30.0, 100))


def test_a_strip_is_well_formed_without_a_script_and_in_the_page_s_inks() -> None:
    drawn = strip_svg(HEIGHT, (LAYER_TIME,), (Mark("18 mm", 18.0, 18.0),))
    root = ET.fromstring(drawn)
    assert root.attrib["role"] == "img"
    assert "script" not in drawn
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawn)) <= {
        "none", "var(--ink)", "var(--faint)", "var(--rule)", "var(--accent)", "var(--leaf)",
    }  # fmt: skip


def test_hostile_labels_stay_words() -> None:
    drawn = strip_svg(HEIGHT, (LAYER_TIME,), (Mark('"><script>alert(1)</script>\x00', 1.0, 2.0, finding=True),))
    assert "<script" not in drawn
    ET.fromstring(drawn)


def test_a_mark_stands_at_its_share_of_the_axis() -> None:
    drawn = strip_svg(HEIGHT, (LAYER_TIME,), (Mark("5 mm", 5.0, 5.0),), NARROW)
    accents = re.findall(r'<line x1="([\d.]+)"[^>]*stroke="var\(--accent\)"', drawn)
    expected = LEFT + (NARROW - LEFT - RIGHT) * 5.0 / 20.0
    assert {round(float(x), 1) for x in accents} == {round(expected, 1)}


def test_marks_too_near_for_two_labels_share_one() -> None:
    near = tuple(Mark(f"{height:g} mm", height, height) for height in (5.0, 5.4, 15.0))
    words = re.findall(r">([^<>]+ mm)</text>", strip_svg(HEIGHT, (LAYER_TIME,), near))
    assert words == ["5, 5.4 mm", "15 mm"]


def test_a_mark_above_the_print_is_left_out() -> None:
    assert "var(--accent)" not in strip_svg(HEIGHT, (LAYER_TIME,), (Mark("50 mm", 50.0, 50.0),))


def test_a_long_print_is_thinned_and_no_spike_is_lost() -> None:
    value = np.zeros(45_000)
    value[31_337] = 9.0
    kept = thinned(value)
    assert len(kept) <= MOST_POINTS
    assert 31_337 in kept
    assert kept[-1] == len(value) - 1


def test_unknown_layers_break_the_line() -> None:
    value = np.array([1.0, np.nan, 2.0])
    drawn = strip_svg(Clock("height", "mm", np.array([1.0, 2.0, 3.0])), (StripRow("nozzle", "°C", value),))
    assert re.search(r'<path d="(M[^"]+)"', drawn)[1].count("M") == 2  # type: ignore[index]


def test_a_level_row_is_written_with_its_one_value() -> None:
    drawn = strip_svg(HEIGHT, (StripRow("nozzle", "°C", np.full(100, 210.0)),))
    words = re.findall(r">([^<>]+)</text>", drawn)
    assert words.count("210") == 1


def test_marks_move_to_the_moment_and_the_filament_of_their_layer() -> None:
    """Ten layers of 1 mm: nine take a minute, the fifth takes ten."""
    minutes = np.cumsum([1.0, 1, 1, 1, 10, 1, 1, 1, 1, 1])
    height, time = Clock("height", "mm", np.arange(1.0, 11.0)), Clock("time", "min", minutes)
    (moved,) = on_clock((Mark("", 4.0, 5.0),), height, time)
    assert (moved.low, moved.high) == (4.0, 14.0)


def test_each_clock_is_drawn_for_a_page_and_for_a_phone() -> None:
    time = Clock("time", "min", np.cumsum(LAYER_TIME.value) / 60)
    markup = strip_html((HEIGHT, time), (LAYER_TIME,))
    assert markup.count('class="wide"') == markup.count('class="narrow"') == 2
    assert "<summary>the same by time</summary>" in markup


def test_words_in_a_phone_s_drawing_are_not_shrunk_below_ten_px() -> None:
    """A phone 360 px wide leaves 328 px; the drawing is scaled to that."""
    assert 11 * 328 / NARROW >= 10


def test_ticks_are_round_within_the_span_and_not_many() -> None:
    rng = np.random.default_rng(3)
    for _ in range(200):
        low, span = rng.normal(0, 100), 10 ** rng.uniform(-3, 4)
        values = ticks(low, low + span, 4)
        assert len(values) <= 5
        assert all(low - 1e-6 * span <= value <= low + span * (1 + 1e-6) for value in values)
