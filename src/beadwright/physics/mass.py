"""Mass, length and cost of filament.

Masses kg unless the name says g, lengths m unless the name says mm, density kg/m³. Definitions.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive


def filament_length_m(mass_kg: Quantity, density: Quantity, diameter_mm: Quantity) -> Array:
    """Return the length of filament of that mass [m].

    >>> round(float(filament_length_m(1.0, 1240.0, 1.75)), 3)
    335.284
    """
    require_positive(mass_kg=mass_kg, density=density, diameter_mm=diameter_mm)
    return as_array(mass_kg) / (as_array(density) * np.pi / 4e6 * as_array(diameter_mm) ** 2)


def filament_mass_g(length_mm: Quantity, density: Quantity, diameter_mm: Quantity) -> Array:
    """Return the mass of a length of filament [g].

    >>> round(float(filament_mass_g(1000.0, 1240.0, 1.75)), 5)
    2.98255
    """
    require_not_negative(length_mm=length_mm)
    require_positive(density=density, diameter_mm=diameter_mm)
    return as_array(length_mm) * density * np.pi / 4e6 * as_array(diameter_mm) ** 2


def expected_cost(cost_per_try: Quantity, chance: Quantity) -> Array:
    """Return the mean cost of printing until it succeeds, each try with the same chance; salvage left out.

    >>> float(expected_cost(3.0, 0.75))
    4.0
    """
    require_not_negative(cost_per_try=cost_per_try)
    require_positive(chance=chance)
    if np.any(as_array(chance) > 1):
        raise ValueError(f"chance must not exceed 1, found {chance}")
    return as_array(cost_per_try) / as_array(chance)


def energy_cost(power_w: Quantity, hours: Quantity, price_kwh: Quantity) -> Array:
    """Return the cost of running at that power [unit of the price]. Draw of desktop machines: measure,
    [Balogun2014].

    >>> round(float(energy_cost(120.0, 10.0, 0.30)), 6)
    0.36
    """
    require_not_negative(power_w=power_w, hours=hours, price_kwh=price_kwh)
    return as_array(power_w) / 1000 * hours * price_kwh
