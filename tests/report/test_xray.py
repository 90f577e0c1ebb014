"""X-rays of a print: pictures known by construction, and the kernel against a slow reference."""

from __future__ import annotations

import json
import re
import struct
import xml.etree.ElementTree as ET
import zlib
from dataclasses import replace

import numpy as np
import pytest
import vl_convert

from beadwright.audit.moves import Moves
from beadwright.errors import InputError
from beadwright.facts import Facts
from beadwright.motion.limits import limits_from
from beadwright.motion.plan import plan
from beadwright.report.png import png
from beadwright.report.scale_colours import CIVIDIS_STOPS, OKABE_ITO, cividis, lightness, rgb
from beadwright.report.xray import Raster, View, draw, ends_of, extent, opacity, view_named, xray
from beadwright.report.xray_figure import alone, alone_png, caption, pair_html
from beadwright.report.xray_values import QUANTITIES, Quantity, quantity
from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath

FRONT, SIDE, TOP = View("front", 0), View("side", 1), View("top", 2)
SECTION = np.pi * 1.75**2 / 4


def moves_of(lines: list[str], name: str = "invented.gcode") -> Moves:
    head = "G21\nG90\nM83\nM104 S200\nM109 S200\nG1 F1800\n"
    path = read_toolpath((head + "\n".join(lines) + "\n").encode(), name=name)
    return Moves(path, find_layers(path), plan(path, limits_from(path, Facts())), 1.75)


def bead(x: float, y: float, z: float, volume: float, feed: float = 1800) -> str:
    return f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f} E{volume / SECTION:.6f} F{feed:g}"


def one_bead() -> Moves:
    """10 mm long, 0.2 mm high, 1.0 mm³: so 0.5 mm wide; along x at y = 20."""
    return moves_of(["G0 X10 Y20 Z0.2", bead(20, 20, 0.2, 1.0)])


def box_print(layers: int = 20, speeds: tuple[float, float] = (1200, 2400)) -> Moves:
    """Lines of 30 mm side by side over 20 mm, crosswise by turns; the lower half slower than the upper."""
    lines = []
    for layer in range(layers):
        z, feed = 0.2 * (layer + 1), speeds[0] if layer < layers // 2 else speeds[1]
        for n in range(50):
            y, (a, b) = 0.2 + 0.4 * n, ((0, 30) if n % 2 else (30, 0))
            lines += [f"G0 X{a} Y{y:.2f} Z{z:.2f}", bead(b, y, z, 30 * 0.4 * 0.2, feed)]
    return moves_of(lines)


def random_print() -> Moves:
    """200 beads of every direction and length, climbing layer by layer, some of them within the layer."""
    rng = np.random.default_rng(8)
    lines = []
    for layer in range(10):
        z = 0.2 * (layer + 1)
        for _ in range(20):
            a, b = rng.uniform(5, 35, 2), rng.uniform(5, 35, 2)
            length = float(np.hypot(*(b - a)))
            lines += [f"G0 X{a[0]:.3f} Y{a[1]:.3f} Z{z:.2f}", bead(b[0], b[1], z, length * rng.uniform(0.06, 0.12))]
    return moves_of(lines)


