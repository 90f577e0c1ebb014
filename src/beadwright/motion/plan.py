"""When the head is where: trapezoidal speed profiles with look-ahead at corners, not length ÷ feed.

Each move speeds up, cruises, slows down. The speed at which a corner may be passed comes from the junction
deviation

    v = sqrt(a δ s / (1 − s)),  s = sin(θ/2),  θ the angle between the two segments (180° = straight on)

(a circle tangent to both segments that misses the corner by δ, passed at centripetal acceleration a), or
from the largest sudden change of speed each axis allows. On curves made of short chords the radius through
the chords sets a further limit, v² ≤ a r. Not modelled: limited jerk, a queue that runs dry, the machine's
own rounding of steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadwright.motion.limits import Limits
from beadwright.toolpath.columns import FloatColumn, Toolpath

Float32Column = NDArray[np.float32]


@dataclass(frozen=True)
class Plan:
    """Times and speeds of n moves. A move of filament alone has its filament's length and speed."""

    t: FloatColumn  # (n,) float64, s, end of each move
    v: Float32Column  # (n + 1,) mm/s, speed at the start of each move and at the end of the last
    v_peak: Float32Column  # (n,) mm/s
    accel: Float32Column  # (n,) mm/s², of speeding up and of slowing down
    length: Float32Column  # (n,) mm
    waits: FloatColumn  # (m, 2): move index, seconds of G4 spent standing just before it
    toolpath: Toolpath

    @property
    def v_in(self) -> Float32Column:
        return self.v[:-1]

    @property
    def v_out(self) -> Float32Column:
        return self.v[1:]

    @property
    def duration(self) -> float:
        """Seconds from the first move to the end of the last. Waiting for heat is not included: no file
        knows it.
        """
        after = self.waits[self.waits[:, 0] >= len(self.t), 1].sum()
        return float((self.t[-1] if len(self.t) else 0.0) + after)

    @property
    def seconds(self) -> FloatColumn:
        """Time of each move, s, `(n,)`, with any wait before it."""
        return np.diff(self.t, prepend=0.0)

    def position_at(self, times: ArrayLike) -> FloatColumn:
        """Return x, y, z [mm] at `times` [s], `(…, 3)`; NaN outside 0 … `duration`."""
        path = self.toolpath
        move, run, inside = self._within(times)
        share = np.clip(run / np.maximum(self.length[move], 1e-12), 0.0, 1.0)
        out = np.empty((*np.shape(times), 3))
        for axis, column in enumerate((path.x, path.y, path.z)):
            begin = np.where(move > 0, column[np.maximum(move - 1, 0)], path.start[axis])
            out[..., axis] = np.where(inside, begin + share * (column[move] - begin), np.nan)
        return out

    def speed_at(self, times: ArrayLike) -> FloatColumn:
        """Return the speed along the path [mm/s] at `times` [s]; of the filament where the head stands."""
        move, tau, inside = self._local(times)
        v0, v1, peak, accel = self._profile(move)
        fall = self._moving_time(move) - tau
        speed = np.minimum(np.minimum(v0 + accel * np.maximum(tau, 0), v1 + accel * np.maximum(fall, 0)), peak)
        return np.where(inside, np.where(tau < 0, 0.0, speed), np.nan)

    def _profile(self, move: NDArray[np.intp]) -> tuple[FloatColumn, FloatColumn, FloatColumn, FloatColumn]:
        columns = (self.v[move], self.v[move + 1], self.v_peak[move], self.accel[move])
        v0, v1, peak, accel = (np.asarray(column, np.float64) for column in columns)
        return v0, v1, peak, accel

    def _moving_time(self, move: NDArray[np.intp]) -> FloatColumn:
        begin = np.where(move > 0, self.t[np.maximum(move - 1, 0)], 0.0)
        out: FloatColumn = self.t[move] - begin - self._wait_before(move)
        return out

    def _wait_before(self, move: NDArray[np.intp]) -> FloatColumn:
        """Seconds stood before each of `move`; waits are few, one entry a move."""
        if not len(self.waits):
            return np.zeros(np.shape(move))
        at = np.minimum(np.searchsorted(self.waits[:, 0], move), len(self.waits) - 1)
        return np.where(self.waits[at, 0] == move, self.waits[at, 1], 0.0)

    def _local(self, times: ArrayLike) -> tuple[NDArray[np.intp], FloatColumn, NDArray[np.bool_]]:
        """The move in progress, the seconds since it began to go (negative in a wait), and whether within
        the print.
        """
        times = np.asarray(times, np.float64)
        inside = (times >= 0) & (times <= self.duration) & (len(self.t) > 0)
        move = np.minimum(np.searchsorted(self.t, np.where(inside, times, 0.0)), len(self.t) - 1)
        begin = np.where(move > 0, self.t[np.maximum(move - 1, 0)], 0.0)
        return move, times - begin - self._wait_before(move), inside

    def _within(self, times: ArrayLike) -> tuple[NDArray[np.intp], FloatColumn, NDArray[np.bool_]]:
        """As `_local`, with the path run since the move began instead of the seconds."""
        move, tau, inside = self._local(times)
        v0, v1, peak, accel = self._profile(move)
        total = self._moving_time(move)
        tau = np.clip(tau, 0.0, total)
        up, down = (peak - v0) / accel, (peak - v1) / accel
        rising = np.minimum(tau, up)
        falling = np.maximum(tau - (total - down), 0.0)
        level = np.maximum(tau - rising - falling, 0.0)
        run = v0 * rising + accel * rising**2 / 2 + peak * level + peak * falling - accel * falling**2 / 2
        return move, run, inside


