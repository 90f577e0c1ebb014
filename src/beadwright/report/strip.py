"""What the timeline strip shows of a print: quantities per layer, on three of its clocks, and places to look at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from beadwright.report.page import Strip
from beadwright.report.strip_drawing import Clock, Mark, StripRow, strip_html
from beadwright.report.xray_figure import marks_words

if TYPE_CHECKING:
    from beadwright.audit.findings import Finding
    from beadwright.workup import LayerColumns, ToolpathSeen, Workup

MOST_FINDINGS = 6


def strips_of(workup: Workup) -> tuple[Strip, ...]:
    """Return a strip for each toolpath file of the case; none when no file came with it."""
    lines = marks_words(workup.mark_heights)
    return tuple(
        Strip(
            strip_html(clocks_of(seen.layers), rows_of(seen.layers), marks_of(workup, seen)),
            f"{seen.name}: what the machine was told, from the bed up. {seen.summary}{lines}",
        )
        for seen in workup.looks
        if len(seen.layers.z_mm) and clocks_of(seen.layers)
    )


def rows_of(layers: LayerColumns) -> tuple[StripRow, ...]:
    """Return the rows worth showing: quantities that the file says anything about."""
    rows = (
        StripRow("layer time", "s", layers.seconds),
        StripRow("flow, 95th percentile", "mm³/s", layers.flow_mm3_s),
        StripRow("speed, 95th percentile", "mm/s", layers.speed_mm_s),
        StripRow("nozzle", "°C", layers.nozzle_c),
        StripRow("fan", "%", layers.fan_percent),
    )
    return tuple(row for row in rows if np.isfinite(row.value).any())


def clocks_of(layers: LayerColumns) -> tuple[Clock, ...]:
    """Return the print's clocks, height first. Time and filament are counted layer upon layer."""
    minutes, metres = np.cumsum(layers.seconds) / 60, np.cumsum(layers.filament_mm) / 1000
    clocks = (Clock("height", "mm", layers.z_mm), Clock("time", "min", minutes), Clock("filament", "m", metres))
    return tuple(clock for clock in clocks if np.isfinite(clock.ends).all() and clock.ends[-1] > 0)


def marks_of(workup: Workup, seen: ToolpathSeen) -> tuple[Mark, ...]:
    """Return what to point at, in mm of height: where somebody saw the fault, and where the gravest findings lie."""
    told = tuple(Mark(f"{height:g} mm", height, height) for height in workup.mark_heights)
    placed = [one for one in seen.audit.findings if one.where.z_mm and one.level != "note"]
    return told + tuple(_finding_mark(one, seen.layers.z_mm) for one in placed[:MOST_FINDINGS])


def _finding_mark(finding: Finding, z_mm: np.ndarray) -> Mark:
    """A finding names the tops of its first and last layer; what it concerns begins where the first layer does."""
    low, high = finding.where.z_mm or (0.0, 0.0)
    below = z_mm[z_mm < low - 1e-6]
    grave = finding.level in ("fault", "danger")
    return Mark(finding.rule.replace("_", " "), float(below[-1]) if len(below) else 0.0, high, True, grave)
