"""Rules about retraction: how far, and how often on one stretch of filament."""

from __future__ import annotations

from beadwright.facts import Facts

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .limit_rule import Limit

MOST_ON_10_MM = 20.0  # common practice, no source: beyond it the drive gear has chewed the same stretch too often
# mm, common practice, no source: least that stops oozing, most that neither jams nor draws melt into the cold
# end
LENGTH_MM = {"direct": (0.2, 3.0), "bowden": (2.0, 8.0)}


def retractions_grind(facts: Facts, context: Context) -> Finding | Quiet | None:
    """So many retractions on one stretch that the drive gear wears it flat."""
    window = Window(None, MOST_ON_10_MM)
    said = speaker(
        "retractions_grind",
        "retractions_on_10_mm",
        facts,
        context,
        window,
        "retractions",
        ("retraction_too_much",),
    )
    if said is None:
        return None
    if said.value <= MOST_ON_10_MM:
        return said.quiet(f"at most {said.value:.0f} retractions on 10 mm of filament", -0.7)
    text = (
        f"{said.value:.0f} retractions fall on one 10 mm stretch of "
        f"filament{where_text(context.where('retractions_on_10_mm'))}; "
        f"beyond {MOST_ON_10_MM:g} the drive gear grinds it."
    )
    clears = "a longer travel from which filament is drawn back, or travels kept inside the part"
    return said.find("fault" if said.value > 2.5 * MOST_ON_10_MM else "warn", text, clears=clears)


def retraction_short(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Too little drawn back to stop oozing."""
    found = _window(facts)
    if found is None:
        return None
    extruder, window = found
    said = speaker("retraction_short", "retraction_mm", facts, context, window, "mm", ("retraction_too_little",))
    if said is None or window.low is None:
        return None
    if said.value >= window.low:
        return said.quiet(f"retraction {said.value:g} mm", -0.7)
    text = f"Filament is drawn back {said.value:g} mm; with a {extruder} feed {window.say('mm')} stops oozing."
    return said.find("warn", text)


def retraction_long(facts: Facts, context: Context) -> Finding | Quiet | None:
    """So much drawn back that soft filament jams in the cold end."""
    found = _window(facts)
    if found is None:
        return None
    extruder, window = found
    bears_on = ("retraction_too_much", "heat_creep")
    said = speaker("retraction_long", "retraction_mm", facts, context, window, "mm", bears_on)
    if said is None or window.high is None:
        return None
    if said.value <= window.high:
        return said.quiet(f"retraction {said.value:g} mm", -0.7)
    text = (
        f"Filament is drawn back {said.value:g} mm; with a {extruder} feed more than {window.high:g} mm "
        "pulls melt into the cold end."
    )
    return said.find("fault" if said.value > 2 * window.high else "warn", text)


def _window(facts: Facts) -> tuple[str, Window] | None:
    """Window of retraction length by the way the filament is fed; None when that is not known."""
    extruder = facts.text("extruder")
    ends = LENGTH_MM.get(extruder or "")
    return (str(extruder), Window(*ends)) if ends else None


def travels_unretracted(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Travels from one piece to another with the filament left under pressure."""
    layers = facts.number("layer_count")
    if not layers:
        return None
    window = Window(None, round(0.2 * layers))
    said = speaker(
        "travels_unretracted", "open_travels_unretracted", facts, context, window, "travels", ("retraction_too_little",)
    )
    if said is None:
        return None
    if said.value <= 0.2 * layers:
        return said.quiet(f"{said.value:.0f} travels between pieces go without a retraction", -0.5)
    text = (
        f"{said.value:.0f} travels from one piece of a layer to another draw nothing "
        f"back{where_text(context.where('open_travels_unretracted'))}, {said.value / layers:.1f} a layer; each pulls "
        "a string."
    )
    clears = "a retraction before every travel of more than 2 mm through the open"
    return said.find("warn" if said.value > 2 * layers else "note", text, clears=clears)


RULES: tuple[Rule, ...] = (
    retractions_grind,
    retraction_short,
    retraction_long,
    travels_unretracted,
    Limit(
        "retraction_fast", "retraction_mm_s", "mm/s", ("filament_ground", "retraction_too_much"),
        "Filament is drawn back at {value} mm/s; beyond 60 mm/s the drive gear slips and grinds it.",
        "retraction speed of 25–45 mm/s",
        high=60.0, warn=90.0, fault=150.0,
    ),
)  # fmt: skip