def plan(toolpath: Toolpath, limits: Limits) -> Plan:
    """Return the motion of `toolpath` under `limits`.

    The head stops at the first and last move, before and after moves of filament alone, at dwells (G4,
    whose time is included), pauses, waits for heat and tool changes. Where a corner speed rules, a stop too
    is that sudden. Moves that go nowhere are passed through at speed. A feed of 0 or NaN with length to go
    is taken as 0.1 mm/s, so that time stays finite. How long the machine waits for heat or for a person is
    not known and not included; `Timeline.unknown_waits` says where it does.
    """
    from beadwright.motion.plan_kernel import cap_moves, plan_moves, stop_within

    events = toolpath.events
    waits = _merge(events.dwell_s.move, events.dwell_s.value)
    halts = (events.pause, events.tool_change, events.heat_wait)
    stops = np.unique(np.concatenate([waits[:, 0], *(table.move for table in halts)])).astype(np.int64)
    feed = np.where(toolpath.feed > 0, toolpath.feed, np.float32(0.1)) if _has_bad(toolpath) else toolpath.feed
    length, accel, top, entry = cap_moves(
        toolpath.x,
        toolpath.y,
        toolpath.z,
        toolpath.e,
        feed,
        toolpath.kind,
        toolpath.tool,
        toolpath.start,
        limits.change,
        limits.max_speed,
        limits.max_accel,
        limits.accel,
        limits.junction_mm,
        limits.corner_speed,
        limits.drive,
        np.array([limits.rod_mm, limits.tower_radius_mm, *limits.centre_mm]),
        limits.min_move_s,
        stops,
    )
    if limits.lookahead_moves is not None:
        stop_within(length, accel, entry, limits.lookahead_moves)
    t = plan_moves(length, accel, top, entry, waits)
    return Plan(t=t, v=entry, v_peak=top, accel=accel, length=length, waits=waits, toolpath=toolpath)


def _has_bad(toolpath: Toolpath) -> bool:
    return len(toolpath) > 0 and not bool(toolpath.feed.min() > 0)


def _merge(move: NDArray[np.int32], seconds: FloatColumn) -> FloatColumn:
    """One row a move, in order; seconds that are not positive dropped."""
    keep = seconds > 0
    index, inverse = np.unique(move[keep], return_inverse=True)
    return np.column_stack([index.astype(np.float64), np.bincount(inverse, seconds[keep], len(index))])
