"""Heat along the print: what the strand takes up in the melt zone, what the bead gives off, how its joint heals.

Three steps, each per layer. (1) The strand that leaves now entered the melt zone when one zone's length less was fed;
the time since then, acceleration, travel and standstill included, gives the temperature of its axis (core) and section.
(2) The time since the same place was last covered, per plan cell. (3) A column of layers, laid one by one and left to
cool for that time: what the layer below has come down to, and how long and how hot the joint with it stays.

Trust step 1 to ±30 % in flow (see `physics.melt`). Step 3 has rough film coefficients and no crystallisation heat: the
healing is an order of magnitude, so only a *weld index* is given, relative to the same model under the polymer's usual
settings; compare it within a file, not with a tensile test. Left out: what the nozzle radiates, the polymer's spread.
Sources: [CarslawJaeger1959], [Incropera2007] for conduction, [YangPitchumani2002], [Seppala2017] for healing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadwright.facts import Facts
from beadwright.knowledge.material_shapes import Material
from beadwright.physics.melt import axis_theta, fourier_number, mean_temperature, mean_theta
from beadwright.physics.weld import WLF_RANGE_K, arrhenius_shift, wlf_shift
from beadwright.toolpath.columns import Events

from .flow import MELT_ZONE_MM, ROOM_C
from .history import for_tool, part_fan
from .moves import FloatColumn, Moves
from .shell_count import layer_boxes

FILM_STILL, FILM_FULL_FAN = 30.0, 100.0  # W/(m² K), part fan off and full: common practice, no source
# Where a joint of a semi-crystalline polymer stops healing. It cools at some 100 K/s [SeppalaMigler2016], so it
# crystallises far lower than in a slow calorimeter; from memory of fast calorimetry, ±30 K.
CRYSTALLISES_BELOW_MELTING_K = 90.0
MOST_FO, FO_STEPS = 2.0, 2000  # theta 1.5e-5 at the end; between steps linear to 1e-5
CELL_MM, MOST_CELLS, MOST_SAMPLES = 3.0, 1_000_000, 60_000_000
MOST_LAYERS = 20_000  # beyond it the column of layers is not reckoned
DEPTH, PARTS, STEPS = 12, 2, 32  # layers kept warm in the column, nodes a layer, time steps a gap
USUAL_LAYER_MM, USUAL_GAP_S, USUAL_EDGE_1_MM = 0.2, 20.0, 0.2  # a block of 20 mm: where the weld index is 1
USUAL_FROM = 30  # layers up, clear of the bed
COLD_SHARE = 0.1  # of a layer's bead time; common practice, no source

Float32Column = NDArray[np.float32]


@dataclass(frozen=True)
class HeatHistory:
    """Columns of length k, one entry a layer, NaN where not known; and of length n, one a move."""

    core_c: FloatColumn  # °C, 5th percentile by time of the strand's axis as it leaves the melt zone
    bead_c: FloatColumn  # °C, median by time of its section mean
    residence_s: FloatColumn  # s in the melt zone, harmonic mean by time
    cold_share: FloatColumn  # share of bead time with the core below `target_c`
    gap_s: FloatColumn  # s since the layer below was laid at the same place, median by time
    below_c: FloatColumn  # °C, of the layer below when it is covered; NaN for the first
    joint_c: FloatColumn  # °C, of the joint at first touch
    joint_hot_s: FloatColumn  # s the joint spends above `sets_c`, later layers included
    weld_index: FloatColumn  # 1: as with the polymer's usual settings; strength goes with it
    fan_percent: FloatColumn  # mean by time over beads
    move_core_c: Float32Column  # (n,) °C; NaN where no bead is laid
    target_c: float  # what the core should reach
    sets_c: float  # °C below which a joint no longer heals: glass transition, or where it crystallises
    assumes: tuple[str, ...]  # what was taken, in words

    def __len__(self) -> int:
        return len(self.core_c)

    def cold_spans(self, share: float = COLD_SHARE) -> list[tuple[int, int]]:
        """Return runs of layers (0-based, both ends included) whose core stays below target for more than `share`."""
        cold = np.concatenate([[False], self.cold_share > share, [False]])
        edges = np.flatnonzero(np.diff(cold)).tolist()
        return [(first, after - 1) for first, after in zip(edges[::2], edges[1::2], strict=True)]


def heat_history(moves: Moves, facts: Facts, material: Material) -> HeatHistory | None:
    """Reckon the heat of a toolpath laid in `material`; None without beads in layers.

    `facts` gives melt_zone_mm, chamber_temp_c and room_c where known. Without a nozzle temperature in the file the
    columns that need one are NaN: nothing is guessed.
    """
    if not moves.layer_count or not moves.bead.any():
        return None
    zone, air = facts.number("melt_zone_mm"), _air(facts)
    residence, core, mean = _strand(moves, material, zone or MELT_ZONE_MM)
    beads, edges = moves.bead_runs
    fan = in_force(part_fan(moves.toolpath.events.fan_percent), len(moves), 0.0)
    from .heat_kernels import layer_statistics

    target, box = material.core_target_c.best, layer_boxes(moves)
    table = layer_statistics(beads, edges, moves.going, residence, core, mean, _gaps(moves, box), fan, target)
    joints = _joints(moves, box, facts, material, air, table)
    below, touch, healed, hot = (joints[:, column] for column in range(4))
    usual = usual_healing(material)
    index = (healed / usual) ** 0.25 if usual > 0 else np.full(len(table), np.nan)
    return HeatHistory(
        core_c=table[:, 0], bead_c=table[:, 1], residence_s=table[:, 2], cold_share=table[:, 3], gap_s=table[:, 4],
        below_c=below, joint_c=touch, joint_hot_s=hot, weld_index=index, fan_percent=table[:, 5], move_core_c=core,
        target_c=target, sets_c=sets_at(material), assumes=_assumes(facts, zone, air),
    )  # fmt: skip


def in_force(events: Events, count: int, before: float = np.nan) -> Float32Column:
    """Return the value in force at each of `count` moves, (count,); `before` where none was set."""
    edges = np.concatenate([[0], np.clip(events.move, 0, count), [count]])
    return np.repeat(np.concatenate([[before], events.value]).astype(np.float32), np.diff(edges))


def wall_temperature(moves: Moves) -> Float32Column:
    """Return the nozzle temperature set for the tool in use, (n,) °C; NaN where none was."""
    tools = np.unique(moves.toolpath.tool)
    out = np.full(len(moves), np.nan, np.float32)
    for tool in tools:
        column = in_force(for_tool(moves.toolpath.events.nozzle_c, moves, int(tool)), len(moves))
        if len(tools) == 1:
            return column
        mine = moves.toolpath.tool == tool
        out[mine] = column[mine]
    return out


def sets_at(material: Material) -> float:
    """Return the temperature below which a joint heals no more [°C]."""
    if material.melting_c is None or material.sets_amorphous:
        return material.glass_transition_c.best
    return max(material.melting_c.best - CRYSTALLISES_BELOW_MELTING_K, material.glass_transition_c.best)


def healing_rate(material: Material) -> FloatColumn | None:
    """Return healing per second, relative to the table's own reference, at each kelvin from `sets_at` up, (m,).

    None for a polymer whose temperature shift is not known. Above its range the shift is held: a joint is that hot for
    an instant only.
    """
    shift, temps = material.flow_shift, sets_at(material) + np.arange(400.0)
    if shift.model == "wlf" and shift.c1 and shift.c2_k and shift.reference_c is not None:
        inside = np.clip(temps, shift.reference_c, shift.reference_c + WLF_RANGE_K)
        log_shift = wlf_shift(inside, shift.reference_c, shift.c1, shift.c2_k)
    elif shift.model == "arrhenius" and shift.activation_kj_mol and shift.reference_c is not None:
        log_shift = arrhenius_shift(temps, shift.reference_c, shift.activation_kj_mol * 1e3)
    elif shift.model == "exponential" and shift.b_1_k and shift.reference_c is not None:
        log_shift = -shift.b_1_k * (temps - shift.reference_c) / np.log(10)
    else:
        return None
    return np.asarray(10.0**-log_shift)


def usual_healing(material: Material) -> float:
    """Return the healing of a joint under the polymer's usual settings; NaN where its temperature shift is not known.

    That is: nozzle, bed and fan as typical, half the flow the trade allows through a 12 mm zone, layers of 0.2 mm, 20 s
    each, on a block of 20 mm, 6 mm above the bed.
    """
    nozzle = material.nozzle_temp_c.typical
    flow = material.max_flow_mm3_s.at(MELT_ZONE_MM) / 2
    fo = fourier_number(material.melt_diffusivity_m2_s, MELT_ZONE_MM * 1e-3, flow * 1e-9)
    laid = float(mean_temperature(nozzle, ROOM_C, fo))
    fan, bed = material.part_fan_percent.typical, material.bed_temp_c.typical
    air = material.chamber.temp_c[0] if material.chamber.need == "required" and material.chamber.temp_c else ROOM_C
    layers = 2 * USUAL_FROM
    table = _column(
        material, np.full(layers, USUAL_LAYER_MM), np.full(layers, laid), np.full(layers, USUAL_GAP_S),
        np.full(layers, fan), np.full(layers, USUAL_EDGE_1_MM), bed, air,
    )  # fmt: skip
    return float(np.median(table[USUAL_FROM:-DEPTH, 2]))


def _air(facts: Facts) -> float:
    """Temperature of the air round the part [°C]."""
    chamber, room = facts.number("chamber_temp_c"), facts.number("room_c", ROOM_C)
    return max(chamber or 0.0, room if room is not None else ROOM_C)


def _assumes(facts: Facts, zone: float | None, air: float) -> tuple[str, ...]:
    known_air = facts.number("chamber_temp_c") or facts.number("room_c") is not None
    return (
        f"melt zone {zone or MELT_ZONE_MM:g} mm" + ("" if zone else " (taken, not given)") + ", good to ±30 % in flow",
        f"air round the part {air:g} °C" + ("" if known_air else " (taken, not given)"),
        f"film coefficient {FILM_STILL:g} W/(m² K) with the part fan off, {FILM_FULL_FAN:g} at full",
        "weld index relative to the polymer's usual settings, rough: compare within a file only",
    )


def _strand(moves: Moves, material: Material, zone_mm: float) -> tuple[Float32Column, Float32Column, Float32Column]:
    """Residence [s], core and mean temperature [°C] of each bead, (n,)."""
    from .heat_kernels import strand_temperatures

    path = moves.toolpath
    fo = np.linspace(0.0, MOST_FO, FO_STEPS + 1)[1:]
    table = np.ones((2, FO_STEPS + 1))
    table[0, 1:], table[1, 1:] = axis_theta(fo), mean_theta(fo)
    table[:, -1] = 0.0  # what stood long is as hot as the wall
    per_s = material.melt_diffusivity_m2_s / (moves.filament_mm * 0.5e-3) ** 2
    return strand_temperatures(
        moves.plan.t, path.e, path.tool, path.kind, wall_temperature(moves), zone_mm, per_s, ROOM_C, table, MOST_FO
    )


def _gaps(moves: Moves, box: FloatColumn) -> Float32Column:
    """Seconds since the layer below was laid in the same places, of each bead, (n,); `box` of each layer's beads."""
    from .heat_kernels import times_since_below

    path = moves.toolpath
    low, high = np.nanmin(box[:, :2], axis=0), np.nanmax(box[:, 2:], axis=0)
    size = np.maximum(high - low, 1.0)
    travelled = float(moves.length @ moves.bead)
    if not np.isfinite(size.prod() * travelled):
        return np.full(len(moves), np.nan, np.float32)
    cell = max(CELL_MM, float(np.sqrt(size.prod() / MOST_CELLS)), float(size.max()) / 4096, travelled / MOST_SAMPLES)
    shape = (np.ceil(size / cell) + 3).astype(np.int64)
    kind, layer = path.kind, np.asarray(moves.layers.index)
    return times_since_below(path.x, path.y, path.start, moves.plan.t, kind, layer, low - cell, cell, shape)


