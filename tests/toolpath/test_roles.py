"""Roles of beads held against files whose every bead's role is known by construction.

The rules of roles are our own (common practice, no source); so is the yardstick: the generator lays each bead for a
purpose and notes it down, the classifier sees moves only.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.toolpath.columns import Kind, Toolpath
from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath
from beadwright.toolpath.roles import Role, Roles, find_roles
from beadwright.toolpath.roles_comments import bead_length
from specimens import toolpaths
from specimens.columns import toolpath as made
from specimens.prints import PRINTS
from specimens.toolpaths import Specimen

BY_WORDS = {role.words: role for role in Role}
SHAPES = {name: getattr(toolpaths, name) for name in ("box", "plate", "cylinder", "cone", "table", "bridge", "vase")}
ALL = {**SHAPES, **PRINTS}
STYLES: dict[str, dict[str, Any]] = {
    "plain": {},
    "brim": {"brim_loops": 6},
    "single walls": {"wall_lines": 1, "infill_percent": 12},
    "thick walls": {"wall_lines": 3, "infill_percent": 45, "layer_height_mm": 0.28},
    "wide beads": {"line_width_mm": 0.6, "layer_height_mm": 0.3, "first_layer_height_mm": 0.3},
}


def found_in(path: Toolpath, **options: Any) -> Roles:
    return find_roles(path, find_layers(path), **options)


def truth_of(specimen: Specimen, path: Toolpath) -> np.ndarray:
    """The role of each move as laid, UNKNOWN for moves that are no beads."""
    by_line = np.zeros(path.lines + 2, np.uint8)
    for line, role in specimen.truth["roles"].items():
        by_line[line] = BY_WORDS[role]
    return np.where(path.is_bead, by_line[path.line], 0)


def accuracy(specimen: Specimen) -> float:
    path = read_toolpath(specimen.data)
    length = bead_length(path)
    right = truth_of(specimen, path) == found_in(path).role
    return float(length[right].sum() / length.sum())


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", ALL)
def test_beads_alone_tell_the_role(name: str, style: str) -> None:
    assert accuracy(ALL[name](comments=False, **STYLES[style])) >= 0.97


def test_each_role_is_found_and_not_invented() -> None:
    """Over all prints together, of what is a role nine tenths are called so, and of what is called so as much is."""
    laid, called, both = (np.zeros(len(Role)) for _ in range(3))
    for make in PRINTS.values():
        for style in ("plain", "brim"):
            specimen = make(comments=False, **STYLES[style])
            path = read_toolpath(specimen.data)
            truth, role, length = truth_of(specimen, path), found_in(path).role, bead_length(path)
            laid += np.bincount(truth, length, len(Role))
            called += np.bincount(role, length, len(Role))
            both += np.bincount(role[role == truth], length[role == truth], len(Role))
    for role in Role:
        if role != Role.UNKNOWN:
            assert laid[role] > 0, role
            assert both[role] >= 0.9 * laid[role], role
            assert both[role] >= 0.9 * called[role], role


# what must not matter ------------------------------------------------------------------------------
def with_positions(path: Toolpath, change: Any) -> Toolpath:
    """The toolpath with x, y changed by a plane map."""
    x, y = change(path.x, path.y)
    sx, sy = change(path.start[:1], path.start[1:2])
    return dataclasses.replace(path, x=x, y=y, start=np.array([sx[0], sy[0], path.start[2]]))


MAPS = {
    "moved": lambda x, y: (x + 31.317, y - 12.741),
    "turned": lambda x, y: (220.0 - y, x),
    "mirrored": lambda x, y: (220.0 - x, y),
    "turned by 30°": lambda x, y: (0.8660254 * x - 0.5 * y, 0.5 * x + 0.8660254 * y),
}


@pytest.mark.parametrize("change", MAPS)
@pytest.mark.parametrize("name", ["pierced", "awning", "two tools", "gallery", "on a raft"])
def test_place_and_direction_do_not_matter(name: str, change: str) -> None:
    path = read_toolpath(PRINTS[name](comments=False).data)
    length = bead_length(path)
    same = found_in(path).role == found_in(with_positions(path, MAPS[change])).role
    assert length[same].sum() >= 0.985 * length.sum()  # cells fall differently


@pytest.mark.parametrize(
    "dialect",
    [{"relative_extrusion": True}, {"inch": True}, {"reset_e_each_layer": True}, {"z_hop_mm": 0.0}, {"comments": True}],
    ids=lambda d: next(iter(d)),
)
def test_dialects_do_not_matter(dialect: dict[str, Any]) -> None:
    for make in (toolpaths.table, toolpaths.bridge):
        assert accuracy(make(**{"comments": False, **dialect})) >= 0.97


def backwards(path: Toolpath) -> Toolpath:
    """Each run of beads laid from its end to its beginning."""
    x, y = path.x.copy(), path.y.copy()
    bead = path.is_bead
    edge = np.flatnonzero(np.diff(np.concatenate([[False], bead, [False]]).astype(int)))
    for first, last in zip(edge[::2], edge[1::2], strict=True):
        if first > 0:
            x[first - 1 : last], y[first - 1 : last] = (
                x[first - 1 : last][::-1].copy(),
                y[first - 1 : last][::-1].copy(),
            )
    kind = path.kind.copy()
    kind[(kind == Kind.UNRETRACT) | (kind == Kind.RETRACT)] = Kind.TRAVEL
    return dataclasses.replace(path, x=x, y=y, kind=kind)


def test_the_sense_of_a_loop_does_not_matter() -> None:
    path = read_toolpath(toolpaths.box(comments=False, retraction_mm=0.0, z_hop_mm=0.0).data)
    there, back = found_in(path), found_in(backwards(path))
    beads = path.is_bead
    count = [np.bincount(roles.role[beads], minlength=len(Role)) for roles in (there, back)]
    assert np.abs(count[0] - count[1]).sum() <= 0.03 * beads.sum()


# widths, islands -----------------------------------------------------------------------------------
@pytest.mark.parametrize(("width", "height"), [(0.45, 0.2), (0.6, 0.3), (0.35, 0.1)])
def test_bead_width_from_filament(width: float, height: float) -> None:
    """The generator feeds a stadium's section (see `Recipe.area`)."""
    path = read_toolpath(
        toolpaths.box((16, 16, 2), line_width_mm=width, layer_height_mm=height, first_layer_height_mm=height).data
    )
    roles = found_in(path)
    walls = np.isin(roles.role, (Role.OUTER, Role.INNER))
    assert roles.width_mm[walls] == pytest.approx(width, abs=0.01)
    assert roles.bead_width_mm == pytest.approx(width, abs=0.01)


