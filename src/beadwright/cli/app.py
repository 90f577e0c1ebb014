"""The commands, one function each. Options are parsed here; the work is in the library."""

from __future__ import annotations

import json as jsonlib
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from beadwright.cli import case, clock, compare, look, picture
from beadwright.cli.options import AsJson, first_use_note

if TYPE_CHECKING:
    from beadwright.exhibits.toolpath_file import LookResult
    from beadwright.workup import Picture

app = typer.Typer(
    name="beadwright",
    help="Find out why a filament print failed, prove it, and keep the shop that printed it in order.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help: half the start-up time
    context_settings={"help_option_names": ["-h", "--help"]},
)
look.register(app)
compare.register(app)
case.register(app)
clock.register(app)
picture.register(app)


def _version(wanted: bool) -> None:
    if wanted:
        from beadwright import __version__

        print(f"beadwright {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Find out why a filament print failed, prove it, and keep the shop that printed it in order."""


@app.command()
def diagnose(
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="A case file (TOML or JSON), or the exhibits themselves: toolpath, photos, settings …"),
    ] = None,
    story: Annotated[str | None, typer.Option(help="What the sender says, in their own words.")] = None,
    material: Annotated[str | None, typer.Option(help="The polymer, with filler: PETG, PA6-CF, TPU 95A …")] = None,
    printer: Annotated[
        str | None, typer.Option(help="How the axes are driven: cartesian, corexy, delta or other.")
    ] = None,
    as_json: AsJson = False,
    html: Annotated[Path | None, typer.Option(help="Also write the case sheet to this HTML file.")] = None,
) -> None:
    """Say what most likely went wrong, and what next.

    Causes ranked with their reasons, the checks that would tell most, and what to change, with numbers.
    Any part may be missing: a story alone is enough to start.
    """
    from beadwright.cli import say
    from beadwright.workup import case_from_command, work_up

    stated, exhibits = case_from_command(files or [], story=story, material=material, printer=printer)
    if exhibits:
        first_use_note()
    with say.progress_on_stderr(quiet=as_json) as progress:
        workup = work_up(stated, exhibits, progress=progress, draw=None if html is None else _pictures)
    if html is not None:
        from beadwright.files import write_atomically
        from beadwright.report.sheet import render_sheet

        write_atomically(html, render_sheet(workup).encode())
        print(f"case sheet: {html}", file=sys.stderr)
    if as_json:
        print(workup.diagnosis.model_dump_json(indent=2))
    else:
        say.print_diagnosis(workup.diagnosis, title=stated.case.title)


def _pictures(result: LookResult) -> tuple[Picture, ...]:
    from beadwright.report.xray import pictures_of

    return pictures_of(result)


@app.command()
def serve(
    shop: Annotated[
        str | None, typer.Option(help="The shop's folder, or a database URL.", envvar="BEADWRIGHT_SHOP")
    ] = None,
    port: Annotated[int, typer.Option(help="Port on this machine; 0 picks a free one.", min=0, max=65535)] = 8431,
) -> None:
    """Open the bench in the browser, here only."""
    from beadwright.web.serve import run

    run(shop, port)


@app.command()
def causes(
    word: Annotated[str | None, typer.Argument(help="Show entries whose id, name or text holds this.")] = None,
    as_json: AsJson = False,
) -> None:
    """Look into the causes that are known.

    What each is, how it shows, what it leads to, its remedies, and where the numbers come from.
    """
    _browse("causes", word, as_json)


@app.command()
def signs(
    word: Annotated[str | None, typer.Argument(help="Show entries whose id, name or text holds this.")] = None,
    as_json: AsJson = False,
) -> None:
    """Look into the signs that are known.

    What brings each about, and the question that settles it.
    """
    _browse("signs", word, as_json)


@app.command()
def checks(
    word: Annotated[str | None, typer.Argument(help="Show entries whose id, name or text holds this.")] = None,
    as_json: AsJson = False,
) -> None:
    """Look into the checks that are known.

    How to do each, what it costs and what it tells.
    """
    _browse("checks", word, as_json)


def _browse(table: Literal["causes", "signs", "checks"], word: str | None, as_json: bool) -> None:
    from beadwright.cli import browse

    browse.show(table, word, as_json)


@app.command()
def schema(
    which: Annotated[
        Literal["case", "diagnosis", "look", "there", "compare", "clock"],
        typer.Argument(help="case, diagnosis, look, there (look --at), compare or clock"),
    ],
) -> None:
    """Print a JSON Schema: case, diagnosis or look."""
    from beadwright.workup import json_schema

    print(jsonlib.dumps(json_schema(which), indent=2, ensure_ascii=False))