def _joints(
    moves: Moves, box: FloatColumn, facts: Facts, material: Material, air: float, table: FloatColumn
) -> FloatColumn:
    """What each layer's joint goes through, (k, 4) as `column_of_layers`; NaN where it cannot be reckoned."""
    count, laid, gap, fan = moves.layer_count, table[:, 1], table[:, 4], table[:, 5]
    if count > MOST_LAYERS or not np.isfinite(laid).any():
        return np.full((count, 4), np.nan)
    height = np.clip(np.nan_to_num(np.asarray(moves.layers.height_mm, float), nan=USUAL_LAYER_MM), 0.02, 2.0)
    # a layer stands until the next is laid over it
    stands = np.append(gap[1:], np.nan)
    first, last = np.asarray(moves.layers.first_move), np.asarray(moves.layers.last_move)
    own = np.maximum(moves.plan.t[last] - np.where(first > 0, moves.plan.t[np.maximum(first - 1, 0)], 0.0), 1e-3)
    stands = np.clip(np.where(np.isfinite(stands), stands, own), 1e-3, 1e6)
    set_bed = facts.number("bed_temp_c")
    bed, edges = air if set_bed is None else set_bed, _edges(moves, box, height)
    return _column(material, height, _filled(laid), stands, np.nan_to_num(fan), edges, bed, air)


