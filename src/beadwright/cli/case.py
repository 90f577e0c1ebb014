"""`beadwright case …`: cases kept in the shop's store. What is printed as done is on the disk."""

from __future__ import annotations

import json as jsonlib
import sys
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from beadwright.cli.options import AsJson
from beadwright.errors import CaseError, NotFoundError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from beadwright.case.model import Case
    from beadwright.diagnosis.result import Diagnosis
    from beadwright.shop.rows import CaseRow
    from beadwright.shop.store import Handed, Store

case = typer.Typer(help="Keep cases in the shop until they are closed.", no_args_is_help=True)

Shop = Annotated[
    str | None,
    typer.Option("--shop", help="The shop's folder, or a PostgreSQL address.", envvar="BEADWRIGHT_SHOP"),
]
Number = Annotated[int, typer.Argument(help="The case's number, as `case list` shows it.", metavar="N")]
Note = Annotated[str, typer.Option(help="A word to go with it.")]


def register(app: typer.Typer) -> None:
    """Add the commands to `app`."""
    app.add_typer(case, name="case")


@case.command()
def new(
    files: Annotated[
        list[Path] | None,
        typer.Argument(help="A case file (TOML or JSON) first, if there is one; then exhibits, copied into the shop."),
    ] = None,
    story: Annotated[str | None, typer.Option(help="What the sender says, in their own words.")] = None,
    title: Annotated[str | None, typer.Option(help="What to call the case; else the story's first words.")] = None,
    material: Annotated[str | None, typer.Option(help="The polymer, with filler: PETG, PA6-CF …")] = None,
    printer: Annotated[str | None, typer.Option(help="How the axes are driven, and the like.")] = None,
    shop: Shop = None,
) -> None:
    """Open a case, with all its exhibits or not at all."""
    stated, handed = _stated_case(files or [], story, title, material, printer)
    with _open_store(shop) as store:
        row = store.new_case(stated, exhibits=handed)
    _done(f"case {row.number} opened: {row.title} ({_count(len(row.exhibits), 'exhibit')})")


@case.command("list")
def list_(
    which: Annotated[Literal["open", "closed", "all"], typer.Option("--status", help="Which cases.")] = "open",
    as_json: AsJson = False,
    shop: Shop = None,
) -> None:
    """List cases, oldest first, with what each waits for."""
    with _open_store(shop) as store:
        rows = store.list_cases(None if which == "all" else which)
    if as_json:
        print(jsonlib.dumps([_listed(row) for row in rows], indent=2, ensure_ascii=False))
    elif rows:
        _print_list(rows)
    else:
        print(f"no {'' if which == 'all' else which + ' '}cases", file=sys.stderr)


@case.command()
def show(number: Number, as_json: AsJson = False, shop: Shop = None) -> None:
    """Work a case up and print the answer: what most likely went wrong, what to check, what to change."""
    from beadwright import __version__

    with _open_store(shop) as store:
        row = store.get(number)
        diagnosis = _worked_up(store, row, quiet=as_json)
        store.keep_diagnosis(number, row.revision, __version__, diagnosis.model_dump_json())
    if as_json:
        print(diagnosis.model_dump_json(indent=2))
        return
    from beadwright.cli import say

    print(_state_line(row), flush=True)
    say.print_diagnosis(diagnosis, title=row.title)


@case.command()
def add(
    number: Number,
    files: Annotated[list[Path], typer.Argument(help="Things handed in: toolpath, photo, log …")],
    kind: Annotated[str, typer.Option(help="What they are; guessed when left out.")] = "",
    note: Note = "",
    shop: Shop = None,
) -> None:
    """Add exhibits to a case. Each is named once it is safely kept."""
    with _open_store(shop) as store:
        for file in files:
            kept = store.add_exhibit(number, file.name, file, kind, note)
            _done(f"case {number} holds {kept.name} ({kept.bytes} bytes, SHA-256 {kept.sha256})")


@case.command()
def answer(
    number: Number,
    check: Annotated[str, typer.Argument(help="The check's id, as `case show` gives it.")],
    result: Annotated[Literal["yes", "no", "unsure"], typer.Argument(help="yes, no or unsure")],
    shop: Shop = None,
) -> None:
    """Answer a check; a second answer takes the first one's place."""
    from beadwright.knowledge.load import load_knowledge

    _require_known("check", check, load_knowledge().checks)
    with _open_store(shop) as store:
        store.answer(number, check, result)
    _done(f"case {number}: {check} answered {result}")


