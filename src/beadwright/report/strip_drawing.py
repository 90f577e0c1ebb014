"""The timeline strip drawn: one thin row per quantity along a clock of the print, findings laid over it.

Drawn here as SVG, once for a wide page and once for a phone, so that a page needs no script and no chart engine is
started for a few step lines (one drawing takes a millisecond, a hundredth of what an engine takes).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from beadwright.report.axis import grouped, ticks
from beadwright.report.svg import escaped, line, number, svg, text

MOST_POINTS = 400  # per row: finer than a page shows
WIDE, NARROW = 752.0, 350.0  # px of the whole drawing
LEFT, RIGHT = 38.0, 12.0
ROW, TITLE, GAP = 46.0, 17.0, 9.0  # px: a row, the title above it, the room below
SLOT, MARK_LANE, FOOT = 24.0, 17.0, 36.0  # a finding; the labels of marks; the axis
PITCH = TITLE + ROW + GAP
LABEL_ROOM = 62.0  # px from one label of a mark to the next
LETTER = 6.2  # px, a letter of small print, about
WHOLE_SHARE = 0.6  # a finding over more of the print than this shades nothing: it would shade all


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
    value: np.ndarray  # (k,) float64, NaN where nothing is known


@dataclass(frozen=True)
class Mark:
    """A place worth looking at: where the fault was seen, or what a finding concerns."""

    label: str
    low: float
    high: float
    finding: bool = False
    grave: bool = True  # drawn in the accent


@dataclass(frozen=True)
class _Frame:
    """The clock laid across the drawing."""

    end: float
    width: float

    def x(self, at: float) -> float:
        """The place of a value of the clock, px."""
        return LEFT + (self.width - LEFT - RIGHT) * min(max(at / self.end, 0.0), 1.0)


def strip_html(clocks: tuple[Clock, ...], rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = ()) -> str:
    """Return the strip along the first clock, and folded below it the same along the others, as markup for a page."""
    first, *others = clocks
    folded = "".join(
        f"<details><summary>the same by {escaped(clock.title)}</summary>"
        f"{_both_widths(clock, rows, on_clock(marks, first, clock))}</details>"
        for clock in others
    )
    return _both_widths(first, rows, marks) + folded


def on_clock(marks: tuple[Mark, ...], from_: Clock, to: Clock) -> tuple[Mark, ...]:
    """Return the marks of one clock on another; within a layer both run evenly."""
    known, wanted = np.append(0.0, from_.ends), np.append(0.0, to.ends)
    low = np.interp([mark.low for mark in marks], known, wanted).tolist()
    high = np.interp([mark.high for mark in marks], known, wanted).tolist()
    return tuple(replace(mark, low=a, high=b) for mark, a, b in zip(marks, low, high, strict=True))


def _both_widths(clock: Clock, rows: tuple[StripRow, ...], marks: tuple[Mark, ...]) -> str:
    pair = (("wide", WIDE), ("narrow", NARROW))
    return "".join(f'<div class="{name}">{strip_svg(clock, rows, marks, width)}</div>' for name, width in pair)


def strip_svg(clock: Clock, rows: tuple[StripRow, ...], marks: tuple[Mark, ...] = (), width: float = WIDE) -> str:
    """Draw rows along a clock. `rows` have one value a layer; marks beyond the clock's end are left out."""
    frame = _Frame(float(clock.ends[-1]), width)
    shown = [mark for mark in marks if 0 <= mark.low <= frame.end]
    findings, told = [mark for mark in shown if mark.finding], [mark for mark in shown if not mark.finding]
    top = SLOT * len(findings) + (MARK_LANE if told else 0.0)
    foot = top + len(rows) * PITCH
    parts = [_finding_bar(frame, mark, SLOT * n) for n, mark in enumerate(findings)]
    parts += [_band(frame, mark, top, foot) for mark in findings if mark.high - mark.low < WHOLE_SHARE * frame.end]
    parts += [_row(frame, clock, row, top + n * PITCH) for n, row in enumerate(rows)]
    parts += _mark_lines(frame, told, top, len(rows))
    parts.append(_axis(frame, clock, foot - GAP + 2))
    return svg("".join(parts), width, foot - GAP + FOOT, label=_words(clock, rows, shown))


def _words(clock: Clock, rows: tuple[StripRow, ...], marks: list[Mark]) -> str:
    """What the drawing tells, for someone who does not see it: each row's span, each mark's place."""
    spans = []
    for row in rows:
        known = row.value[np.isfinite(row.value)]
        if len(known):
            spans.append(f"{row.title} {known.min():.3g} to {known.max():.3g} {row.unit}")
    places = [
        f"{mark.label} at {mark.low:.3g}" + (f" to {mark.high:.3g}" if mark.high > mark.low else "") for mark in marks
    ]
    return f"Along the {clock.title}, 0 to {clock.ends[-1]:.3g} {clock.unit}: " + "; ".join(spans + places) + "."


