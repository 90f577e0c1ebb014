"""How `beadwright compare` prints two files."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from beadwright.exhibits.compared import Comparison, DifferenceRow
from beadwright.exhibits.look import FindingRow

MOST_ROWS = 14


def show(page: Comparison, *, everything: bool = False, console: Console | None = None) -> None:
    """Print same part or not, the differences, and what only one file is guilty of; `everything` lists all rows."""
    console = console or Console(highlight=False)
    console.rule(Text(f"{page.bad.file} held against {page.good.file}", style="bold"), align="left")
    console.print(Padding(Text(page.same_part.text), (0, 0, 0, 2)))
    console.print()
    if page.differences:
        console.print(_table(page.differences if everything else page.differences[:MOST_ROWS]))
    else:
        console.print(Padding(Text("Nothing that matters differs in what the machine is told."), (0, 0, 0, 2)))
    left = len(page.differences) - MOST_ROWS
    if left > 0 and not everything:
        console.print(Padding(Text(f"and {left} smaller ones; --all lists them.", style="dim"), (0, 0, 0, 2)))
    _findings(console, f"Rules that speak up on {page.bad.file} only", page.only_bad)
    _findings(console, f"Rules that speak up on {page.good.file} only", page.only_good)
    if page.same:
        console.print()
        console.print(Padding(Text(f"Alike: {', '.join(page.same)}.", style="dim"), (0, 0, 0, 2)))


def _table(rows: tuple[DifferenceRow, ...]) -> Padding:
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", style="dim")
    for row in rows:
        text = Text(row.text)
        if row.finding:
            text.append(f"  [{row.finding}: bears on {', '.join(row.bears_on)}]", style="dim")
        table.add_row(f"{row.bits:.1f}", text)
    return Padding(table, (0, 0, 0, 2))


def _findings(console: Console, head: str, rows: tuple[FindingRow, ...]) -> None:
    if not rows:
        return
    console.print()
    console.print(Padding(Text(f"{head}:"), (0, 0, 0, 2)))
    for row in rows:
        console.print(Padding(Text(f"{row.level}: {row.text}"), (0, 0, 0, 4)))
