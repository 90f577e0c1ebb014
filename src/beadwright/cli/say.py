"""A diagnosis on the terminal: summary, causes with reasons, next checks, plan; cautions before all."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from beadwright.diagnosis.result import Diagnosis, NextCheck, PlanStep, RankedCause

BAR_WIDTH = 24
SHOWN_CAUSES = 5
SHOWN_REASONS = 4
SHOWN_STEPS = 4
VERDICT_WORDS = {
    "settled": "settled: one explanation carries the evidence",
    "leaning": "leaning: one explanation leads, a check would settle it",
    "open": "open: the evidence does not carry a verdict yet",
}

Progress = Callable[[str, float], None]


def console() -> Console:
    """A console on stdout that keeps lines readable on wide screens."""
    made = Console(highlight=False)
    return made if made.width <= 110 else Console(highlight=False, width=110)


@contextmanager
def progress_on_stderr(*, quiet: bool) -> Iterator[Progress | None]:
    """Give a callback `(what, fraction)` that draws one bar on stderr; None when quiet or not a terminal."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(bar_width=30))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=1.0)
        yield lambda what, fraction: bar.update(task, description=what, completed=fraction)


def print_diagnosis(diagnosis: Diagnosis, *, title: str = "") -> None:
    """Print the whole answer for a person."""
    out = console()
    if title:
        out.print(Text(title, style="bold"))
    for caution in diagnosis.cautions:
        out.print(Text("CAUTION  ", style="bold red") + Text(caution))
    if diagnosis.cautions:
        out.print()
    out.print(Text(VERDICT_WORDS[diagnosis.verdict], style="italic"))
    if diagnosis.summary:
        out.print(diagnosis.summary)
    _section(out, "What most likely went wrong", (_cause(one) for one in _worth_showing(diagnosis)))
    out.print(_line(diagnosis.none_of_these, "none of these", dim=True))
    _section(out, "Check next", (_check(i, one) for i, one in enumerate(diagnosis.next_checks[:SHOWN_STEPS], 1)))
    _section(out, "Change, in this order", (_step(i, one) for i, one in enumerate(diagnosis.plan[:SHOWN_STEPS], 1)))
    for heading, lines in (
        ("What would carry a verdict", diagnosis.missing),
        ("Sources that disagree", diagnosis.conflicts),
        ("The sender's own theory, noted and not counted", diagnosis.theories),
        ("Not used", diagnosis.unread),
    ):
        _section(out, heading, (Text(f"· {line}") for line in lines))


def _worth_showing(diagnosis: Diagnosis) -> list[RankedCause]:
    shown = [one for one in diagnosis.causes[:SHOWN_CAUSES] if one.probability >= 0.02]
    return shown or list(diagnosis.causes[:1])


def _section(out: Console, heading: str, blocks: Iterator[RenderableType]) -> None:
    listed = list(blocks)
    if not listed:
        return
    out.print()
    out.print(Rule(Text(heading, style="bold"), align="left", style="dim"))
    for block in listed:
        out.print(block)


def _line(probability: float, name: str, *, dim: bool = False) -> Text:
    filled = round(probability * BAR_WIDTH)
    style = "dim" if dim else "bold"
    return Text.assemble(
        ("█" * filled, "cyan" if not dim else "dim"), ("·" * (BAR_WIDTH - filled), "dim"),
        (f" {100 * probability:4.0f} %  ", style), (name, style),
    )  # fmt: skip


def _cause(cause: RankedCause) -> RenderableType:
    reasons = Table.grid(padding=(0, 1))
    for because in cause.because[:SHOWN_REASONS]:
        reasons.add_row(Text(f"{because.bits:+5.1f} bits", style="dim"), Text(because.text))
    head = _line(cause.probability, cause.name)
    where = Text(f"  {cause.family} · lives in the {cause.lives_in}", style="dim")
    return Group(head + where, Padding(reasons, (0, 0, 0, 4)))


def _check(number: int, check: NextCheck) -> RenderableType:
    price = f"   {check.minutes:g} min · {check.expected_bits:.2f} bits expected · {check.id}"
    head = Text.assemble((f"{number}. ", "bold"), (check.name or check.id, "bold"), (price, "dim"))
    lines = [Text(check.text)]
    if check.yes_means:
        lines.append(Text.assemble(("yes: ", "bold"), check.yes_means))
    if check.no_means:
        lines.append(Text.assemble(("no: ", "bold"), check.no_means))
    lines += [Text.assemble(("care: ", "bold yellow"), caution) for caution in check.cautions]
    return Group(head, Padding(Group(*lines), (0, 0, 0, 3)))


def _step(number: int, step: PlanStep) -> RenderableType:
    head = Text.assemble((f"{number}. ", "bold"), (step.name or step.id, "bold"),
                         (f"   {100 * step.chance:.0f} % chance to cure", "dim"))  # fmt: skip
    lines = [Text(step.text)]
    for fact, (old, new) in step.change.items():
        was = "?" if old is None else f"{old:g}"
        lines.append(Text.assemble((f"{fact}  ", "dim"), (f"{was} → {new:g}", "bold cyan")))
    if step.why:
        lines.append(Text(step.why))
    if step.may_worsen:
        lines.append(Text("may worsen: " + ", ".join(step.may_worsen), style="dim"))
    lines += [Text.assemble(("care: ", "bold yellow"), caution) for caution in step.cautions]
    return Group(head, Padding(Group(*lines), (0, 0, 0, 3)))
