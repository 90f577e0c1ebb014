"""`beadwright compare`: what a file that failed tells the machine to do that a file that printed well does not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command to the main program."""
    app.command("compare")(compare_command)


def compare_command(
    good: Annotated[Path, typer.Argument(help="A toolpath file that printed well.", show_default=False)],
    bad: Annotated[Path, typer.Argument(help="One that did not.", show_default=False)],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document for machines.")] = False,
    material: Annotated[str | None, typer.Option(help="Polymer, as on the spool: PLA, PETG, PA6-CF …")] = None,
    printer: Annotated[
        str | None, typer.Option(help="Kinematics: cartesian, corexy (two crossed belts) or delta.")
    ] = None,
    nozzle: Annotated[float | None, typer.Option(help="Bore of the nozzle, mm.")] = None,
    melt_zone: Annotated[float | None, typer.Option(help="Length of the melt zone, mm.")] = None,
    travel: Annotated[str | None, typer.Option(help='Travel of the machine, mm: "220,220,250".')] = None,
    filament: Annotated[float | None, typer.Option(help="Diameter of the filament, mm.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="List every difference, small ones too.")] = False,
) -> None:
    """Hold a file that failed against one that printed well: what differs, in measured terms, most telling first."""
    from beadwright.cli.look import facts_from_options, look_at
    from beadwright.exhibits.compare import compare

    facts = facts_from_options(material, printer, nozzle, melt_zone, travel, filament)
    page = compare(look_at(good, facts, heat=True), look_at(bad, facts, heat=True))
    if as_json:
        print(json.dumps(page.model_dump(), allow_nan=False, indent=2))
        return
    from beadwright.cli.compare_page import show

    show(page, everything=everything)