def test_the_thicker_filament_is_told_from_widths() -> None:
    path = read_toolpath(toolpaths.box((16, 16, 2), filament_diameter_mm=2.85).data)
    roles = found_in(path)
    assert roles.filament_mm == 2.85
    assert roles.bead_width_mm == pytest.approx(0.45, abs=0.01)
    assert found_in(path, filament_mm=2.85).bead_width_mm == pytest.approx(0.45, abs=0.01)


def test_islands_are_pieces_of_a_layer() -> None:
    """Three studs on a plate: one island a layer in the plate, three above (the skirt and the line apart)."""
    specimen = PRINTS["studs"](comments=False)
    path = read_toolpath(specimen.data)
    layers = find_layers(path)
    roles = find_roles(path, layers)
    for level, many in ((3, 1), (15, 3)):
        mine = (layers.index == level) & path.is_bead
        assert len(np.unique(roles.island[mine])) == many
    assert (roles.island[~path.is_bead] == -1).all()


def test_own_heights_of_objects_are_kept_apart() -> None:
    """Levels of three objects interleave; each bead is as high as its own object's step."""
    path = read_toolpath(PRINTS["one by one, own heights"](comments=False).data)
    layers = find_layers(path)
    roles = find_roles(path, layers)
    beads = path.is_bead & (layers.index >= 0)
    heights = roles.height_mm[layers.index[beads]]
    assert np.abs(heights[:, None] - [0.15, 0.2, 0.28]).min(axis=1).max() < 0.021  # levels nearer than 0.02 are one
    assert np.quantile(roles.width_mm[beads], [0.05, 0.95]) == pytest.approx([0.45, 0.45], abs=0.02)


