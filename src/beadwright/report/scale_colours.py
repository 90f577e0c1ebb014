"""The two colour scales of every picture: cividis for quantities, the Okabe–Ito set for categories.

Both read the same with the common kinds of colour blindness. Cividis also rises evenly in lightness, so that a picture
printed in grey still orders its values.

Sources: Nuñez, Anderton, Renslow 2018, PLoS ONE 13(7) e0199239 (cividis); Okabe & Ito 2008, "Color universal design"
(the set). The stops below are ten samples of the one and the eight colours of the other, both from memory; the tests
hold the cividis stops against the scheme of that name in a general charting library.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Bytes = NDArray[np.uint8]

CIVIDIS_STOPS = (
    "#00204d", "#00336f", "#39486b", "#575c6d", "#707173", "#8a8779", "#a69d75", "#c4b56c", "#e4cf5b", "#ffea46",
)  # fmt: skip
OKABE_ITO = {
    "black": "#000000",
    "orange": "#e69f00",
    "sky blue": "#56b4e9",
    "bluish green": "#009e73",
    "yellow": "#f0e442",
    "blue": "#0072b2",
    "vermilion": "#d55e00",
    "reddish purple": "#cc79a7",
}
UNKNOWN = "#8f8f8f"  # a grey outside the set: what could not be told apart should not look like a category


def rgb(colour: str) -> tuple[int, int, int]:
    """Return red, green, blue, 0 … 255, of a hexadecimal colour.

    >>> rgb("#e69f00")
    (230, 159, 0)
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def cividis(share: ArrayLike) -> Bytes:
    """Return the colours at `share` 0 … 1 of the scale, shape (…, 3); outside that the end colour, NaN the low end.

    >>> cividis(0.0).tolist(), cividis(2.0).tolist()
    ([0, 32, 77], [255, 234, 70])
    """
    at = np.clip(np.nan_to_num(np.asarray(share, np.float64)), 0.0, 1.0)
    stops = np.array([rgb(stop) for stop in CIVIDIS_STOPS], np.float64)
    places = np.linspace(0.0, 1.0, len(stops))
    table = np.stack([np.interp(np.linspace(0, 1, 256), places, stops[:, k]) for k in range(3)], axis=-1)
    out: Bytes = table.round().astype(np.uint8)[(at * 255).round().astype(np.intp)]
    return out


def lightness(colours: ArrayLike) -> NDArray[np.float64]:
    """Return CIE 1976 lightness L* 0 … 100 of sRGB colours 0 … 255, shape (…, 3) -> (…).

    Source: sRGB transfer curve and luminance weights, IEC 61966-2-1; L* of ISO/CIE 11664-4.

    >>> float(lightness([255, 255, 255]).round(3))
    100.0
    """
    share = np.asarray(colours, np.float64) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    y = linear @ np.array([0.2126, 0.7152, 0.0722])
    out: NDArray[np.float64] = np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)
    return out
