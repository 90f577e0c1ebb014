"""The timeline strip: what the machine was told all along the print, one thin row per quantity, findings laid over it.

Vega-Lite specifications, rendered to SVG here so that a page needs no script: one for a wide page and one for a phone,
on three of the print's clocks. Ink and paper follow the page: colours are written as the page's own variables, swapped
in for sentinels, because a specification can only hold plain colours.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from beadwright.report.axis import ticks
from beadwright.report.page import Strip

if TYPE_CHECKING:
    from beadwright.audit.findings import Finding
    from beadwright.workup import LayerColumns, ToolpathSeen, Workup

MOST_POINTS = 400  # per row: finer than a page shows
MOST_FINDINGS = 6
WIDE, NARROW = 720, 300  # px of the rows themselves
ROW_HEIGHT, SLOT_HEIGHT = 46, 25
WHOLE_SHARE = 0.6  # a finding over more of the print than this shades nothing: it would shade all
LABEL_ROOM = 58  # px between the labels of two marks
SENTINELS = {
    "#010101": "var(--ink)",
    "#020202": "var(--faint)",
    "#030303": "var(--rule)",
    "#040404": "var(--accent)",
}
INK, FAINT, RULE, ACCENT = SENTINELS
Spec = dict[str, Any]


@dataclass(frozen=True)
class Clock:
    """What the strip runs along: `ends[i]` is where layer i ends, and the next begins."""

    title: str
    unit: str
    ends: np.ndarray  # (k,) rising


@dataclass(frozen=True)
class StripRow:
    """One quantity per layer: `value[i]` holds from `ends[i-1]` (0 for the first) to `ends[i]`."""

    title: str
    unit: str
    value: np.ndarray  # (k,) float64


@dataclass(frozen=True)
class Mark:
    """A place worth looking at: a height where the fault was seen, or what a finding concerns."""

    label: str
    low: float
    high: float
    finding: bool = False
    grave: bool = True  # drawn in the accent


def strips_of(workup: Workup) -> tuple[Strip, ...]:
    """Return a strip for each toolpath file of the case; none when no file came with it."""
    return tuple(
        Strip(
            strip_html(clocks_of(seen.layers), rows_of(seen.layers), marks_of(workup, seen)),
            f"{seen.name}: what the machine was told, from the bed up. {seen.summary}{_marks_words(workup)}",
        )
        for seen in workup.looks
        if len(seen.layers.z_mm)
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


def _marks_words(workup: Workup) -> str:
    heights = ", ".join(f"{height:g} mm" for height in workup.mark_heights[:6])
    return f" Lines: {heights}, where the fault was seen." if heights else ""


def strip_html(clocks: tuple[Clock, ...], rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = ()) -> str:
    """Return the strip along the first clock, and folded below it the same along the others, as markup for a page."""
    first, *others = clocks
    folded = "".join(
        f"<details><summary>the same by {escape(clock.title)}</summary>{_both_widths(clock, rows, on_clock(marks, first, clock))}</details>"
        for clock in others
    )  # fmt: skip
    return _both_widths(first, rows, marks) + folded


def on_clock(marks: tuple[Mark, ...], from_: Clock, to: Clock) -> tuple[Mark, ...]:
    """Return the marks of one clock on another; within a layer both run evenly."""
    known, wanted = np.append(0.0, from_.ends), np.append(0.0, to.ends)
    low, high = (np.interp([getattr(mark, end) for mark in marks], known, wanted).tolist() for end in ("low", "high"))
    return tuple(replace(mark, low=a, high=b) for mark, a, b in zip(marks, low, high, strict=True))


def _both_widths(clock: Clock, rows: tuple[StripRow, ...], marks: tuple[Mark, ...]) -> str:
    words = f"{', '.join(row.title for row in rows)}, each against {clock.title}."
    return "".join(
        f'<div class="{name}" role="img" aria-label="{escape(words)}">{strip_svg(clock, rows, marks, width)}</div>'
        for name, width in (("wide", WIDE), ("narrow", NARROW))
    )


def strip_svg(clock: Clock, rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = (), width: int = WIDE) -> str:
    """Render rows along a clock as SVG text. `rows` have one value a layer."""
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(strip_spec(clock, rows, marks, width))
    for sentinel, variable in SENTINELS.items():
        svg = svg.replace(f'"{sentinel}"', f'"{variable}"')
    return svg


def strip_spec(clock: Clock, rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = (), width: int = WIDE) -> str:
    """Return the Vega-Lite specification as JSON text; long prints are thinned to what a page can show."""
    keep = _thinned(len(clock.ends))
    end = float(clock.ends[-1])
    inside = tuple(mark for mark in marks if 0 <= mark.low <= end)
    drawn = [_row(clock, keep, row, inside, width, last=row is rows[-1]) for row in rows]
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "vconcat": [*_lanes(inside, end, width), *drawn],
        "spacing": 14,
        "background": None,
        "padding": {"left": 0, "right": 8, "top": 2, "bottom": 0},
        "config": {
            "view": {"stroke": None},
            "font": "system-ui, Liberation Sans, sans-serif",
            "text": {"fontSize": 11},
            "axis": {
                "labelColor": FAINT, "titleColor": INK, "gridColor": RULE, "domainColor": RULE, "tickColor": RULE,
                "labelFontSize": 11, "titleFontSize": 11, "titleFontWeight": "normal", "gridOpacity": 0.6,
            },
        },
    }  # fmt: skip
    return json.dumps(spec)


def _thinned(count: int) -> np.ndarray:
    if count <= MOST_POINTS - 1:
        return np.arange(count)
    return np.unique(np.linspace(0, count - 1, MOST_POINTS - 1).round().astype(int))


def _row(clock: Clock, keep: np.ndarray, row: StripRow, marks: tuple[Mark, ...], width: int, *, last: bool) -> Spec:
    value, end = row.value[keep], float(clock.ends[-1])
    places = [0.0, *clock.ends[keep].tolist()]
    points = [{"z": a, "v": b} for a, b in zip(places, [float(value[0]), *value.tolist()], strict=True) if np.isfinite(b)]
    low, high, values = _domain(value)
    x_axis = {"title": f"{clock.title} ({clock.unit})" if last else None, "labels": last, "ticks": last, "grid": False,
              "titleColor": FAINT, "values": ticks(0, end, width / 56)}  # fmt: skip
    x = {"field": "z", "type": "quantitative", "axis": x_axis, "scale": _along(end)}
    title = f"{row.title} ({row.unit})" if row.unit else row.title
    y = {
        "field": "v", "type": "quantitative", "scale": {"domain": [low, high], "nice": False, "zero": False},
        "axis": {"values": values, "title": title, "titleAngle": 0, "titleAlign": "left", "titleAnchor": "end",
                 "titleX": 0, "titleY": -5, "titleBaseline": "bottom", "minExtent": 32, "maxExtent": 32},
    }  # fmt: skip
    line = {"data": {"values": points}, "encoding": {"x": x, "y": y},
            "mark": {"type": "line", "interpolate": "step-before", "color": INK, "strokeWidth": 1.4}}  # fmt: skip
    return {"width": width, "height": ROW_HEIGHT, "layer": [*_shades(marks, end), line]}


def _along(end: float) -> Spec:
    return {"domain": [0, end], "nice": False}


def _domain(value: np.ndarray) -> tuple[float, float, list[float]]:
    """The ends of a row's axis and at most three round values to write beside it; one where the row is level."""
    known = value[np.isfinite(value)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    level = high - low <= 0.005 * max(abs(high), 1e-3)
    pad = 0.5 * max(abs(high), 1.0) * 0.1 if level else 0.1 * (high - low)
    written = [round(high, 1)] if level else ticks(low - pad, high + pad, 3)
    return low - pad, high + pad, written if len(written) < 4 else [written[0], written[-1]]


def _shades(marks: tuple[Mark, ...], end: float) -> list[Spec]:
    """Behind a row: a line at each mark, a faint band over what a finding concerns."""
    lines = [{"at": (mark.low + mark.high) / 2} for mark in marks if not mark.finding]
    bands = [
        {"low": mark.low, "high": mark.high}
        for mark in marks
        if mark.finding and mark.high - mark.low < WHOLE_SHARE * end
    ]
    x = {"type": "quantitative", "scale": _along(end)}
    drawn: list[Spec] = []
    if bands:
        drawn.append({"data": {"values": bands}, "mark": {"type": "rect", "color": INK, "opacity": 0.06},
                      "encoding": {"x": {"field": "low", **x}, "x2": {"field": "high"}}})  # fmt: skip
    if lines:
        drawn.append({"data": {"values": lines}, "mark": {"type": "rule", "color": ACCENT, "strokeWidth": 1.2},
                      "encoding": {"x": {"field": "at", **x}}})  # fmt: skip
    return drawn


def _lanes(marks: tuple[Mark, ...], end: float, width: int) -> list[Spec]:
    """Above the rows: findings as labelled bars, then the labels of the marks."""
    findings = [mark for mark in marks if mark.finding]
    told = _apart([mark for mark in marks if not mark.finding], end, width)
    lanes = []
    if findings:
        lanes.append({"width": width, "height": SLOT_HEIGHT * len(findings), "layer": _bars(findings, end)})
    if told:
        places = [{"at": (mark.low + mark.high) / 2, "label": mark.label} for mark in told]
        lanes.append({
            "width": width, "height": 12, "data": {"values": places},
            "mark": {"type": "text", "color": ACCENT, "fontWeight": 600, "clip": False},
            "encoding": {"x": {"field": "at", "type": "quantitative", "scale": _along(end), "axis": None},
                         "text": {"field": "label"}},
        })  # fmt: skip
    return lanes


def _bars(findings: list[Mark], end: float) -> list[Spec]:
    rows = [
        {"slot": slot, "low": mark.low, "high": max(mark.high, mark.low + 0.004 * end), "label": mark.label,
         "edge": mark.low if mark.low < 0.5 * end else mark.high}
        for slot, mark in enumerate(findings)
    ]  # fmt: skip
    x = {"type": "quantitative", "scale": _along(end), "axis": None}
    y = {"field": "slot", "type": "ordinal", "axis": None}
    layers: list[Spec] = []
    for grave in (True, False):
        bars = [row for row, mark in zip(rows, findings, strict=True) if mark.grave is grave]
        layers.append({"data": {"values": bars}, "mark": {"type": "bar", "size": 4, "yOffset": 7,
                                                          "color": ACCENT if grave else FAINT},
                       "encoding": {"x": {"field": "low", **x}, "x2": {"field": "high"}, "y": y}})  # fmt: skip
    for align in ("left", "right"):
        words = [row for row in rows if (row["edge"] == row["low"]) is (align == "left")]
        layers.append({"data": {"values": words}, "mark": {"type": "text", "align": align, "yOffset": -3, "color": INK},
                       "encoding": {"x": {"field": "edge", **x}, "y": y, "text": {"field": "label"}}})  # fmt: skip
    return [layer for layer in layers if layer["data"]["values"]]


def _apart(marks: list[Mark], end: float, width: int) -> list[Mark]:
    """The marks whose labels find room beside one another."""
    kept: list[Mark] = []
    for mark in sorted(marks, key=lambda one: one.low):
        if not kept or (mark.low - kept[-1].low) / end * width >= LABEL_ROOM:
            kept.append(mark)
    return kept
