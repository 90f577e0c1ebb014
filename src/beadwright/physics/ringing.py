"""Ringing: the ripples that a shaken machine leaves after a corner.

Speeds mm/s, spacings mm, frequencies Hz. Spacing grows with speed and does not depend on acceleration; height
does. Source: vibration of one mode, [SingerSeering1990]. The speed is the one at that place, after
acceleration limits.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive


def ripple_spacing_mm(speed_mm_s: Quantity, frequency_hz: Quantity) -> Array:
    """Return the spacing of ripples along the wall [mm].

    >>> float(ripple_spacing_mm(100.0, 50.0))
    2.0
    """
    require_positive(speed_mm_s=speed_mm_s, frequency_hz=frequency_hz)
    return as_array(speed_mm_s) / frequency_hz


def ripple_frequency_hz(speed_mm_s: Quantity, spacing_mm: Quantity) -> Array:
    """Return the frequency that ripples of that spacing betray [Hz]; undoes `ripple_spacing_mm`.

    >>> float(ripple_frequency_hz(100.0, 2.0))
    50.0
    """
    require_positive(speed_mm_s=speed_mm_s, spacing_mm=spacing_mm)
    return as_array(speed_mm_s) / spacing_mm


def ripple_height_mm(accel_mm_s2: Quantity, frequency_hz: Quantity) -> Array:
    """Return the first ripple's amplitude after a step of acceleration [mm], undamped, stopping abruptly.

    >>> round(float(ripple_height_mm(3000.0, 50.0)), 4)
    0.0304
    """
    require_positive(accel_mm_s2=accel_mm_s2, frequency_hz=frequency_hz)
    return as_array(accel_mm_s2) / (2 * np.pi * as_array(frequency_hz)) ** 2


def accel_for_height_mm_s2(height_mm: Quantity, frequency_hz: Quantity) -> Array:
    """Return the acceleration whose ripples stay at that amplitude [mm/s²]; undoes `ripple_height_mm`.

    >>> round(float(accel_for_height_mm_s2(0.0304, 50.0)), -1)
    3000.0
    """
    require_positive(height_mm=height_mm, frequency_hz=frequency_hz)
    return as_array(height_mm) * (2 * np.pi * as_array(frequency_hz)) ** 2


def ripple_decay(path_mm: Quantity, spacing_mm: Quantity, damping: Quantity) -> Array:
    """Return the share of the ripple left after a path from the corner; damping ratio of the mode.

    >>> round(float(ripple_decay(10.0, 2.0, 0.05)), 4)
    0.2079
    """
    require_positive(spacing_mm=spacing_mm)
    require_not_negative(path_mm=path_mm, damping=damping)
    return np.exp(-2 * np.pi * as_array(damping) * path_mm / spacing_mm)
