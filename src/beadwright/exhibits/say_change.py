"""A change as a sentence."""

from __future__ import annotations

from math import isfinite

from beadwright.audit.changes import Change

FULL, SPARSE = 82.0, 70.0  # % of the outline: from here closed, up to here open


def sentence(change: Change) -> str:
    """Say a change, and how rare it is in its file."""
    text = _what(change) + _how_long(change)
    return f"{text[0].upper()}{text[1:]}; {_rarity(change)}."


def _what(change: Change) -> str:
    before, after = change.before, change.after
    if change.kind == "command":
        return _command(change)
    if before is None or after is None:
        return f"{change.noun} changes"
    if change.name == "overhang_mm2" and after > before:
        return f"{after:.0f} mm² are laid beyond the layer below ({before:.0f} before): an overhang begins"
    if change.name == "filling_percent" and before <= SPARSE and after >= FULL:
        return f"first solid layer over infill: {before:.0f} % of the outline is filled below, {after:.0f} % here"
    if change.name == "outline_step_mm" and abs(after) > abs(before):
        return f"the outline begins to {'grow' if after > 0 else 'shrink'}, {abs(after):.2f} mm with each layer"
    verb = "rises" if after > before else "falls"
    unit = f" {change.unit}" if change.unit else ""
    share = ""
    if before > 0 and after > 0 and change.unit not in ("%", "°C"):
        share = f" ({after / before:.2g} times)" if after > 3 * before else f" ({100 * (after / before - 1):+.0f} %)"
    return f"{change.noun} {verb} from {_say(before)} to {_say(after)}{unit}{share}"


def _command(change: Change) -> str:
    line = f" (line {change.line})" if change.line else ""
    if change.after is None:
        return f"{change.noun}{line}"
    unit = f" {change.unit}" if change.unit else ""
    if change.name == "tool_change":
        return f"{change.noun}, to tool {change.after:g}{line}"
    if change.before is None:
        return f"{change.noun}: {change.after:g}{unit}{line}"
    return f"{change.noun}: {change.before:g} to {change.after:g}{unit}{line}"


def _how_long(change: Change) -> str:
    if change.lasts == 1:
        return ", for this layer only"
    if change.lasts == 2:
        return ", for two layers"
    return ""


def _rarity(change: Change) -> str:
    what = "step" if change.kind == "step" else "command"
    if change.like <= 1:
        return f"the only such {what} in {change.layers} layers"
    return f"1 of {change.like} such {what}s in {change.layers} layers"


def _say(value: float) -> str:
    """A number with three significant digits, whole ones whole.

    >>> _say(0.45), _say(1234.5), _say(80.0)
    ('0.45', '1234', '80')
    """
    if not isfinite(value):
        return "unknown"
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
