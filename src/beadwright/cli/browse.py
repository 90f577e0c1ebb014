"""Look into the knowledge from the terminal: entries by word, with numbers and sources."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Literal

from beadwright.errors import NotFoundError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from beadwright.knowledge.load import Knowledge
    from beadwright.knowledge.model import Cause, Check, Sign

Table = Literal["causes", "signs", "checks"]


def show(table: Table, word: str | None, as_json: bool) -> None:
    """Print the entries of `table` that mention `word`; NotFoundError when none does."""
    from beadwright.knowledge.load import load_knowledge

    knowledge = load_knowledge()
    entries: dict[str, Cause | Sign | Check] = dict(getattr(knowledge, table))
    found = [entry for entry in entries.values() if word is None or _mentions(entry, word)]
    if not found:
        raise NotFoundError(f"no entry among the {len(entries)} {table} mentions {word!r}",
                            fix=f"try a shorter word, or `beadwright {table}` for the whole list")  # fmt: skip
    if as_json:
        print(json.dumps([entry.model_dump() for entry in found], indent=2, ensure_ascii=False))
    elif len(found) > 6:
        _print_index(found)
    else:
        _print_entries(knowledge, found)


def _mentions(entry: Cause | Sign | Check, word: str) -> bool:
    wanted = word.casefold()
    text = " ".join([entry.id, entry.id.replace("_", " "), entry.name, entry.text]).casefold()
    return wanted in text


def _print_index(found: list[Cause | Sign | Check]) -> None:
    from rich.table import Table as Grid

    from beadwright.cli.say import console

    grid = Grid.grid(padding=(0, 2))
    for entry in found:
        grid.add_row(f"[bold]{entry.id}[/bold]", entry.name)
    console().print(grid)


def _print_entries(knowledge: Knowledge, found: list[Cause | Sign | Check]) -> None:
    from rich.padding import Padding
    from rich.text import Text

    from beadwright.cli.say import console

    out = console()
    for entry in found:
        out.print(Text.assemble((entry.name, "bold"), (f"   {entry.id}", "dim")))
        out.print(Padding(Text(entry.text), (0, 0, 0, 3)))
        for label, value in _details(knowledge, entry):
            out.print(Padding(Text.assemble((f"{label}: ", "dim"), value), (0, 0, 0, 3)))
        out.print()


def _details(knowledge: Knowledge, entry: Cause | Sign | Check) -> Iterator[tuple[str, str]]:
    from beadwright.knowledge.model import Cause, Check

    if isinstance(entry, Cause):
        yield "lives in", f"{entry.lives_in} · {entry.family} · prior {entry.prior:g}"
        yield "shows as", _chances(entry.signs)
        if entry.leads_to:
            yield "leads to", _chances(entry.leads_to)
        yield "remedies", ", ".join(entry.remedies)
    elif isinstance(entry, Check):
        yield (
            "price",
            f"{entry.minutes:g} min, {entry.effort}" + (f", {entry.money:g} in money" if entry.money else ""),
        )
        if entry.sign:
            yield "settles", entry.sign
        if entry.yes:
            yield "yes points to", _chances(entry.yes)
    else:
        bringers = {one.id: one.signs[entry.id] for one in knowledge.causes.values() if entry.id in one.signs}
        yield "brought about by", _chances(bringers)
        yield "ask", entry.ask
    yield "source", source_text(knowledge, entry.source)


def source_text(knowledge: Knowledge, key: str) -> str:
    """Return how sure a source is, in words; the key itself where it is text already."""
    source = knowledge.sources.get(key)
    return source.mark if source else key


def _chances(links: dict[str, float]) -> str:
    ordered = sorted(links.items(), key=lambda item: -item[1])
    return ", ".join(f"{name} {100 * chance:.0f} %" for name, chance in ordered)
