"""`beadwright compare`: what a file that failed tells the machine to do that a file that printed well does not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from beadwright.cli.options import AsJson, Filament, Kinematics, Material, MeltZone, Nozzle, Travel


def register(app: typer.Typer) -> None:
    """Add the command to the main program."""
    app.command("compare")(compare_command)


def compare_command(
    good: Annotated[Path, typer.Argument(help="A toolpath file that printed well.", show_default=False)],
    bad: Annotated[Path, typer.Argument(help="One that did not.", show_default=False)],
    as_json: AsJson = False,
    material: Material = None,
    printer: Kinematics = None,
    nozzle: Nozzle = None,
    melt_zone: MeltZone = None,
    travel: Travel = None,
    filament: Filament = None,
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
