"""Two files side by side: what differs in what the machine is told, in measured terms, most telling first.

Each quantity is measured in both files alike; what a comment claims has no say. A difference counts in units of one
that makes itself felt for that quantity, and a rule that speaks up on the bad file only adds its own weight. Where both
print the same part, the heights at which they differ are given too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite, log2

import numpy as np
from numpy.typing import NDArray

from beadwright.audit.findings import Finding
from beadwright.audit.heat_history import heat_history
from beadwright.audit.layer_series import Series, layer_series, steady_heat
from beadwright.exhibits.bead_roles import bead_roles, role_values
from beadwright.exhibits.compared import (
    BY_NAME,
    FELT,
    QUANTITIES,
    Comparison,
    DifferenceRow,
    FileRow,
    Quantity,
)
from beadwright.exhibits.look import Place as Where
from beadwright.exhibits.same_part import Shape, same_part, shape_of
from beadwright.exhibits.toolpath_file import LookResult, finding_row
from beadwright.knowledge.names import split_unit

Column = NDArray[np.float64]
SHARE_MATTERS = 8.0  # of a role, percent
UNIT_MATTERS = {"%": 15.0, "°C": 8.0, "°": 30.0}  # of a quantity without an entry of its own
OTHER_MATTERS = 0.4  # relative, of a quantity without an entry of its own
ALONG = frozenset({
    "speed_mm_s", "flow_mm3_s", "fan_percent", "layer_height_mm", "layer_seconds", "acceleration_mm_s2",
    "filling_percent", "nozzle_c", "bed_c", "core_c", "weld_index", "crossings_without_lift",
})  # series held against each other height by height  # fmt: skip
WHOLE_NAME = {"nozzle_c": "nozzle_temp_c", "bed_c": "bed_temp_c", "acceleration_mm_s2": "accel_mm_s2"}
TRUTHS = frozenset({"bed_off_at_start", "nozzle_never_heated", "file_ends_abruptly"})
SHORTEST_SHARE = 0.005  # of the height: less is a matter of rounding at an edge


def compare(good: LookResult, bad: LookResult) -> Comparison:
    """Hold `bad` against `good`, both as `look` gives them (with the same facts, or the comparison limps)."""
    pair = (_Measured(good), _Measured(bad))
    part = same_part(pair[0].shape, pair[1].shape)
    along = _along(pair, part.verdict in ("same", "turned"))
    only_bad, only_good = _only(bad, good), _only(good, bad)
    rows, same = [], []
    names = [q.name for q in QUANTITIES] + sorted({*pair[0].values, *pair[1].values} - set(BY_NAME))
    for name in names:
        row = _difference(name, pair, along, only_bad)
        if row is not None:
            rows.append(row)
        elif name in pair[0].values and name in pair[1].values:
            same.append(name)
    assumes = tuple(dict.fromkeys(words for one in pair for words in one.assumes))
    return Comparison(
        good=_file_row(good, pair[0].shape),
        bad=_file_row(bad, pair[1].shape),
        same_part=part,
        differences=tuple(sorted(rows, key=lambda row: -row.bits)),
        same=tuple(same),
        one_sided=tuple(sorted(set(pair[0].values) ^ set(pair[1].values))),
        only_bad=tuple(finding_row(finding) for finding in only_bad),
        only_good=tuple(finding_row(finding) for finding in only_good),
        assumes=assumes,
    )


class _Measured:
    """What is compared of one file."""

    def __init__(self, result: LookResult) -> None:
        heat = result.heat
        if heat is None and result.material is not None:
            heat = heat_history(result.measured.moves, result.facts, result.material)
        series = (*steady_heat(result.measured), *layer_series(result.measured, heat))
        self.series: Mapping[str, Series] = {one.name: one for one in series}
        self.z = np.asarray(result.layers.z_mm, float)
        self.values = _values(result)
        roles = bead_roles(result)
        self.values |= role_values(result, roles) if roles is not None else {}
        for name in ("core_c", "weld_index"):
            if name in self.series:
                self.values[name] = float(np.nanmedian(self.series[name].values))
        self.shape: Shape = shape_of(result, self.series)
        self.assumes = heat.assumes if heat else ()


def _values(result: LookResult) -> dict[str, float]:
    """Every single number measured in the file, truths as 0 and 1."""
    out = {}
    for fact in result.measured.facts:
        if isinstance(fact.value, bool | int | float) and isfinite(fact.value):
            out[fact.name] = float(fact.value)
    return out


def _file_row(result: LookResult, shape: Shape) -> FileRow:
    page = result.look
    size = None if shape.size is None else tuple(round(v, 3) for v in shape.size)
    return FileRow(
        file=page.file,
        layers=page.layers.count,
        seconds=page.seconds,
        filament_mm=page.filament_mm,
        size_mm=size,  # type: ignore[arg-type]
    )


def _only(here: LookResult, there: LookResult) -> list[Finding]:
    """Findings of one file whose rule is silent on the other, or much milder there."""
    other = {finding.rule: finding.weight_bits for finding in there.audit.findings}
    return [f for f in here.audit.findings if f.weight_bits > other.get(f.rule, 0.0) + 0.5 or f.rule not in other]


# one quantity -----------------------------------------------------------------------------------------
def _quantity(name: str) -> Quantity:
    if name in BY_NAME:
        return BY_NAME[name]
    noun, unit = split_unit(name)
    noun = noun.replace("_", " ").strip()
    if name.startswith("share_"):
        return Quantity(name, noun.replace("share ", "share of ") + " in the plastic", "%", SHARE_MATTERS)
    if unit in UNIT_MATTERS:
        return Quantity(name, noun, unit, UNIT_MATTERS[unit])
    return Quantity(name, noun, unit or "", OTHER_MATTERS, relative=True)


def _difference(
    name: str, pair: tuple[_Measured, _Measured], along: Mapping[str, _Along], only_bad: Iterable[Finding]
) -> DifferenceRow | None:
    """The row of one quantity; None where the two are alike, or only one file gives it."""
    quantity, spread = _quantity(name), along.get(name)
    values = tuple(one.values.get(name) for one in pair)
    whole = values[0] is not None and values[1] is not None
    size = abs(quantity.step(values[0], values[1])) / quantity.matters if whole else 0.0  # type: ignore[arg-type]
    if size < FELT:
        if spread is None:
            return None
        values, size = (spread.good, spread.bad), spread.size
    good, bad = float(values[0] or 0.0), float(values[1] or 0.0)
    finding = max((f for f in only_bad if f.rule in quantity.rules), key=lambda f: f.weight_bits, default=None)
    finding_bits = max(finding.weight_bits, 0.0) if finding else 0.0
    truth = name in TRUTHS
    return DifferenceRow(
        name=name,
        text=_text(quantity, good, bad, spread, truth=truth),
        unit=quantity.unit,
        good=bool(good) if truth else round(good, 4),
        bad=bool(bad) if truth else round(bad, 4),
        times=round(bad / good, 4) if good > 0 and bad > 0 and not truth else None,
        size=round(size, 3),
        finding=finding.rule if finding else None,
        bears_on=finding.bears_on if finding else (),
        finding_bits=round(finding_bits, 2),
        bits=round(log2(1 + size) + finding_bits, 3),
        where=Where(z_mm=spread.z_mm) if spread else Where(),
        share=round(spread.share, 4) if spread else None,
    )


def _text(quantity: Quantity, good: float, bad: float, spread: _Along | None, *, truth: bool) -> str:
    noun, unit = quantity.noun, f" {quantity.unit}" if quantity.unit else ""
    if truth:
        return (
            f"{noun[0].upper()}{noun[1:]}: {'yes' if good else 'no'} in the good file, {'yes' if bad else 'no'} here."
        )
    text = f"{noun[0].upper()}{noun[1:]}: {_say(good)}{unit} in the good file, {_say(bad)}{unit} here"
    if quantity.relative and good > 0 and bad > 0:
        text += f" ({100 * (bad / good - 1):+.0f} %)" if bad < 3 * good else f" ({bad / good:.2g} times)"
    elif quantity.unit in ("°C", "%"):
        text += f" ({bad - good:+.3g}{unit})"
    if spread is not None and spread.share < 0.9:
        low, high = spread.z_mm
        text += f"; they differ between {low:g} and {high:g} mm" if low < high else f"; they differ at {low:g} mm"
    return text + "."


def _say(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


# along the height -------------------------------------------------------------------------------------
class _Along:
    """Where one series of two files differs."""

    def __init__(self, good: float, bad: float, size: float, z_mm: tuple[float, float], share: float) -> None:
        self.good, self.bad, self.size, self.z_mm, self.share = good, bad, size, z_mm, share


def _along(pair: tuple[_Measured, _Measured], alike: bool) -> dict[str, _Along]:
    """Heights at which series differ, by name; empty where the parts are not the same."""
    if not alike:
        return {}
    low, high = max(one.z.min() for one in pair), min(one.z.max() for one in pair)
    z = np.unique(np.concatenate([one.z for one in pair]))
    z = z[(z >= low - 1e-9) & (z <= high + 1e-9)]
    layers = [np.minimum(np.searchsorted(np.maximum.accumulate(one.z), z - 1e-4), len(one.z) - 1) for one in pair]
    out = {}
    for name in sorted(ALONG):
        if all(name in one.series for one in pair):
            columns = [one.series[name].values[at] for one, at in zip(pair, layers, strict=True)]
            found = _spread(_quantity(name), z, columns[0], columns[1])
            if found is not None:
                out[WHOLE_NAME.get(name, name)] = found
    return out


def _spread(quantity: Quantity, z: Column, good: Column, bad: Column) -> _Along | None:
    step = np.array([quantity.step(a, b) for a, b in zip(good.tolist(), bad.tolist(), strict=True)])
    far = np.abs(np.nan_to_num(step)) >= max(FELT, 0.5) * quantity.matters
    thick = np.diff(z, prepend=0.0)
    share = float(thick[far].sum() / thick.sum()) if far.any() else 0.0
    if share < SHORTEST_SHARE:
        return None
    size = float(np.median(np.abs(step[far]))) / quantity.matters
    weight = log2(1 + share) if share < 1 else 1.0  # a few layers say less than the whole height
    return _Along(
        float(np.median(good[far])), float(np.median(bad[far])), size * weight,
        (round(float(z[far][0]), 4), round(float(z[far][-1]), 4)), share,
    )  # fmt: skip
