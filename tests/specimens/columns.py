"""Toolpaths made straight from columns, for tests of the floors above the reader."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from beadwright.toolpath.columns import Events, EventTables, Kind, Toolpath


def events(*rows: tuple[int, float] | tuple[int, float, int]) -> Events:
    """A sparse table from (move, value) or (move, value, tool) rows; the line is the move's number + 1."""
    full = [(*row, -1)[:3] for row in rows]
    move, value, tool = zip(*full, strict=True) if full else ((), (), ())
    line = [m + 1 for m in move]
    return Events(np.array(move, np.int32), np.array(line, np.int32), np.array(value, float), np.array(tool, np.int32))


def toolpath(points: Any, e: Any = None, feed: Any = 100.0, kind: Any = None, **tables: Events) -> Toolpath:
    """A toolpath that goes from `points[0]` (2 or 3 columns, mm) through the others, one move each.

    `e` (n,) filament at the end of each move; `feed` (mm/s) and `kind` one or n, the kind guessed from the
    columns when left out; `tables` by the names of `EventTables`. Move i stands on line i + 1.
    """
    points = np.asarray(points, float)
    if points.shape[1] == 2:
        points = np.column_stack([points, np.full(len(points), 0.2)])
    n = len(points) - 1
    e = np.zeros(n) if e is None else np.asarray(e, float)
    if kind is None:
        far = np.linalg.norm(np.diff(points, axis=0), axis=1) > 0
        fed = np.diff(e, prepend=0.0)
        kind = np.select([far & (fed > 0), fed < 0, fed > 0], [Kind.BEAD, Kind.RETRACT, Kind.UNRETRACT], Kind.TRAVEL)
    empty = {field.name: events() for field in dataclasses.fields(EventTables)}
    return Toolpath(
        x=points[1:, 0].copy(),
        y=points[1:, 1].copy(),
        z=points[1:, 2].copy(),
        e=e,
        feed=np.broadcast_to(np.asarray(feed, np.float32), (n,)).copy(),
        kind=np.broadcast_to(np.asarray(kind, np.uint8), (n,)).copy(),
        chord=np.zeros(n, bool),
        line=np.arange(1, n + 1, dtype=np.int32),
        tool=np.zeros(n, np.uint8),
        start=points[0].copy(),
        events=EventTables(**{**empty, **tables}),
        comments=(),
        problems=(),
        name="made from columns",
        bytes=0,
        lines=n,
        arcs=0,
        extrusion="absolute",
        units="mm",
        truncated=False,
    )


@dataclasses.dataclass(frozen=True)
class LayerColumns:
    """What `find_layers` returns, for tests that know their layers."""

    index: Any
    z_mm: Any
    height_mm: Any
    first_move: Any
    last_move: Any


def layers(first_move: list[int], last_move: list[int], z_mm: list[float], count: int) -> LayerColumns:
    """Layers from their first and last moves and bead heights, over `count` moves."""
    index = np.full(count, -1, np.int32)
    for k, (first, last) in enumerate(zip(first_move, last_move, strict=True)):
        index[first : last + 1] = k
    z = np.asarray(z_mm, float)
    return LayerColumns(
        index, z, np.diff(z, prepend=0.0), np.array(first_move, np.int32), np.array(last_move, np.int32)
    )
