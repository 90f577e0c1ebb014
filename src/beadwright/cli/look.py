"""`beadwright look`: what toolpath files tell the machine to do."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadwright.cli.options import Filament, Kinematics, Material, MeltZone, Nozzle, Travel, first_use_note

if TYPE_CHECKING:
    from collections.abc import Callable

    from beadwright.exhibits.place import AskedPlace
    from beadwright.exhibits.toolpath_file import LookResult
    from beadwright.facts import Facts

LONG_FILE_BYTES = 20_000_000  # from here on a progress bar is worth its line


def register(app: typer.Typer) -> None:
    """Add the command to the main program."""
    app.command("look")(look_command)


def look_command(
    files: Annotated[list[Path], typer.Argument(help="Toolpath files, plain or gzipped.", show_default=False)],
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON document, or one a line for several files.")
    ] = False,
    material: Material = None,
    printer: Kinematics = None,
    nozzle: Nozzle = None,
    melt_zone: MeltZone = None,
    travel: Travel = None,
    filament: Filament = None,
    layers: Annotated[str, typer.Option(help='Rows of the layer table: "some", "all" or "none".')] = "some",
    at: Annotated[
        str | None,
        typer.Option(
            help='What happens there? "18.2mm", "layer:61", "line:14210" or "time:1h12m".', show_default=False
        ),
    ] = None,
    marks: Annotated[
        str | None, typer.Option(help='What happens at several heights, mm: "3.1,5.4,7.7".', show_default=False)
    ] = None,
    heat: Annotated[
        bool, typer.Option("--heat", help="Also core temperature and weld index by layer; needs --material.")
    ] = False,
) -> None:
    """Tell what toolpath files make the machine do, and what in them is likely to go wrong."""
    from beadwright.errors import BeadwrightError

    places = _places(at, marks)
    facts = facts_from_options(material, printer, nozzle, melt_zone, travel, filament)
    if layers not in ("some", "all", "none"):
        raise _bad_option("--layers", layers, "some, all or none")
    if places:
        from beadwright.exhibits.there import what_happens
    worst = 0
    for number, path in enumerate(files):
        try:
            result = look_at(path, facts, heat=heat or bool(places))
            there = what_happens(result, places) if places else None
        except BeadwrightError as failure:
            if len(files) == 1:
                raise
            print(f"beadwright: {failure}", file=sys.stderr)
            worst = max(worst, failure.exit_code)
            continue
        if as_json:
            document = there if there is not None else result.look
            print(json.dumps(document.model_dump(), allow_nan=False, indent=2 if len(files) == 1 else None))
        elif there is not None:
            from beadwright.cli.there_page import show as show_there

            show_there(there)
        else:
            from beadwright.cli.look_page import show

            show(result, layers, first=number == 0)
    if worst:
        raise typer.Exit(worst)


def _places(at: str | None, marks: str | None) -> list[AskedPlace]:
    """The places that --at and --marks name. Raises InputError."""
    if at is None and marks is None:
        return []
    from beadwright.exhibits.place import parse_marks, parse_place

    return ([parse_place(at)] if at is not None else []) + (parse_marks(marks) if marks is not None else [])


def facts_from_options(
    material: str | None,
    printer: str | None,
    nozzle: float | None,
    melt_zone: float | None,
    travel: str | None,
    filament: float | None,
) -> Facts:
    """Turn the command's options into facts. Raises InputError naming the option."""
    from beadwright.facts import Fact, Facts, Origin

    said: dict[str, tuple[str, Any]] = {}
    if material:
        from beadwright.knowledge.material_names import find_material

        polymer, filler = find_material(material)
        said["polymer"] = ("--material", polymer)
        if filler:
            said["filler"] = ("--material", filler)
    if printer:
        if printer not in ("cartesian", "corexy", "delta", "other"):
            raise _bad_option("--printer", printer, "cartesian, corexy, delta or other")
        said["kinematics"] = ("--printer", printer)
    sizes = (("nozzle_mm", "--nozzle", nozzle), ("melt_zone_mm", "--melt-zone", melt_zone),
             ("filament_diameter_mm", "--filament", filament))  # fmt: skip
    for name, option, value in sizes:
        if value is not None:
            if not 0 < value < 1000:
                raise _bad_option(option, f"{value:g}", "a length in mm")
            said[name] = (option, float(value))
    if travel:
        said["travel_mm"] = ("--travel", _lengths(travel))
    return Facts(Fact(name, value, Origin.RECORD, option) for name, (option, value) in said.items())


def _lengths(text: str) -> tuple[float, ...]:
    try:
        values = tuple(float(part) for part in text.replace("x", ",").replace(" ", "").split(","))
    except ValueError:
        values = ()
    if len(values) != 3 or not all(0 < value < 1e5 for value in values):
        raise _bad_option("--travel", text, 'three lengths in mm such as "220,220,250"')
    return values


def _bad_option(option: str, found: str, would_do: str) -> Exception:
    from beadwright.errors import InputError

    return InputError(f"{option} was given as '{found}'", fix=f"Give {would_do}")


def look_at(path: Path, facts: Facts, *, heat: bool = False) -> LookResult:
    """Look at one file, telling on stderr when that takes a while. Raises ToolpathError."""
    from beadwright.exhibits.toolpath_file import look
    from beadwright.knowledge.material_table import load_materials

    first_use_note()
    bar, done = _progress(path)
    try:
        return look(path, facts=facts, materials=load_materials(), progress=bar, heat=heat)
    finally:
        done()


def _progress(path: Path) -> tuple[Callable[[float], None] | None, Callable[[], None]]:
    """A bar on stderr for a long file; nothing for a short one, or where stderr is not a screen."""
    size = path.stat().st_size if path.is_file() else 0
    if size < LONG_FILE_BYTES or not sys.stderr.isatty():
        return None, lambda: None
    from rich.console import Console
    from rich.progress import Progress

    bar = Progress(console=Console(stderr=True), transient=True)
    task = bar.add_task(f"reading {path.name}", total=1.0)
    bar.start()
    return lambda share: bar.update(task, completed=share), bar.stop
