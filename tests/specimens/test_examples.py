"""The bundled example is what its SOURCE note says."""

from __future__ import annotations

import math
import runpy
from pathlib import Path

import numpy as np
import pytest

from beadwright.case.read import read_case
from beadwright.motion.limits import limits_from
from beadwright.motion.plan import plan
from beadwright.toolpath.read import read_toolpath

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
BRACKET = EXAMPLES / "tern-lane" / "bracket.gcode"


def test_the_script_writes_the_file_again_byte_for_byte():
    bracket = runpy.run_path(str(EXAMPLES / "make_examples.py"))["bracket"]
    assert BRACKET.read_bytes() == bracket().data
    assert BRACKET.stat().st_size <= 400_000


def test_the_file_asks_for_more_than_the_hot_end_can_heat():
    """0.48 x 0.24 mm beads at 110 mm/s: 11.3 mm³/s; the sparse rows of the flange get there, braking
    included.
    """
    path = read_toolpath(BRACKET)
    motion = plan(path, limits_from(path))
    flow = path.fed / np.maximum(motion.seconds, 1e-9) * math.pi * 1.75**2 / 4
    long = path.is_bead & (path.length > 15) & (path.z > 0.3)
    assert np.median(flow[long]) == pytest.approx(11.3, rel=0.2)
    assert set(path.events.nozzle_c.value.tolist()) == {210.0, 0.0}


def test_the_case_reads():
    case = read_case(EXAMPLES / "tern-lane" / "case.toml")
    assert case.exhibit[0].file == BRACKET.name
