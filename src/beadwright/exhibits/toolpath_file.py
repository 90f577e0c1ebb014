"""The reader for toolpath files: bytes in; layers, times, facts, findings and `look --json` out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from beadwright.audit.claims import claims_from
from beadwright.audit.file_facts import FileFacts, facts_from_file
from beadwright.audit.findings import Audit, Finding
from beadwright.audit.heat_history import HeatHistory, heat_history
from beadwright.audit.history import part_fan
from beadwright.audit.run import run_audit
from beadwright.exhibits.look import (
    Box,
    ColdSpan,
    FactRow,
    FindingRow,
    HeatSummary,
    LayerRow,
    LayerSummary,
    LineValue,
    Look,
    Place,
    ProblemRow,
    Spread,
)
from beadwright.facts import Fact, Facts
from beadwright.knowledge.material_shapes import Material
from beadwright.motion.limits import Limits, limits_from
from beadwright.motion.plan import Plan, plan
from beadwright.motion.timeline import Timeline
from beadwright.toolpath.columns import Events, Kind, Toolpath
from beadwright.toolpath.layers import Layers, find_layers
from beadwright.toolpath.read import read_toolpath

MOST_ROWS = 20_000  # of a table in the JSON; what is left out is said
MOST_SPANS = 100
DEFAULT_POLYMER = "pla"  # only to turn volume into mass, and said

Progress = Callable[[float], None]


@dataclass(frozen=True)
class LookResult:
    """All that looking at one file yields."""

    look: Look
    toolpath: Toolpath
    layers: Layers
    limits: Limits
    plan: Plan
    timeline: Timeline
    facts: Facts  # those handed in and those measured
    measured: FileFacts
    audit: Audit
    material: Material | None = None  # of the polymer that is known
    heat: HeatHistory | None = None  # only where asked for, and the polymer is known


def look(
    source: Path | bytes | BinaryIO,
    *,
    name: str | None = None,
    facts: Facts | None = None,
    materials: Mapping[str, Material] | None = None,
    progress: Progress | None = None,
    heat: bool = False,
) -> LookResult:
    """Look at one toolpath file. `facts` is what is known of printer, material and settings.

    `heat` also reckons core temperature and weld index layer by layer, where the polymer is known. Raises
    ToolpathError when it is no filament toolpath.
    """
    known = facts or Facts()
    toolpath = read_toolpath(source, name=name, progress=progress)
    layers = find_layers(toolpath)
    limits = limits_from(toolpath, known)
    motion = plan(toolpath, limits)
    claims = claims_from(toolpath)
    told = known.also(claims)
    measured = facts_from_file(toolpath, layers, motion, told)
    every = told.also(measured.facts)
    polymer = every.text("polymer")
    material = (materials or {}).get(polymer) if polymer else None
    audit = run_audit(every, material, measured.places)
    assumed = material or (materials or {}).get(DEFAULT_POLYMER)
    warm = heat_history(measured.moves, every, material) if heat and material else None
    return LookResult(
        _look(measured, audit, limits, assumed, warm, claims, given=material is not None),
        toolpath, layers, limits, motion, Timeline.build(toolpath, motion, layers), every, measured, audit, material,
        warm,
    )  # fmt: skip


def _look(
    measured: FileFacts,
    audit: Audit,
    limits: Limits,
    material: Material | None,
    heat: HeatHistory | None,
    claims: tuple[Fact, ...],
    *,
    given: bool,
) -> Look:
    moves = measured.moves
    path = moves.toolpath
    filament = float(moves.deposited.sum())
    volume = filament * math.pi * moves.filament_mm**2 / 4
    density = float(material.density_kg_m3.best) if material else 1240.0
    what = material.abbreviation if material else "PLA"
    goes = path.kind != Kind.DWELL
    source_moves = ~path.chord & goes
    left_out: list[str] = []
    return Look(
        file=path.name,
        bytes=path.bytes,
        lines=path.lines,
        extrusion=path.extrusion,
        units=path.units,
        tools=tuple(np.unique(path.tool).tolist()),
        moves=int(source_moves.sum()),
        beads=int((path.is_bead & source_moves).sum()),
        retractions=len(moves.retraction_starts),
        arcs=path.arcs,
        layers=_layer_summary(measured, left_out),
        bead_box=_bead_box(path),
        move_box=_box([column[goes] for column in (path.x, path.y, path.z)]),
        filament_mm=_rounded(filament),
        volume_mm3=_rounded(volume),
        mass_g=_rounded(volume * 1e-6 * density),
        mass_assumes=f"filament of {moves.filament_mm:g} mm ({measured.filament_mm_from}), "
        f"{density:g} kg/m³ for {what}" + ("" if given else " (taken, no material was given)"),
        seconds=_rounded(moves.plan.duration),
        motion_assumes=dict(limits.origins),
        nozzle_c=_pairs(path.events.nozzle_c, "nozzle temperatures", left_out),
        bed_c=_pairs(path.events.bed_c, "bed temperatures", left_out),
        fan_percent=_pairs(part_fan(path.events.fan_percent), "fan changes", left_out),
        per_layer=_layer_rows(measured, heat, left_out),
        findings=tuple(finding_row(finding) for finding in audit.findings),
        not_asked=audit.not_asked,
        problems=tuple(ProblemRow(line=p.line, text=p.text, meaning=p.meaning, count=p.count) for p in path.problems),
        facts=tuple(FactRow(name=f.name, value=f.value, where=f.where) for f in measured.facts),
        claims=tuple(FactRow(name=f.name, value=f.value, where=f.where) for f in claims),
        heat=_heat(measured, heat, left_out) if heat else None,
        left_out=tuple(left_out),
    )


def _rounded(value: float, digits: int = 4) -> float:
    return round(float(value), digits)


def _known(value: float, digits: int = 3) -> float | None:
    """Rounded, None for NaN and infinities: JSON has neither."""
    return round(float(value), digits) if math.isfinite(value) else None


def _layer_summary(measured: FileFacts, left_out: list[str]) -> LayerSummary:
    table = measured.per_layer
    heights = table.height_mm[1:] if len(table) > 1 else table.height_mm
    return LayerSummary(
        count=len(table),
        first_mm=_known(table.height_mm[0]) if len(table) else None,
        typical_mm=_known(float(np.median(heights))) if len(table) else None,
        z_mm=tuple(np.round(_capped(table.z_mm, "layer heights", left_out), 4).tolist()),
    )


def _capped(values: NDArray[np.float64], what: str, left_out: list[str]) -> NDArray[np.float64]:
    if len(values) > MOST_ROWS:
        left_out.append(f"{len(values) - MOST_ROWS} of {len(values)} {what}: only the first {MOST_ROWS} are listed")
    return values[:MOST_ROWS]


def _pairs(events: Events, what: str, left_out: list[str]) -> tuple[LineValue, ...]:
    """(source line, value) where the value changes."""
    if not len(events):
        return ()
    changes = np.concatenate([[True], (np.diff(events.value) != 0) | (np.diff(events.tool) != 0)])
    value = _capped(events.value[changes], what, left_out)
    lines = events.line[changes][:MOST_ROWS]
    return tuple((line, round(v, 3)) for line, v in zip(lines.tolist(), value.tolist(), strict=True))


def _box(columns: Iterable[NDArray[np.float64]]) -> Box | None:
    ends = [(float(c.min()), float(c.max())) for c in columns if len(c)]
    if len(ends) != 3:
        return None
    low, high = (tuple(round(end[k], 4) for end in ends) for k in (0, 1))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _bead_box(path: Toolpath) -> Box | None:
    """Box of the points where beads start and end."""
    at = np.flatnonzero(path.is_bead)
    columns = []
    for axis, values in enumerate((path.x, path.y, path.z)):
        starts = np.where(at > 0, values[at - 1], path.start[axis])
        columns.append(np.concatenate([starts, values[at]]))
    return _box(columns)


def _layer_rows(measured: FileFacts, heat: HeatHistory | None, left_out: list[str]) -> tuple[LayerRow, ...]:
    table = measured.per_layer
    if len(table) > MOST_ROWS:
        left_out.append(
            f"{len(table) - MOST_ROWS} of {len(table)} rows per layer: only the first {MOST_ROWS} are listed"
        )
    return tuple(layer_row(measured, k, heat) for k in range(min(len(table), MOST_ROWS)))


def layer_row(measured: FileFacts, k: int, heat: HeatHistory | None = None) -> LayerRow:
    """Row k (0-based) of the per-layer table; heat where it was reckoned."""
    table = measured.per_layer
    first, last = int(table.first_line[k]), int(table.last_line[k])
    return LayerRow(
        z_mm=_rounded(table.z_mm[k]),
        height_mm=_known(table.height_mm[k], 4),
        seconds=_rounded(table.seconds[k], 3),
        flow_mm3_s=Spread(median=_known(table.flow_median[k]), p95=_known(table.flow_p95[k])),
        speed_mm_s=Spread(median=_known(table.speed_median[k]), p95=_known(table.speed_p95[k])),
        filament_mm=_rounded(table.filament_mm[k]),
        retractions=int(table.retractions[k]),
        nozzle_c=_known(table.nozzle_c[k]),
        bed_c=_known(table.bed_c[k]),
        fan_percent=_known(table.fan_percent[k]),
        bead_mm=_rounded(table.bead_mm[k], 2),
        lines=(first, last) if first > 0 else None,
        core_c=_known(heat.core_c[k], 1) if heat else None,
        weld_index=_known(heat.weld_index[k]) if heat else None,
    )


def _heat(measured: FileFacts, heat: HeatHistory, left_out: list[str]) -> HeatSummary:
    """Where the strand leaves too cold for its flow."""
    table, spans = measured.per_layer, heat.cold_spans()
    if len(spans) > MOST_SPANS:
        left_out.append(f"{len(spans) - MOST_SPANS} of {len(spans)} cold spans: only the first {MOST_SPANS} are listed")
    cold = []
    for first, last in spans[:MOST_SPANS]:
        run = slice(first, last + 1)
        share = float(np.average(heat.cold_share[run], weights=np.maximum(table.seconds[run], 1e-9)))
        where = Place(
            layers=(first + 1, last + 1),
            lines=(int(table.first_line[first]), int(table.last_line[last])),
            z_mm=(_rounded(table.z_mm[first]), _rounded(table.z_mm[last])),
        )
        cold.append(
            ColdSpan(where=where, share=_rounded(share), core_c=_rounded(float(np.nanmin(heat.core_c[run])), 1))
        )
    return HeatSummary(core_target_c=heat.target_c, cold=tuple(cold), assumes=heat.assumes)


def finding_row(finding: Finding) -> FindingRow:
    """A finding as the JSON gives it."""
    where = finding.where
    return FindingRow(
        rule=finding.rule,
        level=finding.level,
        value=finding.value,
        unit=finding.unit,
        window=finding.window,
        source=finding.source,
        where=Place(layers=where.layers, lines=where.lines, z_mm=where.z_mm),
        text=finding.text,
        bears_on=finding.bears_on,
        origin=finding.origin,
        clears=finding.clears,
    )