def slow_picture(moves: Moves, view: View, like: Raster) -> np.ndarray:
    """Plastic per pixel by scattering 4000 points over each bead's box, a lens in its height or width."""
    rng = np.random.default_rng(1)
    raster_shape, left, top, pixel = like.plastic.shape, like.left_mm, like.top_mm, like.pixel_mm
    picture = np.zeros(raster_shape)
    path = moves.toolpath
    for i in np.flatnonzero(moves.bead):
        a = np.array([path.x[i - 1], path.y[i - 1]])
        b = np.array([path.x[i], path.y[i]])
        length, height = float(np.hypot(*(b - a))), float(moves.layers.height_mm[moves.layer[i]])
        width, along = float(moves.volume[i]) / length / height, (b - a) / length
        share, aside = rng.random(4000), rng.random(4000) - 0.5
        middle = rng.beta(2, 2, 4000) - 0.5  # a parabola over −½ … ½
        if view.side == 2:
            at = a + np.outer(share, b - a) + np.outer(middle * width, [-along[1], along[0]])
            u, v = at[:, 0], at[:, 1]
        else:
            at = a + np.outer(share, b - a) + np.outer(aside * width, [-along[1], along[0]])
            u, v = at[:, view.side], path.z[i] - height / 2 + middle * height
        rows, columns = ((top - v) / pixel).astype(int), ((u - left) / pixel).astype(int)
        inside = (rows >= 0) & (rows < raster_shape[0]) & (columns >= 0) & (columns < raster_shape[1])
        np.add.at(picture, (rows[inside], columns[inside]), float(moves.volume[i]) / 4000)
    return picture


def in_blocks(picture: np.ndarray, side: int = 4) -> np.ndarray:
    """Sums over blocks of 4 by 4 pixels."""
    rows, columns = (np.arange(0, length, side) for length in picture.shape)
    return np.add.reduceat(np.add.reduceat(picture, rows, 0), columns, 1)


# pictures known by construction -----------------------------------------------------------------------
def test_a_single_bead_seen_from_the_front_covers_its_length_and_height() -> None:
    raster = xray(one_bead(), quantity(one_bead(), "speed"), FRONT, 0.1)
    rows, columns = np.nonzero(raster.plastic > 0.01)
    z_top, z_low = raster.top_mm - rows.min() * 0.1, raster.top_mm - (rows.max() + 1) * 0.1
    assert z_top == pytest.approx(0.2, abs=0.11)
    assert z_low == pytest.approx(0.0, abs=0.11)
    x = raster.left_mm + np.array([columns.min(), columns.max() + 1]) * 0.1
    assert x == pytest.approx([10.0, 20.0], abs=0.11)
    assert float(raster.plastic.sum()) * 0.1**2 == pytest.approx(1.0, rel=1e-4)  # all of its 1.0 mm³


def test_the_same_bead_seen_end_on_is_as_wide_as_it_is_and_as_deep_as_it_is_long() -> None:
    raster = xray(one_bead(), quantity(one_bead(), "speed"), SIDE, 0.02)
    across = raster.plastic.sum(axis=0) > 0.5
    assert across.sum() * 0.02 == pytest.approx(0.5, abs=0.03)
    mean_depth = raster.plastic[:, across].sum() * 0.02 / across.sum() / 0.2
    assert mean_depth == pytest.approx(10.0, rel=0.05)


def test_a_box_is_filled_to_its_edges_and_nowhere_else() -> None:
    moves = box_print()
    raster = xray(moves, quantity(moves, "speed"), FRONT, 0.1)
    there = raster.plastic > 0
    assert there.mean() > 0.97  # the margin is half a bead
    inside = raster.plastic[2:-2, 4:-4]
    assert inside.mean() == pytest.approx(20.0, rel=0.02)  # mm of plastic behind one another
    top = xray(moves, quantity(moves, "speed"), TOP, 0.1)
    assert top.plastic[10:-10, 10:-10].mean() == pytest.approx(4.0, rel=0.02)  # 20 layers of 0.2 mm


