"""What a machine allows its motion: speed and acceleration of each axis, and the rule at corners.

A limit comes from the file where the file sets it (M201 M203 M204 M205, from its place on), else from the
case's printer, else from a default that says so. Lengths in mm, speeds in mm/s, accelerations in mm/s².

Limits are those of the head's axes x y z and of the filament e, whatever carries the head, unless the record
says that they are the motors' (`limits_of = "motors"`): then with two crossed belts (corexy) the x and y
limits are limits of the belts a = x + y and b = x − y, and on a delta whose rods and radius are on record
the x, y and z limits are limits of the three carriages. Otherwise carriages are assumed able to follow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import ORIGIN_WORDS, Facts
from beadwright.toolpath.columns import Events, FloatColumn, IntColumn, Toolpath

AXES = "xyze"
BEAD, TRAVEL, FILAMENT = 0, 1, 2  # columns of `Limits.accel`
HEAD, BELTS, TOWERS = 0, 1, 2  # values of `Limits.drive`

# Stated defaults: common practice for machines of this kind, no source. Infinite: the commanded value rules.
DEFAULT_MAX_SPEED = (np.inf, np.inf, 20.0, 80.0)
DEFAULT_MAX_ACCEL = (np.inf, np.inf, 300.0, 5000.0)
DEFAULT_ACCEL = (1500.0, 1500.0, 1500.0)
DEFAULT_JUNCTION_MM = 0.02
DEFAULT_CORNER_SPEED = (8.0, 8.0, 0.4, 5.0)  # used where a corner speed is named for some axes only
DEFAULT_WORDS = "default, common practice"


@dataclass(frozen=True)
class Limits:
    """Limits in rows, for few changes over many moves: row j rules moves `change[j]` … `change[j + 1]` − 1.

    Where `junction_mm` is NaN the per-axis `corner_speed` rules the corners, elsewhere the junction
    deviation.
    """

    change: IntColumn  # (k,) first move of each row, change[0] = 0
    max_speed: FloatColumn  # (k, 4) mm/s: x y z e
    max_accel: FloatColumn  # (k, 4) mm/s²
    accel: FloatColumn  # (k, 3) mm/s² along the path: beads, travels, filament alone
    junction_mm: FloatColumn  # (k,) mm, or NaN
    corner_speed: FloatColumn  # (k, 4) mm/s, largest sudden change of speed of each axis
    kinematics: str = "cartesian"
    axes: Literal["head", "motor"] = "head"  # what the x, y (and on a delta z) limits are limits of
    rod_mm: float = np.nan  # of a delta: length of its arms, joint to joint
    tower_radius_mm: float = np.nan  # and how far out an arm reaches, level, with the head in the middle
    centre_mm: tuple[float, float] = (0.0, 0.0)  # x, y midway between the towers, which stand at 90°, 210°, 330°
    lookahead_moves: int | None = None  # moves the machine knows at a time, that under way included; None: all
    min_move_s: float = 0.0  # the least time it takes for a move
    origins: Mapping[str, str] = field(default_factory=dict)  # limit -> where it came from, in words

    @classmethod
    def uniform(
        cls,
        accel: float | tuple[float, float, float] = DEFAULT_ACCEL,
        *,
        junction_mm: float | None = DEFAULT_JUNCTION_MM,
        corner_speed: tuple[float, float, float, float] = DEFAULT_CORNER_SPEED,
        max_speed: tuple[float, float, float, float] = DEFAULT_MAX_SPEED,
        max_accel: tuple[float, float, float, float] = DEFAULT_MAX_ACCEL,
        kinematics: str = "cartesian",
        axes: Literal["head", "motor"] = "head",
        **machine: Any,
    ) -> Limits:
        """Return the same limits for every move; `junction_mm=None` makes the corner speed rule.

        `machine` takes rod_mm, tower_radius_mm, centre_mm, lookahead_moves and min_move_s. Raises ValueError naming
        any limit that is not positive.
        """
        three = np.broadcast_to(np.asarray(accel, float), (3,))
        junction = np.nan if junction_mm is None else float(junction_mm)
        _require_positive(accel=three, corner_speed=corner_speed, max_speed=max_speed, max_accel=max_accel)
        if junction_mm is not None:
            _require_positive(junction_mm=(junction,))
        return cls(
            change=np.zeros(1, np.int32),
            max_speed=np.array([max_speed], float),
            max_accel=np.array([max_accel], float),
            accel=three[None, :].copy(),
            junction_mm=np.array([junction]),
            corner_speed=np.array([corner_speed], float),
            kinematics=kinematics,
            axes=axes,
            **machine,
        )

    @property
    def drive(self) -> int:
        """What the first three limits are limits of, as `plan_kernel` numbers it."""
        if self.axes == "motor" and self.kinematics == "corexy":
            return BELTS
        has_arms = self.rod_mm > 0 and self.tower_radius_mm > 0
        return TOWERS if self.axes == "motor" and self.kinematics == "delta" and has_arms else HEAD

    def row_of(self, moves: NDArray[np.integer]) -> NDArray[np.intp]:
        """Return the row that rules each of `moves`."""
        return np.searchsorted(self.change, moves, side="right") - 1


def _require_positive(**limits: object) -> None:
    for name, values in limits.items():
        if not np.all(np.asarray(values, float) > 0):
            raise ValueError(f"{name} must be positive, got {values}")


def limits_from(toolpath: Toolpath, facts: Facts | None = None) -> Limits:
    """Return the limits in force at each move of `toolpath`, with the origin of each.

    `facts` used: accel_mm_s2, junction_mm, corner_speed_mm_s, max_speed_mm_s (one number for x and y, or a
    tuple x y z e), kinematics; limits_of ("head" or "motors"), delta_rod_mm, delta_radius_mm, travel_mm and origin_mm
    (the delta's middle, else 0, 0); lookahead_moves, min_move_s. Values that are not positive are passed over.
    """
    events = toolpath.events
    base = _Base(facts or Facts())
    tables = (
        events.acceleration,
        events.travel_acceleration,
        events.retract_acceleration,
        events.axis_acceleration,
        events.axis_speed,
        events.corner,
    )
    change = np.unique(np.concatenate([[0], *(table.move for table in tables)])).astype(np.int32)
    origins = dict(base.origins)
    for name, table, word in (
        ("accel", events.acceleration, "M204"),
        ("max_accel", events.axis_acceleration, "M201"),
        ("max_speed", events.axis_speed, "M203"),
        ("corner", events.corner, "M205"),
    ):
        if len(table):
            origins[name] = f"file, line {table.line[0]}: {word}" + (" and later" if len(table) > 1 else "")
    return Limits(
        change=change,
        max_speed=_axes(events.axis_speed, change, base.max_speed),
        max_accel=_axes(events.axis_acceleration, change, base.max_accel),
        accel=_accel(toolpath, change, base.accel),
        junction_mm=_junction(events.corner, change, base.junction_mm),
        corner_speed=_axes(events.corner, change, base.corner_speed),
        kinematics=base.kinematics,
        axes=base.axes,
        rod_mm=base.rod_mm,
        tower_radius_mm=base.tower_radius_mm,
        centre_mm=base.centre_mm,
        lookahead_moves=base.lookahead_moves,
        min_move_s=base.min_move_s,
        origins=origins,
    )


class _Base:
    """Limits before the file says anything: from the facts, else the defaults."""

    def __init__(self, facts: Facts) -> None:
        self.origins = dict.fromkeys(("accel", "max_accel", "max_speed", "corner"), DEFAULT_WORDS)
        self.max_accel = DEFAULT_MAX_ACCEL
        self.max_speed = self._speeds(facts)
        accel = self._positive(facts, "accel_mm_s2", "accel")
        self.accel = DEFAULT_ACCEL if accel is None else (accel, accel, accel)
        self._corners(facts)
        self.kinematics = facts.text("kinematics") or "cartesian"
        if self.kinematics == "delta":  # three like towers: z is no slower than x and y
            self.max_speed = (*self.max_speed[:2], max(self.max_speed[:3]), self.max_speed[3])
            self.max_accel = (*self.max_accel[:2], np.inf, self.max_accel[3])
        self._drives(facts)
        self._queue(facts)

    def _drives(self, facts: Facts) -> None:
        """What the limits are limits of; a delta's arms and middle."""
        self.axes: Literal["head", "motor"] = "motor" if facts.text("limits_of") == "motors" else "head"
        rod, radius = (self._positive(facts, name, "arms") for name in ("delta_rod_mm", "delta_radius_mm"))
        self.rod_mm, self.tower_radius_mm = rod or np.nan, radius or np.nan
        self.centre_mm = (0.0, 0.0)
        travel, origin = facts.best("travel_mm"), facts.best("origin_mm")
        if travel and origin and isinstance(travel.value, tuple) and isinstance(origin.value, tuple):
            middle = [low + 0.5 * span for low, span in zip(origin.value[:2], travel.value[:2], strict=True)]
            self.centre_mm = middle[0], middle[1]
        drive = {BELTS: "the belts", TOWERS: "the carriages"}.get(
            Limits.uniform(kinematics=self.kinematics, axes=self.axes, rod_mm=self.rod_mm,
                           tower_radius_mm=self.tower_radius_mm).drive, "the head")  # fmt: skip
        self.origins["limits"] = f"taken as those of {drive}"

    def _queue(self, facts: Facts) -> None:
        """How much the machine knows ahead, and how long it takes for a move at least."""
        self.origins["lookahead"] = "taken as knowing all moves ahead"
        known = self._positive(facts, "lookahead_moves", "lookahead")
        self.lookahead_moves = None if known is None else max(int(min(known, 2**31)), 1)
        self.min_move_s = self._positive(facts, "min_move_s", "min_move") or 0.0

    def _positive(self, facts: Facts, name: str, limit: str) -> float | None:
        value = facts.number(name)
        if value is None or not value > 0:
            return None
        fact = facts.best(name)
        assert fact is not None
        self.origins[limit] = f"{name} = {value:g}, {fact.where or ORIGIN_WORDS[fact.origin]}"
        return value

    def _speeds(self, facts: Facts) -> tuple[float, float, float, float]:
        fact = facts.best("max_speed_mm_s")
        speeds = list(DEFAULT_MAX_SPEED)
        if fact is None or isinstance(fact.value, str):
            return DEFAULT_MAX_SPEED
        given = fact.value if isinstance(fact.value, tuple) else (fact.value, fact.value)
        for axis, value in enumerate(given[:4]):
            if value > 0:
                speeds[axis] = float(value)
        self.origins["max_speed"] = f"max_speed_mm_s, {fact.where or ORIGIN_WORDS[fact.origin]}"
        return speeds[0], speeds[1], speeds[2], speeds[3]

    def _corners(self, facts: Facts) -> None:
        self.corner_speed = DEFAULT_CORNER_SPEED
        corner = self._positive(facts, "corner_speed_mm_s", "corner")
        if corner is not None:
            self.corner_speed = (corner, corner, *DEFAULT_CORNER_SPEED[2:])
        junction = self._positive(facts, "junction_mm", "corner")  # the finer statement wins
        if junction is not None:
            self.junction_mm = junction
        else:
            self.junction_mm = DEFAULT_JUNCTION_MM if corner is None else np.nan


def _last(table: Events, change: IntColumn, key: int | None) -> tuple[NDArray[np.bool_], FloatColumn, IntColumn]:
    """Whether a value of `key` is in force at each change, that value, and the order in which it was said."""
    keep = np.flatnonzero((table.value > 0) & (True if key is None else table.tool == key))
    index = np.searchsorted(table.move[keep], change, side="right") - 1
    said = index >= 0
    if not len(keep):
        return said, np.full(len(change), np.nan), np.full(len(change), -1, np.int32)
    index = np.maximum(index, 0)
    return said, table.value[keep][index], np.where(said, keep[index], -1).astype(np.int32)


def _axes(table: Events, change: IntColumn, base: tuple[float, ...]) -> FloatColumn:
    columns = []
    for axis, start in enumerate(base):
        said, value, _ = _last(table, change, axis)
        columns.append(np.where(said, value, start))
    return np.column_stack(columns)


def _accel(toolpath: Toolpath, change: IntColumn, base: tuple[float, ...]) -> FloatColumn:
    events = toolpath.events
    tables = (events.acceleration, events.travel_acceleration, events.retract_acceleration)
    columns = []
    for table, start in zip(tables, base, strict=True):
        said, value, _ = _last(table, change, None)
        columns.append(np.where(said, value, start))
    return np.column_stack(columns)


def _junction(table: Events, change: IntColumn, base: float) -> FloatColumn:
    """The rule named last wins: a junction deviation, or a corner speed of x or y (then NaN)."""
    said, value, order = _last(table, change, 4)
    axis_order = np.maximum(_last(table, change, 0)[2], _last(table, change, 1)[2])
    out = np.where(said, value, base)
    out[axis_order > order] = np.nan
    return out
