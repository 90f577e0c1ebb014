"""Does the file end as a print ends, or in the middle of one?"""

from __future__ import annotations

import numpy as np

from beadwright.toolpath.columns import Events, Kind

from .found import Clerk
from .moves import Moves


def note_ending(clerk: Clerk) -> None:
    """Write down file_ends_abruptly.

    It does when the last line stops inside a word, or when the very last move is a bead, the nozzle is still
    set hot, and no word that we did not understand (a machine's own ending, perhaps) follows.
    """
    moves = clerk.moves
    last = len(moves) - 1
    clerk.note("file_ends_abruptly", ends_abruptly(moves), clerk.at_move(last))


def ends_abruptly(moves: Moves) -> bool:
    """See `note_ending`."""
    path = moves.toolpath
    if path.truncated:
        return True
    last_line = int(path.line[-1])
    answered = any(problem.line > last_line for problem in path.problems)
    return bool(path.kind[-1] == Kind.BEAD and _left_on(path.events.nozzle_c) and not answered)


def _left_on(events: Events) -> bool:
    return bool(len(events) and np.asarray(events.value)[-1] > 0)
