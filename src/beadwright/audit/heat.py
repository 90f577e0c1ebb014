"""Rules about nozzle and bed temperature, and cold feeding."""

from __future__ import annotations

from beadwright.facts import Facts, Origin

from .ask import PRACTICE, Context, Rule, Window, speaker, where_text
from .findings import Finding, Level, Quiet
from .windows import bed_window, nozzle_window

COLD_C = 170.0  # no filament in the table flows below this; protections against cold feeding sit at or near it


def by_distance(distance: float, warn: float, fault: float) -> Level:
    """Level by how far outside the window a value lies.

    >>> by_distance(2, 5, 15), by_distance(5, 5, 15), by_distance(20, 5, 15)
    ('note', 'warn', 'fault')
    """
    return "fault" if distance >= fault else "warn" if distance >= warn else "note"


def nozzle_below_window(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Nozzle set colder than the polymer's window."""
    window = nozzle_window(context.material)
    if window is None:
        return None
    bears_on = ("nozzle_too_cold", "machine_profile_wrong")
    said = speaker("nozzle_below_window", "nozzle_temp_c", facts, context, window, "°C", bears_on)
    if said is None or window.low is None or said.value <= 0:
        return None
    short = window.low - said.value
    if short <= 0:
        low_part = window.high is not None and said.value < window.low + 0.2 * (window.high - window.low)
        return said.quiet(f"nozzle {said.value:g} °C lies in {window.say('°C')}", -0.4 if low_part else -1.5)
    text = (
        f"The nozzle is set to {said.value:g} °C{where_text(context.where('nozzle_temp_c'))}; "
        f"{_name(context)} is printed at {window.say('°C')}."
    )
    return said.find(by_distance(short, 3, 12), text)


def nozzle_above_window(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Nozzle set hotter than the polymer's window."""
    window = nozzle_window(context.material)
    if window is None:
        return None
    said = speaker(
        "nozzle_above_window",
        "nozzle_temp_c",
        facts,
        context,
        window,
        "°C",
        ("nozzle_too_hot", "machine_profile_wrong"),
    )
    if said is None or window.high is None:
        return None
    over = said.value - window.high
    if over <= 0:
        return said.quiet(f"nozzle {said.value:g} °C is not above {window.high:g} °C", -1.0)
    text = (
        f"The nozzle is set to {said.value:g} °C{where_text(context.where('nozzle_temp_c'))}; "
        f"{_name(context)} is printed at {window.say('°C')} and breaks down when held hotter: mind the fumes."
    )
    return said.find(by_distance(over, 3, 15), text)


def bed_below_window(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Bed colder than the polymer needs to hold on."""
    window = bed_window(context.material)
    if window is None:
        return None
    bears_on = ("bed_too_cold",)
    name = _first(facts, "bed_temp_c")
    said = speaker("bed_below_window", name, facts, context, window, "°C", bears_on)
    if said is None or window.low is None or said.value <= 0:
        return None  # a bed that is off is `bed_off`'s business
    short = window.low - said.value
    if short <= 0:
        return said.quiet(f"bed {said.value:g} °C is not below {window.low:g} °C", -1.0)
    text = (
        f"The bed is set to {said.value:g} °C{where_text(context.where(name))}; "
        f"{_name(context)} holds on to a plate at {window.say('°C')}."
    )
    return said.find(by_distance(short, 5, 20), text)


def bed_above_window(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Bed so hot that the foot stays soft."""
    window = bed_window(context.material)
    if window is None:
        return None
    said = speaker("bed_above_window", "bed_temp_c", facts, context, window, "°C", ("bed_too_hot",))
    if said is None or window.high is None:
        return None
    over = said.value - window.high
    if over <= 0:
        return said.quiet(f"bed {said.value:g} °C is not above {window.high:g} °C", -0.7)
    text = (
        f"The bed is set to {said.value:g} °C{where_text(context.where('bed_temp_c'))}; "
        f"for {_name(context)} {window.say('°C')} is usual, and above it the lowest layers stay soft."
    )
    return said.find(by_distance(over, 5, 15), text)


def bed_off(facts: Facts, context: Context) -> Finding | Quiet | None:
    """No bed heat before the first bead, with a polymer that wants it."""
    window = bed_window(context.material)
    if window is None or window.low is None or window.low <= 25:
        return None
    said = speaker(
        "bed_off",
        "bed_off_at_start",
        facts,
        context,
        Window(window.low, window.high, window.source),
        "°C",
        ("bed_too_cold",),
    )
    if said is None:
        claimed = facts.number("bed_temp_c")
        said = speaker("bed_off", "bed_temp_c", facts, context, window, "°C", ("bed_too_cold",))
        if said is None or claimed is None or claimed > 0:
            return None
    elif not said.value:
        return said.quiet("the bed is heated before the first bead", -0.5)
    unsure = (facts.number("start_not_understood") or 0) > 0
    text = (
        f"No bed temperature is set before the first bead{where_text(context.where('bed_off_at_start'))}; "
        f"{_name(context)} wants {window.say('°C')}."
    )
    if unsure:
        text += " The file opens with words that were not understood; they may heat it."
    clears = f"M190 S{context.material.bed_temp_c.typical:g} before the first bead" if context.material else ""
    return said.find("note" if unsure else "warn" if window.low < 60 else "fault", text, clears=clears)


def nozzle_never_heated(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Plastic is fed and no nozzle temperature is ever set."""
    bears_on = ("nozzle_too_cold", "machine_profile_wrong")
    said = speaker("nozzle_never_heated", "nozzle_never_heated", facts, context, Window(COLD_C, None), "°C", bears_on)
    if said is None:
        return None
    if not said.value:
        return said.quiet("the file sets a nozzle temperature", -0.3)
    unsure = (facts.number("start_not_understood") or 0) > 0
    text = "The file feeds filament and never sets a nozzle temperature."
    if unsure:
        return said.find("note", text + " It opens with words that were not understood; they may heat the nozzle.")
    typical = f" S{context.material.nozzle_temp_c.typical:g}" if context.material else ""
    return said.find(
        "fault",
        text + " Unless the machine is heated by hand first, nothing flows.",
        clears=f"M109{typical} before the first bead",
    )


def cold_extrusion(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Plastic is fed while the nozzle is set below the point at which any filament flows."""
    window = Window(COLD_C, None, PRACTICE)
    name = _first(facts, "coldest_feed_c", "nozzle_temp_c")
    bears_on = ("nozzle_too_cold", "machine_profile_wrong")
    said = speaker("cold_extrusion", name, facts, context, window, "°C", bears_on)
    if said is None:
        return None
    if said.value >= COLD_C:
        return said.quiet(f"never fed below {said.value:g} °C", -0.5)
    text = (
        f"Filament is fed with the nozzle set to {said.value:g} °C{where_text(context.where(name))}; "
        f"no filament flows below {COLD_C:g} °C, so the drive gear grinds it, and pressure may build up in "
        f"the hot end. "
        "Leave the machine's guard against cold feeding switched on."
    )
    window_c = nozzle_window(context.material)
    clears = f"nozzle at {(window_c or window).say('°C')} before filament is fed"
    return said.find("danger" if said.fact.origin == Origin.FILE else "fault", text, clears=clears)


def _first(facts: Facts, *names: str) -> str:
    """The first of the names that is known, else the last."""
    return next((name for name in names if name in facts), names[-1])


def _name(context: Context) -> str:
    return context.material.abbreviation if context.material else "this polymer"


def first_layer_nozzle_off(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A first layer laid outside the polymer's nozzle window, where the rest is not."""
    window = nozzle_window(context.material)
    if window is None or window.low is None or window.high is None:
        return None
    bears_on = ("nozzle_too_cold", "nozzle_too_hot")
    said = speaker("first_layer_nozzle_off", "first_layer_nozzle_temp_c", facts, context, window, "°C", bears_on)
    if said is None or said.value <= 0:
        return None
    beyond = max(window.low - said.value, said.value - window.high - 5)  # a little hotter is usual on the plate
    if beyond <= 0:
        return said.quiet(f"first layer at {said.value:g} °C", -0.2)
    text = (
        f"The first layer is laid at {said.value:g} °C{where_text(context.where('first_layer_nozzle_temp_c'))}; "
        f"{_name(context)} is printed at {window.say('°C')}."
    )
    return said.find(by_distance(beyond, 5, 20), text)


def first_layer_bed_cold(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A plate colder than the polymer needs, in the very layer that has to hold."""
    window = bed_window(context.material)
    if window is None or window.low is None:
        return None
    said = speaker("first_layer_bed_cold", "first_layer_bed_temp_c", facts, context, window, "°C", ("bed_too_cold",))
    if said is None or said.value <= 0:
        return None
    short = window.low - said.value
    if short <= 0:
        return said.quiet(f"bed {said.value:g} °C under the first layer", -0.3)
    text = (
        f"Under the first layer the bed is set to {said.value:g} °C; {_name(context)} takes hold of a plate at "
        f"{window.say('°C')}."
    )
    return said.find(by_distance(short, 5, 20), text)


def bed_softens_foot(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A bed above the glass transition of a polymer that does not crystallise: the foot stays soft and spreads."""
    material = context.material
    if material is None or not (material.melting_c is None or material.sets_amorphous):
        return None
    soft = max(material.glass_transition_c.best + 8, material.bed_temp_c.typical)
    window = Window(None, soft, material.glass_transition_c.source[0])
    said = speaker("bed_softens_foot", "bed_temp_c", facts, context, window, "°C", ("bed_too_hot",))
    if said is None:
        return None
    if said.value <= soft:
        return said.quiet(f"bed {said.value:g} °C, glass transition {material.glass_transition_c.best:g} °C", -0.2)
    text = (
        f"The bed is set to {said.value:g} °C{where_text(context.where('bed_temp_c'))}, above the glass transition of "
        f"{_name(context)} ({material.glass_transition_c.best:g} °C); the lowest layers stay soft and spread."
    )
    first = material.bed_temp_c.min
    return said.find(
        "note", text, 0.4, clears=f"bed at {first:g}–{min(soft, material.bed_temp_c.max):g} °C from layer 2 on"
    )


RULES: tuple[Rule, ...] = (
    first_layer_nozzle_off,
    first_layer_bed_cold,
    bed_softens_foot,
    nozzle_below_window,
    nozzle_above_window,
    bed_below_window,
    bed_above_window,
    bed_off,
    nozzle_never_heated,
    cold_extrusion,
)
