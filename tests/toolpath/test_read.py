"""What the reader makes of each thing a toolpath file may hold. Files are invented; each stands in its
test.
"""

from __future__ import annotations

import gzip
import io
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.errors import ToolpathError
from beadwright.toolpath import read as reading
from beadwright.toolpath import slots, source
from beadwright.toolpath.columns import Events, Kind, Toolpath
from beadwright.toolpath.read import read_toolpath

FEED = "G1 X1 E1 F600\n"


def read(text: str) -> Toolpath:
    return read_toolpath(text.encode())


def meanings(toolpath: Toolpath) -> str:
    return "\n".join(problem.meaning for problem in toolpath.problems)


def by_axis(events: Events) -> dict[int, float]:
    return dict(zip(events.tool.tolist(), events.value.tolist(), strict=True))


# ---- words and lines


def test_one_block_of_four_words() -> None:
    """ISO 6983-1 (memory): N10 G1 X1.5 F600 is one block of four words."""
    toolpath = read("N10 G1 X1.5 F600\nG1 E1\n")
    assert (toolpath.x[0], toolpath.feed[0], toolpath.line[0], len(toolpath)) == (1.5, 10.0, 1, 2)
    assert toolpath.problems == ()


def test_blanks_inside_numbers_as_rs274_reads_them() -> None:
    """NISTIR 6556 section 3.3 (memory): `g0x +0. 12 34y 7` is `g0 x+0.1234 y7`."""
    toolpath = read("g0x +0. 12 34y 7\n" + FEED)
    assert (toolpath.x[0], toolpath.y[0]) == (0.1234, 7.0)
    assert "spaces inside" in meanings(toolpath)


@pytest.mark.parametrize(
    "block", ["G1X10Y5E.2F600", "g1 x10 y5 e.2 f600", "G01 X 10 Y +5. E 0.2 F 600", "X10 Y5 E.2 F600 G1"]
)
def test_spellings_of_one_block(block: str) -> None:
    toolpath = read(block)
    assert (toolpath.x[0], toolpath.y[0], toolpath.e[0], toolpath.feed[0]) == (10, 5, 0.2, 10)
    assert toolpath.problems == ()


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_line_ends_and_byte_order_mark(line_end: str) -> None:
    toolpath = read("\ufeffG1 X1 E1 F60" + line_end + line_end + "G1 X2 E2" + line_end)
    assert toolpath.line.tolist() == [1, 3]
    assert (toolpath.lines, toolpath.problems) == (3, ())


@pytest.mark.parametrize(
    ("block", "x", "e"),
    [
        ("G1 X1E5", 1, 5),  # E is an axis letter: two words
        ("G1 X1 E1e-1", 1, 0.1),
        ("G1 X1 E1E2", 1, 100),
        ("G1 X1 E2.5e+1", 1, 25),
        ("G1 X5e-1 E1", 0.5, 1),
        ("g1 x5e-1", 5, -1),  # small letters throughout: an axis again
        ("G1 X5E-1", 5, -1),
    ],
)
def test_exponents_only_where_no_axis_can_be_meant(block: str, x: float, e: float) -> None:
    toolpath = read(block + "\nM83\nG1 E1 F600")
    assert (toolpath.x[0], toolpath.e[0]) == (x, e)


@settings(deadline=None, max_examples=300)
@given(st.decimals(-99_999, 99_999, places=6, allow_nan=False))
def test_numbers_are_those_of_python(written: object) -> None:
    text = f"{written:f}"
    assert read(f"G1 X{text} F60\nG1 E1\n").x[0] == float(text)


@settings(deadline=None, max_examples=200)
@given(st.floats(-1e6, 1e6, allow_nan=False).filter(lambda v: v == 0 or abs(v) > 1e-9))
def test_long_numbers_are_within_a_last_place(value: float) -> None:
    text = f"{value:.17f}"
    found = read(f"G91\nG1 X{text} F60\nG1 E1\n").x[0]
    assert abs(found - float(text)) <= max(math.ulp(float(text)), 1e-9)  # below 1e-9 mm the head stands


