"""Filament toolpaths whose every answer is known by construction.

`box`, `plate`, `cylinder`, `cone`, `table` (slab on a narrow pillar, with support), `bridge` (slab over two
piers) and `vase` (one rising wall) each return a `Specimen`: the text and a dict of truths; `build` lays
slices of one's own. Keyword arguments are the fields of `Recipe`. `large_file` writes a file of a given
size for speed measurements.

Truths, lengths in mm: every field of the recipe; layer_count, z_mm; lines, moves, beads, travels, retractions
(= retraction_count), arcs (an arc word counts as one move and one bead); filament_mm (highest filament
position); bead_box and move_box [[x,y,z],[x,y,z]] (ends of moves; the start at 0,0,0 is not counted); roles
{line: role}; role_mm and role_filament_mm {role: mm}; layer_of_line {line: 0-based layer, -1 before and
after the print}; retraction_lines; events {table: [(line, value)]}; first_layer_area_mm2 (of the part
itself); moves_outside_mm; support_gap_mm (height of the gap, None without support); extrusion, units;
regions (per layer). A priming line counts as skirt: both start the flow and belong to no part.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from .recipe import Recipe
from .regions import Region
from .writer import Writer

OUTER, INNER, SOLID, SPARSE = "outer contour", "inner contour", "solid raster", "sparse raster"


@dataclass(frozen=True)
class Specimen:
    """A toolpath file's text and what is true of it."""

    text: str
    truth: dict[str, Any]
    recipe: Recipe

    @property
    def data(self) -> bytes:
        return self.text.encode()

    def save(self, path: Path) -> Path:
        path.write_bytes(self.data)
        return path


@dataclass(frozen=True)
class Slice:
    """One layer to lay: islands with the role of their filling and its direction, and support patches."""

    islands: tuple[tuple[Region, str, float], ...]
    support: tuple[Region, ...] = field(default=())


# shapes ------------------------------------------------------------------------------------------
def box(size_mm: tuple[float, float, float] = (20.0, 20.0, 4.0), **settings: Any) -> Specimen:
    """A block, `size_mm` over its outer faces."""
    recipe = Recipe(**settings)
    region = Region(*recipe.centre_mm, size_mm[0], size_mm[1])
    return build(recipe, _stack(recipe, [region] * _layers(recipe, size_mm[2])))


def plate(size_mm: tuple[float, float, float] = (60.0, 40.0, 1.2), **settings: Any) -> Specimen:
    """A flat block: wide first layer, few layers."""
    return box(size_mm, **settings)


def cylinder(diameter_mm: float = 20.0, height_mm: float = 4.0, segments: int = 72, **settings: Any) -> Specimen:
    """An upright round bar; with `arcs=True` its walls are G3 words."""
    return cone(diameter_mm, height_mm, 0.0, segments, **settings)


def cone(
    diameter_mm: float = 20.0,
    height_mm: float = 4.0,
    overhang_step_mm: float = 0.1,
    segments: int = 72,
    **settings: Any,
) -> Specimen:
    """A round bar whose radius grows by `overhang_step_mm` each layer (shrinks when negative)."""
    recipe = Recipe(**settings)
    radii = [diameter_mm / 2 + k * overhang_step_mm for k in range(_layers(recipe, height_mm))]
    discs = [Region(*recipe.centre_mm, 2 * r, 2 * r, r, segments) for r in radii]
    built = build(recipe, _stack(recipe, discs))
    built.truth["overhang_deg"] = math.degrees(math.atan2(overhang_step_mm, recipe.layer_height_mm))
    return built


