"""What happens *there*? What changes in a toolpath file at a height, layer, line or second, most unusual first.

And the shape of its answer as JSON, version 1. Keys are never taken away or change their meaning within a version; new
ones may be added. Lengths mm, times s; layers and lines count from 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log2
from typing import Any, Literal

import numpy as np
from pydantic import Field

from beadwright.audit.changes import Change, find_commands, find_steps
from beadwright.audit.heat_history import heat_history
from beadwright.audit.layer_series import Series, layer_series, steady_heat
from beadwright.errors import InputError
from beadwright.exhibits.look import Part
from beadwright.exhibits.place import AskedPlace
from beadwright.exhibits.say_change import sentence
from beadwright.exhibits.toolpath_file import LookResult
from beadwright.motion.timeline import Clock

FORMAT = "beadwright.there/1"
REACH_MM = 0.3  # how far off a height read from a print or a photo may be
NEAR_LAYERS, MOST_NEAR, MOST_CHANGES = 12, 3, 40
BITS_A_LAYER = 0.5  # a change one layer away is that much less likely to be the one that is meant
LEAST_COMMON_BITS = 3.0
MOST_PLACES = 1000
AS_SPANS: tuple[Clock, ...] = ("s", "filament", "path")


class At(Part):
    """The layer asked about, on all clocks: where it begins and where it ends."""

    layer: int
    layers: int = Field(description="of the whole print")
    z_mm: tuple[float, float] = Field(description="bottom and top of the layer")
    seconds: tuple[float, float]
    lines: tuple[int, int] = Field(description="source lines of its first and last bead")
    filament_mm: tuple[float, float]
    path_mm: tuple[float, float]


class ChangeRow(Part):
    """One thing that changes."""

    name: str
    text: str
    kind: Literal["step", "command"]
    layer: int = Field(description="the first with the new value")
    z_mm: float
    line: int | None = Field(description="source line of a command, first bead of the layer for a step")
    before: float | None
    after: float | None
    unit: str
    like: int = Field(description="layers of the file that change as much, this one included")
    of_layers: int
    noise: float | None = Field(description="the step in units of the file's own layer-to-layer noise")
    lasts: int | None = Field(description="layers the new level holds")
    bits: float = Field(description="how unusual and how large: log2(layers / like) + log2(1 + step / what matters)")
    away: int = Field(description="layers from the place asked about")


class SteadyRow(Part):
    """A quantity that does not change there."""

    name: str
    text: str
    value: float
    unit: str


class PlaceRow(Part):
    """One place that was asked about."""

    asked: str
    at: At
    window: tuple[int, int] = Field(description="layers looked at, both ends included")
    changes: tuple[ChangeRow, ...]
    nearby: tuple[ChangeRow, ...] = Field(description="larger ones a few layers away")
    steady: tuple[SteadyRow, ...]


class CommonRow(Part):
    """What several places share."""

    name: str
    text: str
    places: int = Field(description="places where it changes")
    of_places: int
    expected: float = Field(description="places where it would change by chance, from its share of the layers")
    bits: float = Field(description="-log2 of the chance of so many or more")


class There(Part):
    """What happens at one or several places of one file."""

    format: Literal["beadwright.there/1"] = "beadwright.there/1"
    file: str
    places: tuple[PlaceRow, ...]
    common: tuple[CommonRow, ...]
    assumes: tuple[str, ...]
    not_reckoned: tuple[str, ...]


def there_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `look --at … --json`."""
    schema = There.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": FORMAT}


def what_happens(result: LookResult, places: AskedPlace | Sequence[AskedPlace], *, reach_mm: float = REACH_MM) -> There:
    """Say what changes at `places` of a file that was looked at, and what several of them have in common.

    A height is looked up `reach_mm` up and down, other places one layer each way. Raises InputError for a place that is
    not in the print, or a file without layers.
    """
    asked = [places] if isinstance(places, AskedPlace) else list(places)[:MOST_PLACES]
    if not len(result.layers):
        raise InputError("it lays no bead, so nothing changes anywhere", where=result.toolpath.name)
    heat = result.heat
    if heat is None and result.material is not None:
        heat = heat_history(result.measured.moves, result.facts, result.material)
    series = layer_series(result.measured, heat)
    changes = _merged([*find_steps(series), *find_commands(result.measured.moves)])
    rows = tuple(_place(result, place, series, changes, reach_mm) for place in asked)
    missing = () if heat else ("core temperature and weld index: the material is not known (--material)",)
    return There(
        file=result.toolpath.name,
        places=rows,
        common=_common(rows, changes, len(result.layers)),
        assumes=heat.assumes if heat else (),
        not_reckoned=missing,
    )


