"""From a toolpath to named facts: what the machine was really told to do, each with the place it was read
from.

Values that vary are summarised over beads: temperatures and fan by the time they hold, speeds and widths by
length, flow by time. The fact's `where` says over which layers. Nothing is guessed: what a file does not say
gives no fact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import Fact, Facts
from beadwright.motion.plan import Plan
from beadwright.toolpath.columns import Kind, Toolpath
from beadwright.toolpath.layers import Layers
from beadwright.toolpath.roles import find_roles
from beadwright.toolpath.roles_model import Role, Roles

from .bounds import note_outside
from .course_facts import note_course
from .ending import ends_abruptly, note_ending
from .findings import Where
from .found import Clerk
from .heat_facts import note_heat
from .history import prevailing
from .moves import DEFAULT_FILAMENT_MM, Moves
from .per_layer import PerLayer, per_layer
from .retraction_facts import note_retractions
from .role_facts import ByRole, by_role, note_roles
from .shell_count import Shell, ShellCount, count_shells, interleaved
from .shift_in_file import note_shift


@dataclass(frozen=True)
class FileFacts:
    """All that was measured in one file."""

    facts: tuple[Fact, ...]
    places: Mapping[str, Where]  # fact name -> where in the print
    per_layer: PerLayer
    shells: ShellCount | None
    by_role: ByRole | None
    moves: Moves
    filament_mm_from: str  # where the filament diameter comes from


def facts_from_file(
    toolpath: Toolpath,
    layers: Layers,
    plan: Plan,
    known: Facts | None = None,
    *,
    roles: Roles | None = None,
    shells: bool = True,
) -> FileFacts:
    """Measure a toolpath. `known` gives filament diameter, machine travel and kinematics where they are
    known; `roles` what each bead is for, found here when left out.

    `shells=False` leaves out the rasters (solid layers, infill, crossings; overhangs, bridges, support).
    """
    known = known or Facts()
    diameter = known.number("filament_diameter_mm", known.number("diameter_mm"))
    moves = Moves(toolpath, layers, plan, diameter or DEFAULT_FILAMENT_MM)
    table = per_layer(moves)
    clerk = Clerk(moves, table.first_line, table.last_line)
    counted, found = None, None
    if moves.layer_count and moves.bead.any():
        # Kernels run without the interpreter lock: what needs roles waits for them while the rest is noted.
        laid, width = moves.layers.height_mm, None
        with ThreadPoolExecutor(1) as aside:
            pending = aside.submit(lambda: roles or find_roles(toolpath, layers)) if shells else None
            _note_plain(clerk, table, known)
            if pending is not None:
                known_roles = pending.result()
                laid, width = known_roles.height_mm, known_roles.width_mm
                counting = aside.submit(count_shells, moves, known_roles)
                found = by_role(moves, known_roles)
                note_roles(clerk, found, known)
                counted = counting.result()
        _note_usual(clerk, np.asarray(laid, float), width)
        if "slenderness" not in clerk.places:
            _note_slenderness(clerk)
        if counted and found is not None:
            _note_shells(clerk, counted, found)
    said = "on record" if diameter else "taken, no diameter was given"
    return FileFacts(tuple(clerk.facts), clerk.places, table, counted, found, moves, said)


def _note_plain(clerk: Clerk, table: PerLayer, known: Facts) -> None:
    """All that can be said without knowing what each bead is for."""
    _note_size(clerk, table)
    _note_speed(clerk)
    note_heat(clerk)
    note_retractions(clerk)
    note_outside(clerk, known)
    note_ending(clerk)
    note_shift(clerk)
    note_course(clerk, table)


def _note_size(clerk: Clerk, table: PerLayer) -> None:
    moves, last = clerk.moves, len(table) - 1
    whole = clerk.layers(0, last)
    height = moves.layers.height_mm
    clerk.note("layer_count", len(table), whole)
    clerk.note("first_layer_height_mm", float(height[0]), clerk.layers(0, 0))
    clerk.note("print_height_mm", float(np.max(moves.layers.z_mm)), whole)
    clerk.note("filament_mm", float(moves.deposited.sum()), whole)
    clerk.note("print_seconds", moves.plan.duration, whole)
    first = np.asarray(moves.layers.index) == 0
    area = float(moves.volume[first & moves.bead].sum() / height[0]) if height[0] > 0 else math.nan
    clerk.note("first_layer_area_mm2", area, clerk.layers(0, 0))
    seconds = table.seconds[1:] if last else table.seconds
    if last and ends_abruptly(moves) and last > 1:
        seconds = seconds[:-1]  # the layer that was cut off is short for another reason
    shortest = int(np.argmin(seconds)) + (1 if last else 0)
    clerk.note("min_layer_seconds", float(seconds.min()), clerk.layers(shortest, shortest))


def _note_slenderness(clerk: Clerk) -> None:
    """Height over the root of the whole first layer's area, where roles do not tell part from skirt."""
    area = next((fact.number for fact in clerk.facts if fact.name == "first_layer_area_mm2"), 0.0)
    if area > 0:
        last = clerk.moves.layer_count - 1
        clerk.note("slenderness", float(np.max(clerk.moves.layers.z_mm)) / math.sqrt(area), clerk.layers(0, last))


def _note_usual(clerk: Clerk, height: NDArray[np.float64], width: NDArray[np.float32] | None) -> None:
    """Layer height as laid, and bead width; `width` (n,) of each bead where roles told it."""
    from .move_kernels import quantile

    moves, last = clerk.moves, len(height) - 1
    first = min(1, last)
    where = clerk.layers(first, last)
    clerk.note("layer_height_mm", float(np.median(height[first:])), where)
    chosen = moves.bead & (moves.layer >= first)
    middle = _bead_width(moves, first) if width is None else float(quantile(width, moves.length, chosen, 0.5))
    clerk.note("line_width_mm", middle, where)


