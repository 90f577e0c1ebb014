"""Whole prints with every role in them, each bead's role known by construction.

Where `toolpaths` lays one plain part, these have holes, several islands, a raft, a wipe tower with two tools, supports
with and without walls, objects printed one by one, layers of varying height. Each returns a `Specimen`; keyword
arguments are the fields of `Recipe`. Invented here; nothing in them is from a real print.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

from .recipe import Recipe
from .regions import Region
from .toolpaths import INNER, OUTER, SOLID, SPARSE, Specimen, _begin, _end, _zigzag
from .writer import Writer

Holes = tuple[Region, ...]


def pierced(size_mm: tuple[float, float, float] = (40.0, 30.0, 4.0), **settings: Any) -> Specimen:
    """A block with a round and a square hole through it."""
    pen = _pen(settings)
    x, y = pen.recipe.centre_mm
    block = Region(x, y, *size_mm[:2])
    holes = (Region(x - 9, y, 10, 10, 5.0), Region(x + 9, y + 2, 8, 12))
    _surround(pen, [block])
    heights = _levels(pen.recipe, size_mm[2])
    for k, z in enumerate(heights):
        _open(pen, k, z)
        _body(pen, block, holes, _shell(pen.recipe, k, len(heights)), k)
    return _close(pen, heights)


def studs(**settings: Any) -> Specimen:
    """A plate that carries three separate studs, one of them a tube."""
    pen = _pen(settings)
    x, y = pen.recipe.centre_mm
    plate = Region(x, y, 46, 24)
    tops = [(Region(x - 15, y, 9, 9), ()), (Region(x, y, 12, 12, 6.0), (Region(x, y, 6, 6, 3.0),))]
    tops += [(Region(x + 15, y, 8, 8, 4.0), ())]
    _surround(pen, [plate])
    heights = _levels(pen.recipe, 5.0)
    low = sum(z < 2.01 for z in heights)
    for k, z in enumerate(heights):
        _open(pen, k, z)
        if k < low:
            _body(pen, plate, (), _shell(pen.recipe, k, low), k)
        else:
            for region, holes in tops:
                _body(pen, region, holes, SOLID if k >= len(heights) - 4 else SPARSE, k)
    return _close(pen, heights)


def awning(walled: bool = False, dense_top: int = 0, **settings: Any) -> Specimen:
    """A slab that stands out from a wall on one side, over a support that keeps its distance.

    `walled` supports have a loop around; their uppermost `dense_top` layers are laid close.
    """
    pen = _pen(settings)
    recipe = pen.recipe
    x, y = recipe.centre_mm
    wall, slab = Region(x - 12, y, 8, 20), Region(x, y, 32, 20)
    prop = Region(x + 4 + recipe.support_gap_xy_mm / 2, y, 24 - recipe.support_gap_xy_mm, 20)
    _surround(pen, [wall, prop])
    heights = _levels(recipe, 7.0)
    low = sum(z < 5.01 for z in heights)
    last = low - recipe.support_gap_layers
    for k, z in enumerate(heights):
        _open(pen, k, z)
        if k >= low:
            _body(pen, slab, (), SOLID if k < low + 3 or k >= len(heights) - 3 else SPARSE, k)
            continue
        _body(pen, wall, (), _shell(recipe, k, len(heights)), k)
        if k < last:
            pen.say("laying support")
            width = recipe.line_width_mm
            if walled:
                pen.path(prop.inset(width / 2).outline(), "support", recipe.speed_mm_s)
            inner = prop.inset(width * (1.2 if walled else 0.5))
            spacing = recipe.pitch(pen.height) if k >= last - dense_top else recipe.support_spacing_mm
            _zigzag(pen, inner, 90.0, spacing, "support", recipe.speed_mm_s)
    return _close(pen, heights)


def on_raft(gap_mm: float = 0.15, **settings: Any) -> Specimen:
    """A block on a raft of one wide-spaced layer and two close ones."""
    pen = _pen({"skirt_loops": 0, "prime": False, **settings})
    recipe = pen.recipe
    x, y = recipe.centre_mm
    block, raft = Region(x, y, 24, 18), Region(x, y, 32, 26)
    heights = []
    for k, (spacing, angle, thick) in enumerate(((2.4, 0.0, 2.0), (0.9, 90.0, 1.3), (0.42, 90.0, 1.0))):
        heights.append(round(0.3 * (k + 1), 3))
        _open(pen, k, heights[-1], 0.3)
        pen.say("laying raft")
        _rows(pen, raft, (), angle, spacing, "raft", thick)
    base = heights[-1] + gap_mm
    above = _levels(recipe, 4.0)
    for k, z in enumerate(above):
        _open(pen, k + 3, round(base + z, 3), recipe.layer_height_mm)
        _body(pen, block, (), _shell(recipe, k, len(above)), k)
    return _close(pen, heights + [round(base + z, 3) for z in above])


def two_tools(**settings: Any) -> Specimen:
    """Two blocks, each with its own tool, and a tower on which each tool is wiped after every change."""
    pen = _pen(settings)
    recipe = pen.recipe
    x, y = recipe.centre_mm
    blocks = [Region(x - 16, y, 18, 18), Region(x + 16, y, 14, 20)]
    tower = Region(x, y + 32, 24, 10)
    _surround(pen, [*blocks, tower])
    heights, tool = _levels(recipe, 4.0), 0
    for k, z in enumerate(heights):
        _open(pen, k, z)
        for turn in range(2):
            mine = tool if turn == 0 else 1 - tool
            if mine != tool:
                tool = mine
                pen.mark("tool_change", mine, f"T{mine}")
                pen.reset_e()
                pen.say("wiping on the tower")
                _rows(pen, tower.inset(0.3), (), 90.0 * (k % 2), recipe.pitch(pen.height), "wipe tower")
            _body(pen, blocks[mine], (), _shell(recipe, k, len(heights)), k)
    return _close(pen, heights)


def one_by_one(layer_heights_mm: tuple[float, ...] = (0.2, 0.2, 0.2), **settings: Any) -> Specimen:
    """Three objects, each finished before the next begins, each with its own layer height."""
    pen = _pen(settings)
    x, y = pen.recipe.centre_mm
    things = [Region(x - 40, y, 16, 16), Region(x, y, 18, 18, 9.0), Region(x + 40, y, 12, 24)]
    _surround(pen, things)
    every: set[float] = set()
    for region, height in zip(things, layer_heights_mm, strict=True):
        levels = [round(0.2 + n * height, 3) for n in range(round(3.8 / height) + 1)]
        every |= set(levels)
        pen.move(pen.x, pen.y, 12.0)
        pen.move(region.x, region.y, 12.0)
        for k, z in enumerate(levels):
            _open(pen, k, z, height if k else 0.2)
            _body(pen, region, (), _shell(pen.recipe, k, len(levels)), k)
    return _close(pen, sorted(every))


def uneven(**settings: Any) -> Specimen:
    """A block whose layer height changes on the way up."""
    pen = _pen(settings)
    block = Region(*pen.recipe.centre_mm, 26, 20)
    _surround(pen, [block])
    steps = [0.2] * 6 + [0.12] * 10 + [0.28] * 8 + [0.08] * 6
    heights = [round(sum(steps[: k + 1]), 3) for k in range(len(steps))]
    for k, (z, step) in enumerate(zip(heights, steps, strict=True)):
        _open(pen, k, z, step)
        _body(pen, block, (), _shell(pen.recipe, k, len(heights)), k)
    return _close(pen, heights)


def gallery(**settings: Any) -> Specimen:
    """A tunnel with a flat roof: two walls, joined at the back, and lines across the way between them."""
    pen = _pen(settings)
    recipe = pen.recipe
    x, y = recipe.centre_mm
    left, right, roof = Region(x - 11, y, 8, 24), Region(x + 11, y, 8, 24), Region(x, y, 30, 24)
    _surround(pen, [left, right])
    heights = _levels(recipe, 6.0)
    low = sum(z < 4.01 for z in heights)
    for k, z in enumerate(heights):
        _open(pen, k, z)
        if k < low:
            for region in (left, right):
                _body(pen, region, (), _shell(recipe, k, len(heights)), k)
        elif k == low:
            _body(pen, roof, (), "bridge", k, angle=0.0)
        else:
            _body(pen, roof, (), SOLID if k < low + 3 or k >= len(heights) - 3 else SPARSE, k)
    return _close(pen, heights)


def fins(**settings: Any) -> Specimen:
    """A plate that carries walls one bead thick, laid as open lines, and a fin whose two sides touch."""
    pen = _pen(settings)
    x, y = pen.recipe.centre_mm
    plate, width = Region(x, y, 24, 20), pen.recipe.line_width_mm
    _surround(pen, [plate])
    heights = _levels(pen.recipe, 5.0)
    for k, z in enumerate(heights):
        _open(pen, k, z)
        if z < 1.01:
            _body(pen, plate, (), SOLID, k)
            continue
        pen.say(f"laying {OUTER}")
        for off in (-8.0, -2.0, 8.0):
            pen.path(np.array([[x + off, y - 8], [x + off, y + 8]]), OUTER, pen.recipe.outer_speed_mm_s)
        pen.path(Region(x + 3, y, 2 * width, 16).inset(width / 2).outline(), OUTER, pen.recipe.outer_speed_mm_s)
    return _close(pen, heights)


def filled(pattern: Callable[[Region, int], list[Any]], **settings: Any) -> Specimen:
    """A block with a filling of lines of one's own, each after a travel."""
    pen = _pen(settings)
    recipe = pen.recipe
    block = Region(*recipe.centre_mm, 40, 30)
    _surround(pen, [block])
    heights = _levels(recipe, 4.0)
    inner = block.inset((recipe.wall_lines + 0.5) * recipe.line_width_mm)
    for k, z in enumerate(heights):
        _open(pen, k, z)
        filling = _shell(recipe, k, len(heights))
        _body(pen, block, (), filling if filling == SOLID else "", k)
        if filling == SPARSE:
            pen.say(f"laying {SPARSE}")
            for line in pattern(inner, k):
                pen.path(line, SPARSE, recipe.speed_mm_s)
    return _close(pen, heights)