def _merged(changes: Iterable[Change]) -> list[Change]:
    """Take a step back out where it only undoes one that lasts a layer or two: that is one event, not two."""
    ordered = sorted(changes, key=lambda change: -change.bits)
    undone = {
        (change.name, change.layer + change.lasts, change.step < 0)
        for change in ordered
        if change.lasts is not None and change.lasts <= 2
    }
    kept = []
    for change in ordered:
        key = (change.name, change.layer, change.step > 0)
        if change.kind == "step" and key in undone and not _is_short(change):
            continue
        kept.append(change)
    return kept


def _is_short(change: Change) -> bool:
    return change.lasts is not None and change.lasts <= 2


# one place --------------------------------------------------------------------------------------------
def _place(
    result: LookResult, asked: AskedPlace, series: Sequence[Series], changes: list[Change], reach_mm: float
) -> PlaceRow:
    layer = _layer_of(result, asked)
    low, high = _window(result, asked, layer, reach_mm)
    inside = [change for change in changes if low <= change.layer <= high]
    rows = sorted((_row(result, change, layer) for change in inside), key=_rank)
    around = [c for c in changes if not low <= c.layer <= high and abs(c.layer - layer) <= NEAR_LAYERS]
    best = rows[0].bits if rows else 0.0
    near = [row for row in sorted((_row(result, c, layer) for c in around), key=_rank) if row.bits > max(best, 3.0)]
    moved = {change.name for change in inside}
    return PlaceRow(
        asked=asked.text,
        at=_at(result, layer),
        window=(low + 1, high + 1),
        changes=tuple(rows[:MOST_CHANGES]),
        nearby=tuple(near[:MOST_NEAR]),
        steady=tuple(
            _steady(one, low, high)
            for one in (*steady_heat(result.measured), *series)
            if one.name not in moved and _is_known(one, low, high)
        ),
    )


def _rank(row: ChangeRow) -> float:
    return -(row.bits - BITS_A_LAYER * abs(row.away))


def _layer_of(result: LookResult, asked: AskedPlace) -> int:
    """0-based layer of a place. Raises InputError that says what range there is."""
    by_layer, count = asked.clock == "layer", len(result.layers)
    layer = asked.value - 1 if by_layer else float(result.timeline.convert(asked.value, asked.clock, "layer"))
    if not 0 <= layer < (count if by_layer else count + 1):  # NaN too
        raise InputError(
            f"'{asked.text}' does not lie in the print", where=result.toolpath.name, fix=f"Give {_range(result, asked)}"
        )
    return min(int(layer + 1e-9), count - 1)


def _range(result: LookResult, asked: AskedPlace) -> str:
    layers, table = result.layers, result.measured.per_layer
    if asked.clock == "z":
        return f"a height between {result.timeline.floor_z:g} and {float(np.max(layers.z_mm)):g} mm"
    if asked.clock == "layer":
        return f"a layer from 1 to {len(layers)}"
    if asked.clock == "line":
        return f"a line between the first bead and the last, {table.first_line.min()} to {table.last_line.max()}"
    first, last = result.timeline.layer_s[0], result.timeline.layer_s[-1]
    return f"a time between the first bead and the last, {first:.0f} to {last:.0f} s"


def _window(result: LookResult, asked: AskedPlace, layer: int, reach_mm: float) -> tuple[int, int]:
    last = len(result.layers) - 1
    if asked.clock != "z":
        return max(layer - 1, 0), min(layer + 1, last)
    z = result.timeline.layer_z
    low = int(np.searchsorted(z, asked.value - reach_mm))
    high = int(np.searchsorted(z, asked.value + reach_mm))
    return max(min(low, layer), 0), min(max(high, layer), last)