@pytest.mark.parametrize("number", ["1e308", "1E400", "1" + "0" * 400, "9999999999999", "nan", "inf", "-inf", "-NaN"])
def test_numbers_no_machine_can_use_are_left_out(number: str) -> None:
    toolpath = read(f"G1 Y3 E{number}\n" + FEED)
    assert toolpath.e[0] == 0
    assert toolpath.y[0] == 3
    assert toolpath.problems[0].line == 1
    assert np.isfinite(toolpath.e).all()


@pytest.mark.parametrize("block", ["G1 X1.2.3 Y4", "G1 X1e-3 5 Y4", "G1 X1 .5.5 Y4", "G1 X1-5 Y4", "G1 X--1 Y4"])
def test_numbers_that_are_none_end_their_line(block: str) -> None:
    toolpath = read(block + "\n" + FEED)
    assert toolpath.y[-1] == 0
    assert toolpath.problems[0].line == 1


def test_checksum_is_the_xor_of_the_bytes_before_the_star() -> None:
    good = "N3 G1 X1 E1 F60"
    total = 0
    for byte in good.encode():
        total ^= byte
    assert read(f"{good}*{total}\n").problems == ()
    wrong = read(f"\n{good}*{total ^ 1}\n")
    assert (wrong.problems[0].line, wrong.x[0]) == (2, 1.0)
    assert "checksum" in wrong.problems[0].meaning


def test_comments_keep_their_place() -> None:
    toolpath = read("; walls\nG1 X1 E1 F60 (first) ; walls\nG1 X2 E2 ;walls\n(infill)G1 X3 E3\n;\n")
    comment = toolpath.events.comment
    texts = [toolpath.comments[i] for i in comment.tool]
    assert texts == ["walls", "first", "walls", "infill"]  # a repeated text is noted once
    assert comment.move.tolist() == [0, 0, 0, 2]


def test_words_inside_comments_are_no_words() -> None:
    toolpath = read("(G1 X100)\n" + FEED + "; G1 X100\nG1 X2 (X50 ; Y3) E2\n")
    assert toolpath.x.tolist() == [1, 2]


def test_open_comment_is_a_problem() -> None:
    assert "not closed" in meanings(read(FEED + "G1 X2 (never ends\n"))


def test_many_comments_stay_bounded() -> None:
    toolpath = read(FEED + "".join(f"; note {i}\n" for i in range(slots.MAX_TEXTS + 500)) + ";" + "long" * 500)
    assert len(toolpath.comments) == slots.MAX_TEXTS
    assert "too many comments" in meanings(toolpath)
    assert max(map(len, read(FEED + ";" + "long" * 500).comments)) == slots.TEXT_WIDTH


def test_several_commands_on_a_line_go_left_to_right() -> None:
    toolpath = read("G91 G1 X2 F60 E1 M106 S255 G1 X3 E1 G4 P500\nG90 G92 X0 G1 X1\n")
    assert toolpath.x.tolist() == [2, 5, 5, 6]
    assert toolpath.events.fan_percent.move.tolist() == [1]
    assert toolpath.kind[2] == Kind.DWELL


def test_percent_and_block_delete_lines() -> None:
    toolpath = read("%\n/G1 X4 E1 F60\n%\n")
    assert toolpath.x[0] == 4
    assert "marked /" in meanings(toolpath)


# ---- positions


def test_modal_motion_goes_on_with_axis_words_alone() -> None:
    assert read("G1 F60 X1 E1\nX2\nY3 E2\n").y.tolist() == [0, 0, 3]


def test_a_feed_alone_is_no_move_and_an_empty_step_is_one() -> None:
    assert read("G1 F600\n" + FEED + "G1 X1\nG1\n").line.tolist() == [2, 3]


def test_shifts_are_undone() -> None:
    toolpath = read("G1 X10 Z5 F60 E1\nG92 X0 Z0 E0\nG1 X5 Z-1 E1\nG92.1\nG1 X5 E2\nG92\nG1 X1 E1\n")
    assert toolpath.x.tolist() == [10, 15, 5, 6]
    assert toolpath.z.tolist() == [5, 4, 4, 4]
    assert toolpath.e.tolist() == [1, 2, 3, 4]


