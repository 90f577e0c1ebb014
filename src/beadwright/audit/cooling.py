"""Rules about the part fan and the time a layer has to set."""

from __future__ import annotations

from beadwright.facts import Facts

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet
from .windows import fan_window

SHORT_LAYER = Window(6.0, None)  # s; common practice, no source


def fan_below_window(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Less air than the polymer wants."""
    window = fan_window(context.material)
    if window is None:
        return None
    said = speaker("fan_below_window", "fan_percent", facts, context, window, "%", ("cooling_too_weak",))
    if said is None or window.low is None:
        return None
    short = window.low - said.value
    if short <= 0:
        return said.quiet(f"fan {said.value:g} % is not below {window.low:g} %", -1.0)
    text = (
        f"The part fan runs at {said.value:g} %{where_text(context.where('fan_percent'))}; "
        f"{_name(context)} is cooled with {window.say('%')}."
    )
    return said.find("fault" if short >= 50 else "warn" if short >= 15 else "note", text)


def fan_above_window(facts: Facts, context: Context) -> Finding | Quiet | None:
    """More air than the polymer stands."""
    window = fan_window(context.material)
    if window is None:
        return None
    said = speaker("fan_above_window", "fan_percent", facts, context, window, "%", ("cooling_too_strong",))
    if said is None or window.high is None:
        return None
    over = said.value - window.high
    if over <= 0:
        return said.quiet(f"fan {said.value:g} % is not above {window.high:g} %", -1.0)
    text = (
        f"The part fan runs at {said.value:g} %{where_text(context.where('fan_percent'))}; "
        f"{_name(context)} is cooled with {window.say('%')}, more keeps layers from welding and lifts "
        f"corners."
    )
    return said.find("fault" if over >= 50 else "warn" if over >= 15 else "note", text)


def fan_on_first_layer(facts: Facts, context: Context) -> Finding | Quiet | None:
    """Air on the first layer chills it off the plate."""
    window = Window(0.0, 30.0)
    said = speaker(
        "fan_on_first_layer",
        "first_layer_fan_percent",
        facts,
        context,
        window,
        "%",
        ("cooling_too_strong", "bed_too_cold"),
    )
    if said is None:
        return None
    if said.value <= 30:
        return said.quiet(f"fan {said.value:g} % on the first layer", -0.2)
    text = f"The part fan already runs at {said.value:g} % on the first layer; {window.say('%')} lets it hold on."
    return said.find("warn" if said.value > 60 else "note", text)


def layer_time_short(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A layer is covered before it has set."""
    name = "min_layer_seconds" if "min_layer_seconds" in facts else "min_layer_time_s"
    said = speaker(
        "layer_time_short",
        name,
        facts,
        context,
        SHORT_LAYER,
        "s",
        ("layer_time_too_short", "cooling_too_weak"),
    )
    if said is None or SHORT_LAYER.low is None:
        return None
    if said.value >= SHORT_LAYER.low:
        return said.quiet(f"no layer is over in less than {said.value:.0f} s", -1.0)
    text = (
        f"A layer takes only {said.value:.1f} s{where_text(context.where(name))}; with less than "
        f"{SHORT_LAYER.low:g} s small layers are covered while still soft."
    )
    clears = f"a shortest layer time of {SHORT_LAYER.low:g} s and more, or several parts at once"
    return said.find("fault" if said.value < 2 else "warn" if said.value < 4 else "note", text, clears=clears)


def short_layer_little_air(facts: Facts, context: Context) -> Finding | Quiet | None:
    """The shortest layer is also one that gets less air than the rest."""
    seconds, usual = facts.number("min_layer_seconds"), facts.number("fan_percent")
    if seconds is None or usual is None or seconds >= 10:
        return None
    said = speaker(
        "short_layer_little_air",
        "fan_at_shortest_percent",
        facts,
        context,
        Window(usual, None),
        "%",
        ("cooling_too_weak",),
    )
    if said is None:
        return None
    if said.value >= usual - 20:
        return said.quiet(f"fan {said.value:.0f} % in the shortest layer", -0.2)
    text = (
        f"The shortest layer takes {seconds:.1f} s and gets {said.value:.0f} % of "
        f"fan{where_text(context.where('fan_at_shortest_percent'))}, the others {usual:.0f} %."
    )
    return said.find("warn" if seconds < 5 else "note", text, clears=f"part fan at {usual:.0f} % in short layers too")


def _name(context: Context) -> str:
    return context.material.abbreviation if context.material else "this polymer"


RULES: tuple[Rule, ...] = (
    fan_below_window,
    fan_above_window,
    fan_on_first_layer,
    layer_time_short,
    short_layer_little_air,
)
