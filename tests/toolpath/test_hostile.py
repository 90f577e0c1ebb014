"""Files made to hurt: each is looked at within bounded time and memory, or refused in a sentence that says what it is.

A child process with limits of memory and processor time looks at every file of `hostile_files` in turn, with warnings
as errors, and holds the JSON against the published schema, which knows neither NaN nor infinity (RFC 8259, section 6).
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.errors import ToolpathError
from beadwright.exhibits.look import look_schema
from beadwright.exhibits.toolpath_file import look
from beadwright.toolpath.read import read_toolpath
from toolpath.hostile_files import FILES, HEAD, REFUSED, SQUARE, layers

SMALL = 2000
VALID = jsonschema.Draft202012Validator(look_schema())
CHILD = """
import json, resource, sys, time, warnings
resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
resource.setrlimit(resource.RLIMIT_CPU, (240, 240))
warnings.simplefilter("error")
from beadwright.exhibits.toolpath_file import look
from beadwright.knowledge.material_table import load_materials
from toolpath.hostile_files import FILES
materials = load_materials()
for name, make in FILES.items():
    began = time.process_time()
    page = look(make(int(sys.argv[1])), name=name, materials=materials).look
    used = time.process_time() - began
    print(json.dumps([name, used, page.model_dump(mode="json")], allow_nan=False), flush=True)
"""


@pytest.fixture(scope="module")
def pages() -> dict[str, dict]:
    """The JSON of each file, as the child wrote it."""
    if sys.platform == "win32":
        pytest.skip("no limits of memory and time for a process here")
    words = [sys.executable, "-c", CHILD, str(SMALL)]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[1],
                          env={"PYTHONPATH": ".", "PATH": ""})  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    return {name: {"seconds of processor": used, **page} for name, used, page in rows}


@pytest.mark.parametrize("name", FILES)
def test_it_is_looked_at(name: str, pages) -> None:
    page = dict(pages[name])
    del page["seconds of processor"]
    VALID.validate(page)
    assert math.isfinite(page["seconds"])
    assert page["seconds"] >= 0
    assert page["filament_mm"] >= 0
    for finding in page["findings"]:
        assert "nan" not in finding["text"].lower()


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_in_a_sentence(name: str) -> None:
    make, found = REFUSED[name]
    with pytest.raises(ToolpathError, match=found) as refusal:
        look(make(SMALL), name="print.gcode")
    assert refusal.value.where == "print.gcode"
    assert refusal.value.fix.endswith((".", "file"))


def test_what_is_wrong_is_said(pages) -> None:
    said = {name: " ".join(problem["meaning"] for problem in page["problems"]) for name, page in pages.items()}
    for name, words in {
        "tools that are none": "not a tool number",
        "checksums alone": "checksum",
        "arcs of no radius": "does not fit its ends",
        "no feed": "feed of zero or less",
        "numbers too large": "not one a machine can use",
        "numbers that are none": "not one a machine can use",
        "comments not closed": "not closed",
        "zeros in between": "zero bytes",
        "packed and cut": "ends before its end",
        "macros": "not evaluated",
    }.items():
        assert words in said[name], name


SMALL_FILE = (
    HEAD + SQUARE + b"; a comment (nested) here\nN5 G2 X5 Y5 I2.5 J2.5 E.4*87\nG92 E0\nM204 P900 T2000\nG4 P250\n"
    b"T1\nG0 Z.4\nM106 S128\n" + SQUARE + b"M82\nG1 X9 E1.25e0\nM400\nM104 S0\nM2\n"
)


def test_a_file_cut_at_any_byte_is_read_up_to_there() -> None:
    """Every whole line before the cut counts as in the whole file; before the first fed filament it is refused."""
    whole = read_toolpath(SMALL_FILE)
    first_feed = SMALL_FILE.index(b" E1") + len(b" E1")
    for at in range(len(SMALL_FILE)):
        part = SMALL_FILE[:at]
        if at < first_feed:
            with pytest.raises(ToolpathError, match=r"no moves|feeds filament|empty"):
                read_toolpath(part)
            continue
        cut = read_toolpath(part)
        sure = int((cut.line <= part.count(b"\n")).sum())
        assert (whole.line[:sure] == cut.line[:sure]).all(), at
        for axis in "xyze":
            assert (getattr(whole, axis)[:sure] == getattr(cut, axis)[:sure]).all(), at


@settings(max_examples=25, deadline=None)
@given(st.binary(max_size=60), st.integers(0, len(SMALL_FILE)), st.integers(0, 40))
def test_a_file_with_bytes_struck_out_or_put_in_is_looked_at(noise: bytes, at: int, gone: int) -> None:
    try:
        page = look(SMALL_FILE[:at] + noise + SMALL_FILE[at + gone :]).look
    except ToolpathError:
        return
    VALID.validate(json.loads(json.dumps(page.model_dump(mode="json"), allow_nan=False)))


def test_beads_a_world_apart_are_counted_and_not_rastered() -> None:
    result = look(HEAD + b"G1 X-999999999 E9\nG1 X999999999 Y999999999 E9\n")
    assert result.measured.shells is None
    assert result.look.beads == 3


def test_long_layer_tables_say_what_they_leave_out() -> None:
    page = look(layers(20_050, 0.05)).look
    assert page.layers.count == 20_050
    assert len(page.per_layer) == 20_000
    assert any("50 of 20050" in words for words in page.left_out)
