"""What changes from one layer to the next, and how unusual that is in this file.

Two kinds: a *step* of a per-layer quantity, found as a change point (`partition`), and a *command* written in the file
at that place (a pause, a tool change, a temperature). A step is weighed against the file's own differences from layer
to layer: their noise is taken from the median absolute deviation, which a few large steps do not move, and rarity is
counted: how many layers step as far. What happens in one layer of 240 and reaches far says more than what happens in
every second layer.

    bits = log2(layers / layers that step as far) + log2(1 + step / step that matters)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import log, log2

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import Events

from .history import choose
from .layer_series import Series
from .moves import FloatColumn, Moves

PENALTY = 3.0  # times ln n, in units of noise variance; 2 is the usual information criterion for a level and its place
AS_FAR = 0.8  # of a step: steps as far as this count as like it
MOST_PAIRS = 200_000_000  # layers times layers in one block: longer prints are searched in blocks
LEAST_BLOCK = 200
HUGE = 1e9  # a step beyond it is as large as any
MOST_STEPS = 20_000  # of one series; the largest are kept
NORMAL = 1.4826  # median absolute deviation to standard deviation of a normal


@dataclass(frozen=True)
class Change:
    """One thing that changes at one layer."""

    name: str  # of the series, or of the command
    noun: str
    unit: str
    layer: int  # 0-based: the first with the new value
    before: float | None  # level of the layers before; None for a command that has none
    after: float | None
    step: float  # on the scale of the series: relative ones in logarithms
    z: float  # the step in units of the file's own layer-to-layer noise; 0 for a command
    like: int  # layers that step as far, this one included
    layers: int  # that could have
    lasts: int | None  # layers the new level holds; None for a command
    bits: float
    line: int | None = None  # source line, of a command
    kind: str = "step"  # "step" | "command"


def noise(scale: FloatColumn, floor: float) -> float:
    """Return the layer-to-layer noise of a series: from its differences by median absolute deviation, at least floor.

    >>> noise(np.array([0.0, 0.0, 0.0, 50.0, 50.0, 50.0]), 0.1)
    0.1
    """
    steps = np.diff(scale[np.isfinite(scale)])
    spread = NORMAL * float(np.median(np.abs(steps - np.median(steps)))) / np.sqrt(2) if len(steps) else 0.0
    return max(spread, floor)


def change_points(scale: FloatColumn, floor: float) -> NDArray[np.int64]:
    """Return the layers at which a new level begins, ascending. NaN entries take the value before them."""
    from .partition import best_partition

    known = np.flatnonzero(np.isfinite(scale))
    if len(known) < 2:
        return np.empty(0, np.int64)
    at = np.maximum(np.searchsorted(known, np.arange(len(scale)), side="right") - 1, 0)
    y = scale[known[at]] / noise(scale, floor)
    block = max(MOST_PAIRS // len(y), LEAST_BLOCK)
    found = [
        first + best_partition(y[first : first + block], PENALTY * log(len(y))) for first in range(0, len(y), block)
    ]
    return np.concatenate(found)


def steps_of(series: Series) -> list[Change]:
    """Return the steps of one series, in the order of layers."""
    scale = series.scale
    count = len(scale)
    if count < 2:
        return []
    points = change_points(scale, series.noticeable / 3)
    rough = noise(scale, series.noticeable / 3)
    jump = np.abs(np.diff(scale, prepend=np.nan))
    if len(points) > MOST_STEPS:
        points = np.sort(points[np.argsort(-np.nan_to_num(jump[points]), kind="stable")[:MOST_STEPS]])
    by_size, known = np.sort(jump[np.isfinite(jump)]), int(np.isfinite(jump).sum())
    ends = [0, *points.tolist(), count]
    out = []
    for first, at, end in zip(ends, ends[1:-1], ends[2:], strict=False):
        before, after = _level(series.values[first:at]), _level(series.values[at:end])
        step = series.step(before, after)
        here = float(jump[at])
        if not (abs(step) >= series.noticeable and here >= series.noticeable):  # a drift, cut somewhere, or NaN
            continue
        like = known - int(np.searchsorted(by_size, AS_FAR * here))
        bits = log2((count - 1) / like) + log2(1 + min(here, HUGE) / series.matters)
        out.append(
            Change(series.name, series.noun, series.unit, at, before, after, step, here / rough, like, count - 1,
                   end - at, bits)
        )  # fmt: skip
    return out


def _level(values: FloatColumn) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def find_steps(series: Iterable[Series]) -> list[Change]:
    """Return the steps of all series, most unusual first."""
    found = [change for one in series for change in steps_of(one)]
    return sorted(found, key=lambda change: -change.bits)


# commands ---------------------------------------------------------------------------------------------
COMMANDS: tuple[tuple[str, str, str, float], ...] = (  # table, noun, unit, step that matters
    ("nozzle_c", "the nozzle temperature set", "°C", 5.0),
    ("bed_c", "the bed temperature set", "°C", 5.0),
    ("chamber_c", "the chamber temperature set", "°C", 10.0),
    ("speed_percent", "the speed factor", "%", 15.0),
    ("flow_percent", "the flow factor", "%", 3.0),
    ("pause", "a pause", "", 1.0),
    ("tool_change", "a tool change", "", 1.0),
    ("dwell_s", "a dwell", "s", 5.0),
)


def find_commands(moves: Moves) -> list[Change]:
    """Return what the file commands while the print is under way, most unusual first; repeats of a value left out."""
    found = []
    for table, noun, unit, matters in COMMANDS:
        found += _commands(moves, table, noun, unit, matters)
    found += _restarts(moves)
    return sorted(found, key=lambda change: -change.bits)


def _commands(moves: Moves, table: str, noun: str, unit: str, matters: float) -> list[Change]:
    events: Events = getattr(moves.toolpath.events, table)
    once = table in ("pause", "tool_change", "dwell_s")  # each counts, whatever the value
    before = _values_before(events)
    if not once:
        changed = ~(events.value == before)
        events, before = choose(events, changed), before[changed]
    layer, under_way = _layers_of(moves, events)
    events, before, layer = choose(events, under_way), before[under_way], layer[under_way]
    step = events.value if table == "dwell_s" else np.nan_to_num(events.value - before)
    step = np.ones(len(events)) if table in ("pause", "tool_change") else step
    by_size = np.minimum(np.abs(step), HUGE)
    order = np.lexsort((-by_size, layer))  # of a layer the largest: a thousand tool changes in it are one event
    order = order[np.flatnonzero(np.diff(layer[order], prepend=-1))]
    sizes = np.sort(by_size[order])
    out = []
    for at in order.tolist():
        like = len(sizes) - int(np.searchsorted(sizes, AS_FAR * by_size[at]))
        bits = log2(moves.layer_count / like) + log2(1 + by_size[at] / matters)
        old = None if once or not np.isfinite(before[at]) else float(before[at])
        new = None if table == "pause" else float(events.value[at])
        out.append(
            Change(table, noun, unit, int(layer[at]), old, new, float(step[at]), 0.0, like, moves.layer_count, None,
                   float(bits), int(events.line[at]), "command")
        )  # fmt: skip
    return out


def _values_before(events: Events) -> FloatColumn:
    """The value each event replaces, of the same tool; NaN for the first."""
    out = np.full(len(events), np.nan)
    for tool in np.unique(events.tool):
        mine = np.flatnonzero(events.tool == tool)
        out[mine[1:]] = events.value[mine[:-1]]
    return out


def _layers_of(moves: Moves, events: Events) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Layer each event falls in, and whether it comes between the first bead and the last."""
    beads = np.flatnonzero(moves.bead)
    if not len(beads) or not len(events):
        return np.full(len(events), -1, np.int64), np.zeros(len(events), np.bool_)
    inside = (events.move > beads[0]) & (events.move <= beads[-1])
    at = np.minimum(np.searchsorted(beads, events.move), len(beads) - 1)  # the bead it takes effect on
    return np.asarray(moves.layers.index)[beads[at]].astype(np.int64), inside


def _restarts(moves: Moves) -> list[Change]:
    """Where the head goes down again and the next object begins."""
    where = np.asarray(moves.layers.restarts)
    layer = np.asarray(moves.layers.index)[where]
    like = max(len(np.unique(layer)), 1)
    bits = log2(max(moves.layer_count, 1) / like) + 1
    lines = moves.toolpath.line[where]
    return [
        Change("next_object", "the next object begins", "", int(k), None, None, 1.0, 0.0, like, moves.layer_count,
               None, bits, int(line), "command")
        for k, line in zip(layer.tolist(), lines.tolist(), strict=True)
    ]  # fmt: skip