# comments ------------------------------------------------------------------------------------------
def test_comments_confirm() -> None:
    roles = found_in(read_toolpath(toolpaths.table(comments=True).data))
    assert roles.comments_trusted
    assert roles.from_comments > 0.97
    assert roles.agreement > 0.97


def test_comments_overrule_and_disagreement_is_told() -> None:
    """A print whose comments call the sparse filling a bridge: believed, and said."""
    text = toolpaths.box().text.replace("laying sparse raster", "laying bridge")
    roles = found_in(read_toolpath(text.encode()))
    assert roles.comments_trusted
    pair, share = roles.disagreements[0][:2], roles.disagreements[0][2]
    assert pair == (Role.SPARSE, Role.BRIDGE)
    assert share > 0.1
    assert not (roles.role == Role.SPARSE).any()
    assert (roles.role == Role.BRIDGE).any()


def test_comments_about_something_else_are_not_believed() -> None:
    """Walls called filling and filling called walls: the beads are believed."""
    swap = {
        "outer contour": "sparse infill",
        "inner contour": "support",
        "solid raster": "skirt",
        "sparse raster": "brim",
    }
    text = toolpaths.box().text
    for old, new in swap.items():
        text = text.replace(f"laying {old}", f"laying {new}")
    roles = found_in(read_toolpath(text.encode()))
    assert not roles.comments_trusted
    assert roles.agreement < 0.4
    assert (roles.role == found_in(read_toolpath(toolpaths.box(comments=False).data)).role[:1]).any()
    assert (roles.role == Role.OUTER).any()


# anything ------------------------------------------------------------------------------------------
coordinate = st.floats(-1e4, 1e4, allow_nan=False) | st.integers(0, 20).map(float)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(coordinate, coordinate, st.sampled_from([0.2, 0.4, 5.0])), min_size=2, max_size=40),
    st.lists(st.sampled_from([-0.8, 0.0, 0.1, 1.0, 50.0]), min_size=40, max_size=40),
)
def test_any_toolpath_is_taken(points: list[tuple[float, float, float]], feeds: list[float]) -> None:
    path = made(points, np.cumsum(feeds[: len(points) - 1]))
    roles = found_in(path)
    assert len(roles.role) == len(path)
    assert set(roles.role.tolist()) <= set(Role)
    assert (roles.role[~path.is_bead] == Role.UNKNOWN).all()
    assert np.isfinite(roles.width_mm).all()


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0, 0.2), (1e6, 1e6, 0.2), (0, 1e6, 0.2), (0, 0, 0.2)],
        [(0, 0, 0.2), (1e-9, 0, 0.2), (2e-9, 0, 0.2)],
        [(5, 5, z) for z in (0.0, 0.2, 0.4, 0.6)],
        [(k % 7, k % 5, 0.01 * k) for k in range(300)],
    ],
    ids=["vast", "tiny", "upright", "climbing"],
)
def test_odd_extents_are_taken(points: list[tuple[float, float, float]]) -> None:
    path = made(points, np.arange(1, len(points)) * 0.5)
    assert len(found_in(path).role) == len(path)


def test_no_beads_no_roles() -> None:
    path = made([(0, 0, 5), (10, 0, 5)])
    roles = found_in(path)
    assert roles.role.tolist() == [Role.UNKNOWN]
    assert np.isnan(roles.agreement)
