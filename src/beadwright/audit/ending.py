"""Does the file end as a print ends, or in the middle of one?"""

from __future__ import annotations

import numpy as np

from .found import Clerk
from .moves import Moves

PARTING_RISE_MM = 2.0  # a head that leaves a finished print rises more than any lift between beads


def note_ending(clerk: Clerk) -> None:
    """Write down file_ends_abruptly."""
    clerk.note("file_ends_abruptly", ends_abruptly(clerk.moves), clerk.at_move(len(clerk.moves) - 1))


def ends_abruptly(moves: Moves) -> bool:
    """Whether the file stops in mid-print.

    It does when the last line stops inside a word, or when the nozzle is still set hot at the end and nothing
    after the last bead looks like an ending: no heater or fan word, no rise beyond a lift, no word that we
    did not understand (a machine's own ending, perhaps).
    """
    path = moves.toolpath
    if path.truncated:
        return True
    nozzle = path.events.nozzle_c
    if not len(nozzle) or nozzle.value[-1] <= 0:
        return False
    last_bead = int(np.flatnonzero(path.is_bead)[-1])
    rise = float(path.z[last_bead:].max() - path.z[last_bead])
    words_after = any(
        len(table) and table.move[-1] > last_bead for table in (nozzle, path.events.bed_c, path.events.fan_percent)
    )
    answered = any(problem.line > path.line[last_bead] for problem in path.problems)
    return not (rise > PARTING_RISE_MM or words_after or answered)
