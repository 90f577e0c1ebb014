"""What several commands ask alike: the same option, said the same way; and the note of a first use."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document for machines.")]
Material = Annotated[str | None, typer.Option(help="Polymer, as on the spool: PLA, PETG, PA6-CF …")]
Kinematics = Annotated[str | None, typer.Option(help="Kinematics: cartesian, corexy (two crossed belts) or delta.")]
Nozzle = Annotated[float | None, typer.Option(help="Bore of the nozzle, mm.")]
MeltZone = Annotated[float | None, typer.Option(help="Length of the melt zone, mm.")]
Travel = Annotated[str | None, typer.Option(help='Travel of the machine, mm: "220,220,250".')]
Filament = Annotated[float | None, typer.Option(help="Diameter of the filament, mm.")]


def first_use_note() -> None:
    """Say on stderr that kernels will be compiled, when they will."""
    from beadwright.toolpath.read import FIRST_USE_SECONDS, kernel_is_cached

    if not kernel_is_cached():
        said = f"First use on this machine: compiling, about {FIRST_USE_SECONDS:g} s, once …"
        print(said, file=sys.stderr, flush=True)
