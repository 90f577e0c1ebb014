"""Rules about the first layer: slow, pressed flat, on a foot wide enough."""

from __future__ import annotations

from beadwright.facts import Facts

from .ask import Context, Rule, Window, speaker, where_text
from .findings import Finding, Quiet

FAST_MM_S = 40.0  # common practice, no source
SLENDER = 5.0


def first_layer_fast(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A first layer laid so fast that it does not wet the plate."""
    window = Window(None, FAST_MM_S)
    said = speaker(
        "first_layer_fast",
        "first_layer_speed_mm_s",
        facts,
        context,
        window,
        "mm/s",
        ("first_layer_too_fast",),
    )
    if said is None:
        return None
    if said.value <= FAST_MM_S:
        return said.quiet(f"first layer at {said.value:g} mm/s", -1.5)
    text = (
        f"The first layer is laid at {said.value:g} "
        f"mm/s{where_text(context.where('first_layer_speed_mm_s'))}; "
        f"{window.say('mm/s')} lets it hold on."
    )
    return said.find(
        "fault" if said.value > 2 * FAST_MM_S else "warn" if said.value > 1.25 * FAST_MM_S else "note", text
    )


def first_layer_thin(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A first layer thinner than the plate is flat."""
    window = Window(0.12, None)
    said = speaker(
        "first_layer_thin",
        "first_layer_height_mm",
        facts,
        context,
        window,
        "mm",
        ("nozzle_starts_too_low", "bed_not_level"),
    )
    if said is None:
        return None
    if said.value >= 0.12 - 1e-6:
        return said.quiet(f"first layer {said.value:g} mm high", -0.3)
    text = f"The first layer is {said.value:.3g} mm high; {window.say('mm')} forgives a plate that is not quite flat."
    return said.find("warn" if said.value < 0.09 else "note", text)


def first_layer_thick(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A first layer too high to be pressed on the plate."""
    bore = facts.number("nozzle_mm")
    most = 0.8 * bore if bore else 0.4
    window = Window(None, round(most, 3))
    said = speaker(
        "first_layer_thick",
        "first_layer_height_mm",
        facts,
        context,
        window,
        "mm",
        ("nozzle_starts_too_high", "layer_too_thick"),
    )
    if said is None:
        return None
    if said.value <= most + 0.005:
        return said.quiet(f"first layer {said.value:g} mm high", -0.3)
    text = (
        f"The first layer is {said.value:.3g} mm high{where_text(context.where('first_layer_height_mm'))}; "
        f"{window.say('mm')} is pressed on the plate."
    )
    return said.find("fault" if said.value > 1.5 * most else "warn", text)


def first_layer_colder(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A first layer laid colder than the rest."""
    rest = facts.number("nozzle_temp_c")
    if rest is None:
        return None
    window = Window(rest, None)
    bears_on = ("nozzle_too_cold",)
    said = speaker("first_layer_colder", "first_layer_nozzle_temp_c", facts, context, window, "°C", bears_on)
    if said is None or said.value <= 0:
        return None
    if said.value >= rest - 5:
        return said.quiet(f"first layer at {said.value:g} °C, the rest at {rest:g} °C", -0.2)
    text = (
        f"The first layer is laid at {said.value:g} °C and the rest at {rest:g} °C; the first wants as much "
        "heat or a little more."
    )
    return said.find("warn" if said.value < rest - 15 else "note", text)


def foothold_small(facts: Facts, context: Context) -> Finding | Quiet | None:
    """A tall print on a small foot, with no brim."""
    window = Window(None, SLENDER)
    said = speaker("foothold_small", "slenderness", facts, context, window, "", ("small_foothold",))
    if said is None:
        return None
    if said.value <= SLENDER:
        return said.quiet(f"height is {said.value:.1f} times the root of the foot's area", -0.7)
    if (facts.number("brim_mm") or 0) >= 3:
        return None
    text = (
        f"The print stands {said.value:.1f} times as high as the root of its foot's area; above {SLENDER:g} "
        "it is easily knocked over."
    )
    return said.find("warn" if said.value > 2 * SLENDER else "note", text, clears="a brim of 5–8 mm")


RULES: tuple[Rule, ...] = (
    first_layer_fast,
    first_layer_thin,
    first_layer_thick,
    first_layer_colder,
    foothold_small,
)
