"""Facts that need to know what each bead is for: widths and flow by role, speeds of contours, walls, foothold, support,
overhangs, bridges, the seam.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import Facts
from beadwright.toolpath.roles_model import Role, Roles

from .contours import Contours, hold_contours
from .found import Clerk
from .history import part_fan, prevailing, value_at
from .moves import FloatColumn, Moves
from .shell_count import interleaved

PART = (Role.OUTER, Role.INNER, Role.SOLID, Role.SPARSE, Role.BRIDGE)
NAMED = {"outer": Role.OUTER, "inner": Role.INNER, "solid": Role.SOLID, "sparse": Role.SPARSE, "support": Role.SUPPORT}
LEAST_MM = 20.0  # of bead, in a layer, before its mean width is taken
SCATTERED_MM = 2.0
SEAM_STARTS = 64  # of one layer, that are looked at
ALIGNED = 0.9  # mean resultant length from which the seam has a side
FOOT_LAYERS = 3


@dataclass(frozen=True)
class ByRole:
    """What beads of each role add up to, layer by layer; columns as `Role` numbers them."""

    moves: Moves
    roles: Roles
    length_mm: FloatColumn  # (k, 11)
    volume_mm3: FloatColumn
    speed_mm_s: FloatColumn  # mean commanded, by length; NaN without beads
    seconds: FloatColumn
    chains: NDArray[np.int32]  # (k, 11)
    outer_starts: NDArray[np.int32]  # first bead of each outer contour
    speeds: NDArray[np.float32]  # (2, 11, bins) length by commanded speed, first layer apart
    contours: Contours | None

    @cached_property
    def width_mm(self) -> FloatColumn:
        """Mean bead width by layer and role from filament, path and layer height, (k, 11); NaN for little bead.

        The stadium inverted: A = (w − h) h + π h²/4.
        """
        height = np.asarray(self.roles.height_mm, float)[:, None]
        section = self.section_mm2
        width: FloatColumn = section / height + height * (1 - math.pi / 4)
        return width

    @cached_property
    def section_mm2(self) -> FloatColumn:
        """Mean bead section by layer and role, (k, 11); NaN where there is little bead."""
        out = np.full(self.length_mm.shape, np.nan)
        np.divide(self.volume_mm3, self.length_mm, out=out, where=self.length_mm > LEAST_MM)
        return out

    def typical(self, values: FloatColumn, role: Role, first: int = 1) -> float:
        """Median of a column by bead length, over layers from `first` on; NaN without."""
        column, weight = values[first:, role], self.length_mm[first:, role]
        known = np.isfinite(column)
        if not known.any():
            return math.nan
        order = np.argsort(column[known])
        running = np.cumsum(weight[known][order])
        return float(column[known][order][np.searchsorted(running, 0.5 * running[-1])])

    @property
    def heights(self) -> FloatColumn:
        """Layer height, the same for each role, (k, 11) mm."""
        return np.broadcast_to(np.asarray(self.roles.height_mm, float)[:, None], self.length_mm.shape)

    def layers_with(self, role: Role) -> NDArray[np.int64]:
        return np.flatnonzero(self.length_mm[:, role] > 0)


def by_role(moves: Moves, roles: Roles) -> ByRole:
    """Sum up beads by role, and hold contours against what lies below them."""
    from .role_kernels import LENGTH, SECONDS, SPEED, VOLUME, count_loops, sum_by_role

    path, layer = moves.toolpath, moves.layer
    sums, speeds = sum_by_role(roles.role, layer, moves.length, moves.volume, path.feed, moves.going, moves.layer_count)
    chains, starts = count_loops(roles.role, layer, roles.chain, path.x, path.y, path.start, moves.layer_count)
    mean = np.full(sums.shape[:2], np.nan)
    np.divide(sums[..., SPEED], sums[..., LENGTH], out=mean, where=sums[..., LENGTH] > 0)
    return ByRole(
        moves, roles, sums[..., LENGTH], sums[..., VOLUME], mean, sums[..., SECONDS], chains, starts, speeds,
        hold_contours(moves, roles),
    )  # fmt: skip


def note_roles(clerk: Clerk, found: ByRole, known: Facts) -> None:
    """Write down every fact that needs roles."""
    _note_widths(clerk, found, known)
    _note_speeds(clerk, found)
    _note_walls(clerk, found)
    _note_foot(clerk, found)
    _note_support(clerk, found)
    _note_seam(clerk, found)
    _note_open_travels(clerk, found)
    if found.contours is not None:
        _note_overhang(clerk, found, found.contours)
        _note_bridges(clerk, found, found.contours)
        _note_sections(clerk, found, found.contours)


def _span(clerk: Clerk, layers: NDArray[np.int64], first: int = 0) -> tuple[int, int] | None:
    layers = layers[layers >= first]
    return (int(layers[0]), int(layers[-1])) if len(layers) else None


def _note_widths(clerk: Clerk, found: ByRole, known: Facts) -> None:
    """Bead width and flow by role: the section measured against that of a bead as wide as is claimed, or typical."""
    last = len(found.length_mm) - 1
    first = min(1, last)
    height = np.asarray(found.roles.height_mm, float)[:, None]
    nominal = known.number("line_width_mm") or found.roles.bead_width_mm
    stadium = np.maximum((nominal - height) * height + math.pi * height**2 / 4, 1e-6)
    for word, role in NAMED.items():
        span = _span(clerk, found.layers_with(role), first)
        if span is None:
            continue
        where = clerk.layers(*span)
        clerk.note(f"{word}_width_mm", found.typical(found.width_mm, role, first), where)
        clerk.note(f"{word}_flow_percent", 100 * found.typical(found.section_mm2 / stadium, role, first), where)
    part = [int(role) for role in PART]
    if found.length_mm[0, part].sum() > LEAST_MM:
        section = found.volume_mm3[0, part].sum() / found.length_mm[0, part].sum()
        clerk.note("first_layer_flow_percent", float(100 * section / stadium[0, 0]), clerk.layers(0, 0))


def _speed(found: ByRole, role: Role, row: int) -> float:
    """Median commanded speed by length, mm/s; NaN without beads."""
    from .role_kernels import SPEED_STEP

    running = np.cumsum(found.speeds[row, role], dtype=np.float64)
    if not running[-1] > 0:
        return math.nan
    return round(float(np.searchsorted(running, 0.5 * running[-1])) * SPEED_STEP, 3)


def _note_speeds(clerk: Clerk, found: ByRole) -> None:
    moves, last = clerk.moves, len(found.length_mm) - 1
    row, first = (1, 1) if last else (0, 0)
    for word, role in (
        ("outer", Role.OUTER),
        ("inner", Role.INNER),
        ("support", Role.SUPPORT),
        ("sparse", Role.SPARSE),
    ):
        span = _span(clerk, found.layers_with(role), first)
        if span is not None:
            clerk.note(f"{word}_speed_mm_s", _speed(found, role, row), clerk.layers(*span))
    acceleration = moves.toolpath.events.acceleration
    if len(acceleration) and last:
        outer = np.where((found.roles.role == Role.OUTER) & (moves.layer > 0), moves.going, np.float32(0))
        clerk.note("outer_accel_mm_s2", prevailing(acceleration, outer), clerk.layers(1, last))
    flow = np.full(found.volume_mm3.shape, np.nan)
    np.divide(found.volume_mm3, found.seconds, out=flow, where=found.length_mm > LEAST_MM)
    with np.errstate(invalid="ignore"):
        busy = np.nanmax(flow[first:, [Role.INNER, Role.SOLID, Role.SPARSE]], axis=1, initial=0.0)
        ratio = np.nan_to_num(busy / flow[first:, Role.OUTER])
    if len(ratio):
        worst = int(np.argmax(ratio))
        clerk.note("flow_step_ratio", float(ratio[worst]), clerk.layers(worst + first, worst + first))
    _note_outer_steps(clerk, found)


def _note_outer_steps(clerk: Clerk, found: ByRole) -> None:
    """How often the outer contour's speed steps by two fifths from one layer to the next, above the second layer."""
    speed = np.where(found.length_mm[:, Role.OUTER] > LEAST_MM, found.speed_mm_s[:, Role.OUTER], np.nan)[2:]
    if len(speed) < 4:
        return
    with np.errstate(invalid="ignore"):
        ratio = np.maximum(speed[1:] / speed[:-1], speed[:-1] / speed[1:])
    steps = np.flatnonzero(ratio > 1.4) + 3
    clerk.note("outer_speed_steps", len(steps), clerk.layers(int(steps[0]), int(steps[-1])) if len(steps) else None)


