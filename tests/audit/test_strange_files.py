"""Files that are odd, damaged or hostile still measure in bounded room, with no warning and no nonsense."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from beadwright.audit.run import run_audit
from beadwright.errors import InputError
from beadwright.facts import Facts
from beadwright.knowledge.material_table import load_materials
from specimens.toolpaths import box

HEAD = "G21\nG90\nM83\nM109 S210\nG0 Z0.2 F6000\n"


def sane(found) -> None:
    """Every number finite, every place in the file, every column of one length."""
    for fact in found.facts:
        if isinstance(fact.value, float):
            assert math.isfinite(fact.value), fact
    for where in found.places.values():
        if where.layers:
            assert 1 <= where.layers[0] <= where.layers[1] <= found.moves.layer_count
    table = found.per_layer
    assert {len(getattr(table, name)) for name in table.__dataclass_fields__} == {len(table)}
    for finding in run_audit(Facts(found.facts), load_materials()["pla"], found.places).findings:
        assert "nan" not in finding.text
        assert "inf" not in finding.text.replace("infill", "")


@pytest.mark.parametrize("body", [
    "G1 X5 E1 F600\n",  # one bead
    "G1 X5 E1 F600\nG1 X5 E1\n",  # and priming
    "G1 Z5 E1 F600\n",  # straight up
    "G1 X5 E1 F600\nG1 E-1\n" * 40,  # nothing but retractions
    "G1 X5 E.0001 F600\nG1 X0 E.0001\n",  # next to no plastic
    "G1 X20000 Y20000 E9 F6000\nG1 X0 Y0 E9\n",  # a field, not a plate
    "G1 X5 E1 F600\nG0 Z-5\nG1 X9 E1\n",  # below the plate
    "T3\nG1 X5 E1 F600\nT200\nG1 X9 E1\n",
    "G1 X5 E1 F600\nM104 S0\nG1 X9 E1\n",
    "".join(f"G0 Z{0.01 * k:.2f}\nG1 X{k % 2} E.01 F600\n" for k in range(1, 400)),  # layers of a hair
    "".join(f"M106 S{k % 256}\n" for k in range(3000)) + "G1 X5 E1 F600\n",
])  # fmt: skip
def test_odd_files_measure_without_nonsense(measure, body):
    sane(measure(HEAD + body))


def test_objects_printed_one_after_the_other_are_counted_together(measure):
    """The second box's layers come after the first's; columns of both are judged."""
    one = box(
        (20, 20, 3),
        centre_mm=(60.0, 60.0),
        relative_extrusion=True,
        bottom_solid_layers=3,
        top_solid_layers=4,
    )
    two = box(
        (20, 20, 3),
        centre_mm=(140.0, 140.0),
        relative_extrusion=True,
        bottom_solid_layers=3,
        top_solid_layers=4,
    )
    found = measure(one.text.replace("M104 S0", "") + two.text)
    sane(found)
    assert (found.shells.bottom, found.shells.top) == (3, 4)


def test_a_line_across_a_huge_plate_does_not_take_huge_memory(measure):
    wide = measure(HEAD + "G1 X90000 E9 F6000\nG1 Y90000 E9\nG1 X0 E9\nG1 Y0 E9\nG0 Z.4\nG1 X90000 E9\n")
    assert wide.shells is None  # too coarse to say anything of shells


CHANGES = st.sampled_from(["drop", "double", "swap", "cut", "noise"])
SOURCE = box((12, 12, 1.2)).text.splitlines()


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, len(SOURCE) - 1), CHANGES), min_size=1, max_size=12))
def test_mutated_files_measure_or_are_refused(measure, changes):
    lines = list(SOURCE)
    for at, what in changes:
        k = min(at, len(lines) - 1)
        if what == "drop" and len(lines) > 1:
            del lines[k]
        elif what == "double":
            lines.insert(k, lines[k])
        elif what == "swap":
            lines[k], lines[0] = lines[0], lines[k]
        elif what == "cut":
            lines[k] = lines[k][: len(lines[k]) // 2]
        else:
            lines[k] = lines[k].replace("X", "Z").replace("E", "F")
    try:
        found = measure("\n".join(lines))
    except InputError:
        return
    sane(found)
    assert np.isfinite(found.moves.deposited).all()