def _finding_bar(frame: _Frame, mark: Mark, top: float) -> str:
    """A finding's name over the stretch that it concerns; the name leans to the side that has room."""
    low, high = frame.x(mark.low), frame.x(mark.high)
    colour = "accent" if mark.grave else "faint"
    bar = (f'<rect x="{number(low)}" y="{number(top + 15)}" width="{number(max(high - low, 3.0))}" height="3.5" '
           f'fill="var(--{colour})"/>')  # fmt: skip
    if low + LETTER * len(mark.label) < frame.width:
        return text(low, top + 11, mark.label) + bar
    return text(min(high, frame.width - RIGHT), top + 11, mark.label, anchor="end") + bar


def _band(frame: _Frame, mark: Mark, top: float, foot: float) -> str:
    low, high = frame.x(mark.low), frame.x(mark.high)
    return (f'<rect x="{number(low)}" y="{number(top + TITLE)}" width="{number(max(high - low, 2.0))}" '
            f'height="{number(foot - GAP - top - TITLE)}" fill="var(--leaf)"/>')  # fmt: skip


def _mark_lines(frame: _Frame, marks: list[Mark], top: float, count: int) -> list[str]:
    """A line through each row at every mark; labels above them, joined where there is no room for two."""
    places = [(frame.x((mark.low + mark.high) / 2), mark.label) for mark in marks]
    parts = []
    for x, _ in places:
        parts += [line(x, y, x, y + ROW, "accent", 1.2) for y in (top + TITLE + n * PITCH for n in range(count))]
        parts.append(line(x, top - 1, x, top + 2, "accent", 1.2))
    for x, label in grouped(places, LABEL_ROOM):
        half = LETTER * len(label) / 2
        centre = min(max(x, half), frame.width - half)
        parts.append(text(centre, top - 4, label, colour="accent", anchor="middle", weight="600"))
    return parts


def _row(frame: _Frame, clock: Clock, row: StripRow, top: float) -> str:
    low, high, values = _span(row.value)
    base = top + TITLE + ROW
    scale = ROW / (high - low)
    parts = [text(LEFT, top + 11, f"{row.title} ({row.unit})" if row.unit else row.title)]
    for value in values:
        y = base - (value - low) * scale
        parts.append(line(LEFT, y, frame.width - RIGHT, y, "rule", 0.7))
        parts.append(text(LEFT - 6, y + 4, f"{value:g}", colour="faint", anchor="end"))
    parts.append(line(LEFT, top + TITLE, LEFT, base, "rule"))
    parts.append(f'<path d="{_steps(frame, clock, row, low, base, scale)}" fill="none" stroke="var(--ink)" '
                 f'stroke-width="1.4"/>')  # fmt: skip
    return "".join(parts)


def _steps(frame: _Frame, clock: Clock, row: StripRow, low: float, base: float, scale: float) -> str:
    """The path of a row: level within a layer, a step between layers, broken where nothing is known."""
    keep = thinned(row.value)
    begins = np.append(0.0, clock.ends[keep][:-1])
    path, pen = [], False
    for start, end, value in zip(begins.tolist(), clock.ends[keep].tolist(), row.value[keep].tolist(), strict=True):
        if not np.isfinite(value):
            pen = False
            continue
        y = f"{base - (value - low) * scale:.1f}"
        path.append(f"V{y}" if pen else f"M{frame.x(start):.1f} {y}")
        path.append(f"H{frame.x(end):.1f}")
        pen = True
    return "".join(path)


def thinned(value: np.ndarray) -> np.ndarray:
    """Return which layers to draw, at most `MOST_POINTS`: of each stretch the lowest and the highest, so that no spike
    is lost, and the last of all.
    """
    count = len(value)
    if count <= MOST_POINTS:
        return np.arange(count)
    edges = np.linspace(0, count, (MOST_POINTS - 1) // 2 + 1).round().astype(int)
    known = np.isfinite(value)
    lows, highs = np.where(known, value, np.inf), np.where(known, value, -np.inf)
    spans = list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))
    kept = [a + int(np.argmin(lows[a:b])) for a, b in spans] + [a + int(np.argmax(highs[a:b])) for a, b in spans]
    return np.unique([*kept, count - 1])


def _span(value: np.ndarray) -> tuple[float, float, list[float]]:
    """The ends of a row's axis and the values to write beside it, at most three; one where the row is level."""
    known = value[np.isfinite(value)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    if high - low <= 0.005 * max(abs(high), 1e-3):
        pad = 0.05 * max(abs(high), 1.0)
        return low - pad, high + pad, [float(f"{high:.4g}")]
    pad = 0.1 * (high - low)
    values = ticks(low - pad, high + pad, 3)
    if len(values) < 2:
        values = ticks(low - pad, high + pad, 5)
    return low - pad, high + pad, values if len(values) < 4 else values[::2]


def _axis(frame: _Frame, clock: Clock, y: float) -> str:
    parts = [line(LEFT, y, frame.width - RIGHT, y, "rule")]
    for value in ticks(0.0, frame.end, frame.width / 58):
        x = frame.x(value)
        parts += [line(x, y, x, y + 4, "rule"), text(x, y + 15, f"{value:g}", colour="faint", anchor="middle")]
    title = f"{clock.title} ({clock.unit})"
    return "".join([*parts, text(frame.width - RIGHT, y + 28, title, colour="faint", anchor="end")])