def _note_walls(clerk: Clerk, found: ByRole) -> None:
    """Beads per wall, and outer beads far narrower than the bore would lay."""
    chains, last = found.chains, len(found.chains) - 1
    outer, inner = chains[:, Role.OUTER], chains[:, Role.INNER]
    with_outer = np.flatnonzero(outer > 0)
    if not len(with_outer):
        return
    where = clerk.layers(int(with_outer[0]), int(with_outer[-1]))
    clerk.note("wall_lines", int(1 + np.floor(np.median(inner[with_outer] / outer[with_outer]) + 0.5)), where)
    width, typical = found.roles.width_mm, found.roles.bead_width_mm
    chosen = (found.roles.role == Role.OUTER) & clerk.moves.bead
    length = np.where(chosen, clerk.moves.length, 0)
    total = float(length.sum(dtype=np.float64))
    if total > LEAST_MM and last > 0:
        narrow = chosen & (width < 0.65 * typical)
        share = float(length[narrow].sum(dtype=np.float64)) / total
        at = np.flatnonzero(narrow)
        place = clerk.layers(*_ends(clerk.moves.layer[at])) if len(at) else where
        clerk.note("narrow_wall_percent", round(100 * share, 3), place)


def _ends(layer: NDArray[np.int32]) -> tuple[int, int]:
    return int(layer.min()), int(layer.max())