def test_the_mean_of_a_quantity_is_what_was_told_there() -> None:
    moves = box_print()
    told = Quantity("half", "half", "", np.where(np.asarray(moves.layer) < 10, 20.0, 40.0))
    front = xray(moves, told, FRONT, 0.1)
    middle = front.mean[:, front.mean.shape[1] // 2]
    assert middle[3:18] == pytest.approx(40.0, abs=0.01)
    assert middle[-18:-3] == pytest.approx(20.0, abs=0.01)
    above = xray(moves, told, TOP, 0.2)
    assert np.nanmean(above.mean) == pytest.approx(30.0, abs=0.01)  # each half of the plastic counts alike


def test_the_lower_half_laid_slower_is_the_darker() -> None:
    moves = box_print()
    picture = draw(xray(moves, quantity(moves, "speed"), FRONT), quantity(moves, "speed"))
    pixels = unpacked(picture.png)
    column = lightness(pixels[:, pixels.shape[1] // 2, :3])
    assert column[len(column) * 3 // 4] + 20 < column[len(column) // 4]


def test_one_layer_shows_its_own_beads_only() -> None:
    moves = random_print()
    one = view_named("layer:3", moves.layer_count)
    raster = xray(moves, quantity(moves, "flow"), one, 0.1)
    laid = float(moves.volume[moves.bead & (np.asarray(moves.layer) == 2)].sum())
    assert float(raster.plastic.sum()) * 0.1**2 == pytest.approx(laid, rel=0.01)


def test_what_the_first_layer_lays_far_off_is_cut_and_told() -> None:
    far = ["G0 X-80 Y0 Z0.2", bead(-80, 100, 0.2, 5.0)]
    print_ = [f"G0 X0 Y{y} Z{0.2 * n:.1f}\n{bead(20, y, 0.2 * n, 2.0)}" for n in (1, 2, 3, 4) for y in range(10)]
    moves = moves_of([*far, *print_])
    left, _, right, _ = extent(moves, FRONT)
    assert left > -10
    picture = draw(xray(moves, quantity(moves, "speed"), FRONT), quantity(moves, "speed"))
    assert picture.beyond == pytest.approx(5.0 / (5.0 + 80.0), abs=0.005)
    assert "cut off" in caption("a", (picture,), ())
    assert right - left < 35


# against a slow reference -----------------------------------------------------------------------------
@pytest.mark.parametrize("view", [FRONT, SIDE, TOP, View("layer 4", 2, 3)])
def test_no_plastic_is_lost(view: View) -> None:
    moves = random_print()
    shown = moves.bead if view.layer is None else moves.bead & (np.asarray(moves.layer) == view.layer)
    raster = xray(moves, quantity(moves, "flow"), view)
    laid = float(raster.plastic.sum(dtype=np.float64)) * raster.pixel_mm**2
    assert laid == pytest.approx(float(moves.volume[shown].sum()), rel=0.01)


@pytest.mark.parametrize("view", [FRONT, SIDE, TOP])
def test_the_kernel_agrees_with_scattered_points(view: View) -> None:
    """Pixels of 1 mm: coarse enough that how a bead's ends are cut, and chance, stay within a few percent."""
    moves = random_print()
    raster = xray(moves, quantity(moves, "flow"), view, 1.0)
    slow = slow_picture(moves, view, raster)
    if view.side != 2:
        assert np.abs(raster.plastic - slow).max() < 0.03 * slow.max()
    else:  # seen from above beads are thickened all alike: a pixel's rim may differ, its surroundings not
        blocks = [in_blocks(picture) for picture in (raster.plastic, slow)]
        assert np.abs(blocks[0] - blocks[1]).max() < 0.05 * blocks[1].max()


def test_a_rising_bead_is_laid_along_its_slope() -> None:
    moves = moves_of(["G0 X0 Y0 Z0.2", bead(10, 0, 0.2, 1.0), bead(20, 0, 5.2, 1.0), bead(30, 0, 5.2, 1.0)])
    raster = xray(moves, quantity(moves, "speed"), FRONT, 0.1)
    middle = raster.plastic[:, round((15 - raster.left_mm) / 0.1)]
    at = raster.top_mm - (np.arange(len(middle)) + 0.5) * 0.1
    height = float(moves.layers.height_mm[moves.layer[np.flatnonzero(moves.bead)[1]]])
    assert float((at * middle).sum() / middle.sum()) == pytest.approx(2.7 - height / 2, abs=0.15)


# categories -------------------------------------------------------------------------------------------
def test_categories_do_not_mix_and_take_their_own_colours() -> None:
    moves = box_print(10)
    kinds = Quantity("role", "bead role", "", (np.asarray(moves.layer) % 2 + 1).astype(float),
                     ("unknown", "outer contour", "bridge"))  # fmt: skip
    raster = xray(moves, kinds, FRONT)
    assert set(np.unique(raster.mean[np.isfinite(raster.mean)]).tolist()) == {1.0, 2.0}
    picture = draw(raster, kinds)
    assert dict(picture.scale.categories) == {
        "outer contour": OKABE_ITO["blue"], "bridge": OKABE_ITO["vermilion"],
    }  # fmt: skip
    pixels = unpacked(picture.png)
    shown = {tuple(p) for p in pixels[pixels[..., 3] > 0][:, :3].tolist()}
    assert shown == {rgb(OKABE_ITO["blue"]), rgb(OKABE_ITO["vermilion"])}


@pytest.mark.parametrize("name", list(QUANTITIES))
def test_every_quantity_can_be_drawn(name: str) -> None:
    moves = box_print(4)
    shown = quantity(moves, name)
    assert draw(xray(moves, shown, FRONT), shown).png.startswith(b"\x89PNG")


def test_a_quantity_that_the_file_never_tells_is_refused_in_words() -> None:
    path = read_toolpath(b"G90\nM83\nG1 X0 Y0 Z0.2 F1800\nG1 X10 E1\nG1 X0 Y1 E1\n", name="bare.gcode")
    moves = Moves(path, find_layers(path), plan(path, limits_from(path, Facts())), 1.75)
    with pytest.raises(InputError, match="nozzle temperature"):
        quantity(moves, "nozzle")
    with pytest.raises(InputError, match="Choose flow, speed"):
        quantity(moves, "colour of the door")


@pytest.mark.parametrize("view", ["layer:0", "layer:999", "layer:-1", "back", "layer:1e9", ""])
def test_views_that_do_not_exist_are_refused_in_words(view: str) -> None:
    with pytest.raises(InputError, match=r"there is no (view|layer)"):
        view_named(view, 20)


# colours ----------------------------------------------------------------------------------------------
def test_the_quantity_scale_rises_evenly_in_lightness() -> None:
    steps = np.diff(lightness(cividis(np.linspace(0, 1, 33))))
    assert steps.min() > 0
    assert steps.max() < 1.7 * steps.min()


def test_the_quantity_scale_is_the_published_one() -> None:
    """Held against the scheme of the same name in Vega, itself a fit to Nuñez, Anderton, Renslow 2018."""
    spec = {
        "$schema": "https://vega.github.io/schema/vega/v5.json", "width": 100, "height": 10,
        "data": [{"name": "t", "transform": [{"type": "sequence", "start": 0, "stop": 10, "as": "i"}]}],
        "scales": [{"name": "c", "type": "linear", "domain": [0, 9], "range": {"scheme": "cividis"}}],
        "marks": [{"type": "rect", "from": {"data": "t"}, "encode": {"enter": {
            "x": {"field": "i", "mult": 10}, "width": {"value": 10}, "height": {"value": 10},
            "fill": {"scale": "c", "field": "i"}}}}],
    }  # fmt: skip
    drawn = vl_convert.vega_to_svg(json.dumps(spec))
    theirs = np.array([[int(n) for n in m] for m in re.findall(r'fill="rgb\((\d+), (\d+), (\d+)\)"', drawn)])
    ours = np.array([rgb(stop) for stop in CIVIDIS_STOPS])
    assert theirs.shape == (10, 3)
    assert np.abs(lightness(theirs) - lightness(ours)).max() < 1.5
    assert np.abs(theirs - ours).max() <= 14  # of 255: the fit's own error, in the red of the darkest blues


def test_nearly_equal_values_are_not_blown_up_into_a_pattern() -> None:
    moves = box_print(6, speeds=(1800, 1801))
    low, high = ends_of((xray(moves, quantity(moves, "fan"), FRONT),))
    assert high > low
    shown = Quantity("a", "a", "", 200.0 + 0.01 * np.arange(len(moves)) / len(moves))
    low, high = ends_of((xray(moves, shown, FRONT),))
    assert high - low > 5


def test_more_plastic_is_never_paler() -> None:
    raster = xray(box_print(4), quantity(box_print(4), "speed"), FRONT)
    thin = replace(
        raster, plastic=np.linspace(0, 5, raster.plastic.size, dtype=np.float32).reshape(raster.plastic.shape)
    )
    shown = opacity(thin).ravel()
    assert shown[0] == 0
    assert (np.diff(shown) >= -1e-6).all()
    assert shown.max() <= 1


# files and figures ------------------------------------------------------------------------------------
def unpacked(data: bytes) -> np.ndarray:
    """Read back a PNG of 8-bit colour and alpha whose rows use filters none or up."""
    at, body, size = 8, b"", (0, 0)
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        chunk = data[at + 8 : at + 8 + length]
        assert struct.unpack(">I", data[at + 8 + length : at + 12 + length])[0] == zlib.crc32(kind + chunk)
        if kind == b"IHDR":
            size = struct.unpack(">II", chunk[:8])
        body += chunk if kind == b"IDAT" else b""
        at += 12 + length
    rows = np.frombuffer(zlib.decompress(body), np.uint8).reshape(size[1], 1 + 4 * size[0])
    assert set(rows[:, 0].tolist()) <= {0, 2}
    return np.cumsum(rows[:, 1:], axis=0, dtype=np.uint8).reshape(size[1], size[0], 4)


def test_a_png_holds_the_pixels_that_went_in() -> None:
    pixels = np.random.default_rng(2).integers(0, 256, (17, 31, 4), np.uint8)
    assert np.array_equal(unpacked(png(pixels)), pixels)


def test_a_figure_is_well_formed_escaped_and_without_a_script() -> None:
    moves = box_print(10)
    shown = quantity(moves, "flow")
    picture = draw(xray(moves, shown, FRONT), shown)
    name = 'bad"><script>alert(1)</script>&\x00\ud800.gcode'
    drawn = alone(picture, (1.0,), name)
    root = ET.fromstring(drawn)
    assert not [element for element in root.iter() if element.tag.endswith("script")]
    assert "var(--" not in drawn  # viewers without style sheets read it too
    assert "1 mm" in "".join(root.itertext())
    assert "flow (mm³/s)" in "".join(root.itertext())
    drawn.encode("utf-8")


def test_on_a_page_each_view_says_what_it_shows() -> None:
    moves = box_print(10)
    shown = quantity(moves, "speed")
    pictures = tuple(draw(xray(moves, shown, view), shown) for view in (FRONT, SIDE))
    markup = pair_html(pictures, (1.0, 1.4))
    assert markup.count('role="img"') == 2
    assert re.search(r'aria-label="The print seen through from the front, 30 mm wide and 2 mm tall, coloured by speed: '
                     r'[\d.]+ to [\d.]+ mm/s\. Lines at 1 mm, 1\.4 mm\."', markup)  # fmt: skip
    assert "style=" not in markup  # the bench's content policy allows none
    assert 'stroke="var(--accent)"' in markup


def test_a_picture_has_equal_scale_both_ways() -> None:
    moves = box_print(10)
    shown = quantity(moves, "speed")
    picture = draw(xray(moves, shown, FRONT), shown)
    left, bottom, right, top = picture.box
    assert (right - left) / picture.size[0] == pytest.approx((top - bottom) / picture.size[1])


def test_the_png_of_a_figure_is_a_picture_with_axes() -> None:
    moves = box_print(10)
    shown = quantity(moves, "speed")
    drawn = alone_png(draw(xray(moves, shown, FRONT), shown), (1.0,), "invented.gcode")
    width, height = struct.unpack(">II", drawn[16:24])
    assert drawn.startswith(b"\x89PNG")
    assert width > 1200
    assert height > 200