def table(
    slab_mm: tuple[float, float, float] = (30.0, 16.0, 2.0),
    pillar_mm: tuple[float, float, float] = (8.0, 16.0, 4.0),
    **settings: Any,
) -> Specimen:
    """A slab on a narrower pillar; the two flaps rest on support (or on air with `support=False`)."""
    recipe = Recipe(**settings)
    x, y = recipe.centre_mm
    low, high = _layers(recipe, pillar_mm[2]), _layers(recipe, pillar_mm[2] + slab_mm[2])
    pillar, slab = Region(x, y, *pillar_mm[:2]), Region(x, y, *slab_mm[:2])
    slices = _stack(recipe, [pillar] * low)[:low] + _stack(recipe, [slab] * (high - low))
    if recipe.support:
        flap = (slab_mm[0] - pillar_mm[0]) / 2 - recipe.support_gap_xy_mm
        off = pillar_mm[0] / 2 + recipe.support_gap_xy_mm + flap / 2
        patches = tuple(Region(x + side * off, y, flap, slab_mm[1]) for side in (-1, 1))
        for k in range(low - recipe.support_gap_layers):
            slices[k] = replace(slices[k], support=patches)
    built = build(recipe, slices)
    gap = recipe.support_gap_layers * recipe.layer_height_mm
    built.truth["support_gap_mm"] = gap if recipe.support else None
    return built


def bridge(
    slab_mm: tuple[float, float, float] = (40.0, 12.0, 2.0),
    pier_mm: tuple[float, float, float] = (8.0, 12.0, 4.0),
    **settings: Any,
) -> Specimen:
    """A slab over two piers at its ends; its lowest layer runs along x from pier to pier."""
    recipe = Recipe(**settings)
    x, y = recipe.centre_mm
    low, high = _layers(recipe, pier_mm[2]), _layers(recipe, pier_mm[2] + slab_mm[2])
    off = (slab_mm[0] - pier_mm[0]) / 2
    piers = [Region(x + side * off, y, *pier_mm[:2]) for side in (-1, 1)]
    below = [_stack(recipe, [pier] * low) for pier in piers]
    slices = [Slice(one.islands + two.islands) for one, two in zip(*below, strict=True)]
    slab = _stack(recipe, [Region(x, y, *slab_mm[:2])] * (high - low))
    slab[0] = Slice(((slab[0].islands[0][0], "bridge", 0.0),))
    built = build(recipe, slices + slab)
    built.truth["bridge_span_mm"] = slab_mm[0] - 2 * pier_mm[0]
    return built


def vase(diameter_mm: float = 30.0, height_mm: float = 10.0, segments: int = 96, **settings: Any) -> Specimen:
    """Solid bottom layers, then one wall that rises all the way round."""
    recipe = Recipe(**{"wall_lines": 1, "top_solid_layers": 0, **settings})
    floor = max(recipe.bottom_solid_layers, 1)
    turns = _layers(recipe, height_mm) - floor
    disc = Region(*recipe.centre_mm, diameter_mm, diameter_mm, diameter_mm / 2, segments)
    pen = _begin(recipe)
    for index, one in enumerate(_stack(recipe, [disc] * floor)):
        _layer(pen, one, index)
    wall = disc.inset(recipe.line_width_mm / 2).outline()
    pen.say("one rising outer contour")
    pen.go(*wall[0])
    for turn in range(turns):
        pen.layer, base = floor + turn, pen.z
        for k, (x, y) in enumerate(wall[1:].tolist(), 1):
            z = base + recipe.layer_height_mm * k / segments
            pen.bead(x, y, OUTER, recipe.outer_speed_mm_s, z=z)
    heights = _heights(recipe, floor + turns)
    return _end(pen, heights, disc.area, [[disc]] * len(heights))


# how a shape becomes layers ------------------------------------------------------------------------
def _layers(recipe: Recipe, height_mm: float) -> int:
    above = (height_mm - recipe.first_layer_height_mm) / recipe.layer_height_mm
    return 1 + max(0, round(above))


def _heights(recipe: Recipe, count: int) -> list[float]:
    first, step = recipe.first_layer_height_mm, recipe.layer_height_mm
    return [round(first + k * step, 3) for k in range(count)]