def _note_foot(clerk: Clerk, found: ByRole) -> None:
    """What holds on to the plate: part, brim or raft; never the skirt."""
    first, height = found.volume_mm3[0], float(found.roles.height_mm[0])
    part = [int(role) for role in PART]
    place = clerk.layers(0, 0)
    foot = float(first[part].sum() + first[Role.BRIM] + first[Role.RAFT])
    if foot > 0 and height > 0:
        clerk.note("contact_area_mm2", foot / height, place)
        top = float(np.max(clerk.moves.layers.z_mm))
        clerk.note("slenderness", top / math.sqrt(foot / height), clerk.layers(0, len(found.length_mm) - 1))
    clerk.note("skirt_loops", int(found.chains[0, Role.SKIRT]), place)
    clerk.note("brim_mm", float(found.chains[0, Role.BRIM] and _brim_width(found)), place)
    raft = found.layers_with(Role.RAFT)
    clerk.note("raft_layers", len(raft), clerk.layers(int(raft[0]), int(raft[-1])) if len(raft) else None)
    moves = clerk.moves
    model = np.flatnonzero(np.isin(found.roles.role, part) & moves.bead)
    if len(model):
        fed = float(moves.deposited[: int(model[0])].sum(dtype=np.float64))
        clerk.note("primed_mm", fed, clerk.at_move(int(model[0])))
    tower = found.layers_with(Role.WIPE_TOWER)
    clerk.note("wipe_tower", bool(len(tower)), clerk.layers(int(tower[0]), int(tower[-1])) if len(tower) else None)
    _note_changes_primed(clerk, np.isin(found.roles.role, part))


def _brim_width(found: ByRole) -> float:
    """Width of the brim, mm: its beads' area over the part's outline in the first layer."""
    outline = found.length_mm[0, Role.OUTER]
    if not outline > 0:
        return float(found.roles.bead_width_mm * found.chains[0, Role.BRIM])
    loops = max(1.0, found.chains[0, Role.BRIM] / max(found.chains[0, Role.OUTER], 1))
    return float(round(loops) * found.roles.bead_width_mm)


def _note_changes_primed(clerk: Clerk, is_part: NDArray[np.bool_]) -> None:
    """Least filament fed after a change of tool before the part is gone on with."""
    moves = clerk.moves
    change = moves.toolpath.events.tool_change.move.astype(np.int64)
    model = np.flatnonzero(is_part & moves.bead)
    change = change[(change > 0) & (change < len(moves))]
    if not len(change) or not len(model):
        return
    after = np.searchsorted(model, change)
    change, after = change[after < len(model)], after[after < len(model)]
    if not len(change):
        return
    running = np.concatenate([[0.0], np.cumsum(moves.deposited, dtype=np.float64)])
    fed = running[model[after]] - running[change]
    worst = int(np.argmin(fed))
    clerk.note("primed_after_change_mm", float(fed[worst]), clerk.at_move(int(change[worst])))


def _note_support(clerk: Clerk, found: ByRole) -> None:
    layers = found.layers_with(Role.SUPPORT)
    clerk.note("support_layers", len(layers), clerk.layers(int(layers[0]), int(layers[-1])) if len(layers) else None)
    contours = found.contours
    if contours is None:
        return
    clerk.note("raft_gap_mm", contours.raft_gap_mm, clerk.layers(0, 0))
    if not len(layers):
        return
    where = clerk.layers(int(layers[0]), int(layers[-1]))
    clerk.note("support_gap_mm", contours.support_gap_mm, where, u=0.01)
    beside = contours.support_aside_mm[np.isfinite(contours.support_aside_mm)]
    if len(beside):
        clerk.note("support_gap_xy_mm", float(np.median(beside)), where, u=0.02)