@case.command()
def close(
    number: Number,
    cause: Annotated[str | None, typer.Option(help="The cause it turned out to be, by id.")] = None,
    other: Annotated[str, typer.Option(help="What it was, in words, where no known cause fits.")] = "",
    note: Note = "",
    shop: Shop = None,
) -> None:
    """Close a case with what it turned out to be."""
    from beadwright.knowledge.load import load_knowledge

    if cause is not None:
        _require_known("cause", cause, load_knowledge().causes)
    with _open_store(shop) as store:
        row = store.close(number, cause, other, note)
    _done(_state_line(row))


@case.command()
def reopen(number: Number, shop: Shop = None) -> None:
    """Open a closed case again; its outcome no longer counts."""
    with _open_store(shop) as store:
        _done(_state_line(store.reopen(number)))


@case.command()
def undo(number: Number, shop: Shop = None) -> None:
    """Take back the last change to a case; again takes back the one before."""
    with _open_store(shop) as store:
        store.undo(number)
        taken = store.events(number)[-1].payload["kind"]
    _done(f"case {number}: the last change ({taken}) is taken back")


def _open_store(shop: str | None) -> Store:
    from beadwright.shop.location import find_shop
    from beadwright.shop.store import Store

    return Store.open(find_shop(shop))


def _worked_up(store: Store, row: CaseRow, *, quiet: bool) -> Diagnosis:
    from beadwright.cli.say import progress_on_stderr
    from beadwright.workup import ExhibitFile, work_up

    files = [
        ExhibitFile(one.name, store.exhibit_path(one.sha256), one.kind or None, one.note, one.sha256)
        for one in row.exhibits
    ]
    with progress_on_stderr(quiet=quiet) as progress:
        return work_up(row.case(), files, progress=progress).diagnosis


def _done(sentence: str) -> None:
    print(sentence, flush=True)  # an acknowledgement must not wait in a buffer


def _stated_case(
    files: list[Path], story: str | None, title: str | None, material: str | None, printer: str | None
) -> tuple[Case, list[Handed]]:
    """Return what is said of a case, and its exhibits in hand: the store names them in the case itself."""
    from beadwright.shop.content import with_story
    from beadwright.shop.store import Handed
    from beadwright.workup import case_from_command

    stated, found = case_from_command(files, story=story, material=material, printer=printer)
    for line in stated.exhibit:
        _require_beside(line.file)
    handed = [Handed(one.path, one.name, one.kind or "", one.note) for one in found]
    return with_story(stated.model_copy(update={"exhibit": ()}), None, title), handed


def _require_beside(file: str) -> None:
    """Refuse a case file that points out of its folder: a stranger's must not fetch our files."""
    windows, posix = PureWindowsPath(file), PurePosixPath(file)
    if windows.drive or windows.root or posix.root or ".." in (*windows.parts, *posix.parts):
        raise CaseError(
            f"the exhibit {file!r} lies outside the case file's folder",
            fix="Put it beside the case file, or name it on the command line",
        )


def _require_known(what: str, wanted: str, known: Mapping[str, object]) -> None:
    from beadwright.knowledge.terms import nearest

    if wanted not in known:
        near = nearest(wanted, known, cutoff=0.5)
        fix = f"Did you mean {near}?" if near else f"`beadwright {what}s` shows those there are"
        raise NotFoundError(f"there is no {what} {wanted!r}", fix=fix)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")


def _state_line(row: CaseRow) -> str:
    if row.outcome is None:
        return f"case {row.number}, open since {row.opened}, waits for {row.waits_for}"
    found = row.outcome.cause or row.outcome.text
    return f"case {row.number}, closed {row.outcome.closed_at.astimezone():%Y-%m-%d}: it was {found}"


def _listed(row: CaseRow) -> dict[str, object]:
    return {
        "number": row.number,
        "title": row.title,
        "opened": row.opened.isoformat(),
        "status": row.status,
        "waits_for": row.waits_for,
        "exhibits": [one.name for one in row.exhibits],
        "outcome": row.outcome and (row.outcome.cause or row.outcome.text),
    }


def _print_list(rows: list[CaseRow]) -> None:
    from rich.table import Table
    from rich.text import Text

    from beadwright.cli.say import console

    grid = Table(box=None, pad_edge=False, header_style="dim")
    grid.add_column("case", justify="right")
    for heading in ("opened", "waits for", "title"):
        grid.add_column(heading)
    for row in rows:
        waits = row.waits_for if row.outcome is None else f"it was {row.outcome.cause or row.outcome.text}"
        grid.add_row(*(Text(cell) for cell in (str(row.number), row.opened.isoformat(), waits, row.title)))
    console().print(grid)