def _stack(recipe: Recipe, regions: list[Region]) -> list[Slice]:
    """Solid below and above, sparse between; directions alternate."""
    slices = []
    for k, region in enumerate(regions):
        solid = k < recipe.bottom_solid_layers or k >= len(regions) - recipe.top_solid_layers
        slices.append(Slice(((region, SOLID if solid else SPARSE, 45.0 if k % 2 == 0 else 135.0),)))
    return slices


def build(recipe: Recipe, slices: list[Slice]) -> Specimen:
    """Lay the slices one above another: the way to a shape that is not among those above."""
    pen = _begin(recipe, slices[0])
    for index, one in enumerate(slices):
        _layer(pen, one, index)
    regions = [[region for region, _, _ in one.islands] for one in slices]
    area = sum(region.area for region in regions[0])
    return _end(pen, _heights(recipe, len(slices)), area, regions)


def _begin(recipe: Recipe, first: Slice | None = None) -> Writer:
    pen = Writer(recipe)
    pen.say("invented specimen, no real print")
    for word in ("G20" if recipe.inch else "G21", "G90", "M83" if recipe.relative_extrusion else "M82"):
        pen.write(word)
    _write_limits(pen)
    bed = recipe.bed_temp_c if recipe.first_layer_bed_temp_c is None else recipe.first_layer_bed_temp_c
    nozzle = recipe.nozzle_temp_c if recipe.first_layer_nozzle_temp_c is None else recipe.first_layer_nozzle_temp_c
    if bed is not None:
        pen.mark("bed_c", bed, f"M190 S{bed:g}")
    pen.write("G28")
    if nozzle is not None:
        pen.mark("nozzle_c", nozzle, f"M109 S{nozzle:g}")
    _fan(pen, recipe.first_layer_fan_percent)
    pen.reset_e()
    if recipe.dwell_s:
        pen.mark("dwell_s", recipe.dwell_s, f"G4 P{recipe.dwell_s * 1000:.0f}")
    dx, dy = recipe.shift_words_mm
    if dx or dy:
        pen.move(10.0, 10.0, 5.0)
        pen.write(f"G92 X{pen._number(10 + dx, 3)} Y{pen._number(10 + dy, 3)}")
        pen.shift = (dx, dy)
    if recipe.outside_mm:
        pen.move(recipe.machine_mm[0] + recipe.outside_mm, 20.0, 5.0)
    pen.move(5.0, 20.0, 5.0)
    pen.move(5.0, 20.0, recipe.first_layer_height_mm)
    if recipe.prime:
        pen.say("priming line")
        pen.bead(5.0, 120.0, "skirt", recipe.first_layer_speed_mm_s, scale=1.5)
    if first is not None:
        _around(pen, first)
    return pen


def _write_limits(pen: Writer) -> None:
    recipe = pen.recipe
    for letter, values in (("M201", recipe.max_accel_mm_s2), ("M203", recipe.max_speed_mm_s)):
        if values is not None:
            pen.write(letter + "".join(f" {axis}{v:g}" for axis, v in zip("XYZE", values, strict=True)))
    if recipe.accel_mm_s2 is not None:
        travel = recipe.travel_accel_mm_s2 or recipe.accel_mm_s2
        pen.mark("acceleration", recipe.accel_mm_s2, f"M204 P{recipe.accel_mm_s2:g} T{travel:g}")
    if recipe.junction_mm is not None:
        pen.write(f"M205 J{recipe.junction_mm:g}")
    if recipe.corner_speed_mm_s is not None:
        pen.write(f"M205 X{recipe.corner_speed_mm_s:g} Y{recipe.corner_speed_mm_s:g}")


def _fan(pen: Writer, percent: float | None) -> None:
    if percent is None:
        return
    pulse = round(percent * 2.55)
    pen.mark("fan_percent", pulse / 2.55, f"M106 S{pulse}" if pulse else "M107")


