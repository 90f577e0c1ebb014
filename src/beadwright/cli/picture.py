"""`beadwright picture`: the print seen through from one side, as a file."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Annotated

import typer

KINDS = (".svg", ".png")


def register(app: typer.Typer) -> None:
    """Add the command to the main program."""
    app.command("picture")(picture_command)


def picture_command(
    file: Annotated[Path, typer.Argument(help="A toolpath file, plain or gzipped.", show_default=False)],
    view: Annotated[str, typer.Option(help="front, side, top, or one layer in plan: layer:12.")] = "front",
    by: Annotated[
        str,
        typer.Option(help="What colours the beads: flow, speed, nozzle, fan, width, layer-time, time, plastic, role."),
    ] = "flow",
    mark: Annotated[
        list[str] | None, typer.Option(help="A height in mm to draw a line at; again, or with commas, for more.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", help="The file to write, .svg or .png; a name of its own in this folder if left out."
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there already.")] = False,
) -> None:
    """Draw the print seen through from one side, coloured by what the machine is told; print the path written."""
    heights = _heights(mark or [])
    target = out or Path(own_name(file, view, by))
    _may_be_written(target, force)

    from beadwright.cli.look import look_at
    from beadwright.facts import Facts
    from beadwright.files import write_atomically
    from beadwright.report.xray import draw, view_named, xray
    from beadwright.report.xray_figure import alone, alone_png
    from beadwright.report.xray_values import quantity

    moves = look_at(file, Facts()).measured.moves
    side, shown = view_named(view, moves.layer_count), quantity(moves, by)
    picture = draw(xray(moves, shown, side), shown)
    png = target.suffix.lower() == ".png"
    content = alone_png(picture, heights, file.name) if png else alone(picture, heights, file.name).encode()
    write_atomically(target, content)
    print(target)


def own_name(file: Path, view: str, by: str) -> str:
    """Return the name a picture gets when none was asked for: of letters that every file system takes.

    >>> own_name(Path("parts/bracket v2.gcode.gz"), "layer:12", "flow")
    'bracket-v2-layer-12-flow.svg'
    """
    stem = file.name.split(".")[0] or "print"
    return "-".join(re.sub(r"[^\w]+", "-", part).strip("-") or "print" for part in (stem, view, by)) + ".svg"


def _may_be_written(target: Path, force: bool) -> None:
    from beadwright.errors import InputError

    if target.suffix.lower() not in KINDS:
        raise InputError(f"a picture cannot be written as {target.suffix or 'a file without an ending'}",
                         where=str(target), fix="give a name that ends in .svg or .png")  # fmt: skip
    if target.is_dir() or not target.absolute().parent.is_dir():
        raise InputError("there is no such folder to write into", where=str(target), fix="make the folder first")
    if target.exists() and not force:
        raise InputError(
            "is there already", where=str(target), fix="give another name with --out, or --force to replace it"
        )


def _heights(given: list[str]) -> tuple[float, ...]:
    from beadwright.errors import InputError

    heights: list[float] = []
    for part in ",".join(given).split(","):
        if not part.strip():
            continue
        try:
            height = float(part)
        except ValueError:
            height = math.nan
        if not math.isfinite(height):
            raise InputError(f"--mark was given as {part[:40]!r}", fix="Give a height in mm, such as 18.2")
        heights.append(height)
    return tuple(heights)
