"""Regular marks: at what spacing each turning or cycling part leaves its print, in that part's own clock.

Lengths mm, times s. Every mark repeats evenly in one clock only: position, height, filament fed, seconds.
Source: kinematic identities, derived.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive
from beadwright.physics.bead import filament_area_mm2


def pulley_turn_mm(teeth: Quantity, pitch_mm: Quantity) -> Array:
    """Return the belt travel of one pulley turn [mm] (position).

    >>> float(pulley_turn_mm(20, 2.0))
    40.0
    """
    require_positive(teeth=teeth, pitch_mm=pitch_mm)
    return as_array(teeth) * pitch_mm


def tooth_spacing_two_belts_mm(pitch_mm: Quantity, angle_deg: Quantity) -> tuple[Array, Array]:
    """Return the spacing of tooth marks of belts a and b along a path at that angle to x [mm].

    inf for a belt at rest.

    >>> [round(float(v), 4) for v in tooth_spacing_two_belts_mm(2.0, 0.0)]
    [2.0, 2.0]
    """
    require_positive(pitch_mm=pitch_mm)
    angle = np.radians(as_array(angle_deg))
    shares = np.abs(np.cos(angle) + np.sin(angle)), np.abs(np.cos(angle) - np.sin(angle))
    moving = tuple(np.where(share > 1e-9, share, np.nan) for share in shares)
    a, b = (np.where(np.isnan(share), np.inf, as_array(pitch_mm) / share) for share in moving)
    return a, b


def gear_turn_filament_mm(diameter_mm: Quantity) -> Array:
    """Return the filament fed by one turn of the drive gear, or taken by one turn of a spool, at that
    diameter [mm].

    >>> round(float(gear_turn_filament_mm(11.0)), 4)
    34.5575
    """
    require_positive(diameter_mm=diameter_mm)
    return np.pi * as_array(diameter_mm)


def path_of_filament_mm(filament_mm: Quantity, filament_diameter_mm: Quantity, bead_area_mm2: Quantity) -> Array:
    """Return the path laid by a length of filament [mm].

    >>> round(float(path_of_filament_mm(34.5575, 1.75, 0.0814159)), 1)
    1020.9
    """
    require_positive(filament_mm=filament_mm, filament_diameter_mm=filament_diameter_mm)
    require_positive(bead_area_mm2=bead_area_mm2)
    return as_array(filament_mm) * filament_area_mm2(filament_diameter_mm) / bead_area_mm2


def height_of_filament_mm(filament_mm: Quantity, filament_diameter_mm: Quantity, plastic_mm2: Quantity) -> Array:
    """Return the height built by a length of filament [mm]; `plastic_mm2` is the volume per mm of height
    there.

    >>> round(float(height_of_filament_mm(502.655, 1.75, 200.0)), 4)
    6.0451
    """
    require_positive(filament_mm=filament_mm, filament_diameter_mm=filament_diameter_mm)
    require_positive(plastic_mm2=plastic_mm2)
    return as_array(filament_mm) * filament_area_mm2(filament_diameter_mm) / plastic_mm2


def cycle_layers(period_s: Quantity, layer_time_s: Quantity) -> Array:
    """Return the layers between marks of something that cycles in time, such as a heated bed.

    >>> float(cycle_layers(30.0, 20.0))
    1.5
    """
    require_positive(period_s=period_s, layer_time_s=layer_time_s)
    return as_array(period_s) / layer_time_s


def apparent_layers(period_s: Quantity, layer_time_s: Quantity) -> Array:
    """Return the layers over which a cycle sampled once a layer seems to repeat; inf where it stands still.

    A cycle near a whole share of the layer time beats with it, as a wheel seems to turn slowly on film.

    >>> round(float(apparent_layers(22.0, 20.0)), 6)
    11.0
    """
    require_positive(period_s=period_s, layer_time_s=layer_time_s)
    turns = as_array(layer_time_s) / period_s
    off = np.abs(turns - np.round(turns))
    return np.where(off > 1e-9, 1 / np.where(off > 1e-9, off, 1.0), np.inf)