def _around(pen: Writer, first: Slice) -> None:
    """Skirt and brim of the first layer, outermost first."""
    recipe, width = pen.recipe, pen.recipe.line_width_mm
    for role, loops, gap in (("skirt", recipe.skirt_loops, 5.0), ("brim", recipe.brim_loops, width / 2)):
        if loops:
            pen.say(f"laying {role}")
        for loop in reversed(range(loops)):
            for region, _, _ in first.islands:
                pen.path(region.inset(-gap - loop * width).outline(), role, recipe.first_layer_speed_mm_s)


def _layer(pen: Writer, one: Slice, index: int) -> None:
    recipe = pen.recipe
    _open_layer(pen, index)
    slow = recipe.first_layer_speed_mm_s if index == 0 else None
    for region, filling, angle in one.islands:
        pen.say("laying inner contour")
        for wall in reversed(range(1, recipe.wall_lines)):
            _wall(pen, region.inset((wall + 0.5) * recipe.line_width_mm), INNER, slow or recipe.speed_mm_s)
        if recipe.wall_lines:
            pen.say("laying outer contour")
            _wall(pen, region.inset(recipe.line_width_mm / 2), OUTER, slow or recipe.outer_speed_mm_s)
        _fill(pen, region, filling, angle, slow or recipe.speed_mm_s)
    if one.support:
        pen.say("laying support")
    for patch in one.support:
        inner = patch.inset(recipe.line_width_mm / 2)
        _zigzag(pen, inner, 90.0, recipe.support_spacing_mm, "support", slow or recipe.speed_mm_s)


def _open_layer(pen: Writer, index: int) -> None:
    recipe = pen.recipe
    if index == recipe.pause_before_layer:
        pen.mark("pause", 0, "M0")
    if index == 1:
        _fan(pen, recipe.fan_percent)
        if recipe.first_layer_nozzle_temp_c is not None and recipe.nozzle_temp_c is not None:
            pen.mark("nozzle_c", recipe.nozzle_temp_c, f"M104 S{recipe.nozzle_temp_c:g}")
        if recipe.first_layer_bed_temp_c is not None and recipe.bed_temp_c is not None:
            pen.mark("bed_c", recipe.bed_temp_c, f"M140 S{recipe.bed_temp_c:g}")
    if recipe.reset_e_each_layer and not recipe.relative_extrusion:
        pen.reset_e()
    pen.layer = index
    pen.height = recipe.first_layer_height_mm if index == 0 else recipe.layer_height_mm
    z = _heights(recipe, index + 1)[-1]
    pen.say(f"layer {index + 1} at height {z:g} mm")
    pen.move(pen.x, pen.y, z)


def _wall(pen: Writer, region: Region, role: str, speed: float) -> None:
    if region.is_empty:
        return
    ring = region.outline()
    if pen.recipe.arcs and region.radius is not None:
        pen.go(*ring[0])
        pen.circle(region.x, region.y, role, speed)
    else:
        pen.path(ring, role, speed)


def _fill(pen: Writer, region: Region, role: str, angle: float, speed: float) -> None:
    recipe = pen.recipe
    if role == SPARSE and recipe.infill_percent <= 0:
        return
    pitch = recipe.pitch(pen.height)
    spacing = recipe.line_width_mm * 100 / recipe.infill_percent if role == SPARSE else pitch
    pen.say(f"laying {role}")
    _zigzag(pen, region.inset((recipe.wall_lines + 0.5) * recipe.line_width_mm), angle, spacing, role, speed)


def _zigzag(pen: Writer, region: Region, angle: float, spacing: float, role: str, speed: float) -> None:
    """Rows joined by short beads where they lie close, by travels where they do not."""
    for number, row in enumerate(region.rows(angle, spacing)):
        close = math.dist(row[0], (pen.x, pen.y)) < 2.5 * spacing
        if number and close:
            pen.bead(*row[0], role, speed)
        else:
            pen.go(*row[0])
        pen.bead(*row[1], role, speed)