def test_homing_ends_at_zero_or_where_it_says() -> None:
    toolpath = read("G1 X10 Y20 Z3 F60 E1\nG28 X Y\nG28 Z0\nG92 X5\nG28 X4\nG1 X6 E2\n")
    assert toolpath.x.tolist() == [10, 0, 0, 4, 6]
    assert toolpath.y.tolist() == [20, 0, 0, 0, 0]
    assert toolpath.z.tolist() == [3, 3, 0, 0, 0]
    assert "homing" in meanings(toolpath)


@pytest.mark.parametrize(
    ("modes", "fed"),
    [
        ("M82", 2),
        ("M83", 3),
        ("G91", 3),
        ("G91\nM82", 2),
        ("M83\nG90", 3),
        ("G91\nG90", 2),
        ("M83\nG91\nG90", 3),
    ],
)
def test_when_filament_moves_relatively(modes: str, fed: float) -> None:
    assert read(f"{modes}\nG1 X1 E1 F60\nG1 X2 E2\n").e[-1] == fed


def test_what_kind_each_move_is() -> None:
    toolpath = read("M83\nG1 F600\nG0 X1\nG1 X2 E1\nG1 E-1\nG1 X3 E-.1\nG1 E1\nG1 Z1 E1\nG4 S1\nG1 X3\n")
    assert toolpath.kind.tolist() == [
        Kind.TRAVEL, Kind.BEAD, Kind.RETRACT, Kind.RETRACT, Kind.UNRETRACT, Kind.BEAD, Kind.DWELL,
        Kind.TRAVEL,
    ]  # fmt: skip
    assert toolpath.events.dwell_s.value.tolist() == [1]
    np.testing.assert_allclose(toolpath.fed.sum(), 1.9)


def test_a_shift_leaves_no_crumb_of_travel() -> None:
    toolpath = read("M83\nG1 X.1 F60 E1\nG91\nG1 X.2\nG90\nG92 X5\nG1 X5 E1\n")
    assert toolpath.kind[-1] == Kind.UNRETRACT


def test_retract_words_take_their_length_from_the_file_or_report_it() -> None:
    known = read("M207 S1.5\n" + FEED + "G10\nG10\nG11\nG11\n")
    assert known.fed.tolist() == [1, -1.5, 1.5]
    unknown = read(FEED + "G10\nG11\n")
    assert unknown.kind[1:].tolist() == [Kind.RETRACT, Kind.UNRETRACT]
    assert "length kept in the machine" in meanings(unknown)


def test_speed_and_flow_percent_are_applied() -> None:
    toolpath = read("M220 S50\nM221 S200\nG1 X1 E1 F600\n")
    assert (toolpath.feed[0], toolpath.e[0]) == (5, 2)
    assert toolpath.events.speed_percent.value.tolist() == [50]
    assert toolpath.events.flow_percent.value.tolist() == [200]


def test_volumes_become_lengths() -> None:
    """A 1.75 mm filament holds 2.4053 mm³ a millimetre: π/4 · 1.75²."""
    toolpath = read("M200 D1.75\nG1 X1 E2.40528\nF60\n")
    assert toolpath.e[0] == pytest.approx(1.0, abs=1e-4)
    assert "cubic" in meanings(toolpath)


def test_a_feed_never_set() -> None:
    toolpath = read("G1 X1 E1\n")
    assert toolpath.feed[0] == slots.FEED_DEFAULT_MM_S
    assert "25 mm/s" in meanings(toolpath)


def test_each_tool_counts_its_own_filament() -> None:
    toolpath = read("G1 X1 E5 F60\nT1\nG1 X2 E3\nT0\nG1 X3 E6\n")
    assert toolpath.tool.tolist() == [0, 1, 0]
    assert toolpath.fed.tolist() == [5, 3, 1]
    assert toolpath.events.tool_change.value.tolist() == [1, 0]


def test_one_count_for_all_tools_is_seen() -> None:
    toolpath = read("G1 X1 E500 F60\nT1\nG1 X2 E500.5\n")
    assert toolpath.fed.tolist() == [500, 0.5]
    assert "counting" in meanings(toolpath)


# ---- arcs