def _lattice(angles: tuple[float, ...], spacing: float) -> Callable[[Region, int], list[Any]]:
    return lambda region, _: [row for angle in angles for row in region.rows(angle, spacing)]


def _waves(region: Region, k: int) -> list[Any]:
    across = np.linspace(region.x - region.width / 2, region.x + region.width / 2, 120)
    level = np.arange(region.y - region.depth / 2 + 1.2, region.y + region.depth / 2 - 1.0, 2.4)
    lines = [np.column_stack([across, y + 0.9 * np.sin(1.3 * across + 0.3 * k)]) for y in level]
    return [line if n % 2 else line[::-1] for n, line in enumerate(lines)]


PRINTS: dict[str, Callable[..., Specimen]] = {
    "pierced": pierced,
    "studs": studs,
    "awning": awning,
    "awning, walled": lambda **settings: awning(walled=True, dense_top=2, **settings),
    "awning, dense": lambda **settings: awning(dense_top=3, **settings),
    "on a raft": on_raft,
    "two tools": two_tools,
    "one by one": one_by_one,
    "one by one, own heights": lambda **settings: one_by_one((0.2, 0.28, 0.15), **settings),
    "uneven": uneven,
    "gallery": gallery,
    "fins": fins,
    "filled with squares": lambda **settings: filled(_lattice((45.0, 135.0), 6.0), **settings),
    "filled with triangles": lambda **settings: filled(_lattice((0.0, 60.0, 120.0), 7.0), **settings),
    "filled with waves": lambda **settings: filled(_waves, **settings),
}


