"""Round values for an axis, and labels that do not run into one another."""

from __future__ import annotations

import math

BINARY_DUST = 1e-9  # so that 0.3 / 0.1 counts as 3


def ticks(low: float, high: float, wanted: float) -> list[float]:
    """Return round values within `low` … `high`, at most about `wanted` of them, 1, 2 or 5 times a power of ten apart.

    >>> ticks(-0.3, 31.0, 3)
    [0.0, 20.0]
    >>> ticks(0.0, 31.0, 4)
    [0.0, 10.0, 20.0, 30.0]
    """
    rough = max((high - low) / max(wanted, 1.0), 1e-12 * max(abs(low), abs(high), 1.0))
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= rough * (1 - BINARY_DUST))
    first, last = math.ceil(low / step - BINARY_DUST), math.floor(high / step + BINARY_DUST)
    return [round(n * step, 9) + 0.0 for n in range(first, last + 1)]


def grouped(places: list[tuple[float, str]], room: float) -> list[tuple[float, str]]:
    """Return labels at places, px, with those nearer than `room` to the one before joined into one label at the first.

    >>> grouped([(10.0, "3 mm"), (200.0, "70 mm"), (205.0, "71.5 mm")], 50)
    [(10.0, '3 mm'), (200.0, '70, 71.5 mm')]
    """
    groups: list[tuple[float, float, list[str]]] = []
    for at, label in sorted(places):
        if groups and at - groups[-1][1] < room:
            groups[-1] = (groups[-1][0], at, [*groups[-1][2], label])
        else:
            groups.append((at, at, [label]))
    return [(at, joined(labels)) for at, _, labels in groups]


def joined(labels: list[str]) -> str:
    """Join heights, the unit once; of many the first and the last."""
    if len(labels) > 3:
        labels = [f"{labels[0].removesuffix(' mm')} … {labels[-1]}"]
    return ", ".join([*(label.removesuffix(" mm") for label in labels[:-1]), labels[-1]])
