"""Do two files print the same part? By the boxes of their beads and the areas within the outline up the height."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from beadwright.audit.layer_series import Series
from beadwright.audit.shell_count import layer_boxes
from beadwright.exhibits.compared import SamePart
from beadwright.exhibits.toolpath_file import LookResult

Column = NDArray[np.float64]
HEIGHTS = 64  # at which profiles are compared
NEAR_MM, NEAR_SHARE = 1.0, 0.01  # by which sizes of the same part may differ: bead width, rounding
SAME_PROFILE, SCALED_PROFILE = 0.93, 0.9


@dataclass(frozen=True)
class Shape:
    """What is printed, as far as boxes and areas tell."""

    size: tuple[float, float, float] | None  # mm, of the beads above the first layer, which may carry a brim or skirt
    centre: tuple[float, float] | None
    profile: Column | None  # (HEIGHTS,) mm², within the outline
    plastic_mm3: float
    layer_mm: float


def shape_of(result: LookResult, series: Mapping[str, Series]) -> Shape:
    """Measure a shape. Sizes are None without beads in layers, the profile where the print is too large to resolve."""
    moves, layers = result.measured.moves, result.layers
    if not moves.layer_count or not moves.bead.any():
        return Shape(None, None, None, 0.0, 0.0)
    box = layer_boxes(moves)
    box = box[1:] if len(box) > 1 else box
    low, high = np.nanmin(box[:, :2], axis=0), np.nanmax(box[:, 2:], axis=0)
    z = np.asarray(layers.z_mm, float)
    area = series.get("inside_mm2")
    profile = None
    if area is not None:
        known = np.isfinite(area.values) & (np.arange(len(z)) >= min(1, len(z) - 1))
        order = np.argsort(z[known], kind="stable")
        at = np.linspace(z.max() / HEIGHTS, z.max(), HEIGHTS)
        profile = np.interp(at, z[known][order], area.values[known][order]) if known.any() else None
    size = (*(high - low).tolist(), float(z.max()))
    return Shape(
        size, tuple(((low + high) / 2).tolist()), profile, float(moves.volume[moves.bead].sum()),
        float(np.median(layers.height_mm)),
    )  # fmt: skip


def same_part(good: Shape, bad: Shape) -> SamePart:
    """Say whether two shapes are one part; turned by 90°, scaled evenly, or another."""
    if good.size is None or bad.size is None or good.centre is None or bad.centre is None:
        return SamePart(verdict="unknown", text="One of the files lays no bead in layers.", moved_mm=None,
                        profile_match=None, volume_ratio=None)  # fmt: skip
    match = profile_match(good.profile, bad.profile)
    ratio = bad.plastic_mm3 / good.plastic_mm3 if good.plastic_mm3 > 0 else None
    moved = tuple(round(b - a, 3) for a, b in zip(good.centre, bad.centre, strict=True))
    verdict, text = _verdict(good, bad, match)
    if verdict == "same" and max(map(abs, moved)) > NEAR_MM:
        text += f", moved on the bed by ({moved[0]:+.1f}, {moved[1]:+.1f}) mm"
    if ratio is not None and verdict in ("same", "turned"):
        text += f"; {100 * (ratio - 1):+.1f} % plastic" if abs(ratio - 1) > 0.005 else "; the same amount of plastic"
    return SamePart(
        verdict=verdict,  # type: ignore[arg-type]
        text=text + ".",
        moved_mm=(moved[0], moved[1]),
        profile_match=None if match is None else round(match, 4),
        volume_ratio=None if ratio is None else round(ratio, 4),
    )


def profile_match(one: Column | None, other: Column | None) -> float | None:
    """Return how well two profiles match: the area they share over the area of either; 1 for equal, None for unknown.

    >>> profile_match(np.array([2.0, 2.0]), np.array([2.0, 1.0]))
    0.75
    """
    if one is None or other is None:
        return None
    return float(np.minimum(one, other).sum() / max(np.maximum(one, other).sum(), 1e-9))


def _verdict(good: Shape, bad: Shape, match: float | None) -> tuple[str, str]:
    assert good.size is not None
    assert bad.size is not None
    sizes = " × ".join(f"{v:.1f}" for v in good.size), " × ".join(f"{v:.1f}" for v in bad.size)
    profile_fits = match is None or match >= SAME_PROFILE
    slack = max(good.layer_mm, bad.layer_mm)
    if _near(good.size, bad.size, slack) and profile_fits:
        return "same", f"Both print the same part, {sizes[0]} mm"
    if _near((good.size[1], good.size[0], good.size[2]), bad.size, slack) and profile_fits:
        return "turned", f"Both print the same part, {sizes[0]} mm, turned by 90° in the second"
    scales = [b / a for a, b in zip(good.size, bad.size, strict=True) if a > 0]
    even = len(scales) == 3 and max(scales) - min(scales) < 0.02 * max(scales)
    if even and _scaled_profile_fits(good, bad, scales[0]):
        return "scaled", f"The second prints the same part at {100 * scales[0]:.1f} %: {sizes[0]} against {sizes[1]} mm"
    turned = any(_near(tuple(good.size[k] for k in order), bad.size, slack) for order in permutations(range(3)))
    other = "the same part laid on another side, or another" if turned else "another part"
    return "other", f"The second prints {other}: {sizes[0]} against {sizes[1]} mm"


def _near(one: tuple[float, ...], other: tuple[float, ...], slack_z: float) -> bool:
    """True where two sizes are alike within bead width and layer height."""
    room = [max(NEAR_MM, NEAR_SHARE * a) for a in one]
    room[2] = max(slack_z + 0.05, NEAR_SHARE * one[2])
    return all(abs(a - b) <= allowed for a, b, allowed in zip(one, other, room, strict=True))


def _scaled_profile_fits(good: Shape, bad: Shape, scale: float) -> bool:
    if good.profile is None or bad.profile is None:
        return True
    return (profile_match(good.profile * scale**2, bad.profile) or 0.0) >= SCALED_PROFILE