def _bead_width(moves: Moves, from_layer: int) -> float:
    """Median width by length of beads from a layer on, from filament volume, length and layer height, mm.

    The stadium inverted: A = (w − h) h + π h²/4, so w = A/h + h (1 − π/4).
    """
    from .move_kernels import quantile

    height = np.asarray(moves.layers.height_mm, np.float32)[moves.layer]
    length = moves.length
    good = moves.bead & (moves.layer >= from_layer) & (length > 0) & (height > 0)
    width = np.divide(moves.volume, length * height, out=np.zeros(len(moves), np.float32), where=good)
    width += height * np.float32(1 - math.pi / 4)
    return float(quantile(width, length, good, 0.5))


def _note_speed(clerk: Clerk) -> None:
    from .move_kernels import quantile

    moves, last = clerk.moves, clerk.moves.layer_count - 1
    path, length, index = moves.toolpath, moves.length, moves.layer
    upper_from = min(1, last)
    upper = moves.bead & (index >= upper_from)
    over_upper = clerk.layers(upper_from, last)
    clerk.note("speed_mm_s", quantile(path.feed, length, upper, 0.5), over_upper)
    clerk.note(
        "first_layer_speed_mm_s", quantile(path.feed, length, moves.bead & (index == 0), 0.5), clerk.layers(0, 0)
    )
    rise = np.abs(np.diff(path.z, prepend=path.start[2]))
    sideways = (path.kind == Kind.TRAVEL) & (length > 1.0) & (rise < 0.7 * length)
    clerk.note("travel_speed_mm_s", quantile(path.feed, length, sideways, 0.5))
    if len(path.events.acceleration):
        busy = np.where(upper, moves.going, np.float32(0))
        clerk.note("accel_mm_s2", prevailing(path.events.acceleration, busy), over_upper)
    p95 = quantile(moves.flow, moves.going, moves.bead, 0.95)
    clerk.note("flow_mm3_s", p95, _span_of(clerk, np.flatnonzero(moves.bead & (moves.flow >= p95 * (1 - 1e-6)))))
    top = quantile(moves.flow, moves.going, moves.bead, 0.999)
    clerk.note("flow_max_mm3_s", top, clerk.at_move(int(np.argmax(np.where(moves.bead, moves.flow, np.float32(0))))))


def _span_of(clerk: Clerk, at: NDArray[np.int64]) -> Where:
    layer = clerk.moves.layer[at]
    return clerk.layers(int(layer.min()), int(layer.max()))


def _note_shells(clerk: Clerk, counted: ShellCount, found: ByRole) -> None:
    moves, last = clerk.moves, clerk.moves.layer_count - 1
    crossed = np.flatnonzero(counted.crossings)
    where = clerk.layers(int(crossed[0]), int(crossed[-1])) if len(crossed) else clerk.layers(0, last)
    clerk.note("crossings_without_lift", int(counted.crossings.sum()), where)
    if interleaved(moves, found.roles):
        return
    _note_shell(clerk, found, "bottom", counted.below, (0, max((counted.bottom or 1) - 1, 0)))
    if moves.layers.continuous or ends_abruptly(moves):
        return  # an open vase has no top, and a file that was cut short never reached its own
    _note_infill(clerk, counted, found)
    open_vessel = counted.top == 0 and (counted.infill_share or 0.0) < 0.01
    if not open_vessel:
        _note_shell(clerk, found, "top", counted.above, (min(max(last - (counted.top or 0) + 1, 0), last), last))


def _note_shell(clerk: Clerk, found: ByRole, end: str, shell: Shell, typical: tuple[int, int]) -> None:
    """Solid layers at the bottom or top; where there are fewer, how many, over how much of the area, and where."""
    clerk.note(f"{end}_solid_layers", shell.layers, clerk.layers(*typical))
    if shell.layers is None:
        return
    first, last = typical
    if shell.layers:
        height = np.asarray(found.roles.height_mm, float)
        clerk.note(f"{end}_thickness_mm", float(height[first : last + 1].sum()), clerk.layers(*typical))
    thin = clerk.layers(*shell.thin_layers) if shell.thin_layers else clerk.layers(*typical)
    clerk.note(f"{end}_thinnest_layers", shell.thin, thin)
    clerk.note(f"{end}_thin_percent", shell.thin_percent, thin)
    clerk.note(f"{end}_thin_at_mm", shell.thin_at_mm, thin)


def _note_infill(clerk: Clerk, counted: ShellCount, found: ByRole) -> None:
    """Density as the trade counts it: bead width over spacing, not the share of plastic.

    Plastic over room is A_b / (spacing · h); width over spacing follows from the sparse beads' own section and width.
    """
    if counted.infill_share is None or counted.infill_layers is None:
        return
    where, factor, width = clerk.layers(*counted.infill_layers), 1.0, math.nan
    section, width = (found.typical(values, Role.SPARSE) for values in (found.section_mm2, found.width_mm))
    if section > 0:
        factor = width * found.typical(found.heights, Role.SPARSE) / section
    density = counted.infill_share * factor
    clerk.note("infill_percent", 100 * density, where)
    if density > 0.005:
        clerk.note("infill_spacing_mm", width / density, where)
        if counted.infill_share_under_top is not None:
            under = max(counted.infill_share_under_top * factor, 1e-3)
            clerk.note("gap_under_top_mm", max(width / under - width, 0.0), where)
