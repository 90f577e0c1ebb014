"""The section of a bead: how much filament a line of given width and height takes, and back.

Lengths mm, areas mm², flow mm³/s. The section is a stadium, flat on top and below with half-round flanks;
computed strands lie between it and a block with rounded sides [Comminal2018], measured ones close to it
[Luo2021]. Outside the shape's range (width below height, nothing pressed flat): NaN.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive

ROUND_LOSS = 1 - np.pi / 4  # what the half-round flanks lack against a rectangle, in units of height²


def bead_area_mm2(width_mm: Quantity, height_mm: Quantity) -> Array:
    """Return the section of a bead [mm²]; NaN where width < height.

    >>> round(float(bead_area_mm2(0.45, 0.20)), 7)
    0.0814159
    """
    require_positive(width_mm=width_mm, height_mm=height_mm)
    width, height = as_array(width_mm), as_array(height_mm)
    return np.where(width >= height, (width - ROUND_LOSS * height) * height, np.nan)


def bead_width_mm(area_mm2: Quantity, height_mm: Quantity) -> Array:
    """Return the width of a bead of that section [mm]; NaN where it would be narrower than high.

    >>> round(float(bead_width_mm(0.0814159, 0.20)), 4)
    0.45
    """
    require_positive(area_mm2=area_mm2, height_mm=height_mm)
    height = as_array(height_mm)
    width = as_array(area_mm2) / height + ROUND_LOSS * height
    return np.where(width >= height * (1 - 1e-12), width, np.nan)


def line_pitch_mm(width_mm: Quantity, height_mm: Quantity) -> Array:
    """Return the spacing of lines that leaves no void on average [mm]: pitch times height is the bead's
    section.

    >>> round(float(line_pitch_mm(0.45, 0.20)), 7)
    0.4070796
    """
    return bead_area_mm2(width_mm, height_mm) / as_array(height_mm)


def filament_area_mm2(diameter_mm: Quantity) -> Array:
    """Return the section of the filament [mm²].

    >>> round(float(filament_area_mm2(1.75)), 6)
    2.405282
    """
    require_positive(diameter_mm=diameter_mm)
    return np.pi / 4 * as_array(diameter_mm) ** 2


def filament_per_path(width_mm: Quantity, height_mm: Quantity, diameter_mm: Quantity) -> Array:
    """Return mm of filament per mm of path.

    >>> round(float(filament_per_path(0.45, 0.20, 1.75)), 7)
    0.0338488
    """
    return bead_area_mm2(width_mm, height_mm) / filament_area_mm2(diameter_mm)


def bead_flow_mm3_s(width_mm: Quantity, height_mm: Quantity, speed_mm_s: Quantity) -> Array:
    """Return the volume flow of a bead laid at that speed [mm³/s].

    >>> round(float(bead_flow_mm3_s(0.45, 0.20, 100.0)), 3)
    8.142
    """
    require_positive(speed_mm_s=speed_mm_s)
    return bead_area_mm2(width_mm, height_mm) * speed_mm_s


def flow_ratio(width_mm: Quantity, expected_width_mm: Quantity, height_mm: Quantity) -> Array:
    """Return laid plastic over expected plastic from a measured single-line wall, through the section.

    >>> round(float(flow_ratio(0.50, 0.45, 0.20)), 4)
    1.1228
    """
    require_positive(width_mm=width_mm, expected_width_mm=expected_width_mm, height_mm=height_mm)
    return bead_area_mm2(width_mm, height_mm) / bead_area_mm2(expected_width_mm, height_mm)


def diameter_flow_factor(true_mm: Quantity, nominal_mm: Quantity) -> Array:
    """Return the flow factor of filament that is not of the diameter set.

    >>> round(float(diameter_flow_factor(1.70, 1.75)), 6)
    0.943673
    """
    require_positive(true_mm=true_mm, nominal_mm=nominal_mm)
    return filament_area_mm2(true_mm) / filament_area_mm2(nominal_mm)


def free_strand_diameter_mm(area_mm2: Quantity) -> Array:
    """Return the diameter of a strand that nothing presses flat, as on a bridge [mm].

    >>> round(float(free_strand_diameter_mm(0.0814159)), 4)
    0.322
    """
    require_positive(area_mm2=area_mm2)
    return 2 * np.sqrt(as_array(area_mm2) / np.pi)
