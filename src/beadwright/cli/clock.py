"""`beadwright clock`: on which of the print's clocks are marks regular?"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadwright.cli.options import AsJson, Material

if TYPE_CHECKING:
    from beadwright.diagnosis.clock_answer import ClockAnswer

FINEST_U_MM, COARSEST_U_MM = 0.005, 5.0


def register(app: typer.Typer) -> None:
    """Add the command to the main program."""
    app.command("clock")(clock_command)


def clock_command(
    file: Annotated[Path, typer.Argument(help="The toolpath file of the print.", show_default=False)],
    marks: Annotated[
        list[str],
        typer.Option("--marks", help="Heights of the marks above the bed, mm: 3.1,5.4,7.6", show_default=False),
    ],
    strengths: Annotated[
        str | None, typer.Option(help="How strong each mark is, in the same order, in any unit: 3,3,2,1")
    ] = None,
    u: Annotated[float, typer.Option("--u", help="How exactly the heights were read, mm (standard error).")] = 0.15,
    material: Material = None,
    printer: Annotated[
        str | None, typer.Option(help='What is known of the printer: "corexy screw_lead_mm=8 drive_gear_mm=11"')
    ] = None,
    period: Annotated[float | None, typer.Option(help="Period of a heater's swing, if it was timed, s.")] = None,
    as_json: AsJson = False,
) -> None:
    """Tell on which clock of the print marks are regular: height, seconds or filament, and what part acts so."""
    heights = _numbers("--marks", ",".join(marks))
    strong = _numbers("--strengths", strengths) if strengths is not None else None
    _check(u, period, heights, strong)
    found = _read(file, heights, strong, u, material, printer, period)
    if as_json:
        print(found.model_dump_json(indent=2))
    else:
        _show(found)


def _read(
    file: Path, heights: tuple[float, ...], strengths: tuple[float, ...] | None, u: float,
    material: str | None, printer: str | None, period: float | None,
) -> ClockAnswer:  # fmt: skip
    from beadwright.case.quick import case_from_arguments
    from beadwright.cli.look import look_at
    from beadwright.diagnosis.clock_answer import answer
    from beadwright.diagnosis.clock_evidence import read_marks
    from beadwright.diagnosis.clock_maps import PrintClocks
    from beadwright.errors import InputError
    from beadwright.facts import Fact, Facts, Origin

    facts = Facts(case_from_arguments(material=material, printer=printer).facts())
    if period is not None:
        facts = facts.also([Fact("period_s", period, Origin.MEASURED, "--period")])
    result = look_at(file, facts)
    clocks = PrintClocks.of(result.timeline)
    if clocks is None:
        raise InputError("has fewer than three layers, no clock to test", where=str(file), fix="give the part's file")
    beyond = [height for height in heights if not clocks.z[0] <= height <= clocks.z[-1] + 3 * u]
    if beyond:
        raise InputError(f"a mark at {beyond[0]:g} mm lies outside the print, which is {clocks.z[-1]:g} mm high",
                         where="--marks", fix="give heights above the bed")  # fmt: skip
    try:
        reading = read_marks(heights, clocks, result.facts, u, strengths)
    except ValueError as failure:
        raise InputError(str(failure), where="--marks", fix="give fewer marks, and one strength for each") from failure
    return answer(reading, file.name, tuple(sorted(heights)), u)


def _numbers(option: str, text: str) -> tuple[float, ...]:
    from beadwright.errors import InputError

    words = text.replace(";", ",").split(",") if "," in text or ";" in text else text.split()
    try:
        values = tuple(float(word) for word in words if word.strip())
    except ValueError:
        values = ()
    if not values or not all(math.isfinite(value) for value in values):
        raise InputError(
            f"{option} was given as '{text[:60]}'", fix="give numbers parted by commas, such as 3.1,5.4,7.6"
        )
    return values


def _check(u: float, period: float | None, heights: tuple[float, ...], strengths: tuple[float, ...] | None) -> None:
    from beadwright.errors import InputError

    if not FINEST_U_MM <= u <= COARSEST_U_MM:
        raise InputError(f"--u was given as {u:g}", fix=f"give {FINEST_U_MM:g} to {COARSEST_U_MM:g} mm")
    if period is not None and not 0.1 <= period <= 10_000:
        raise InputError(f"--period was given as {period:g}", fix="give seconds, 0.1 to 10000")
    if strengths is not None and (len(strengths) != len(heights) or min(strengths) <= 0 or len(heights) < 5):
        raise InputError(f"{len(strengths)} strengths for {len(heights)} marks",
                         where="--strengths", fix="give one above 0 for each mark, five at least")  # fmt: skip


def _show(found: ClockAnswer) -> None:
    from rich.table import Table

    from beadwright.cli.say import console
    from beadwright.diagnosis.clock_words import chance_text

    out = console()
    out.print(found.text)
    if found.rhythms:
        table = Table("clock", "best period", "chance", "Rayleigh z", "by chance", box=None, padding=(0, 2))
        for one in found.rhythms:
            table.add_row(*_row(one.clock, one.alike, one.period, one.u), f"{100 * one.chance:.0f} %",
                          f"{one.rayleigh_z:.1f}", chance_text(one.false_alarm))  # fmt: skip
        out.print()
        out.print(table)
    if found.sources:
        out.print("\nWhat in this printer acts so:")
    for source in found.sources:
        low, high = source.period
        span = f"{low:.4g}–{high:.4g} {source.unit}"
        out.print(f"  {source.part}, {span} ({source.known_from}): {source.would_mean}")
    if found.rhythms and found.verdict in ("told", "open") and not found.sources:
        out.print("\nNo part that is known of this printer acts with such a period.")
    for line in (found.drift, found.layer_times, found.advice):
        if line:
            out.print("\n" + line[0].upper() + line[1:].rstrip(".") + ".")


def _row(clock: str, alike: tuple[str, ...], period: float, u: float) -> tuple[str, str]:
    from beadwright.diagnosis.clock_maps import CLOCKS, NAMES
    from beadwright.diagnosis.clock_words import amount

    named = {str(name): name for name in CLOCKS}
    names = " = ".join(NAMES[one] for one in (named[clock], *(named[name] for name in alike)))
    return names, amount(period, u, named[clock])
