"""Wear of a nozzle by filler: how a bore grows with mass, and what that does to pressure.

SI. No measurement of bore against mass for printing nozzles was found: the product of wear coefficient and
contact pressure is an argument, never a constant here. Source of the law: [Archard1953].
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive

KGF_MM2_TO_PA = 9.80665e6  # Vickers number to pressure


def worn_volume(coefficient: Quantity, load: Quantity, distance: Quantity, hardness: Quantity) -> Array:
    """Return the volume worn away [m³]: load [N], sliding distance [m], hardness of the worn body [Pa].

    >>> round(float(worn_volume(1e-3, 10.0, 1000.0, 1.5e9)) * 1e9, 4)
    6.6667
    """
    require_positive(coefficient=coefficient, load=load, hardness=hardness)
    require_not_negative(distance=distance)
    return as_array(coefficient) * load * distance / hardness


def worn_bore_radius(
    radius: Quantity, wear_pressure: Quantity, mass: Quantity, density: Quantity, hardness: Quantity
) -> Array:
    """Return the bore's radius after a mass has passed [m]; `wear_pressure` = coefficient times pressure
    [Pa].

    Equal masses add equal amounts to the cube of the radius: sliding distance per mass falls as the bore
    opens. Source: [Archard1953], integrated here.

    >>> round(float(worn_bore_radius(0.2e-3, 10.0, 0.5, 1200.0, 1.3e9)) * 1e3, 3)
    0.223
    """
    require_positive(radius=radius, wear_pressure=wear_pressure, density=density, hardness=hardness)
    require_not_negative(mass=mass)
    grown = 3 * as_array(wear_pressure) * mass / (np.pi * as_array(density) * hardness)
    return np.cbrt(as_array(radius) ** 3 + grown)


def pressure_ratio(bore_before: Quantity, bore_after: Quantity) -> Array:
    """Return the factor by which a grown bore lowers the pressure of the same flow, Newtonian.

    >>> round(float(pressure_ratio(0.40, 0.45)), 4)
    0.6243
    """
    require_positive(bore_before=bore_before, bore_after=bore_after)
    return (as_array(bore_before) / bore_after) ** 4


def hardness_ratio(filler_vickers: Quantity, nozzle_vickers: Quantity) -> Array:
    """Return how much harder the filler is than the nozzle: above 1.2 it cuts, below 0.8 it hardly does.

    Source of the two bounds: [Hutchings2017] ch. 6, memory.

    >>> round(float(hardness_ratio(580.0, 130.0)), 2)
    4.46
    """
    require_positive(filler_vickers=filler_vickers, nozzle_vickers=nozzle_vickers)
    return as_array(filler_vickers) / nozzle_vickers
