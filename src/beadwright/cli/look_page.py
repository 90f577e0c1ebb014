"""How `beadwright look` prints one file: a page of plain sentences and two small tables."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from beadwright.exhibits.look import FindingRow, HeatSummary, LayerRow, Look, Place
from beadwright.exhibits.toolpath_file import LookResult

LEVEL_STYLE = {"danger": "bold red", "fault": "bold", "warn": "", "note": "dim"}
LEVEL_MARK = {"danger": "!!", "fault": "!", "warn": "~", "note": "·"}
MOST_PROBLEMS, MOST_COLD = 8, 4


def show(result: LookResult, layers: str = "some", *, first: bool = True, console: Console | None = None) -> None:
    """Print the page; `layers`: "some" rows of the layer table, "all" or "none"."""
    console = console or Console(highlight=False)
    page = result.look
    if not first:
        console.print()
    console.rule(Text(page.file, style="bold"), align="left")
    for line in summary(page):
        console.print(Padding(Text(line), (0, 0, 0, 2)))
    _findings(console, page)
    if page.heat is not None:
        console.print()
        for line in heat_lines(page.heat):
            console.print(Padding(Text(line), (0, 0, 0, 2)))
    if layers != "none" and page.per_layer:
        _layers(console, page, everything=layers == "all")
    _problems(console, page)


def summary(page: Look) -> list[str]:
    """What the file is, in sentences."""
    arcs = f", {page.arcs} arcs" if page.arcs else ""
    tools = f", tools {', '.join(map(str, page.tools))}" if len(page.tools) > 1 else ""
    out = [
        f"{page.lines:,} lines, {page.moves:,} moves, {page.beads:,} of them beads{arcs}{tools}; "
        f"{page.extrusion} extrusion, {page.units}."
    ]
    if page.layers.count and page.layers.first_mm is not None:
        top = max(page.layers.z_mm)
        out.append(
            f"{page.layers.count} layers to {top:g} mm: the first {page.layers.first_mm:g} mm high, "
            f"the others {page.layers.typical_mm:g} mm."
        )
    if page.bead_box:
        low, high = page.bead_box
        sides = " × ".join(f"{b - a:.1f}" for a, b in zip(low[:2], high[:2], strict=True))
        out.append(f"Beads cover {sides} mm, x {low[0]:g} … {high[0]:g}, y {low[1]:g} … {high[1]:g}.")
    out.append(
        f"{page.filament_mm / 1000:.2f} m of filament, {page.volume_mm3 / 1000:.2f} cm³, {page.mass_g:.1f} g "
        f"({page.mass_assumes}); {duration(page.seconds)} of motion; {page.retractions} retractions."
    )
    heat = [
        _history("nozzle", page.nozzle_c, "°C"),
        _history("bed", page.bed_c, "°C"),
        _history("part fan", page.fan_percent, "%"),
    ]
    out.append("; ".join(heat) + ".")
    return [sentence[0].upper() + sentence[1:] for sentence in out]


def duration(seconds: float) -> str:
    """Say a time.

    >>> duration(42.4), duration(3725), duration(100000)
    ('42 s', '1 h 02 min', '27 h 46 min')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    minutes = int(seconds // 60)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


def _history(noun: str, pairs: tuple[tuple[int, float], ...], unit: str) -> str:
    if not pairs:
        return f"{noun} never set"
    shown = [f"{value:g} {unit} from line {line}" for line, value in pairs[:4]]
    more = f" and {len(pairs) - 4} more changes" if len(pairs) > 4 else ""
    return f"{noun} {', '.join(shown)}{more}"


def heat_lines(heat: HeatSummary) -> list[str]:
    """Say where the strand leaves too cold for its flow."""
    assumes = f"Reckoned with: {'; '.join(heat.assumes)}."
    if not heat.cold:
        return [f"The core of the strand reaches {heat.core_target_c:g} °C in all layers.", assumes]
    out = []
    for span in heat.cold[:MOST_COLD]:
        first, last = span.where.layers or (0, 0)
        layers = f"layers {first} to {last}" if first < last else f"layer {first}"
        out.append(
            f"Too cold for its flow in {layers} ({_place(span.where)}): for {100 * span.share:.0f} % of the time the "
            f"core stays below {heat.core_target_c:g} °C; the coldest twentieth leaves at {span.core_c:.0f} °C or less."
        )
    more = [f"And in {len(heat.cold) - MOST_COLD} more runs of layers."] if len(heat.cold) > MOST_COLD else []
    return [*out, *more, assumes]


def _findings(console: Console, page: Look) -> None:
    console.print()
    if not page.findings:
        console.print(Padding(Text("No rule found fault with it."), (0, 0, 0, 2)))
    table = Table.grid(padding=(0, 1))
    for finding in page.findings:
        style = LEVEL_STYLE[finding.level]
        table.add_row("", Text(f"{LEVEL_MARK[finding.level]:>2} {finding.level}", style=style), _sentence(finding))
    console.print(table)
    if page.not_asked and not any(f.name == "polymer" for f in page.facts):
        console.print(
            Padding(Text(f"Not asked for want of facts: {', '.join(page.not_asked)}.", style="dim"), (0, 0, 0, 2))
        )


def _sentence(finding: FindingRow) -> Text:
    text = Text(finding.text)
    if finding.clears:
        text.append(f" → {finding.clears}.", style="italic")
    place = _place(finding.where)
    if place:
        text.append(f"  [{place}]", style="dim")
    return text


def _place(where: Place) -> str:
    parts = []
    if where.z_mm:
        low, high = where.z_mm
        parts.append(f"z {low:g} mm" if low == high else f"z {low:g}–{high:g} mm")
    if where.lines:
        low_line, high_line = where.lines
        parts.append(f"line {low_line}" if low_line == high_line else f"lines {low_line}–{high_line}")
    return ", ".join(parts)


def chosen_rows(rows: tuple[LayerRow, ...]) -> list[int]:
    """Which layers tell the story: the first two, the last, and those unlike the one before; at most 14."""
    if len(rows) <= 14:
        return list(range(len(rows)))
    seconds = np.array([row.seconds for row in rows])
    heat = np.array([[row.nozzle_c or 0, row.bed_c or 0, row.fan_percent or 0] for row in rows])
    flow = np.array([row.flow_mm3_s.p95 or 0 for row in rows])
    unlike = np.abs(np.diff(np.log(np.maximum(seconds, 0.01)))) + np.abs(np.diff(np.log(np.maximum(flow, 0.01))))
    unlike += 10.0 * (np.diff(heat, axis=0) != 0).any(axis=1)
    telling = (np.argsort(-unlike, kind="stable")[:11] + 1).tolist()
    return sorted({0, 1, len(rows) - 1, *(k for k in telling if unlike[k - 1] > 0.2)})


def _layers(console: Console, page: Look, *, everything: bool) -> None:
    rows = page.per_layer
    which = list(range(len(rows))) if everything else chosen_rows(rows)
    table = Table(box=None, padding=(0, 1), header_style="dim")
    for head in (
        "layer",
        "z mm",
        "s",
        "mm³/s",
        "peak",
        "mm/s",
        "nozzle",
        "bed",
        "fan",
        "retr.",
        "filament mm",
    ):
        table.add_column(head, justify="right")
    warm = any(row.core_c is not None for row in rows)
    for head in ("core", "weld") if warm else ():
        table.add_column(head, justify="right")
    before = -1
    for k in which:
        if k != before + 1:
            table.add_row("…", style="dim")
        table.add_row(str(k + 1), *_cells(rows[k]), *(_heat_cells(rows[k]) if warm else ()))
        before = k
    console.print()
    console.print(table)
    if len(which) < len(rows):
        console.print(Padding(Text("--layers all shows every layer.", style="dim"), (0, 0, 0, 2)))


def _cells(row: LayerRow) -> list[str]:
    return [
        f"{row.z_mm:.2f}", _say(row.seconds), _say(row.flow_mm3_s.median, 1), _say(row.flow_mm3_s.p95, 1),
        _say(row.speed_mm_s.median), _say(row.nozzle_c), _say(row.bed_c), _say(row.fan_percent),
        str(row.retractions), _say(row.filament_mm),
    ]  # fmt: skip


def _heat_cells(row: LayerRow) -> list[str]:
    return [_say(row.core_c), _say(row.weld_index, 2)]


def _say(value: float | None, digits: int = 0) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def _problems(console: Console, page: Look) -> None:
    if not page.problems:
        return
    console.print()
    console.print(Padding(Text("Not understood, or not as it should be:"), (0, 0, 0, 2)))
    for problem in page.problems[:MOST_PROBLEMS]:
        times = f" ({problem.count} lines)" if problem.count > 1 else ""
        console.print(Padding(Text(f"line {problem.line}: {problem.text!r}{times}: {problem.meaning}"), (0, 0, 0, 4)))
    if len(page.problems) > MOST_PROBLEMS:
        console.print(Padding(Text(f"and {len(page.problems) - MOST_PROBLEMS} more; --json lists them."), (0, 0, 0, 4)))
