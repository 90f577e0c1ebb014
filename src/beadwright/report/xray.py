"""The print seen through from one side: beads laid on a picture, coloured by what the machine was told.

A `Raster` is the measurement, plastic and mean value per pixel; `draw` turns it into a small PNG with clear paper where
there is no plastic, so that it lies on a light page and a dark one alike.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from beadwright.errors import InputError
from beadwright.report.png import png
from beadwright.report.scale_colours import cividis
from beadwright.report.xray_values import PLASTIC, Quantity, bead_heights, quantity
from beadwright.workup import Picture, Scale

if TYPE_CHECKING:
    from beadwright.audit.moves import Moves
    from beadwright.exhibits.toolpath_file import LookResult

Image = NDArray[np.float32]
SIDES = {"front": 0, "side": 1, "top": 2}
ABOVE = 2
AXES = (("x", "z"), ("y", "z"), ("x", "y"))
MOST_PIXELS = (1200, 880)  # columns, rows: twice what a page shows, for fine screens
PAIR_PIXELS = (616, 640)  # of each of two views side by side
MOST_STEPS = 40e6
FINEST_MM = 0.02
BESIDE_MM = 6.0
FARTHEST_MM = 1e6
BELIEVED_WIDTH_MM = (0.05, 3.0)  # beads worked out wider than this are dabs of priming
OUTSIDE_SHARE = 0.004  # of the plastic at either end of the scale that may lie beyond it
NEAR_SHARE = 0.08  # of the scale
LEAST_SPAN = 0.04  # of the scale, relative to its top: smaller differences are no differences
FAINTEST = 0.6  # opacity of the thinnest plastic that fills a pixel


@dataclass(frozen=True)
class View:
    """Which side to look from, and which layer alone (0-based) where only one is wanted."""

    name: str
    side: int  # 0 front, 1 right, 2 above
    layer: int | None = None


@dataclass(frozen=True)
class Raster:
    """Plastic and the mean of a quantity, per square pixel; rows from the top, columns from the left."""

    view: View
    plastic: Image  # (rows, columns) mm in the line of sight
    mean: Image  # (rows, columns) of the quantity, NaN where there is no plastic; category number where it has labels
    left_mm: float
    top_mm: float
    pixel_mm: float
    beyond: float = 0.0  # share of the plastic that lies past the edges


def view_named(text: str, layers: int) -> View:
    """Return the view `front`, `side`, `top` or `layer:N`, N from 1 to `layers`. Raises InputError for another."""
    if text in SIDES:
        return View(text, SIDES[text])
    match = re.fullmatch(r"layer:([0-9]{1,9})", text)
    if not match:
        raise InputError(f"there is no view {text[:40]!r}", fix="choose front, side, top or layer:N, as in layer:12")
    number = int(match[1])
    if not 1 <= number <= layers:
        raise InputError(f"there is no layer {number}", fix=f"the file lays layers 1 to {layers}")
    return View(f"layer {number}", 2, number - 1)


def extent(moves: Moves, view: View) -> tuple[float, float, float, float]:
    """Return the box of the beads in view: left, bottom, right, top in mm. Raises InputError when there are none.

    What the first layer alone lays farther than `BESIDE_MM` beside the print, priming lines and wide skirts, does not
    shrink a picture of the whole: there the box ends.
    """
    at = beads_in(moves, view)
    if not len(at):
        raise InputError("no bead is laid there", where=moves.toolpath.name)
    rises = at[np.asarray(moves.layer)[at] > 0] if view.layer is None else at[:0]
    box = _box(moves, at, view)
    if len(rises):
        left, bottom, right, top = _box(moves, rises, view)
        near = (left - BESIDE_MM, bottom - BESIDE_MM, right + BESIDE_MM, top + BESIDE_MM)
        box = tuple((max, max, min, min)[k](box[k], near[k]) for k in range(4))  # type: ignore[assignment]
    if not all(abs(edge) < FARTHEST_MM for edge in box):
        raise InputError("beads are laid too far out to be drawn", where=moves.toolpath.name)
    return box


def _box(moves: Moves, at: NDArray[np.int64], view: View) -> tuple[float, float, float, float]:
    from beadwright.report.xray_kernel import reach

    path = moves.toolpath
    ends = [reach(at, getattr(path, axis), path.start["xyz".index(axis)]) for axis in AXES[view.side]]
    margin = 0.5 * _wide_bead(moves, at)
    (left, right), (bottom, top) = ends
    if AXES[view.side][1] == "z":  # a bead hangs below the height it is laid at
        return left - margin, bottom - float(np.nanmax(bead_heights(moves)[at])), right + margin, top
    return left - margin, bottom - margin, right + margin, top + margin


def beads_in(moves: Moves, view: View) -> NDArray[np.int64]:
    """Return the moves that lay the beads in view."""
    shown = moves.bead if view.layer is None else moves.bead & (np.asarray(moves.layer) == view.layer)
    return np.flatnonzero(shown)


def _wide_bead(moves: Moves, at: NDArray[np.int64]) -> float:
    """The width, mm, that hardly a bead exceeds."""
    some = at[:: max(len(at) // 5000, 1)]
    section = bead_heights(moves)[some] * moves.toolpath.length[some]
    width = moves.volume[some][section > 0] / section[section > 0]
    return float(np.clip(np.quantile(width, 0.95), 0.1, 2.0)) if len(width) else 0.4


def pixel_size(box: tuple[float, float, float, float], most: tuple[int, int] = MOST_PIXELS) -> float:
    """Return the pixel, mm, with which a box of mm fits into `most` columns and rows."""
    left, bottom, right, top = box
    return max((right - left) / most[0], (top - bottom) / most[1], FINEST_MM)


def xray(moves: Moves, shown: Quantity, view: View, pixel_mm: float | None = None) -> Raster:
    """Lay the beads in view on a picture. Beads of which `shown` says nothing are left out.

    Raises InputError when no bead is in view.
    """
    left, bottom, right, top = box = extent(moves, view)
    pixel = pixel_mm or pixel_size(box)
    if view.side == ABOVE and view.layer is None and float(moves.toolpath.length.sum()) > MOST_STEPS * pixel:
        pixel *= 2  # so many beads over one another blur the finer grain anyway
    shape = (max(int(np.ceil((top - bottom) / pixel)), 1), max(int(np.ceil((right - left) / pixel)), 1))
    frame = (left, top, pixel, *BELIEVED_WIDTH_MM)
    at = beads_in(moves, view)
    if shown.labels:
        volume, mean = _most_of(moves, shown, view, at, frame, shape)
    else:
        values = np.zeros(len(at)) if shown.name == PLASTIC else np.asarray(shown.values[at], np.float64)
        volume, weighted = _laid(moves, at, values, view, frame, shape)
        mean = np.divide(weighted, volume, out=np.full(shape, np.nan, np.float32), where=volume > 0)
    thick = volume / np.float32(pixel * pixel)
    if shown.name == PLASTIC:
        mean = np.where(thick > 0, thick, np.float32(np.nan))
    laid = float(moves.volume[at].sum())
    beyond = 1 - float(volume.sum(dtype=np.float64)) / laid if laid > 0 else 0.0
    return Raster(view, thick, mean, left, top, pixel, max(beyond, 0.0))


def _laid(
    moves: Moves, at: NDArray[np.int64], values: NDArray[np.float64], view: View,
    frame: tuple[float, ...], shape: tuple[int, int],
) -> tuple[Image, Image]:  # fmt: skip
    from beadwright.report.xray_kernel import lay_from_above, lay_from_side, lay_threads

    path, heights = moves.toolpath, np.asarray(bead_heights(moves)[at], np.float64)
    columns = (path.x, path.y, path.z, path.start, moves.volume)
    if view.side == ABOVE and view.layer is None:  # many layers deep, single beads are not told apart
        threads = np.zeros((*shape, 2), np.float32)
        lay_threads(at, columns, values, frame, threads)
        thick = _thickened(threads, _wide_bead(moves, at) / frame[2])
        return np.ascontiguousarray(thick[..., 0]), np.ascontiguousarray(thick[..., 1])
    volume, weighted = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    if view.side == ABOVE:
        lay_from_above(at, columns, heights, values, frame, volume, weighted)
    else:
        lay_from_side(at, columns, heights, values, view.side, frame, volume, weighted)
    return volume, weighted


def _thickened(threads: Image, width: float) -> Image:
    """Smear threads one pixel wide to beads `width` pixels wide, thick in the middle, both ways alike."""
    half = int(width / 2 + 0.5)
    edges = np.clip((np.arange(2 * half + 2) - half - 0.5) / max(width / 2, 0.5), -1, 1)
    shares = np.diff(0.5 + 0.75 * edges - 0.25 * edges**3)  # of a lens, see the kernel
    out = threads
    for axis in (0, 1):
        source, out = out, np.zeros_like(out)
        for n, share in enumerate(shares.tolist()):
            to, from_ = _shifted(n - half, source.shape[axis])
            lead = (slice(None),) * axis
            out[(*lead, to)] += np.float32(share) * source[(*lead, from_)]
    return out


def _shifted(by: int, length: int) -> tuple[slice, slice]:
    by = max(min(by, length), -length)
    return slice(max(by, 0), length + min(by, 0)), slice(max(-by, 0), length - max(by, 0))


def _most_of(
    moves: Moves, shown: Quantity, view: View, at: NDArray[np.int64],
    frame: tuple[float, ...], shape: tuple[int, int],
) -> tuple[Image, Image]:  # fmt: skip
    """Lay category by category: colours do not mix, each pixel takes the category with the most plastic in it."""
    volume, best = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    which = np.full(shape, np.nan, np.float32)
    for number in range(len(shown.labels)):
        mine = at[shown.values[at] == number]
        if len(mine):
            laid, _ = _laid(moves, mine, np.zeros(len(mine)), view, frame, shape)
            which[laid > best] = number
            np.maximum(best, laid, out=best)
            volume += laid
    return volume, which


def ends_of(rasters: tuple[Raster, ...]) -> tuple[float, float]:
    """Return the ends of the scale that serves all `rasters`: nearly all of the plastic lies between them."""
    from beadwright.audit.moves import weighted_quantiles

    value, weight = (np.concatenate([getattr(one, name)[one.plastic > 0] for one in rasters]).astype(np.float64)
                     for name in ("mean", "plastic"))  # fmt: skip
    if not len(value):
        raise InputError("nothing is known of the beads in view", fix="colour them by speed or flow")
    low, high = weighted_quantiles(value, weight, (OUTSIDE_SHARE, 1 - OUTSIDE_SHARE))
    near = NEAR_SHARE * (high - low)  # an end close to the last value may as well be it
    low = float(value.min()) if low - value.min() <= near else low
    high = float(value.max()) if value.max() - high <= near else high
    least = LEAST_SPAN * max(abs(low), abs(high), 1e-9)
    if high - low < least:
        middle = 0.5 * (low + high)
        return middle - 0.5 * least, middle + 0.5 * least
    return low, high


def draw(raster: Raster, shown: Quantity, ends: tuple[float, float] | None = None) -> Picture:
    """Colour a raster and pack it as a PNG; `ends` of the scale are its own unless given."""
    from beadwright.report.role_colours import colours_of

    rows, columns = raster.plastic.shape
    pixels = np.zeros((rows, columns, 4), np.uint8)
    if shown.labels:
        legend, palette = colours_of(shown, raster.mean)
        pixels[..., :3] = palette[np.nan_to_num(raster.mean).astype(np.intp)]
        scale = Scale(shown.title, "", categories=legend)
    else:
        low, high = ends or ends_of((raster,))
        pixels[..., :3] = cividis((raster.mean - low) / (high - low))
        known = raster.mean[np.isfinite(raster.mean)]
        span = (float(known.min()), float(known.max())) if len(known) else (low, high)
        scale = Scale(shown.title, shown.unit, low, high, below=span[0] < low, above=span[1] > high)
    pixels[..., 3] = (255 * opacity(raster)).astype(np.uint8)
    pixels[pixels[..., 3] == 0] = 0
    right, bottom = raster.left_mm + columns * raster.pixel_mm, raster.top_mm - rows * raster.pixel_mm
    box = (raster.left_mm, bottom, right, raster.top_mm)
    return Picture(raster.view.name, AXES[raster.view.side], png(pixels), (columns, rows), box, scale, raster.beyond)


def opacity(raster: Raster) -> Image:
    """Return 0 … 1 per pixel: plastic that fills a pixel shows at least half, the more the nearer to whole."""
    plastic = raster.plastic
    there = plastic[plastic > 0]
    if not len(there):
        return plastic
    usual = max(float(np.quantile(there, 0.8)), 1e-6)
    thin = min(0.3, 0.5 * usual)  # mm; below this a pixel is only partly filled
    filled = np.minimum(plastic / thin, 1.0)
    return np.asarray(filled * (FAINTEST + (1 - FAINTEST) * (1 - np.exp(-2.0 * plastic / usual))), np.float32)


def pictures_of(result: LookResult, by: str = "flow") -> tuple[Picture, ...]:
    """Draw the print from the front and from the right, at one scale and in one set of colours, for a case sheet."""
    moves = result.measured.moves
    try:
        return _pair(moves, by)
    except InputError:  # nothing to draw is nothing wrong with the reading
        return ()


def _pair(moves: Moves, by: str) -> tuple[Picture, ...]:
    shown = quantity(moves, by)
    views = (View("front", 0), View("side", 1))
    pixel = max(pixel_size(extent(moves, view), PAIR_PIXELS) for view in views)
    rasters = tuple(xray(moves, shown, view, pixel) for view in views)
    ends = ends_of(rasters)
    return tuple(draw(raster, shown, ends) for raster in rasters)
