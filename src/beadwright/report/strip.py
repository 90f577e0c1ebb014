"""The timeline strip: what the machine was told at each height, one thin row per quantity, findings laid over it.

A Vega-Lite specification, rendered to SVG here so that a page needs no script. Ink and paper follow the page: colours are
written as the page's own variables, swapped in for sentinels, because a specification can only hold plain colours.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from beadwright.report.page import Strip

if TYPE_CHECKING:
    from beadwright.workup import LayerColumns, Workup

MOST_POINTS = 400  # per row: finer than a page shows
ROW_HEIGHT = 46
SENTINELS = {
    "#010101": "var(--ink)",
    "#020202": "var(--faint)",
    "#030303": "var(--rule)",
    "#040404": "var(--accent)",
}
INK, FAINT, RULE, ACCENT = SENTINELS


@dataclass(frozen=True)
class StripRow:
    """One quantity against height: `value[i]` holds from `z_mm[i-1]` to `z_mm[i]`."""

    title: str
    unit: str
    value: np.ndarray  # (k,) float64


@dataclass(frozen=True)
class Mark:
    """A place worth looking at: a finding's band or a mark on the print."""

    label: str
    low_mm: float
    high_mm: float


def strips_of(workup: Workup) -> tuple[Strip, ...]:
    """Return a strip for each toolpath file of the case; none when no file came with it."""
    return tuple(
        Strip(
            strip_svg(seen.layers.z_mm, rows_of(seen.layers), marks_of(workup)),
            f"{seen.name}: what the machine was told, by height. {seen.summary}{_bands_words(workup)}",
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


def marks_of(workup: Workup) -> tuple[Mark, ...]:
    """Return where the print was marked: heights that somebody measured or told."""
    half = 0.15  # mm, so that a line can be seen
    return tuple(Mark(f"{height:g} mm", height - half, height + half) for height in workup.mark_heights)


def _bands_words(workup: Workup) -> str:
    if not workup.mark_heights:
        return ""
    return (
        " Shaded: "
        + ", ".join(f"{height:g} mm" for height in workup.mark_heights)
        + ", where the fault was seen."
    )


def strip_svg(z_mm: np.ndarray, rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = ()) -> str:
    """Render rows against height as SVG text. `z_mm` (k,) rising layer tops; rows of equal length."""
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(strip_spec(z_mm, rows, marks))
    for sentinel, variable in SENTINELS.items():
        svg = svg.replace(f'"{sentinel}"', f'"{variable}"')
    return svg


def strip_spec(z_mm: np.ndarray, rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = ()) -> str:
    """Return the Vega-Lite specification as JSON text; long prints are thinned to what a page can show."""
    keep = _thinned(len(z_mm))
    bands = [
        {"low": mark.low_mm, "high": max(mark.high_mm, mark.low_mm + 1e-6), "label": mark.label}
        for mark in marks
    ]
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "vconcat": [_row(z_mm[keep], row.value[keep], row, bands, last=row is rows[-1]) for row in rows],
        "spacing": 16,
        "background": None,
        "config": {
            "view": {"stroke": None},
            "font": "system-ui, Liberation Sans, sans-serif",
            "axis": {
                "labelColor": FAINT, "titleColor": FAINT, "gridColor": RULE, "domainColor": RULE, "tickColor": RULE,
                "labelFontSize": 11, "titleFontSize": 11, "titleFontWeight": "normal", "gridOpacity": 0.6,
            },
        },
    }  # fmt: skip
    return json.dumps(spec)


def _thinned(count: int) -> np.ndarray:
    if count <= MOST_POINTS:
        return np.arange(count)
    return np.unique(np.linspace(0, count - 1, MOST_POINTS).round().astype(int))


def _row(
    z: np.ndarray, value: np.ndarray, row: StripRow, bands: list[dict[str, Any]], *, last: bool
) -> dict[str, Any]:
    points = [{"z": float(a), "v": float(b)} for a, b in zip(z, value, strict=True) if np.isfinite(b)]
    low, high = _domain(value)
    x_axis = {"title": "height (mm)" if last else None, "labels": last, "ticks": last, "grid": False}
    x = {
        "field": "z",
        "type": "quantitative",
        "axis": x_axis,
        "scale": {"domain": [0, float(z[-1])], "nice": False},
    }
    title = f"{row.title} ({row.unit})" if row.unit else row.title
    y = {
        "field": "v", "type": "quantitative", "scale": {"domain": [low, high], "nice": False, "zero": False},
        "axis": {"tickCount": 3, "title": title, "titleAngle": 0, "titleAlign": "left", "titleAnchor": "end",
                 "titleX": 0, "titleY": -5, "titleBaseline": "bottom"},
    }  # fmt: skip
    layers: list[dict[str, Any]] = [
        {"data": {"values": points}, "mark": {"type": "line", "interpolate": "step-before", "color": INK,
                                              "strokeWidth": 1.3, "clip": True}, "encoding": {"x": x, "y": y}},
    ]  # fmt: skip
    if bands:
        band_x = {"field": "low", "type": "quantitative"}
        layers.insert(0, {"data": {"values": bands}, "mark": {"type": "rect", "color": ACCENT, "opacity": 0.16, "clip": True},
                          "encoding": {"x": band_x, "x2": {"field": "high"}}})  # fmt: skip
    return {"width": 640, "height": ROW_HEIGHT, "layer": layers}


def _domain(value: np.ndarray) -> tuple[float, float]:
    known = value[np.isfinite(value)]
    if not len(known):
        return 0.0, 1.0
    low, high = float(known.min()), float(known.max())
    pad = max(0.08 * (high - low), 0.02 * abs(high), 1e-3)
    return low - pad, high + pad
