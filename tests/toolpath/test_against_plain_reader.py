"""The kernel and a plain Python reader agree on random programs, however they are spelled and cut into
pieces.
"""

from __future__ import annotations

import random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.toolpath.columns import Toolpath
from beadwright.toolpath.read import read_toolpath
from toolpath.plain_reader import read

ENDING = "G90\nM83\nG1 X1 E1 F600\n"  # so that any program feeds something

number = st.decimals(-400, 400, places=3, allow_nan=False).map(lambda d: f"{d:f}")
axis_words = st.dictionaries(st.sampled_from("XYZE"), number, max_size=4)
moves = st.builds(
    lambda command, words, feed: [command, *(f"{a}{n}" for a, n in words.items()), *feed],
    st.sampled_from(["G0", "G1", "G01", ""]),
    axis_words.filter(bool),
    st.one_of(st.just([]), st.integers(1, 20_000).map(lambda f: [f"F{f}"])),
)
resets = axis_words.map(lambda words: ["G92", *(f"{a}{n}" for a, n in words.items())])
homes = st.lists(st.sampled_from("XYZ"), unique=True, max_size=3).map(lambda axes: ["G28", *(f"{a}0" for a in axes)])
modes = st.sampled_from(["G90", "G91", "M82", "M83", "G20", "G21", "T0", "F1200"]).map(lambda w: [w])
percents = st.builds(lambda m, s: [m, f"S{s}"], st.sampled_from(["M220", "M221"]), st.integers(10, 300))
programs = st.lists(st.one_of(moves, moves, moves, resets, homes, modes, percents), min_size=1, max_size=40)


def spelled(words: list[str], rng: random.Random) -> str:
    """Return a block written in one of the many ways that mean the same."""
    gap = rng.choice([" ", "", "  ", "\t"])
    text = gap.join(words)
    if rng.random() < 0.3:
        text = text.lower()
    if rng.random() < 0.2:
        text = f"N{rng.randrange(9999)} {text}"
    if rng.random() < 0.2:
        total = 0
        for byte in text.encode():
            total ^= byte
        text += f"*{total}"
    if rng.random() < 0.2:
        text += rng.choice([" ; a word", "(note)", ";"])
    return text


def as_rows(toolpath: Toolpath) -> np.ndarray:
    """Return x, y, z, e, feed, line, tool as one array."""
    columns = ("x", "y", "z", "e", "feed", "line", "tool")
    return np.column_stack([np.asarray(getattr(toolpath, name), float) for name in columns])


@settings(deadline=None, max_examples=150)
@given(programs, st.randoms(use_true_random=False), st.sampled_from(["\n", "\r\n", "\r"]))
def test_any_program_reads_the_same(program: list[list[str]], rng: random.Random, line_end: str) -> None:
    text = line_end.join(spelled(words, rng) for words in program) + line_end + ENDING.replace("\n", line_end)
    found = as_rows(read_toolpath(text.encode()))
    expected = np.array(read(text))
    assert found.shape == expected.shape
    np.testing.assert_allclose(found, expected, rtol=1e-6, atol=1e-8)  # feed is float32


@settings(deadline=None, max_examples=60)
@given(programs, st.integers(1, 60))
def test_the_size_of_pieces_does_not_matter(program: list[list[str]], piece: int) -> None:
    text = ("; first\n" + "\r\n".join(" ".join(words) for words in program) + "\r\n" + ENDING).encode()
    whole, cut = read_toolpath(text), read_toolpath(text, piece=piece)
    np.testing.assert_array_equal(as_rows(cut), as_rows(whole))
    assert (cut.problems, cut.comments, cut.lines) == (whole.problems, whole.comments, whole.lines)


@settings(deadline=None, max_examples=100)
@given(st.binary(max_size=400))
def test_any_bytes_read_or_are_refused(junk: bytes) -> None:
    toolpath = read_toolpath(b"G1 X1 E1 F600\n" * 40 + junk.replace(b"\0", b"") + b"\nG1 X2 E1 F600\n")
    assert len(toolpath) >= 40
    assert toolpath.kind[0] == 1


@settings(deadline=None, max_examples=80)
@given(
    st.lists(
        st.tuples(st.integers(-9999, 9999), st.integers(-9999, 9999), st.integers(1, 99)),
        min_size=2,
        max_size=20,
    )
)
def test_absolute_relative_inch_and_mm_spell_one_path(points: list[tuple[int, int, int]]) -> None:
    ends = np.array([(x / 100, y / 100) for x, y, _ in points])
    fed = np.array([e / 100 for _, _, e in points])
    steps = np.diff(ends, axis=0, prepend=[[0.0, 0.0]])
    absolute = "G90\nM82\nF600\n" + "".join(
        f"G1 X{x:.2f} Y{y:.2f} E{e:.2f}\n" for (x, y), e in zip(ends, np.cumsum(fed), strict=True)
    )
    relative = "G91\nF600\n" + "".join(f"G1 X{x:.2f} Y{y:.2f} E{e:.2f}\n" for (x, y), e in zip(steps, fed, strict=True))
    inches = "G20\nG90\nM83\nF23.62204724\n" + "".join(
        f"G1 X{x / 25.4:.9f} Y{y / 25.4:.9f} E{e / 25.4:.9f}\n" for (x, y), e in zip(ends, fed, strict=True)
    )
    one, two, three = (read_toolpath(text.encode()) for text in (absolute, relative, inches))
    for other in (two, three):
        np.testing.assert_allclose(other.x, one.x, atol=1e-6)
        np.testing.assert_allclose(other.y, one.y, atol=1e-6)
        np.testing.assert_allclose(other.e, one.e, atol=1e-6)
        np.testing.assert_allclose(other.feed, one.feed, rtol=1e-6)
    assert (one.extrusion, two.extrusion, three.units) == ("absolute", "relative", "inch")
