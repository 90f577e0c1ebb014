"""Which colour each bead role takes: the Okabe–Ito set, what lies beside the part sharing one, unknown grey."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from beadwright.report.scale_colours import OKABE_ITO, UNKNOWN, Bytes, rgb

if TYPE_CHECKING:
    from beadwright.report.xray_values import Quantity

COLOURS = {
    "outer contour": "blue",
    "inner contour": "sky blue",
    "solid raster": "orange",
    "sparse raster": "yellow",
    "bridge": "vermilion",
    "support": "bluish green",
    "brim": "reddish purple",
    "skirt": "reddish purple",
    "raft": "reddish purple",
    "wipe tower": "reddish purple",
}


def colour_of(label: str) -> str:
    """Return the hexadecimal colour of a category.

    >>> colour_of("bridge"), colour_of("unknown")
    ('#d55e00', '#8f8f8f')
    """
    return OKABE_ITO.get(COLOURS.get(label, ""), UNKNOWN)


def colours_of(shown: Quantity, numbers: np.ndarray) -> tuple[tuple[tuple[str, str], ...], Bytes]:
    """Return the legend, label and colour of the categories that occur in `numbers`, and the palette by number."""
    palette = np.array([rgb(colour_of(label)) for label in shown.labels], np.uint8)
    there = np.unique(numbers[np.isfinite(numbers)]).astype(int).tolist()
    legend: dict[str, str] = {}
    for number in there:
        colour, label = colour_of(shown.labels[number]), shown.labels[number]
        legend[colour] = f"{legend[colour]}, {label}" if colour in legend else label
    return tuple((label, colour) for colour, label in legend.items()), palette
