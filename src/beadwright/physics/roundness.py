"""A circle that came out oval: skew or scale, told apart from a few calliper readings.

Lengths mm. Skew shears x by ``k y``: the circle becomes an ellipse whose long axis lies within half the skew
angle of 45° and whose diameters differ by ``k D`` exactly; unequal scale puts the long axis at 0° or 90°.
Geometry, derived; roundness words after [ISO12181]. Left out: backlash, which looks like scale but depends on
the direction of travel.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive


def skewed_diameters_mm(diameter_mm: Quantity, skew_deg: Quantity) -> tuple[Array, Array]:
    """Return longest and shortest diameter of a circle printed on axes that are `skew_deg` off square [mm].

    >>> d_max, d_min = skewed_diameters_mm(50.0, 0.5)
    >>> round(float(d_max - d_min), 6)
    0.436343
    """
    require_positive(diameter_mm=diameter_mm)
    half = np.abs(np.tan(np.radians(as_array(skew_deg)))) / 2
    stretch = np.sqrt(1 + half**2)
    return as_array(diameter_mm) * (stretch + half), as_array(diameter_mm) * (stretch - half)


def long_axis_deg(skew_deg: Quantity) -> Array:
    """Return the direction of the longest diameter [deg from x]; ±45° less a quarter of the skew angle,
    nearly.

    >>> round(float(long_axis_deg(0.5)), 4)
    44.875
    """
    k = np.tan(np.radians(as_array(skew_deg)))
    angle = np.degrees(np.arctan2(2.0, np.abs(k))) / 2
    return np.where(k < 0, -angle, angle)


def skew_from_diameters(longest_mm: Quantity, shortest_mm: Quantity) -> Array:
    """Return the size of the skew [deg] of an oval that is skew alone; the long axis gives its sign.

    >>> round(float(skew_from_diameters(*skewed_diameters_mm(50.0, 0.5))), 9)
    0.5
    """
    require_positive(longest_mm=longest_mm, shortest_mm=shortest_mm)
    longest, shortest = as_array(longest_mm), as_array(shortest_mm)
    k = np.abs(longest - shortest) / np.sqrt(longest * shortest)  # the product of axes is that of the circle
    return np.degrees(np.arctan(k))


def skew_and_scale(
    d0_mm: Quantity, d45_mm: Quantity, d90_mm: Quantity, d135_mm: Quantity
) -> tuple[Array, Array, Array]:
    """Return (skew [deg], scale difference x - y [1], mean diameter [mm]) from diameters at 0°, 45°, 90°,
    135°.

    First order in both: good to 1 % of the value while each stays below 2 %.

    >>> [round(float(v), 4) for v in skew_and_scale(50.0, 50.2, 50.0, 49.8)]
    [0.4584, 0.0, 50.0]
    """
    require_positive(d0_mm=d0_mm, d45_mm=d45_mm, d90_mm=d90_mm, d135_mm=d135_mm)
    mean = (as_array(d0_mm) + d45_mm + d90_mm + d135_mm) / 4
    skew = np.degrees(np.arctan((as_array(d45_mm) - d135_mm) / mean))
    return skew, (as_array(d0_mm) - d90_mm) / mean, mean


def shrink_command_factor(shrink_percent: Quantity) -> Array:
    """Return the factor to command so that a part shrinking by that share comes out to size.

    >>> round(float(shrink_command_factor(0.6)), 6)
    1.006036
    """
    share = as_array(shrink_percent) / 100
    if not np.all((share > -1) & (share < 1)):
        raise ValueError(f"shrink_percent must lie between -100 and 100, found {shrink_percent}")
    return 1 / (1 - share)