def test_half_circle_by_centre_and_by_radius() -> None:
    for words in ("I5 J0", "R5"):
        toolpath = read(f"G1 X0 Y0 F60 E0\nG2 X10 Y0 {words} E2\n")
        arc = slice(1, None)
        np.testing.assert_allclose(np.hypot(toolpath.x[arc] - 5, toolpath.y[arc]), 5, atol=1e-9)
        assert toolpath.y.max() > 4.99  # clockwise from the left goes over the top
        assert toolpath.chord[1:3].tolist() == [False, True]
        np.testing.assert_allclose(toolpath.fed[arc], 2 / (len(toolpath) - 1))
        assert toolpath.length[arc].sum() == pytest.approx(5 * math.pi, rel=3e-3)
        assert toolpath.arcs == 1


def test_negative_radius_goes_the_long_way() -> None:
    short = read("G1 F60 E1\nG3 X5 Y5 R5 E2\n")
    long = read("G1 F60 E1\nG3 X5 Y5 R-5 E2\n")
    assert short.length.sum() == pytest.approx(5 * math.pi / 2, rel=3e-3)
    assert long.length.sum() == pytest.approx(15 * math.pi / 2, rel=3e-3)


def test_full_circle_and_helix() -> None:
    toolpath = read("G1 F60 E1\nG3 I3 J4 Z1 E2\n")
    assert (toolpath.x[-1], toolpath.y[-1], toolpath.z[-1]) == (0, 0, 1)
    np.testing.assert_allclose(np.diff(toolpath.z[1:]), 1 / (len(toolpath) - 1))
    assert np.hypot(np.diff(toolpath.x), np.diff(toolpath.y)).sum() == pytest.approx(10 * math.pi, rel=3e-3)


@given(st.floats(0.02, 500), st.floats(0.1, 6.2))
@settings(deadline=None, max_examples=80)
def test_chords_stay_close_to_their_arc(radius: float, angle: float) -> None:
    end = (radius * math.cos(angle) - radius, radius * math.sin(angle))
    toolpath = read(f"G1 F60 E1\nG3 X{end[0]:.9f} Y{end[1]:.9f} I{-radius:.9f} E2\n")
    mid = 0.5 * (np.array([toolpath.x[1:], toolpath.y[1:]]) + np.array([toolpath.x[:-1], toolpath.y[:-1]]))
    gap = radius - np.hypot(mid[0] + radius, mid[1])
    assert gap.max() <= 0.0101


def test_arcs_that_are_none_become_straight() -> None:
    for block, word in (
        ("G2 X10 Y0 I1 J0", "fit"),
        ("G2 X10 Y0 R1", "fit"),
        ("G2 X0 Y0 R1", "fit"),
        ("G18 G2 X4 I2", "XY plane"),
    ):
        toolpath = read(f"{block} F60 E1\n")
        assert len(toolpath) == 1
        assert word in meanings(toolpath)


# ---- command words


def test_temperatures_fans_and_limits() -> None:
    toolpath = read(
        "M104 S210 T1\nM109 R215\nM140 S60\nM190 S65\nM141 S40\nM106 S127.5 P2\n" + FEED
        + "M106\nM107\nM201 X500 E5000\nM203 X200 Z10\n"
        + "M204 P800 T1500 R2000\nM204 S900\nM205 X8 J0.02\nG1 X2 E2\n"
    )  # fmt: skip
    events = toolpath.events
    assert events.nozzle_c.value.tolist() == [210, 215]
    assert events.nozzle_c.tool.tolist() == [1, -1]
    assert events.bed_c.value.tolist() == [60, 65]
    assert events.chamber_c.value.tolist() == [40]
    assert events.fan_percent.value.tolist() == [50, 100, 0]
    assert events.fan_percent.tool.tolist() == [2, -1, -1]
    assert events.fan_percent.move.tolist() == [0, 1, 1]
    assert by_axis(events.axis_acceleration) == {0: 500, 3: 5000}
    assert by_axis(events.axis_speed) == {0: 200, 2: 10}
    assert by_axis(events.corner) == {0: 8, 4: 0.02}
    assert events.acceleration.value.tolist() == [800, 900]
    assert events.travel_acceleration.value.tolist() == [1500, 900]
    assert events.retract_acceleration.value.tolist() == [2000]
    assert toolpath.problems == ()