# how it is laid ------------------------------------------------------------------------------------
def _pen(settings: dict[str, Any]) -> Writer:
    return _begin(Recipe(**settings))


def _levels(recipe: Recipe, height_mm: float) -> list[float]:
    first, step = recipe.first_layer_height_mm, recipe.layer_height_mm
    return [round(first + k * step, 3) for k in range(round((height_mm - first) / step) + 1)]


def _shell(recipe: Recipe, k: int, count: int) -> str:
    return SOLID if k < recipe.bottom_solid_layers or k >= count - recipe.top_solid_layers else SPARSE


def _open(pen: Writer, index: int, z: float, height: float | None = None) -> None:
    recipe = pen.recipe
    pen.layer = index
    pen.height = height or (recipe.first_layer_height_mm if index == 0 else recipe.layer_height_mm)
    pen.say(f"layer {index + 1} at height {z:g} mm")
    pen.move(pen.x, pen.y, z)


def _surround(pen: Writer, regions: Iterable[Region]) -> None:
    """A skirt around everything, and a brim around each piece."""
    recipe, regions = pen.recipe, list(regions)
    x0, x1 = (f(r.x + s * r.width / 2 for r in regions) for f, s in ((min, -1), (max, 1)))
    y0, y1 = (f(r.y + s * r.depth / 2 for r in regions) for f, s in ((min, -1), (max, 1)))
    whole = Region((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0)
    width, speed = recipe.line_width_mm, recipe.first_layer_speed_mm_s
    pen.layer = 0
    if recipe.skirt_loops:
        pen.say("laying skirt")
    for loop in reversed(range(recipe.skirt_loops)):
        pen.path(whole.inset(-5.0 - recipe.brim_loops * width - loop * width).outline(), "skirt", speed)
    if recipe.brim_loops:
        pen.say("laying brim")
    for region in regions if recipe.brim_loops else ():
        for loop in reversed(range(recipe.brim_loops)):
            pen.path(region.inset(-(loop + 0.5) * width).outline(), "brim", speed)


def _body(pen: Writer, region: Region, holes: Holes, filling: str, k: int, angle: float | None = None) -> None:
    """Walls from within outward, those of holes likewise, then the filling."""
    recipe = pen.recipe
    width = recipe.line_width_mm
    for wall in reversed(range(recipe.wall_lines)):
        role = INNER if wall else OUTER
        pen.say(f"laying {role}")
        speed = recipe.speed_mm_s if wall else recipe.outer_speed_mm_s
        pen.path(region.inset((wall + 0.5) * width).outline(), role, speed)
        for hole in holes:
            pen.path(hole.inset(-(wall + 0.5) * width).outline()[::-1], role, speed)
    if not filling or (filling == SPARSE and recipe.infill_percent <= 0):
        return
    spacing = width * 100 / recipe.infill_percent if filling == SPARSE else recipe.pitch(pen.height)
    inset = (recipe.wall_lines + 0.5) * width
    grown = tuple(hole.inset(-inset) for hole in holes)
    pen.say(f"laying {filling}")
    turned = angle if angle is not None else 45.0 if k % 2 == 0 else 135.0
    _rows(pen, region.inset(inset), grown, turned, spacing, filling)


def _rows(
    pen: Writer, region: Region, holes: Holes, angle: float, spacing: float, role: str, thick: float = 1.0
) -> None:
    """Rows across the region and around the holes; joined by beads where the way is short and free."""
    recipe = pen.recipe
    joined = False
    for row in region.rows(angle, spacing):
        free = _outside(row, holes, angle)
        for a, b in free:
            close = math.dist(a, (pen.x, pen.y)) < 2.5 * spacing and len(free) == 1
            if joined and close:
                pen.bead(*a, role, recipe.speed_mm_s, scale=thick)
            else:
                pen.go(*a)
            pen.bead(*b, role, recipe.speed_mm_s, scale=thick)
            joined = len(free) == 1


def _outside(row: Any, holes: Holes, angle: float) -> list[tuple[Any, Any]]:
    """The parts of a row that lie outside all holes, in its direction."""
    begin, end = row
    length = math.dist(begin, end)
    along = (end - begin) / length
    level = float(begin[0] * -along[1] + begin[1] * along[0])
    cuts = []
    for hole in holes:
        ring = hole.outline()
        s, t = ring @ along, ring[:, 1] * along[0] - ring[:, 0] * along[1]
        if t.min() < level < t.max():
            low, high = _crossings(s, t, level)
            cuts.append((low - float(begin @ along), high - float(begin @ along)))
    parts, at = [], 0.0
    for low, high in sorted(cuts):
        if low - at > 0.2:
            parts.append((begin + at * along, begin + low * along))
        at = max(at, high)
    if length - at > 0.2:
        parts.append((begin + at * along, end))
    return parts


def _crossings(s: Any, t: Any, level: float) -> tuple[float, float]:
    found = []
    for k in range(len(s) - 1):
        if (t[k] - level) * (t[k + 1] - level) < 0:
            share = (level - t[k]) / (t[k + 1] - t[k])
            found.append(float(s[k] + share * (s[k + 1] - s[k])))
    return (min(found), max(found)) if found else (0.0, 0.0)


def _close(pen: Writer, heights: list[float]) -> Specimen:
    return _end(pen, heights, 0.0, [])
