"""What a picture of the print can be coloured by: one value a bead, as a column over all moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from beadwright.errors import InputError

if TYPE_CHECKING:
    from beadwright.audit.moves import Moves

Column = NDArray[np.floating[Any]]
PLASTIC, ROLE = "plastic", "role"


@dataclass(frozen=True)
class Quantity:
    """A column (n,) over all moves, NaN where it says nothing; empty for `plastic`, which is the picture itself.

    `labels` names the categories when the column holds their numbers 0, 1, …; then there is no unit.
    """

    name: str
    title: str
    unit: str
    values: Column
    labels: tuple[str, ...] = ()


def quantity(moves: Moves, name: str) -> Quantity:
    """Return one of `QUANTITIES` for every move. Raises InputError for another name, or where the file is silent."""
    if name not in QUANTITIES:
        raise InputError(f"a picture cannot be coloured by {name[:40]!r}", fix=f"choose {', '.join(QUANTITIES)}")
    title, unit, column = QUANTITIES[name]
    if name == ROLE:
        return _roles(moves, title)
    values = column(moves)
    if name != PLASTIC and not np.isfinite(values).any():
        raise InputError(f"the file says nothing of {title}", where=moves.toolpath.name, fix="colour by speed or flow")
    return Quantity(name, title, unit, values)


def bead_heights(moves: Moves) -> Column:
    """Return how tall each move's bead lies, (n,) mm: its layer's height; NaN outside the layers."""
    height = np.append(np.asarray(moves.layers.height_mm, np.float64), np.nan)
    out: Column = height[moves.layer]
    return out


def _width(moves: Moves) -> Column:
    section = bead_heights(moves) * moves.toolpath.length
    known = moves.bead & (section > 0)
    out: Column = np.divide(moves.volume, section, out=np.full(len(moves), np.nan), where=known)
    return out


def _layer_time(moves: Moves) -> Column:
    layer = np.asarray(moves.layer)
    seconds = np.bincount(layer[layer >= 0], moves.seconds[layer >= 0], minlength=moves.layer_count)
    out: Column = np.append(seconds, np.nan)[layer]
    return out


def _roles(moves: Moves, title: str) -> Quantity:
    from beadwright.toolpath.roles import Role, find_roles

    roles = find_roles(moves.toolpath, moves.layers).role
    return Quantity(ROLE, title, "", roles.astype(np.float64), tuple(role.words for role in Role))


def _nozzle(moves: Moves) -> Column:
    from beadwright.audit.history import nozzle_at

    return nozzle_at(moves, np.arange(len(moves)))


def _fan(moves: Moves) -> Column:
    from beadwright.audit.history import part_fan

    return part_fan(moves.toolpath.events.fan_percent).at_moves(len(moves), before=0.0)


QUANTITIES: dict[str, tuple[str, str, Callable[[Moves], Column]]] = {
    "flow": ("flow", "mm³/s", lambda moves: moves.flow),
    "speed": ("speed", "mm/s", lambda moves: moves.speed),
    "nozzle": ("nozzle temperature", "°C", _nozzle),
    "fan": ("fan", "%", _fan),
    "width": ("bead width", "mm", _width),
    "layer-time": ("layer time", "s", _layer_time),
    "time": ("time since the start", "min", lambda moves: moves.plan.t / 60),
    PLASTIC: ("plastic in the line of sight", "mm", lambda moves: np.empty(0)),
    ROLE: ("bead role", "", lambda moves: np.empty(0)),
}