def _at(result: LookResult, layer: int) -> At:
    table, line = result.measured.per_layer, result.timeline
    top = float(table.z_mm[layer])
    ends = np.array([layer, layer + 1.0])
    clocks = {name: np.nan_to_num(line.convert(ends, "layer", name)) for name in AS_SPANS}
    both = {name: (round(float(low), 3), round(float(high), 3)) for name, (low, high) in clocks.items()}
    return At(
        layer=layer + 1,
        layers=len(result.layers),
        z_mm=(round(top - float(table.height_mm[layer]), 4), round(top, 4)),
        seconds=both["s"],
        lines=(int(table.first_line[layer]), int(table.last_line[layer])),
        filament_mm=both["filament"],
        path_mm=both["path"],
    )


def _row(result: LookResult, change: Change, layer: int) -> ChangeRow:
    table = result.measured.per_layer
    return ChangeRow(
        name=change.name,
        text=sentence(change),
        kind="command" if change.kind == "command" else "step",
        layer=change.layer + 1,
        z_mm=round(float(table.z_mm[change.layer]), 4),
        line=change.line or int(table.first_line[change.layer]) or None,
        before=_number(change.before),
        after=_number(change.after),
        unit=change.unit,
        like=change.like,
        of_layers=change.layers,
        noise=_number(change.z) if change.kind == "step" else None,
        lasts=change.lasts,
        bits=round(change.bits, 2),
        away=change.layer - layer,
    )


def _number(value: float | None) -> float | None:
    return round(float(value), 4) if value is not None and np.isfinite(value) else None


def _is_known(series: Series, low: int, high: int) -> bool:
    return bool(np.isfinite(series.values[low : high + 1]).any())


def _steady(series: Series, low: int, high: int) -> SteadyRow:
    value = float(np.nanmedian(series.values[low : high + 1]))
    unit = f" {series.unit}" if series.unit else ""
    return SteadyRow(name=series.name, text=f"{series.noun} {value:.4g}{unit}", value=round(value, 4), unit=series.unit)


# several places ---------------------------------------------------------------------------------------
def _common(rows: Sequence[PlaceRow], changes: list[Change], layers: int) -> tuple[CommonRow, ...]:
    """Which changes the places share more often than chance would have it."""
    if len(rows) < 2:
        return ()
    out = []
    for name in {change.name for row in rows for change in row.changes}:
        at = np.unique([change.layer for change in changes if change.name == name])
        noun = next(change.noun for change in changes if change.name == name)
        covered = [_share(at, row.window[1] - row.window[0], layers) for row in rows]
        hits = sum(any(change.name == name for change in row.changes) for row in rows)
        expected = float(np.sum(covered))
        bits = -log2(max(_tail(hits, covered), 1e-300))
        if hits >= 2 and bits >= LEAST_COMMON_BITS:
            text = f"{noun}: changes at {hits} of the {len(rows)} places; by chance {expected:.1f} would be expected"
            out.append(CommonRow(name=name, text=text[0].upper() + text[1:], places=hits, of_places=len(rows),
                                 expected=round(expected, 3), bits=round(bits, 2)))  # fmt: skip
    return tuple(sorted(out, key=lambda row: -row.bits))


def _share(at: np.ndarray[Any, Any], width: int, layers: int) -> float:
    """Share of windows of that many further layers in which a change falls."""
    near = np.zeros(layers, np.bool_)
    for layer in at.tolist():
        near[max(layer - width, 0) : layer + 1] = True
    return float(near.mean())


def _tail(hits: int, chances: Sequence[float]) -> float:
    """Chance of `hits` or more successes among independent trials of given chances (Poisson binomial, exact)."""
    spread = np.zeros(len(chances) + 1)
    spread[0] = 1.0
    for chance in chances:
        spread[1:] = spread[1:] * (1 - chance) + spread[:-1] * chance
        spread[0] *= 1 - chance
    return float(min(max(spread[hits:].sum(), 0.0), 1.0))
