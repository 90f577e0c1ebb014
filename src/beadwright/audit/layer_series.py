"""What can change from layer to layer, as columns: one number a layer and quantity, with how much of it is noticed.

`noticeable` is the least step worth naming, `matters` the step that makes a visible difference on a print; both are
common practice, no source. A relative series is held against its logarithm: 0.1 is ten per cent.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.roles_model import Role

from .file_facts import FileFacts
from .heat_history import HeatHistory, in_force
from .history import part_fan
from .moves import FloatColumn, Moves
from .role_facts import ByRole
from .shell_count import frame

OUTLINE_CELL_MM, COARSEST_MM = 0.6, 2.0
WIDE_START = 1.15  # first layer over second: more is not the part
MOST_VISITS = 12_000_000  # cells times layers


@dataclass(frozen=True)
class Series:
    """One quantity, (k,) one entry a layer, NaN where not known."""

    name: str
    noun: str  # in a sentence: "the speed of beads"
    unit: str
    values: FloatColumn
    noticeable: float  # least step worth naming; of the logarithm where relative
    matters: float  # step that makes a visible difference
    relative: bool = False

    @property
    def scale(self) -> FloatColumn:
        """The values on the scale steps are measured on."""
        if not self.relative:
            return self.values
        return np.log(np.where(self.values > 0, self.values, np.nan))

    def step(self, before: float, after: float) -> float:
        """Return the step from one value to another on that scale; NaN where it has none."""
        if not self.relative:
            return after - before
        return log(after / before) if before > 0 and after > 0 else float("nan")


@dataclass(frozen=True)
class Outline:
    """What `outline.outline_by_layer` found, columns of length k."""

    inside_mm2: FloatColumn  # within the outline
    beyond_mm2: FloatColumn  # of it farther than a cell beyond the layer below
    rim_mm: FloatColumn
    plastic_mm3: FloatColumn
    path_mm: FloatColumn  # of beads
    beads: FloatColumn
    cell_mm: float


def layer_series(measured: FileFacts, heat: HeatHistory | None = None) -> tuple[Series, ...]:
    """Return every quantity that is known layer by layer; heat only where it was reckoned."""
    table, moves = measured.per_layer, measured.moves
    fan = in_force(part_fan(moves.toolpath.events.fan_percent), len(moves), 0.0)
    out = [
        Series("layer_seconds", "the time of a layer", "s", table.seconds, 0.05, 0.25, relative=True),
        Series("speed_mm_s", "the speed of beads", "mm/s", table.speed_median, 0.03, 0.15, relative=True),
        Series("flow_mm3_s", "the flow", "mm³/s", table.flow_median, 0.03, 0.15, relative=True),
        Series("fan_percent", "the part fan", "%", _bead_mean(moves, fan), 2.0, 20.0),
        Series("layer_height_mm", "the layer height", "mm", table.height_mm, 0.05, 0.2, relative=True),
        Series("retractions", "the number of retractions", "", table.retractions.astype(float), 2.0, 20.0),
        Series("acceleration_mm_s2", "the acceleration", "mm/s²", _acceleration(moves), 0.05, 0.4, relative=True),
    ]
    if measured.shells is not None:
        crossings = measured.shells.crossings.astype(float)
        out.append(Series("crossings_without_lift", "travels over laid beads without a lift", "", crossings, 1.0, 5.0))
    outline = follow_outline(moves)
    if outline is not None:
        out += _shape(outline, table.height_mm)
    if heat is not None:
        out.append(Series("core_c", "the core of the strand", "°C", heat.core_c, 3.0, 12.0))
        out.append(Series("below_c", "the layer below when it is covered", "°C", heat.below_c, 5.0, 20.0))
        out.append(Series("weld_index", "the weld index", "", heat.weld_index, 0.08, 0.3, relative=True))
    if measured.by_role is not None:
        out += _role_shares(measured.by_role)
    return tuple(series for series in out if np.isfinite(series.values).any())


def _shape(outline: Outline, height: FloatColumn) -> list[Series]:
    """Quantities of the outline and of what is laid in it."""
    good = np.where(height > 0, height, np.nan)
    bead = outline.plastic_mm3 / np.where(outline.path_mm > 0, outline.path_mm, np.nan)
    width = bead / good + good * (1 - np.pi / 4)  # the stadium inverted, as in `physics.bead`
    inside = outline.inside_mm2.copy()
    if len(inside) > 1 and inside[0] > WIDE_START * inside[1]:
        inside[0] = np.nan  # a skirt or brim encloses more than the part
    step = np.nan_to_num(np.diff(inside, prepend=inside[:1])) / np.maximum(outline.rim_mm, 1.0)
    filling = 100 * outline.plastic_mm3 / (np.maximum(inside, 1e-9) * good)
    long = outline.path_mm / np.maximum(outline.beads, 1.0)
    return [
        Series("section_mm2", "the section of plastic", "mm²", outline.plastic_mm3 / good, 0.05, 0.25, relative=True),
        Series("inside_mm2", "the area within the outline", "mm²", inside, 0.05, 0.25, relative=True),
        Series("overhang_mm2", "the area laid beyond the layer below", "mm²", outline.beyond_mm2, 3.0, 30.0),
        Series("outline_step_mm", "the outward step of the outline", "mm", step, 0.08, 0.2),
        Series("filling_percent", "the filling of the outline", "%", np.minimum(filling, 130.0), 5.0, 30.0),
        Series("bead_width_mm", "the mean width of beads", "mm", width, 0.03, 0.15, relative=True),
        Series("bead_mm", "the mean length of beads", "mm", long, 0.1, 0.7, relative=True),
    ]


def follow_outline(moves: Moves) -> Outline | None:
    """Follow the outline layer by layer; None without beads in layers, or where the print is too large to resolve."""
    if not moves.layer_count or not moves.bead.any():
        return None
    from .outline import outline_by_layer

    grid = frame(moves, OUTLINE_CELL_MM, COARSEST_MM, MOST_VISITS, rim=2)
    if grid is None:
        return None
    path, (beads, edges) = moves.toolpath, moves.bead_runs
    corner, shape = np.array([grid.x0, grid.y0]), np.array(grid.shape)
    table = outline_by_layer(
        path.x, path.y, path.start, beads, edges, moves.volume, grid.windows, corner, grid.cell, shape
    )
    plastic, length, count, inside, beyond, rim = table.T
    return Outline(inside, beyond, rim, plastic, length, count, grid.cell)


def _bead_mean(moves: Moves, values: NDArray[np.float32]) -> FloatColumn:
    """Mean of a per-move column over the beads of each layer, by the time they take, (k,)."""
    from .heat_kernels import mean_by_layer

    index = np.asarray(moves.layers.index)
    return np.asarray(mean_by_layer(index, moves.toolpath.kind, moves.going, values, moves.layer_count))


def steady_heat(measured: FileFacts) -> tuple[Series, ...]:
    """Temperatures set, as in force at each layer's first bead. Their changes are commands: `changes.find_commands`."""
    table = measured.per_layer
    return (
        Series("nozzle_c", "the nozzle temperature set", "°C", table.nozzle_c, 1.0, 5.0),
        Series("bed_c", "the bed temperature set", "°C", table.bed_c, 1.0, 5.0),
    )


def _role_shares(found: ByRole) -> list[Series]:
    """Share of the bead time that each role takes, where it takes any."""
    share = 100 * found.seconds / np.maximum(found.seconds.sum(axis=1, keepdims=True), 1e-9)
    return [
        Series(f"share_{role.words.replace(' ', '_')}", f"the share of {role.words}", "%", share[:, role], 5.0, 25.0)
        for role in Role
        if role is not Role.UNKNOWN and share[:, role].any()
    ]


def _acceleration(moves: Moves) -> FloatColumn:
    """Acceleration in force for beads, mean by time, (k,); NaN where the file sets none."""
    events = moves.toolpath.events.acceleration
    if not len(events):
        return np.full(moves.layer_count, np.nan)
    return _bead_mean(moves, in_force(events, len(moves)))