def _note_overhang(clerk: Clerk, found: ByRole, contours: Contours) -> None:
    """Shares of the outer contour by its angle, the worst layer, and pieces laid in mid-air."""
    total = contours.outer_mm.sum()
    if not total > LEAST_MM:
        return
    steep = np.flatnonzero(contours.over_60_mm > 1.0)
    place = clerk.layers(int(steep[0]), int(steep[-1])) if len(steep) else None
    slanting = np.flatnonzero(contours.over_45_mm > 1.0)
    wide = clerk.layers(int(slanting[0]), int(slanting[-1])) if len(slanting) else None
    clerk.note("overhang_45_percent", float(100 * contours.over_45_mm.sum() / total), wide)
    clerk.note("overhang_60_percent", float(100 * contours.over_60_mm.sum() / total), place)
    worst = int(np.argmax(contours.in_air_mm))
    clerk.note("contour_in_air_mm", float(contours.in_air_mm[worst]), clerk.layers(worst, worst))
    floating = np.flatnonzero(contours.islands_in_air)
    clerk.note(
        "islands_in_air", int(contours.islands_in_air.sum()),
        clerk.layers(int(floating[0]), int(floating[-1])) if len(floating) else None,
    )  # fmt: skip


def _note_bridges(clerk: Clerk, found: ByRole, contours: Contours) -> None:
    """The longest span over air, and how fast and how cool the beads with one are laid."""
    worst = int(np.argmax(contours.span_mm))
    longest = float(contours.span_mm[worst])
    clerk.note("bridge_span_mm", longest, clerk.layers(worst, worst) if longest else None)
    at = np.flatnonzero(contours.bead_span_mm > SCATTERED_MM)
    if not len(at):
        return
    where = clerk.layers(*_ends(clerk.moves.layer[at]))
    longest_at = at[np.argsort(-contours.bead_span_mm[at], kind="stable")[:200]]
    clerk.note("bridge_speed_mm_s", float(np.median(clerk.moves.toolpath.feed[longest_at])), where)
    fan = value_at(part_fan(clerk.moves.toolpath.events.fan_percent), longest_at, before=0.0)
    clerk.note("bridge_fan_percent", float(np.median(fan)), where)


def _note_sections(clerk: Clerk, found: ByRole, contours: Contours) -> None:
    """The thinnest neck for what stands on it: height above a layer over the root of the layer's area."""
    z = np.asarray(clerk.moves.layers.z_mm, float)
    area = contours.area_mm2
    if not (area > 1.0).any():
        return
    with np.errstate(divide="ignore", invalid="ignore"):
        slender = np.where(area > 1.0, (z.max() - z) / np.sqrt(area), 0.0)
    worst = int(np.argmax(slender))
    place = clerk.layers(worst, worst)
    clerk.note("neck_slenderness", float(slender[worst]), place)
    clerk.note("neck_area_mm2", float(area[worst]), place)


def _note_open_travels(clerk: Clerk, found: ByRole) -> None:
    """Travels of more than 2 mm from one piece of a layer to another with nothing drawn back before."""
    moves = clerk.moves
    path, island = moves.toolpath, found.roles.island
    beads = np.flatnonzero(moves.bead & (island >= 0))
    last = np.flatnonzero(np.diff(beads) > 1)
    before, after = beads[last], beads[last + 1]
    apart = (island[before] != island[after]) & (moves.layer[before] == moves.layer[after])
    before, after = before[apart], after[apart]
    if len(before):
        begin = np.column_stack([path.x[after - 1], path.y[after - 1]])
        far = np.hypot(begin[:, 0] - path.x[before], begin[:, 1] - path.y[before]) > SCATTERED_MM
        starts = moves.retraction_starts
        drawn = np.searchsorted(starts, after) > np.searchsorted(starts, before)
        before, after = before[far & ~drawn], after[far & ~drawn]
    where = clerk.at_move(int(before[0]), int(after[-1])) if len(before) else None
    clerk.note("open_travels_unretracted", len(before), where)


def _note_seam(clerk: Clerk, found: ByRole) -> None:
    """Where outer contours start: how far from the start below, and on which side of the part."""
    from .role_kernels import steps_between_starts

    moves = clerk.moves
    if interleaved(moves, found.roles):
        return
    at = found.outer_starts
    at = at[np.argsort(moves.layer[at], kind="stable")]
    layer = moves.layer[at]
    if len(at) < 4 or layer[-1] < 3:
        return
    path = moves.toolpath
    x = np.where(at > 0, path.x[at - 1], path.start[0])
    y = np.where(at > 0, path.y[at - 1], path.start[1])
    step = steps_between_starts(x, y, layer, SEAM_STARTS)
    known = step[np.isfinite(step)]
    if len(known) < 3:
        return
    where = clerk.layers(int(layer[0]), int(layer[-1]))
    clerk.note("seam_step_mm", float(np.median(known)), where)
    clerk.note("seam_scattered_percent", float(100 * np.mean(known > SCATTERED_MM)), where)
    centre_x, centre_y = (path.x[moves.bead].mean(), path.y[moves.bead].mean())
    turn = np.arctan2(y - centre_y, x - centre_x)
    side = complex(np.exp(1j * turn).mean())
    if abs(side) > ALIGNED:
        clerk.note("seam_angle_deg", round(math.degrees(math.atan2(side.imag, side.real)) % 360, 1), where)