def _filled(values: FloatColumn) -> FloatColumn:
    """Replace NaN by the nearest value before, at the beginning by the first."""
    known = np.flatnonzero(np.isfinite(values))
    at = np.maximum(np.searchsorted(known, np.arange(len(values)), side="right") - 1, 0)
    return np.asarray(values[known[at]])


def _edges(moves: Moves, box: FloatColumn, height: FloatColumn) -> FloatColumn:
    """Cooled perimeter over section of each layer, (k,) 1/mm: of a square of its plastic, or of the box of its beads.

    The larger of the two: thin walls and several small parts have more flank than one block.
    """
    beads, edges = moves.bead_runs
    volume = np.add.reduceat(moves.volume[beads], edges[:-1], dtype=np.float64)  # each layer has a bead
    section = np.maximum(volume / height, 1e-3)
    round_it = np.nan_to_num(2 * (box[:, 2] - box[:, 0] + box[:, 3] - box[:, 1]))
    return np.asarray(np.clip(np.maximum(4 * np.sqrt(section), round_it) / section, 1e-3, 10.0))


def _column(
    material: Material, height_mm: FloatColumn, laid_c: FloatColumn, stands_s: FloatColumn, fan_percent: FloatColumn,
    edge_1_mm: FloatColumn, bed_c: float, air_c: float,
) -> FloatColumn:  # fmt: skip
    from .heat_kernels import column_of_layers

    film = FILM_STILL + (FILM_FULL_FAN - FILM_STILL) * np.clip(fan_percent, 0, 100) / 100
    body = np.array([
        material.density_kg_m3.best, material.specific_heat_j_kg_k.best, material.conductivity_w_m_k.best
    ])  # fmt: skip
    rate, sets = healing_rate(material), sets_at(material)
    table = column_of_layers(
        height_mm * 1e-3, laid_c, stands_s, film, edge_1_mm * 1e3, body, bed_c, air_c,
        np.zeros(2) if rate is None else rate, sets, sets, DEPTH, PARTS, STEPS,
    )  # fmt: skip
    if rate is None:
        table[:, 2] = np.nan
    return np.asarray(table)