def _end(pen: Writer, heights: list[float], area: float, regions: list[list[Region]]) -> Specimen:
    recipe = pen.recipe
    pen.layer = -1
    if recipe.retraction_mm > 0:
        pen.filament(-recipe.retraction_mm)
    pen.move(pen.x, pen.y, heights[-1] + 10)
    pen.mark("nozzle_c", 0.0, "M104 S0")
    pen.mark("bed_c", 0.0, "M140 S0")
    _fan(pen, 0.0)
    pen.move(10.0, 200.0)
    for name, value in recipe.claims.items():
        pen.write(f"; {name} = {value}")
    truth = {f.name: getattr(recipe, f.name) for f in dataclasses.fields(recipe)}
    truth |= pen.truth()
    truth |= {
        "layer_count": len(heights),
        "z_mm": heights,
        "retraction_count": truth["retractions"],
        "first_layer_area_mm2": area,
        "moves_outside_mm": recipe.outside_mm,
        "support_gap_mm": None,
        "extrusion": "relative" if recipe.relative_extrusion else "absolute",
        "units": "inch" if recipe.inch else "mm",
        "regions": regions,
    }
    return Specimen(pen.text(), truth, recipe)


# size ----------------------------------------------------------------------------------------------
def large_file(path: Path, megabytes: float = 100.0, *, relative: bool = False) -> dict[str, int]:
    """Write a file of about `megabytes` (10⁶ bytes; ≈ 33 000 moves each); return bytes, moves, layers.

    One layer is drawn with curved walls of short segments and sparse rows, turned a little in five
    variants, and the variants are repeated up the height; filament counts from zero in each layer, so that
    the text repeats.
    """
    bodies = [_large_layer(variant, relative) for variant in range(5)]
    head = b"G21\nG90\n" + (b"M83\n" if relative else b"M82\n") + b"M190 S60\nM109 S210\nG28\nM204 P3000 T5000\n"
    written, moves, layer = 0, 0, 0
    with path.open("wb") as stream:
        written += stream.write(head)
        while written < megabytes * 1e6:
            body, count = bodies[layer % len(bodies)]
            z = 0.2 + 0.2 * layer
            written += stream.write(b"G92 E0\nG0 Z%.2f F9000\n" % z) + stream.write(body)
            moves, layer = moves + count + 1, layer + 1
        written += stream.write(b"M104 S0\nM140 S0\nM107\n")
    return {"bytes": written, "moves": moves, "layers": layer}


def _large_layer(variant: int, relative: bool) -> tuple[bytes, int]:
    lines: list[str] = []
    per_mm, e = 0.0338, 0.0

    def lay(points: np.ndarray, speed: int) -> None:
        nonlocal e
        lines.append(f"G0 X{points[0, 0]:.3f} Y{points[0, 1]:.3f} F9000")
        steps = np.hypot(*np.diff(points, axis=0).T) * per_mm
        fed = steps if relative else e + np.cumsum(steps)
        e += float(steps.sum())
        first, *rest = np.column_stack([points[1:], fed]).tolist()
        lines.append("G1 X{:.3f} Y{:.3f} E{:.5f} F{}".format(*first, speed))
        lines.extend("G1 X{:.3f} Y{:.3f} E{:.5f}".format(*row) for row in rest)

    turn = np.linspace(0, 2 * np.pi, 1500) + 0.01 * variant
    for wall in range(3):
        radius = 60 - 0.42 * wall + 6 * np.sin(5 * turn + variant)
        lay(np.column_stack([110 + radius * np.cos(turn), 110 + radius * np.sin(turn)]), 2400 + 600 * wall)
    rows = np.repeat(np.linspace(70, 150, 400), 2)
    sides = np.tile([0, 1, 1, 0], 200)
    lay(np.column_stack([75 + 70 * sides, rows + 0.05 * variant]), 4800)
    back = "G1 E-.8 F2100" if relative else f"G1 E{e - 0.8:.5f} F2100"
    forth = "G1 E.8 F2100" if relative else f"G1 E{e:.5f} F2100"
    lines += [back, "G0 X110 Y110", forth]
    text = ("\n".join(lines) + "\n").encode()
    return text, len(lines)
