"""Layers of short invented toolpaths whose levels are known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from beadwright.toolpath.layers import Layers, find_layers
from beadwright.toolpath.read import read_toolpath

HEAD = "M83\nG1 F1800\n"


def layers(text: str) -> Layers:
    return find_layers(read_toolpath((HEAD + text).encode()))


def square(z: float, size: float = 10, lift: float = 0.4) -> str:
    """A square at height z, reached by a lifted travel."""
    corners = ((size, 0), (size, size), (0, size), (0, 0))
    beads = "".join(f"G1 X{x} Y{y} E1\n" for x, y in corners)
    return f"G0 Z{z + lift:.3f}\nG0 X0 Y0\nG0 Z{z:.3f}\n" + beads


def test_a_thick_first_layer_and_lifts_on_travels() -> None:
    found = layers("".join(square(0.3 + 0.2 * i) for i in range(10)))
    np.testing.assert_allclose(found.z_mm, 0.3 + 0.2 * np.arange(10))
    np.testing.assert_allclose(found.height_mm, [0.3] + [0.2] * 9)
    assert not found.continuous
    assert len(found.restarts) == 0


def test_travels_belong_to_the_next_bead() -> None:
    """Moves: lift, across, down, four beads; twice, then a last travel."""
    found = layers(square(0.2) + square(0.4) + "G0 Z50\n")
    assert found.index.tolist() == [-1] * 3 + [0] * 4 + [1] * 7 + [-1]
    assert (found.first_move.tolist(), found.last_move.tolist()) == ([3, 7], [6, 13])


def test_varying_layer_heights() -> None:
    heights = [0.3, 0.1, 0.1, 0.25, 0.3, 0.07, 0.2]
    found = layers("".join(square(z) for z in np.cumsum(heights)))
    np.testing.assert_allclose(found.height_mm, heights, atol=1e-9)


@pytest.mark.parametrize("z", [0.3, 0.28, 0.45, 1.0])
def test_a_priming_line_is_no_layer(z: float) -> None:
    found = layers(f"G0 Z{z}\nG1 X20 E5\n" + "".join(square(0.25 + 0.2 * i) for i in range(12)))
    np.testing.assert_allclose(found.z_mm, 0.25 + 0.2 * np.arange(12))
    assert found.index[1] == -1


def test_objects_one_by_one_share_levels() -> None:
    found = layers("".join(square(0.2 * i) for i in range(1, 6)) + "".join(square(0.2 * i) for i in range(1, 9)))
    np.testing.assert_allclose(found.z_mm, 0.2 * np.arange(1, 9))
    assert found.restarts.tolist() == [5 * 7 + 3]


def test_a_levelling_correction_does_not_split_layers() -> None:
    rng = np.random.default_rng(3)
    text = ""
    for i in range(25):
        text += "G0 X10 Y0\n"
        for angle in np.linspace(0, 6, 60):
            z = 0.2 * (i + 1) + 0.045 * np.sin(3 * angle) + rng.normal() * 0.002
            text += f"G1 X{10 * np.cos(angle):.3f} Y{10 * np.sin(angle):.3f} Z{z:.4f} E.1\n"
    found = layers(text)
    np.testing.assert_allclose(found.z_mm, 0.2 * np.arange(1, 26), atol=0.01)
    assert not found.continuous


@pytest.mark.parametrize(("rise", "centre"), [(0.2, 0), (0.35, 100), (0.1, -30)])
def test_vase_mode_is_cut_by_turns(rise: float, centre: float) -> None:
    text = square(0.3, 40) + square(0.5, 40)
    for step in range(40 * 60 + 1):
        angle = 2 * np.pi * step / 60
        x, y = centre + 20 * np.cos(angle), centre + 20 * np.sin(angle)
        text += f"G1 X{x:.3f} Y{y:.3f} Z{0.5 + rise * step / 60:.4f} E{0.1 if step else 0}\n"
    found = layers(text)
    assert found.continuous
    assert len(found) in (42, 43)  # two flat layers and forty turns
    np.testing.assert_allclose(found.height_mm[:2], [0.3, 0.2])
    np.testing.assert_allclose(found.height_mm[2:], rise, rtol=0.02)
    assert (np.diff(found.index[found.index >= 0]) >= 0).all()


def test_a_path_that_is_not_planar_gets_levels_of_equal_height() -> None:
    text = ""
    for i in range(12):
        text += "G0 X0 Y0\n"
        for step in range(1, 41):
            text += f"G1 X{step} Z{0.2 * (i + 1) + 2 * np.sin(step / 40 * np.pi):.4f} E.1\n"
    found = layers(text)
    assert not found.continuous
    assert 5 < len(found) < 40
    assert found.z_mm[-1] == pytest.approx(4.4, abs=0.3)
    assert (found.index[1:] >= 0).all()


def test_one_layer_and_none() -> None:
    assert layers(square(0.2)).z_mm.tolist() == [0.2]
    empty = layers("G1 E5\nG0 X5\n")
    assert len(empty) == 0
    assert empty.index.tolist() == [-1, -1]


def test_every_layer_has_its_bead_and_its_range() -> None:
    found = layers("".join(square(0.2 * i, 10 + i % 3) for i in range(1, 30)))
    for layer in range(len(found)):
        mine = np.flatnonzero(found.index == layer)
        assert (mine[0], mine[-1]) == (found.first_move[layer], found.last_move[layer])


@pytest.mark.parametrize("thin", [0.05, 0.06, 0.08])
def test_thin_layers_among_thick_ones(thin: float) -> None:
    heights = [0.3, *[0.3] * 6, *[thin] * 4, *[0.3] * 6]
    found = layers("".join(square(z) for z in np.cumsum(heights)))
    np.testing.assert_allclose(found.height_mm, heights, atol=1e-9)


@pytest.mark.parametrize("steps", [5, 10, 40])
def test_seams_laid_as_ramps_split_no_layer(steps: int) -> None:
    """Each square is begun by a ramp of 4 mm from the level below up to its own, in steps."""
    text = ""
    for i in range(1, 13):
        text += f"G0 X-4 Y0 Z{0.2 * i - 0.2:.3f}\n"
        text += "".join(
            f"G1 X{-4 + 4 * k / steps:.3f} Z{0.2 * (i - 1) + 0.2 * k / steps:.4f} E.1\n" for k in range(1, steps + 1)
        )
        text += "G1 X10 Y0 E1\nG1 X10 Y10 E1\nG1 X0 Y10 E1\nG1 X0 Y0 E1\n"
    found = layers(text)
    np.testing.assert_allclose(found.z_mm, 0.2 * np.arange(1, 13), atol=1e-6)
    per_layer = np.bincount(found.index[found.index >= 0])
    assert (per_layer[1:] == steps + 5).all()


def test_a_wavy_top_over_flat_layers_keeps_the_flat_ones() -> None:
    text = "".join(square(0.2 * i, 40) for i in range(1, 11)) + "G0 X0 Y0\n"
    text += "".join(f"G1 X{x} Z{2.2 + 0.3 * np.sin(x / 6):.3f} E.1\n" for x in range(1, 41))
    found = layers(text)
    np.testing.assert_allclose(found.z_mm[:10], 0.2 * np.arange(1, 11))


@pytest.mark.parametrize("z", [0.1, 0.2, 0.25])
def test_a_priming_line_lower_than_the_first_layer_is_no_layer(z: float) -> None:
    text = f"G0 X-30 Y-20 Z{z}\nG1 Y60 E9\nG1 X-29.6\nG1 Y-20 E9\nG1 E-1\n"
    text += "".join(square(0.3 + 0.2 * i, 30) for i in range(40))
    found = layers(text)
    np.testing.assert_allclose(found.z_mm, 0.3 + 0.2 * np.arange(40))
    assert (found.index[:4] == -1).all()


def test_a_skirt_round_the_part_is_no_priming_line() -> None:
    skirt = "G0 X-5 Y-5 Z.2\nG1 X35 E2\nG1 Y35 E2\nG1 X-5 E2\nG1 Y-5 E2\n"
    found = layers(skirt + "".join(square(0.2 * i, 30) for i in range(1, 60)))
    assert (found.index[1:5] == 0).all()


def test_a_small_object_printed_first_is_no_priming_line() -> None:
    """The first object is a strip of 5 x 10 mm, ten layers high, the second far larger."""
    small = "".join(
        f"G0 Z{0.2 * i:.1f}\nG0 X-50 Y0\n" + "G1 X-45 E.1\nG1 Y10 E.1\nG1 X-50 E.1\nG1 Y0 E.1\n" for i in range(1, 11)
    )
    found = layers(small + "".join(square(0.2 * i, 80) for i in range(1, 60)))
    assert (found.index[3:7] == 0).sum() >= 3
    assert len(found) == 59