def test_limits_written_per_minute_are_seen() -> None:
    toolpath = read("M203 X18000 Z600\n" + FEED)
    assert by_axis(toolpath.events.axis_speed) == {0: 300, 2: 10}
    assert "mm/min" in meanings(toolpath)


def test_fan_as_a_part_of_one() -> None:
    toolpath = read("M106 S0.5\nM106 S1\n" + FEED)
    assert toolpath.events.fan_percent.value.tolist() == [50, 100]
    assert "part of 1" in meanings(toolpath)


def test_pauses_and_the_end() -> None:
    toolpath = read("M0\nM600\n" + FEED + "M601\nM2\nG1 X9 E9\n; tail note\n")
    assert toolpath.events.pause.value.tolist() == [0, 600, 601]
    assert len(toolpath) == 1
    assert "after the end" in meanings(toolpath)
    assert "tail note" in toolpath.comments


def test_free_text_is_not_read_as_words() -> None:
    toolpath = read(FEED + "M117 G1 X99 layer 3/4 50%\nM118 {x}\n")
    assert len(toolpath) == 1
    assert all("not about motion or heat" in problem.meaning for problem in toolpath.problems)


def test_unknown_words_are_grouped_and_never_silent() -> None:
    toolpath = read(
        FEED
        + "M73 P1 R2\n" * 50
        + "M9876 S1\nSTART_JOB BED=60\nG1 X{width} E2\n$set=1\nG29\nM92 E100\nQ5\nG1 U3\nG1 Y\n"
    )
    by_text = {problem.text: problem for problem in toolpath.problems}
    assert by_text["M73 P1 R2"].count == 50
    assert "ignored" in by_text["M73 P1 R2"].meaning
    assert "not a word this reader knows" in by_text["M9876 S1"].meaning
    assert "macro" in by_text["START_JOB BED=60"].meaning
    assert "character “{” belongs to no word" in meanings(toolpath)
    assert "G1 X{width} E2" in by_text
    for text in ("$set=1", "G29", "M92 E100", "Q5", "G1 U3", "G1 Y"):
        assert text in by_text, text


def test_problems_stay_bounded() -> None:
    toolpath = read(FEED + "".join(f"M{5000 + i}\n" for i in range(2000)))
    assert len(toolpath.problems) == slots.MAX_PROBLEMS + 1
    assert toolpath.problems[-1].count == 2000 - slots.MAX_PROBLEMS


def test_letters_a_word_does_not_take() -> None:
    assert "B means nothing to M104" in meanings(read("M104 S200 B5\n" + FEED))
    assert "M104 names no value" in meanings(read("M104\n" + FEED))


def test_zero_bytes_inside_text() -> None:
    toolpath = read_toolpath(FEED.encode() * 200 + b"\0" * 5 + b"\nG1 X2 E2\n" + b"\0" * 300)
    assert toolpath.x[-1] == 2
    assert "zero bytes" in meanings(toolpath)


# ---- files


def test_paths_streams_bytes_and_gzip_read_alike(tmp_path: Path) -> None:
    text = FEED.encode() * 500
    plain, packed = tmp_path / "part.gcode", tmp_path / "part.gcode.gz"
    plain.write_bytes(text)
    packed.write_bytes(gzip.compress(text[:700]) + gzip.compress(text[700:]))  # two members are one file
    for found in (
        read_toolpath(plain),
        read_toolpath(packed),
        read_toolpath(text),
        read_toolpath(io.BytesIO(text)),
    ):
        assert (len(found), found.bytes, found.lines, found.truncated) == (500, len(text), 500, False)
    assert read_toolpath(plain).name == "part.gcode"
    assert read_toolpath(text, name="as told").name == "as told"


