"""The generator and the reader, each written without the other, must tell the same of one file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from beadwright.toolpath.columns import Kind
from beadwright.toolpath.read import read_toolpath
from specimens import toolpaths
from specimens.toolpaths import large_file

SHAPES = (
    toolpaths.box,
    toolpaths.cylinder,
    toolpaths.cone,
    toolpaths.table,
    toolpaths.bridge,
    toolpaths.vase,
)
DIALECTS = (
    {},
    {"relative_extrusion": True},
    {"inch": True},
    {"inch": True, "relative_extrusion": True},
    {"reset_e_each_layer": True},
    {"numbered": True, "crlf": True},
    {"lower": True, "squeezed": True, "comments": False},
    {"shift_words_mm": (3.5, -2.0)},
    {"z_hop_mm": 0.0, "dwell_s": 1.5, "outside_mm": 4.0},
)


def agree(specimen: toolpaths.Specimen) -> None:
    truth, path = specimen.truth, read_toolpath(specimen.data)
    assert path.problems == ()
    assert (path.extrusion, path.units, path.arcs) == (truth["extrusion"], truth["units"], truth["arcs"])
    fed, beads = path.fed, path.is_bead
    assert np.maximum.accumulate(np.cumsum(fed))[-1] == pytest.approx(truth["filament_mm"], abs=0.02)
    assert (path.kind == Kind.RETRACT).sum() == truth["retractions"]
    assert set(path.line[beads].tolist()) == set(truth["roles"])
    ends = np.column_stack([path.x, path.y, path.z])
    begins = np.vstack([path.start, ends[:-1]])[beads]
    laid = np.vstack([begins, ends[beads]])
    assert [laid.min(0), laid.max(0)] == pytest.approx(np.array(truth["bead_box"]), abs=0.01)
    gone = ends[path.kind != Kind.DWELL]
    assert [gone.min(0), gone.max(0)] == pytest.approx(np.array(truth["move_box"]), abs=0.01)
    assert path.length[beads].sum() == pytest.approx(sum(truth["role_mm"].values()), rel=2e-3)
    if not truth["arcs"]:
        assert beads.sum() == truth["beads"]


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape(shape):
    agree(shape())


@pytest.mark.parametrize("dialect", DIALECTS, ids=lambda d: " ".join(d) or "plain")
def test_every_dialect(dialect):
    agree(toolpaths.box((12.0, 12.0, 1.0), **dialect))


@pytest.mark.parametrize("inch", [False, True])
def test_arcs(inch: bool):
    agree(toolpaths.cylinder(12.0, 1.0, arcs=True, inch=inch))


def test_events_are_where_they_were_written():
    specimen = toolpaths.box((10.0, 10.0, 1.0), first_layer_nozzle_temp_c=225.0, pause_before_layer=2, dwell_s=2.0)
    events = read_toolpath(specimen.data).events
    for name, pairs in specimen.truth["events"].items():
        table = getattr(events, name)
        got = list(zip(table.line.tolist(), table.value.tolist(), strict=True))
        assert got == [(line, pytest.approx(value)) for line, value in pairs], name


def test_large_file_is_what_it_says(tmp_path: Path):
    for relative in (False, True):
        path = tmp_path / "large.gcode"
        said = large_file(path, 2.0, relative=relative)
        got = read_toolpath(path)
        assert got.bytes == said["bytes"] == path.stat().st_size
        assert len(got) == said["moves"]
        assert got.problems == ()
