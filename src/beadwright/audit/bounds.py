"""Do head and beads stay inside the machine?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import Facts

from .found import Clerk
from .moves import FloatColumn

ROUNDING_MM = 0.01  # words in a file carry two or three decimals


def note_outside(clerk: Clerk, machine: Facts) -> None:
    """Write down moves_outside_mm, the largest excess; nothing where the machine's travel is not known."""
    travel = machine.best("travel_mm")
    if travel is None or not isinstance(travel.value, tuple) or len(travel.value) < 2:
        return
    over = excess(clerk, travel.value, machine)
    if clerk.moves.bead.any():
        beads = np.where(clerk.moves.bead, over, 0.0)
        far = int(np.argmax(beads))
        clerk.note("beads_outside_mm", float(beads[far]) if beads[far] > ROUNDING_MM else 0.0, clerk.at_move(far))
    if len(travel.value) > 2:
        highest = int(np.argmax(clerk.moves.toolpath.z))
        above = float(clerk.moves.toolpath.z[highest]) - travel.value[2]
        clerk.note("above_machine_mm", above if above > ROUNDING_MM else 0.0, clerk.at_move(highest))
    worst = int(np.argmax(over))
    clerk.note("moves_outside_mm", float(over[worst]) if over[worst] > ROUNDING_MM else 0.0, clerk.at_move(worst))


def excess(clerk: Clerk, travel: tuple[float, ...], machine: Facts) -> FloatColumn:
    """How far each move's end lies outside, (n,) mm, 0 inside.

    A delta's plate is round about the origin, `travel[0]` its diameter; others are a box from `origin_mm` (0,
    0).
    """
    path = clerk.moves.toolpath
    if machine.text("kinematics") == "delta":
        sideways: NDArray[np.float64] = np.hypot(path.x, path.y) - travel[0] / 2
    else:
        origin = machine.best("origin_mm")
        corner = origin.value if origin is not None and isinstance(origin.value, tuple) else (0.0, 0.0)
        pairs = ((path.x, corner[0], travel[0]), (path.y, corner[1], travel[1]))
        sideways = np.maximum.reduce([np.maximum(low - v, v - low - size) for v, low, size in pairs])
    if len(travel) > 2:
        sideways = np.maximum(sideways, path.z - travel[2])
    return np.maximum(np.maximum(sideways, -path.z), 0.0)
