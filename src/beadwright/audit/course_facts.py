"""Facts about how the print goes: what changes on the way up, how dense the moves come, how it starts and ends."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import Events

from .ending import ends_abruptly
from .found import Clerk
from .heat_facts import FAN_SETTLED_FROM
from .moves import FloatColumn, Moves
from .per_layer import PerLayer

JUMP_PERCENT = 40.0  # of fan power, between neighbouring layers
LONGEST_COUNTED_S = 2_000_000  # a file that claims longer is no print; its pace is not counted
SLOW_LAYER_S = 60.0  # a layer this long has set before the next, whatever the one before took


def note_course(clerk: Clerk, table: PerLayer) -> None:
    """Write down fan_jumps, nozzle_step_c, layer_time_ratio, fan_at_shortest_percent, pause_count,
    tool_change_count, moves_per_second, end_lift_mm, nozzle_end_c and bed_end_c.
    """
    _note_changes(clerk, table)
    _note_layer_times(clerk, table)
    events = clerk.moves.toolpath.events
    _note_count(clerk, "pause_count", _within(clerk.moves, events.pause))
    _note_count(clerk, "tool_change_count", _within(clerk.moves, events.tool_change))
    _note_pace(clerk)
    if not ends_abruptly(clerk.moves):
        _note_end(clerk)


def _note_changes(clerk: Clerk, table: PerLayer) -> None:
    """Steps of fan and nozzle between neighbouring layers, above those over which a fan is ramped."""
    settled = FAN_SETTLED_FROM
    if len(table) < settled + 2:
        return
    fan = np.abs(np.diff(table.fan_percent[settled:]))
    jumps = np.flatnonzero(fan >= JUMP_PERCENT) + settled + 1
    at = clerk.layers(int(jumps[0]), int(jumps[-1])) if len(jumps) else None
    clerk.note("fan_jumps", len(jumps), at)
    steps = np.abs(np.diff(table.nozzle_c[settled:]))
    if np.isfinite(steps).any():
        worst = int(np.nanargmax(steps)) + settled + 1
        clerk.note("nozzle_step_c", float(np.nanmax(steps)), clerk.layers(worst, worst))


def _note_layer_times(clerk: Clerk, table: PerLayer) -> None:
    """Largest ratio between neighbouring layer times, the fan in the shortest layer.

    First and last layers differ for reasons of their own, and so does a layer in which the machine waited.
    """
    last = len(table) - 1
    if last < 4:
        return
    seconds = _without_waits(clerk.moves, table)
    inner = seconds[1:last]
    short = int(np.argmin(inner)) + 1
    clerk.note("fan_at_shortest_percent", float(table.fan_percent[short]), clerk.layers(short, short))
    low = np.maximum(np.minimum(inner[1:], inner[:-1]), 1e-3)
    ratio = np.where(low < SLOW_LAYER_S, np.maximum(inner[1:], inner[:-1]) / low, 1.0)
    worst = int(np.argmax(ratio))
    clerk.note("layer_time_ratio", float(ratio[worst]), clerk.layers(worst + 1, worst + 2))


def _without_waits(moves: Moves, table: PerLayer) -> FloatColumn:
    waits = moves.plan.waits
    inside = waits[(waits[:, 0] < len(moves))]
    out = table.seconds.copy()
    layer = moves.layer[inside[:, 0].astype(np.int64)]
    np.subtract.at(out, layer[layer >= 0], inside[layer >= 0, 1])
    return out


def _within(moves: Moves, events: Events) -> NDArray[np.int64]:
    """Moves at which something happens between the first and the last bead, (j,)."""
    beads = np.flatnonzero(moves.bead)
    at = events.move.astype(np.int64)
    inside: NDArray[np.int64] = at[(at > beads[0]) & (at <= beads[-1])]
    return inside


def _note_count(clerk: Clerk, name: str, at: NDArray[np.int64]) -> None:
    clerk.note(name, len(at), clerk.at_move(int(at[0]), int(at[-1])) if len(at) else None)


def _note_pace(clerk: Clerk) -> None:
    """The most moves that end in one and the same second; arcs count once, as the machine is told them."""
    moves = clerk.moves
    t = moves.plan.t
    if not len(t) or not 0 < t[-1] < LONGEST_COUNTED_S:
        return
    edges = np.searchsorted(t, np.arange(0.0, math.ceil(t[-1]) + 1.0))
    edges[-1] = len(t)
    counts = np.diff(edges)
    if moves.toolpath.arcs:
        counts = counts - np.diff(np.concatenate([[0], np.cumsum(moves.toolpath.chord)])[edges])
    if not len(counts):
        return
    most = int(np.argmax(counts))
    first, last = int(edges[most]), max(int(edges[most + 1]) - 1, int(edges[most]))
    clerk.note("moves_per_second", int(counts[most]), clerk.at_move(min(first, len(t) - 1), min(last, len(t) - 1)))


def _note_end(clerk: Clerk) -> None:
    """How the head leaves the finished print, and what stays hot when the file ends."""
    moves = clerk.moves
    path, last = moves.toolpath, int(np.flatnonzero(moves.bead)[-1])
    where = clerk.at_move(last, len(moves) - 1)
    rise = float(path.z[last:].max() - path.z[last])
    away = float(np.hypot(path.x[-1] - path.x[last], path.y[-1] - path.y[last]))
    unknown = any(problem.line > path.line[last] for problem in path.problems)
    if not unknown:  # words that were not understood may park the head and switch off
        clerk.note("end_lift_mm", max(rise, 0.0), where)
        clerk.note("end_away_mm", away, where)
        for name, table in (("nozzle_end_c", path.events.nozzle_c), ("bed_end_c", path.events.bed_c)):
            left = [float(table.value[table.tool == tool][-1]) for tool in np.unique(table.tool)]
            clerk.note(name, max(left) if left else None, where)
