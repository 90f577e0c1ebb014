"""How `beadwright look FILE --at …` prints what happens there."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from beadwright.exhibits.there import At, ChangeRow, PlaceRow, There

MOST_ROWS = 10
LEAST_BITS = 1.0  # below it a change happens everywhere
STEADY_FIRST = (
    "speed_mm_s", "flow_mm3_s", "layer_seconds", "nozzle_c", "bed_c", "fan_percent", "layer_height_mm",
    "acceleration_mm_s2", "core_c",
)  # fmt: skip


def show(page: There, console: Console | None = None) -> None:
    """Print what happens at each place, then what the places share."""
    console = console or Console(highlight=False)
    for number, place in enumerate(page.places):
        if number:
            console.print()
        _place(console, page.file, place)
    if page.common:
        console.print()
        console.rule(Text("In common", style="bold"), align="left")
        for row in page.common:
            console.print(_lines([(row.bits, Text(f"{row.text}."))]))
    for head, notes in (("Heat reckoned with", page.assumes), ("Not reckoned", page.not_reckoned)):
        if notes:
            console.print()
            console.print(Padding(Text(f"{head}: {'; '.join(notes)}.", style="dim"), (0, 0, 0, 2)))


def where(at: At) -> str:
    """Say a layer on the print's clocks."""
    low, high = at.z_mm
    begin, end = at.seconds
    return (
        f"layer {at.layer} of {at.layers}, z {low:g} … {high:g} mm, {clock(begin)} to {clock(end)} into the "
        f"print, lines {at.lines[0]}–{at.lines[1]}, {at.filament_mm[0] / 1000:.2f} m of filament fed"
    )


def clock(seconds: float) -> str:
    """Say a moment of the print.

    >>> clock(42.4), clock(350.4), clock(4325)
    ('0:42', '5:50', '1:12:05')
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{rest:02d}" if minutes >= 60 else f"{minutes}:{rest:02d}"


def _place(console: Console, file: str, place: PlaceRow) -> None:
    console.rule(Text(f"{file} at {place.asked}", style="bold"), align="left")
    console.print(Padding(Text(f"{where(place.at)[0].upper()}{where(place.at)[1:]}."), (0, 0, 0, 2)))
    shown = [row for row in place.changes if row.bits >= LEAST_BITS][:MOST_ROWS]
    low, high = place.window
    span = f"layers {low} to {high}" if low < high else f"layer {low}"
    if not shown:
        console.print(Padding(Text(f"Nothing unusual changes in {span}."), (1, 0, 0, 2)))
    else:
        console.print(Padding(Text(f"What changes in {span}, most unusual first (bits):"), (1, 0, 0, 2)))
        console.print(_lines([(row.bits, _said(row)) for row in shown]))
    if place.nearby:
        console.print(Padding(Text("More unusual, but a little way off:"), (1, 0, 0, 2)))
        console.print(_lines([(row.bits, _said(row)) for row in place.nearby]))
    steady = [row.text for name in STEADY_FIRST for row in place.steady if row.name == name]
    if steady:
        console.print(Padding(Text(f"Steady: {'; '.join(steady)}.", style="dim"), (1, 0, 0, 2)))


def _said(row: ChangeRow) -> Text:
    text = Text(row.text)
    text.append(f"  [layer {row.layer}, z {row.z_mm:g} mm]", style="dim")
    return text


def _lines(rows: list[tuple[float, Text]]) -> Padding:
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", style="dim")
    for bits, text in rows:
        table.add_row(f"{bits:.1f}", text)
    return Padding(table, (0, 0, 0, 4))
