"""Facts about heat: nozzle, bed, chamber and part fan, as set while beads are laid."""

from __future__ import annotations

import numpy as np

from beadwright.toolpath.columns import Events

from .found import Clerk
from .history import for_tool, held, part_fan, prevailing
from .moves import FloatColumn, Moves

FAN_SETTLED_FROM = 3  # layers a fan is commonly ramped over; its working value is read above them


def note_heat(clerk: Clerk) -> None:
    """Write down nozzle_temp_c, bed_temp_c, chamber_temp_c, fan_percent, their first-layer twins, and cold
    feeding.
    """
    moves = clerk.moves
    last = moves.layer_count - 1
    first, rest = _bead_seconds(moves, 0, 0), _bead_seconds(moves, 1, last)
    settled = min(FAN_SETTLED_FROM, last)
    events = moves.toolpath.events
    nozzle = for_tool(events.nozzle_c, moves, _main_tool(moves))
    fan = part_fan(events.fan_percent)
    first_where, rest_where = clerk.layers(0, 0), clerk.layers(min(1, last), last)
    for name, table in (("nozzle_temp_c", nozzle), ("bed_temp_c", events.bed_c)):
        clerk.note(f"first_layer_{name}", prevailing(table, first), first_where)
        clerk.note(name, prevailing(table, rest if rest.any() else first), rest_where)
    clerk.note("chamber_temp_c", prevailing(events.chamber_c, rest), rest_where)
    clerk.note("first_layer_fan_percent", prevailing(fan, first, 0.0), first_where)
    if last > 0:
        seconds = _bead_seconds(moves, settled, last)
        clerk.note("fan_percent", prevailing(fan, seconds, 0.0), clerk.layers(settled, last))
    _note_cold(clerk)


def _bead_seconds(moves: Moves, first: int, last: int) -> FloatColumn:
    """Seconds of beads in layers first … last, (n,); 0 for other moves."""
    index = np.asarray(moves.layers.index)
    return np.where(moves.bead & (index >= first) & (index <= last), moves.going, 0.0)


def _main_tool(moves: Moves) -> int:
    """The tool that lays most plastic."""
    return int(np.argmax(np.bincount(moves.toolpath.tool, moves.volume))) if len(moves) else 0


def _note_cold(clerk: Clerk) -> None:
    """Write down the lowest temperature set while plastic is fed, and whether plate and nozzle were set
    before it.
    """
    moves = clerk.moves
    events = moves.toolpath.events
    first_bead = int(np.argmax(moves.bead))
    where = clerk.at_move(first_bead)
    clerk.note("nozzle_never_heated", not _any_heat(events.nozzle_c, len(moves)), where)
    clerk.note("bed_off_at_start", not _any_heat(events.bed_c, first_bead), where)
    start_unknown = sum(p.count for p in moves.toolpath.problems if p.line <= moves.toolpath.line[first_bead])
    clerk.note("start_not_understood", start_unknown, where)
    coldest = (np.inf, 0)
    for tool in np.unique(moves.toolpath.tool):
        fed = np.where((moves.toolpath.tool == tool) & moves.bead, moves.going, 0.0)
        values, span, lines = held(for_tool(events.nozzle_c, moves, int(tool)), fed)
        for value, line in zip(values[span > 0].tolist(), lines[span > 0].tolist(), strict=True):
            if np.isfinite(value) and value < coldest[0]:
                coldest = (value, line)
    if np.isfinite(coldest[0]):
        move = int(np.searchsorted(moves.toolpath.line, coldest[1]))
        clerk.note("coldest_feed_c", coldest[0], clerk.at_move(min(move, len(moves) - 1)))


def _any_heat(events: Events, until: int) -> bool:
    """True when a temperature above 0 is in force at some move up to `until`."""
    return bool(((events.move <= until) & (events.value > 0)).any())
