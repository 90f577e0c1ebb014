"""`beadwright picture` as a person calls it."""

from __future__ import annotations

import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "tern-lane" / "bracket.gcode"


def call(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "beadwright", "picture", *words], capture_output=True, text=True,
                          cwd=cwd, timeout=300, env={**os.environ, "COLUMNS": "120"})  # fmt: skip


def test_a_picture_is_written_under_a_name_of_its_own_and_never_over_another(tmp_path: Path) -> None:
    done = call(str(EXAMPLE), "--mark", "9.4,3", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (0, "bracket-front-flow.svg\n")
    words = "".join(ET.parse(tmp_path / "bracket-front-flow.svg").getroot().itertext())
    assert "9.4 mm" in words
    assert "3 mm" in words
    before = (tmp_path / "bracket-front-flow.svg").read_bytes()
    again = call(str(EXAMPLE), cwd=tmp_path)
    assert again.returncode == 2
    assert "is there already" in again.stderr
    assert (tmp_path / "bracket-front-flow.svg").read_bytes() == before
    assert call(str(EXAMPLE), "--force", cwd=tmp_path).returncode == 0
    assert (tmp_path / "bracket-front-flow.svg").read_bytes() != before  # the marks are gone


def test_a_png_of_one_layer(tmp_path: Path) -> None:
    done = call(str(EXAMPLE), "--view", "layer:20", "--by", "speed", "-o", "layer.png", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (0, "layer.png\n")
    assert (tmp_path / "layer.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--view", "behind"), "there is no view 'behind'"),
        (("--view", "layer:61"), "there is no layer 61"),
        (("--by", "mood"), "cannot be coloured by 'mood'"),
        (("--mark", "high up"), "--mark was given as 'high up'"),
        (("--mark", "nan"), "--mark was given as 'nan'"),
        (("-o", "picture.bmp"), "cannot be written as .bmp"),
        (("-o", "nowhere/picture.png"), "no such folder"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    done = call(str(EXAMPLE), *words, cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_hostile_file_name_becomes_a_plain_one(tmp_path: Path) -> None:
    hostile = tmp_path / '"><script>x&$(rm).gcode'
    hostile.write_bytes(EXAMPLE.read_bytes())
    done = call(hostile.name, cwd=tmp_path)
    assert done.stdout == "script-x-rm-front-flow.svg\n"
    drawn = (tmp_path / "script-x-rm-front-flow.svg").read_text()
    assert "<script" not in drawn
    ET.fromstring(drawn)
