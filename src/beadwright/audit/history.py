"""Temperatures and fan over the print: which value was in force where, and for how long beads were laid under
it.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import Events

from .moves import FloatColumn, Moves


def choose(events: Events, which: NDArray[np.bool_]) -> Events:
    """Return the events for which `which` holds."""
    return Events(events.move[which], events.line[which], events.value[which], events.tool[which])


def part_fan(events: Events) -> Events:
    """Return what concerns the part fan: number 0, or no number."""
    return choose(events, events.tool <= 0)


def for_tool(events: Events, moves: Moves, tool: int) -> Events:
    """Return the events that speak of `tool`: those that name it, and those that name none while it is in
    use.
    """
    if not len(events) or not len(moves):
        return events
    in_use = moves.toolpath.tool[np.minimum(events.move, len(moves) - 1)]
    return choose(events, (events.tool == tool) | ((events.tool < 0) & (in_use == tool)))


def value_at(events: Events, at: NDArray[np.int64], before: float = np.nan) -> FloatColumn:
    """Return the value in force at the moves `at`, (len(at),); NaN where `at` is −1, `before` where none was
    set.
    """
    out = np.full(len(at), before)
    if len(events):
        index = np.searchsorted(events.move, at, side="right") - 1
        out[index >= 0] = events.value[index[index >= 0]]
    out[at < 0] = np.nan
    return out


def nozzle_at(moves: Moves, at: NDArray[np.int64]) -> FloatColumn:
    """Return the nozzle temperature set for the tool in use at the moves `at`, (len(at),) °C; NaN where none
    was.
    """
    events, tool = moves.toolpath.events.nozzle_c, moves.toolpath.tool
    out = np.full(len(at), np.nan)
    in_use = tool[at] if len(tool) else np.zeros(len(at), np.uint8)
    for one in np.unique(in_use):
        mine = in_use == one
        out[mine] = value_at(for_tool(events, moves, int(one)), at[mine])
    return out


def held(
    events: Events, weights: NDArray[np.floating[Any]], before: float = np.nan
) -> tuple[FloatColumn, FloatColumn, NDArray[np.int64]]:
    """Return each value, the weight (such as bead seconds) of the moves under it, and its source line.

    `weights` (n,) per move. The first entry is `before` with line 0: what held until the first event.
    """
    edges = np.concatenate([[0], events.move, [len(weights)]]).astype(np.int64)
    span = np.zeros(len(edges) - 1)
    filled = np.flatnonzero(np.diff(edges) > 0)
    if len(filled):
        span[filled] = np.add.reduceat(weights, edges[filled], dtype=np.float64)
    values = np.concatenate([[before], events.value])
    return values, span, np.concatenate([[0], events.line]).astype(np.int64)


def prevailing(events: Events, weights: NDArray[np.floating[Any]], before: float = np.nan) -> float:
    """Return the value that holds for the largest share of the weight; NaN when that is "never set", or no
    weight.
    """
    values, span, _ = held(events, weights, before)
    if span.sum() <= 0:
        return float("nan")
    distinct, group = np.unique(values, return_inverse=True)
    return float(distinct[np.argmax(np.bincount(group, span))])
