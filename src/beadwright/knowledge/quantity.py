"""Numbers as people write them: "0,2 mm", "419 °F", "190–220", "3000 mm/min", "50%".

Units are kept as the nomenclature writes them ("mm", "°C", "mm/s", "mm/s²", "%", "1" …). `convert` knows only
exact factors: the inch is 25.4 mm and °C = (°F − 32) / 1.8, both by definition.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

# canonical unit -> (dimension, factor, offset): base = value * factor + offset
UNITS: dict[str, tuple[str, float, float]] = {
    "mm": ("length", 1.0, 0.0),
    "cm": ("length", 10.0, 0.0),
    "m": ("length", 1000.0, 0.0),
    "µm": ("length", 1e-3, 0.0),
    "in": ("length", 25.4, 0.0),
    "°C": ("temperature", 1.0, 0.0),
    "°F": ("temperature", 1 / 1.8, -32 / 1.8),
    "K": ("temperature", 1.0, -273.15),
    "mm/s": ("speed", 1.0, 0.0),
    "mm/min": ("speed", 1 / 60, 0.0),
    "cm/s": ("speed", 10.0, 0.0),
    "m/s": ("speed", 1000.0, 0.0),
    "m/min": ("speed", 1000 / 60, 0.0),
    "in/s": ("speed", 25.4, 0.0),
    "in/min": ("speed", 25.4 / 60, 0.0),
    "mm/s²": ("acceleration", 1.0, 0.0),
    "m/s²": ("acceleration", 1000.0, 0.0),
    "mm³/s": ("flow", 1.0, 0.0),
    "mm²": ("area", 1.0, 0.0),
    "cm²": ("area", 100.0, 0.0),
    "%": ("ratio", 1.0, 0.0),
    "1": ("count", 1.0, 0.0),
    "s": ("time", 1.0, 0.0),
    "ms": ("time", 1e-3, 0.0),
    "min": ("time", 60.0, 0.0),
    "h": ("time", 3600.0, 0.0),
    "d": ("time", 86400.0, 0.0),
    "g": ("mass", 1.0, 0.0),
    "kg": ("mass", 1000.0, 0.0),
    "g/m": ("mass per length", 1.0, 0.0),
    "Hz": ("frequency", 1.0, 0.0),
    "W": ("power", 1.0, 0.0),
    "°": ("angle", 1.0, 0.0),
}

_SPELLINGS: dict[str, tuple[str, ...]] = {
    "mm": ("mm", "millimeter", "millimeters", "millimetre", "millimetres", "milimetros", "mms"),
    "cm": ("cm", "centimeter", "centimetre"),
    "m": ("m",),
    "µm": ("µm", "um", "micron", "microns", "micrometer"),
    "in": ("in", "inch", "inches", "zoll", "pouce", "pouces", "pulgadas", '"', "″"),
    "°C": ("°c", "c", "degc", "deg c", "celsius", "degrees c", "degrees celsius", "grad celsius"),
    "°F": ("°f", "f", "degf", "deg f", "fahrenheit", "degrees f", "degrees fahrenheit"),
    "K": ("k", "kelvin"),
    "mm/s": ("mm/s", "mm/sec", "mm s", "mm_s", "mmps", "mm per second", "mm/seg"),
    "mm/min": ("mm/min", "mm/m", "mm_min", "mm min", "mm per minute"),
    "cm/s": ("cm/s",),
    "m/s": ("m/s",),
    "m/min": ("m/min",),
    "in/s": ("in/s", "ips"),
    "in/min": ("in/min", "ipm"),
    "mm/s²": ("mm/s²", "mm/s2", "mm/s^2", "mm s2", "mm_s2", "mm/s/s", "mm/sec²", "mm/sec2"),
    "m/s²": ("m/s²", "m/s2", "m/s^2"),
    "mm³/s": ("mm³/s", "mm3/s", "mm^3/s", "mm3 s", "mm3_s", "mm³/sec"),
    "mm²": ("mm²", "mm2", "mm^2"),
    "cm²": ("cm²", "cm2"),
    "%": ("%", "percent", "prozent", "pct", "pour cent", "por ciento", "percento", "procent"),
    "1": ("layers", "layer", "lines", "teeth", "schichten", "couches", "capas", "x"),
    "s": ("s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes", "segundos"),
    "ms": ("ms",),
    "min": ("min", "mins", "minute", "minutes", "minuten", "minutos"),
    "h": ("h", "hr", "hrs", "hour", "hours", "std", "stunden", "heures", "horas"),
    "d": ("d", "day", "days", "tage", "jours", "dias"),
    "g": ("g", "gram", "grams", "gramm", "grammes", "gramos"),
    "kg": ("kg",),
    "g/m": ("g/m", "g m"),
    "Hz": ("hz", "hertz"),
    "W": ("w", "watt", "watts"),
    "°": ("°", "deg", "degree", "degrees", "grad", "degres", "grados", "gradi"),
}
_CANONICAL = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}

_NUMBER = r"[-+−]?(?:\d{1,12}(?:[.,]\d{1,9})*|[.,]\d{1,9})(?:[eE][-+]?\d{1,3})?"
_QUANTITY = re.compile(
    rf"^\s*(?:≈|~|ca\.?|about|approx\.?)?\s*(?P<low>{_NUMBER})(?:\s*(?:-|–|—|to|bis|à)\s*(?P<high>{_NUMBER}))?\s*(?P<unit>.{{0,24}}?)\s*$"
)
_THOUSANDS = re.compile(r"^[-+]?\d{1,3}([.,])\d{3}$")


@dataclass(frozen=True)
class Quantity:
    """One written amount: both ends of a span are equal when one number was given."""

    low: float
    high: float
    unit: str | None  # canonical; None when none was written
    other: float | None = None  # "1,200" read with the mark as a thousands mark, when it may be one

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2


def fold(text: str) -> str:
    """Return `text` for comparing: no case, no accents, ß as ss.

    >>> fold("Größe Première")
    'grosse premiere'
    """
    if text.isascii():
        return text.lower()
    plain = unicodedata.normalize("NFKD", text.casefold())
    return "".join(mark for mark in plain if not unicodedata.combining(mark))


def canonical_unit(text: str) -> str | None:
    """Return the nomenclature's spelling of a unit, None when it is none that we know.

    >>> canonical_unit("MM/sec"), canonical_unit("º C"), canonical_unit("furlong")
    ('mm/s', '°C', None)
    """
    plain = text.strip().casefold().replace("º", "°").replace("˚", "°").replace("℃", "°c").replace("℉", "°f")
    plain = re.sub(r"\s*([°/])\s*", r"\1", plain).strip(".:;, ").replace("μ", "µ")
    return _CANONICAL.get(plain) or _CANONICAL.get(fold(plain))


def parse_number(text: str) -> tuple[float, float | None]:
    """Return the number with its mark read as a decimal mark, and as a thousands mark where that may be.

    >>> parse_number("0,2"), parse_number("1,200"), parse_number("1.234,5")
    ((0.2, None), (1.2, 1200.0), (1234.5, None))
    """
    plain = text.replace("−", "-")
    marks = re.findall(r"[.,]", plain)
    if len(marks) > 1:
        last = marks[-1]
        if len(set(marks)) == 1:  # 1,234,567
            return float(plain.replace(last, "")), None
        whole, _, part = plain.rpartition(last)
        return float(re.sub(r"[.,]", "", whole) + "." + part), None
    value = float(plain.replace(",", "."))
    return value, float(re.sub(r"[.,]", "", plain)) if _THOUSANDS.match(plain) else None


def parse_quantity(text: str) -> Quantity | None:
    """Return the amount that `text` states and nothing else, or None when it is something else.

    >>> parse_quantity("190–220 °C")
    Quantity(low=190.0, high=220.0, unit='°C', other=None)
    """
    if len(text) > 80:
        return None
    found = _QUANTITY.match(text)
    if not found:
        return None
    unit = canonical_unit(found["unit"]) if found["unit"] else None
    if found["unit"] and unit is None:
        return None
    low, other = parse_number(found["low"])
    high = parse_number(found["high"])[0] if found["high"] else low
    if max(abs(low), abs(high)) > 1e15:
        return None
    return Quantity(min(low, high), max(low, high), unit, other if found["high"] is None else None)


def convert(value: float, unit: str, to: str) -> float | None:
    """Return `value` in unit `to`, None when the two measure different things.

    A bare degree sign passes for °C: people write "210°".

    >>> convert(419.0, "°F", "°C"), convert(3000.0, "mm/min", "mm/s"), convert(1.0, "mm", "s")
    (215.0, 50.0, None)
    """
    if unit == to or (unit == "°" and to == "°C"):
        return value
    source, target = UNITS.get(unit), UNITS.get(to)
    if source is None or target is None or source[0] != target[0]:
        return None
    return round((value * source[1] + source[2] - target[2]) / target[1], 9)
