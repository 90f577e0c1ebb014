"""Rules about what the machine can do, and whether the file is whole."""

from __future__ import annotations

from dataclasses import replace

from beadwright.facts import Facts

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet

# Common practice, no source. A bed that carries the part is heavier than a head, and grows heavier as it
# prints.
ACCELERATION = {"y": 4000.0, "z": 15000.0, "none": 20000.0}
SPEED = {"y": 200.0, "z": 400.0, "none": 500.0}
USUAL_BED = {"cartesian": "y", "corexy": "z", "delta": "none"}


def moving_bed(facts: Facts) -> str | None:
    """Which way the bed moves, as recorded or as is usual for the kinematics; None when neither is known."""
    told = facts.text("moving_bed")
    return told if told in ACCELERATION else USUAL_BED.get(facts.text("kinematics") or "")


def outside_machine(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Moves that leave the machine's travel: the carriage runs into its end and loses steps."""
    window = Window(None, 0.0)
    said = speaker(
        "outside_machine",
        "moves_outside_mm",
        facts,
        context,
        window,
        "mm",
        ("file_moves_outside", "machine_profile_wrong"),
    )
    if said is None:
        return None
    if said.value <= 0:
        return said.quiet("all moves stay inside the machine", -2.0)
    text = (
        f"The file sends the head {said.value:g} mm beyond the machine's "
        f"travel{where_text(context.where('moves_outside_mm'))}; "
        "it runs into its end there and loses steps."
    )
    clears = f"the part moved inwards by {said.value:g} mm or more, or the right machine chosen"
    return said.find("fault" if said.value > 1.0 else "warn", text, clears=clears)


def acceleration_high(facts: Facts, context: Context) -> Finding | Quiet | None:
    """More acceleration than this kind of machine commonly bears."""
    bed = moving_bed(facts)
    if bed is None:
        return None
    most = ACCELERATION[bed]
    said = speaker(
        "acceleration_high",
        "accel_mm_s2",
        facts,
        context,
        Window(None, most),
        "mm/s²",
        ("acceleration_too_high",),
    )
    if said is None:
        return None
    if said.value <= most:
        return said.quiet(f"acceleration {said.value:g} mm/s²", -0.7)
    where = where_text(context.where("accel_mm_s2"))
    return said.find(
        "warn",
        f"Beads are accelerated at {said.value:g} mm/s²{where}; {_kind(bed)} commonly bears up to {most:g} mm/s².",
    )


def speed_high(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Faster than this kind of machine commonly prints."""
    bed = moving_bed(facts)
    if bed is None:
        return None
    most = SPEED[bed]
    said = speaker("speed_high", "speed_mm_s", facts, context, Window(None, most), "mm/s", ("speed_too_high",))
    if said is None:
        return None
    if said.value <= most:
        return said.quiet(f"speed {said.value:g} mm/s", -0.7)
    where = where_text(context.where("speed_mm_s"))
    return said.find(
        "warn",
        f"Beads are laid at {said.value:g} mm/s{where}; {_kind(bed)} commonly prints at up to {most:g} mm/s.",
    )


def file_ends_abruptly(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The file stops in the middle of a print."""
    said = speaker(
        "file_ends_abruptly",
        "file_ends_abruptly",
        facts,
        context,
        Window(None, None),
        "",
        ("file_cut_short",),
    )
    if said is None:
        return None
    if not said.value:
        return said.quiet("the file ends as a print ends", -2.0)
    text = (
        f"The file stops in mid-print{where_text(context.where('file_ends_abruptly'))}: its last words lay a "
        f"bead and nothing "
        "switches the heaters off. The machine is left hot: do not leave it alone."
    )
    return said.find("fault", text, clears="the file exported or copied again, whole")


def file_shifts(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The file itself moves all layers above a height sideways."""
    fact = facts.best("file_shift_mm")
    if fact is None or not isinstance(fact.value, tuple):
        return None
    dx, dy = fact.value
    length = (dx**2 + dy**2) ** 0.5
    bears_on = ("file_shifts_itself",)
    if length == 0:
        return Quiet("file_shifts", bears_on, -2.0, "the beads' box never jumps sideways in the file")
    text = (
        f"From here on the file lays every layer ({dx:+.2f}, {dy:+.2f}) mm "
        f"aside{where_text(context.where('file_shift_mm'))}, "
        "its outline otherwise unchanged: the step is in the file, not in the machine."
    )
    place = context.where("file_shift_mm")
    return Finding(
        "file_shifts",
        "warn",
        round(length, 3),
        "mm",
        (None, 0.3),
        "Practice",
        text,
        bears_on,
        place,
        None,
        fact.where,
        "the model exported anew: the step is in the file",
    )


def diameter_odd(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The filament diameter that the settings count with is not that of the spool."""
    spool = facts.number("diameter_mm")
    if not spool:
        return None
    window = Window(round(spool - 0.05, 3), round(spool + 0.05, 3))
    said = speaker("diameter_differs", "filament_diameter_mm", facts, context, window, "mm", ("diameter_set_wrong",))
    if said is None:
        return None
    if abs(said.value - spool) <= 0.05 + 1e-9:
        return said.quiet(f"filament set to {said.value:g} mm, the spool has {spool:g} mm", -1.5)
    factor = (spool / said.value) ** 2
    text = (
        f"The settings count with {said.value:g} mm filament, the spool has {spool:g} mm: {100 * factor:.0f} "
        "% of the plastic meant is fed."
    )
    finding = said.find("fault" if abs(factor - 1) > 0.15 else "warn", text)
    return replace(finding, bears_on=("diameter_set_wrong", "fed_too_much" if factor > 1 else "fed_too_little"))


def _kind(bed: str) -> str:
    return "a machine whose bed carries the part to and fro" if bed == "y" else "a machine of this kind"


RULES: tuple[Rule, ...] = (
    outside_machine,
    acceleration_high,
    speed_high,
    file_ends_abruptly,
    file_shifts,
    diameter_odd,
)
