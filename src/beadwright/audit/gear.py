"""Rules about whether machine and filament suit one another: chamber, fillers, bore, feed. Common practice unless the
material table names a source.
"""

from __future__ import annotations

from beadwright.facts import Facts
from beadwright.knowledge.material_shapes import Filler
from beadwright.knowledge.material_table import load_fillers

from .ask import PRACTICE, Context, Rule, Window, speaker
from .findings import Finding, Quiet, Where
from .limit_rule import Limit

ABRASIVE_FROM = 3.0  # rank of the filler table
SOFT = ("tpu_85a", "tpu_95a")


def _filler(facts: Facts) -> Filler | None:
    return load_fillers().get(facts.text("filler") or "")


def abrasive_on_brass(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A filler that grinds a soft nozzle out."""
    filler, metal = _filler(facts), facts.text("nozzle_material")
    if filler is None or metal is None:
        return None
    bears_on = ("abrasive_on_soft_nozzle", "nozzle_worn")
    rank = filler.abrasion_rank.best
    if rank < ABRASIVE_FROM or metal != "brass":
        return Quiet("abrasive_on_brass", bears_on, -0.7, f"{filler.name} on {metal.replace('_', ' ')}")
    text = (
        f"{filler.name} grinds a brass nozzle out within a few hundred grams; lines then grow wide and thin by turns."
    )
    source = filler.abrasion_rank.source[0]
    clears = f"a nozzle of {filler.nozzle.material.replace('_', ' ')}, {filler.nozzle.typical_mm:g} mm"
    return Finding(
        "abrasive_on_brass", "warn", rank, "rank", (None, ABRASIVE_FROM), source, text, bears_on, Where(), None,
        "on record", clears,
    )  # fmt: skip


def bore_small_for_filler(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A bore that the filler's grains or fibres bridge."""
    filler = _filler(facts)
    if filler is None:
        return None
    least = filler.nozzle.min_mm
    window = Window(least, None, filler.nozzle.source[0])
    bears_on = ("nozzle_partly_blocked",)
    said = speaker("bore_small_for_filler", "nozzle_mm", facts, context, window, "mm", bears_on)
    if said is None:
        return None
    if said.value >= least - 1e-6:
        return said.quiet(f"a {said.value:g} mm bore passes {filler.name}", -0.5)
    text = f"The bore is {said.value:g} mm; {filler.name} wants {window.say('mm')}, or it blocks the nozzle by and by."
    return said.find("warn", text, clears=f"a bore of {filler.nozzle.typical_mm:g} mm")


def soft_on_bowden(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A rubbery filament pushed through a long tube."""
    if context.material is None or context.material.key not in SOFT:
        return None
    feed = facts.text("extruder")
    if feed is None:
        return None
    if feed != "bowden":
        return Quiet("soft_on_bowden", ("soft_filament_buckles",), -0.7, "soft filament is fed directly")
    text = f"{context.material.abbreviation} is pushed through a tube; soft filament buckles in it and follows late."
    return Finding(
        "soft_on_bowden", "warn", 1.0, "", (None, 0.0), PRACTICE, text, ("soft_filament_buckles",), Where(), None,
        "on record", "a drive at the hot end; until then at most 20–25 mm/s and retraction of 1 mm at most",
    )  # fmt: skip


def chamber_missing(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A polymer that wants warm surroundings, on an open machine."""
    material = context.material
    if material is None or material.chamber.need not in ("recommended", "required"):
        return None
    low, high = material.chamber.temp_c or (45.0, None)
    window = Window(low, high, material.chamber.source[0])
    bears_on = ("shrinking_polymer_unshielded", "cold_room_or_draught")
    said = speaker("chamber_missing", "enclosed", facts, context, window, "°C", bears_on)
    if said is None:
        return None
    if said.value:
        return said.quiet("the machine is enclosed", -0.7)
    needed = material.chamber.need == "required"
    verb = "has to be" if needed else "is best"
    text = f"{material.abbreviation} {verb} printed in a chamber of {window.say('°C')}; the machine is open."
    return said.find(
        "warn" if needed else "note", text, clears=f"an enclosure, warmed to {window.say('°C')} before the start"
    )


def chamber_too_warm(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A chamber in which the strand softens before it reaches the melt zone."""
    material = context.material
    if material is None or material.chamber.max_c is None:
        return None
    most = material.chamber.max_c
    window = Window(None, most, material.chamber.source[0])
    said = speaker("chamber_too_warm", "chamber_temp_c", facts, context, window, "°C", ("heat_creep",))
    if said is None:
        return None
    if said.value <= most:
        return said.quiet(f"chamber {said.value:g} °C", -0.3)
    text = f"The chamber is set to {said.value:g} °C; above {most:g} °C {material.abbreviation} softens on its way in."
    return said.find("warn", text, clears=f"chamber off or at most {most:g} °C, door and lid open")


RULES: tuple[Rule, ...] = (
    abrasive_on_brass,
    bore_small_for_filler,
    soft_on_bowden,
    chamber_missing,
    chamber_too_warm,
    Limit(
        "flow_trickles", "flow_mm3_s", "mm³/s", ("heat_creep",),
        "The print asks for only {value} mm³/s; filament that stands so long in the heat chars or swells in the cold "
        "end.",
        "more speed, or the nozzle at the low end of its window",
        low=0.4, note_bits=0.3, quiet_bits=-0.05,
    ),
)  # fmt: skip
