"""From a toolpath to named facts: what the machine was really told to do, each with the place it was read
from.

Values that vary are summarised over beads: temperatures and fan by the time they hold, speeds and widths by
length, flow by time. The fact's `where` says over which layers. Nothing is guessed: what a file does not say
gives no fact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import Fact, Facts
from beadwright.motion.plan import Plan
from beadwright.toolpath.columns import Kind, Toolpath
from beadwright.toolpath.layers import Layers

from .bounds import note_outside
from .ending import ends_abruptly, note_ending
from .findings import Where
from .found import Clerk
from .heat_facts import note_heat
from .history import prevailing
from .moves import DEFAULT_FILAMENT_MM, FloatColumn, Moves, weighted_quantiles
from .per_layer import PerLayer, per_layer
from .retraction_facts import note_retractions
from .shell_count import ShellCount, count_shells
from .shift_in_file import note_shift


@dataclass(frozen=True)
class FileFacts:
    """All that was measured in one file."""

    facts: tuple[Fact, ...]
    places: Mapping[str, Where]  # fact name -> where in the print
    per_layer: PerLayer
    shells: ShellCount | None
    moves: Moves
    filament_mm_from: str  # where the filament diameter comes from


def facts_from_file(
    toolpath: Toolpath, layers: Layers, plan: Plan, known: Facts | None = None, *, shells: bool = True
) -> FileFacts:
    """Measure a toolpath. `known` gives filament diameter, machine travel and kinematics where they are
    known.

    `shells=False` leaves out the raster (solid layers, infill, crossings).
    """
    known = known or Facts()
    diameter = known.number("filament_diameter_mm", known.number("diameter_mm"))
    moves = Moves(toolpath, layers, plan, diameter or DEFAULT_FILAMENT_MM)
    table = per_layer(moves)
    clerk = Clerk(moves, table.first_line, table.last_line)
    counted = None
    if moves.layer_count and moves.bead.any():
        _note_size(clerk, table)
        _note_speed(clerk)
        note_heat(clerk)
        note_retractions(clerk)
        note_outside(clerk, known)
        note_ending(clerk)
        note_shift(clerk)
        counted = count_shells(moves) if shells else None
        if counted:
            _note_shells(clerk, counted)
    said = "on record" if diameter else "taken, no diameter was given"
    return FileFacts(tuple(clerk.facts), clerk.places, table, counted, moves, said)


def _note_size(clerk: Clerk, table: PerLayer) -> None:
    moves, last = clerk.moves, len(table) - 1
    whole, upper = clerk.layers(0, last), clerk.layers(min(1, last), last)
    height = moves.layers.height_mm
    clerk.note("layer_count", len(table), whole)
    clerk.note("layer_height_mm", float(np.median(height[1:] if last else height)), upper)
    clerk.note("first_layer_height_mm", float(height[0]), clerk.layers(0, 0))
    clerk.note("print_height_mm", float(np.max(moves.layers.z_mm)), whole)
    clerk.note("filament_mm", float(moves.deposited.sum()), whole)
    clerk.note("print_seconds", moves.plan.duration, whole)
    clerk.note("line_width_mm", _bead_width(moves, 1 if last else 0), upper)
    first = np.asarray(moves.layers.index) == 0
    area = float(moves.volume[first & moves.bead].sum() / height[0]) if height[0] > 0 else math.nan
    clerk.note("first_layer_area_mm2", area, clerk.layers(0, 0))
    if area > 0:
        clerk.note("slenderness", float(np.max(moves.layers.z_mm)) / math.sqrt(area), whole)
    seconds = table.seconds[1:] if last else table.seconds
    if last and ends_abruptly(moves) and last > 1:
        seconds = seconds[:-1]  # the layer that was cut off is short for another reason
    shortest = int(np.argmin(seconds)) + (1 if last else 0)
    clerk.note("min_layer_seconds", float(seconds.min()), clerk.layers(shortest, shortest))


def _bead_width(moves: Moves, from_layer: int) -> float:
    """Median width by length of beads from a layer on, from filament volume, length and layer height, mm.

    The stadium inverted: A = (w − h) h + π h²/4, so w = A/h + h (1 − π/4).
    """
    index = np.asarray(moves.layers.index)
    at = np.flatnonzero(moves.bead & (index >= from_layer))
    length = moves.toolpath.length[at]
    height = np.asarray(moves.layers.height_mm, float)[index[at]]
    good = (length > 0) & (height > 0)
    area = moves.volume[at][good] / length[good]
    width = area / height[good] + height[good] * (1 - math.pi / 4)
    return weighted_quantiles(width, length[good], (0.5,))[0]


def _note_speed(clerk: Clerk) -> None:
    moves, last = clerk.moves, clerk.moves.layer_count - 1
    path, index = moves.toolpath, np.asarray(moves.layers.index)
    upper_from = min(1, last)
    upper, first = moves.bead & (index >= upper_from), moves.bead & (index == 0)
    over_upper = clerk.layers(upper_from, last)
    feed = path.feed.astype(float)
    clerk.note("speed_mm_s", _middle(feed, path.length, upper), over_upper)
    clerk.note("first_layer_speed_mm_s", _middle(feed, path.length, first), clerk.layers(0, 0))
    sideways = (path.kind == Kind.TRAVEL) & (np.hypot(path.delta[:, 0], path.delta[:, 1]) > 1.0)
    clerk.note("travel_speed_mm_s", _middle(feed, path.length, sideways))
    clerk.note(
        "accel_mm_s2", prevailing(path.events.acceleration, np.where(upper, moves.going, 0.0)), over_upper
    )
    beads = np.flatnonzero(moves.bead)
    p95, top = weighted_quantiles(moves.flow[beads], moves.going[beads], (0.95, 0.999))
    hot = beads[moves.flow[beads] >= p95 * (1 - 1e-9)]
    clerk.note("flow_mm3_s", p95, _span_of(clerk, hot))
    clerk.note("flow_max_mm3_s", top, clerk.at_move(int(beads[np.argmax(moves.flow[beads])])))


def _middle(values: FloatColumn, weights: FloatColumn, which: NDArray[np.bool_]) -> float:
    return weighted_quantiles(values[which], weights[which], (0.5,))[0]


def _span_of(clerk: Clerk, at: NDArray[np.int64]) -> Where:
    layer = clerk.moves.layer[at]
    return clerk.layers(int(layer.min()), int(layer.max()))


def _note_shells(clerk: Clerk, counted: ShellCount) -> None:
    moves, last = clerk.moves, clerk.moves.layer_count - 1
    crossed = np.flatnonzero(counted.crossings)
    where = clerk.layers(int(crossed[0]), int(crossed[-1])) if len(crossed) else clerk.layers(0, last)
    clerk.note("crossings_without_lift", int(counted.crossings.sum()), where)
    if counted.bottom is not None:
        clerk.note("bottom_solid_layers", counted.bottom, clerk.layers(0, max(counted.bottom - 1, 0)))
    if moves.layers.continuous or ends_abruptly(moves):
        return  # an open vase has no top, and a file that was cut short never reached its own
    if counted.infill_percent is not None:
        sparse = clerk.layers(*counted.infill_layers) if counted.infill_layers else None
        clerk.note("infill_percent", counted.infill_percent, sparse)
    open_vessel = counted.top == 0 and (counted.infill_percent or 0.0) < 1.0
    if counted.top is not None and not open_vessel:
        clerk.note(
            "top_solid_layers", counted.top, clerk.layers(min(max(last - counted.top + 1, 0), last), last)
        )