def test_progress_rises_to_one() -> None:
    seen: list[float] = []
    read_toolpath(FEED.encode() * 500, progress=seen.append, piece=1000)
    assert len(seen) >= 6
    assert seen == sorted(seen)
    assert seen[-1] == 1.0


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "empty"),
        (gzip.compress(b"", mtime=0), "empty"),
        (bytes(range(256)) * 40, "binary"),
        (b"\0" * 5000, "zero bytes"),
        (b"PK\x03\x04....", "ZIP"),
        ("G1 X1 E1\n".encode("utf-16"), "UTF-16"),
        (b"dear all, the print failed again\n", "no moves"),
        (b"G4 P100\n", "no moves"),
        (b"G1 X1 F60\nG1 Y5\n", "none of them feeds filament"),
        (b"G1 E-1 F60\n", "none of them feeds filament"),
        (b"\x1f\x8b\x08\0junkjunkjunk", "damaged gzip|no moves"),
    ],
)  # fmt: skip
def test_files_that_are_no_filament_toolpath(content: bytes, found: str) -> None:
    with pytest.raises(ToolpathError, match=found) as refusal:
        read_toolpath(content, name="handed in")
    assert refusal.value.where == "handed in"
    assert refusal.value.fix
    assert refusal.value.exit_code == 2


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ToolpathError, match="cannot be opened"):
        read_toolpath(tmp_path / "none.gcode")


def test_a_gzip_file_cut_short_is_read_as_far_as_it_goes() -> None:
    packed = gzip.compress("".join(f"G1 X{i % 97} E{i} F60\n" for i in range(20_000)).encode())
    toolpath = read_toolpath(packed[: len(packed) // 2])
    assert 1000 < len(toolpath) < 20_000
    assert toolpath.truncated
    assert "before its end" in meanings(toolpath)


def test_a_gzip_bomb_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "RATIO_FREE", 1 << 20)
    with pytest.raises(ToolpathError, match="200-fold"):
        read_toolpath(gzip.compress(FEED.encode() + b"\n" * (8 << 20)))


def test_sizes_beyond_any_print_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "LINE_LIMIT", 1 << 20)
    with pytest.raises(ToolpathError, match="a line of more than 1 MB"):
        read_toolpath(FEED.encode() + b"X1" * (1 << 20), piece=1 << 16)
    monkeypatch.setattr(source, "SIZE_LIMIT", 1 << 20)
    with pytest.raises(ToolpathError, match="GiB"):
        read_toolpath(FEED.encode() * 100_000, piece=1 << 16)
    monkeypatch.setattr(reading, "MOST_MOVES", 1000)
    with pytest.raises(ToolpathError, match="moves"):
        read_toolpath(FEED.encode() * 50_000)


@pytest.mark.parametrize(
    ("tail", "cut"),
    [
        ("G1 X2 E2\n", False),
        ("G1 X2 E2", False),
        ("G1 X", True),
        ("G1 X2 E-", True),
        ("G1 X2.", True),
        ("; bye", False),
        ("G1 X2 (no", True),
        ("M84", False),
        ("M", True),
    ],
)
def test_a_file_cut_inside_a_word(tail: str, cut: bool) -> None:
    assert read(FEED + tail).truncated is cut


def test_a_number_cut_short_shows_in_its_decimals() -> None:
    body = "".join(f"G1 X{i}.250 E{i}.12345 F60\n" for i in range(10))
    assert read(body + "G1 X10.250 E10.123").truncated
    assert not read(body + "G1 X10.250 E10.12345").truncated


# ---- hostile files, small here; the fuzz target goes on from these


def test_a_million_tool_changes_and_one_long_line() -> None:
    toolpath = read(FEED + "T0\nT1\n" * 200_000)
    assert len(toolpath.events.tool_change) == 399_999
    long = read(FEED + "G1 X1 Y1 " * 300_000 + "\n" + "(a)" * 100_000 + "\n" + "((((" * 1000)
    assert len(long) == 300_001


def test_very_many_arcs_stay_bounded() -> None:
    toolpath = read(FEED + "G2 I400 E1\n" * 20_000)
    assert len(toolpath) < slots.CHORD_BUDGET + 100_000
    assert "few chords" in meanings(toolpath)


def test_the_kernel_is_cached_once_warm() -> None:
    reading.warm()
    assert reading.kernel_is_cached()


def test_a_bare_tool_word_on_the_next_line_does_not_reach_back() -> None:
    """
    M109 S210
    G1 X10 E1
    T1
    G1 X20 E1
    """
    path = read_toolpath(b"M83\nM109 S210\nG1 X10 E1 F1200\nT1\nM104 T0 S190\nG1 X20 E1\n", name="two tools")
    assert path.events.nozzle_c.tool.tolist() == [-1, 0]
    assert path.tool.tolist() == [0, 1]
