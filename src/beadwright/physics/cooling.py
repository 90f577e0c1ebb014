"""How fast a bead cools: by air, along its own length, and into what lies below.

SI, temperatures in °C. Air alone is several times too slow for the first second, when the layer below takes
most of the heat [SeppalaMigler2016]; film coefficients of 30-100 W/(m² K) are usual in models of the process
(common practice, no source), nearer a wall's value than a lone strand's. Left out: radiation, crystallisation
heat.
"""

from __future__ import annotations

import math

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive

BIOT_LIMIT = 0.1  # below it one temperature serves the section, [Incropera2007] sec. 5.2

_erf = np.vectorize(math.erf, otypes=[np.float64])


def biot_number(area: Quantity, perimeter: Quantity, film_coefficient: Quantity, conductivity: Quantity) -> Array:
    """Return Bi of a section: area [m²], cooled perimeter [m], h [W/(m² K)], k [W/(m K)].

    >>> round(float(biot_number(0.0814159e-6, 0.87832e-3, 60.0, 0.2)), 4)
    0.0278
    """
    require_positive(area=area, perimeter=perimeter, film_coefficient=film_coefficient, conductivity=conductivity)
    return as_array(film_coefficient) * area / (as_array(perimeter) * conductivity)


def cooling_time_constant(
    area: Quantity,
    perimeter: Quantity,
    density: Quantity,
    heat_capacity: Quantity,
    conductivity: Quantity,
    film_coefficient: Quantity,
) -> Array:
    """Return the time in which a strand sheds 63 % of its excess temperature to the air [s].

    Area [m²], cooled perimeter [m], density [kg/m³], heat capacity [J/(kg K)], conductivity [W/(m K)], film
    coefficient [W/(m² K)]. NaN where Bi ≥ 0.1. Source: lumped capacitance, [Incropera2007] sec. 5.1.

    >>> from math import pi
    >>> round(float(cooling_time_constant(pi / 4e6, pi / 1e3, 1000.0, 4000.0, 1.0, 100.0)), 9)
    10.0
    """
    require_positive(density=density, heat_capacity=heat_capacity)
    biot = biot_number(area, perimeter, film_coefficient, conductivity)
    tau = as_array(density) * heat_capacity * area / (as_array(film_coefficient) * perimeter)
    return np.where(biot < BIOT_LIMIT, tau, np.nan)


def time_to_cool(time_constant: Quantity, start_c: Quantity, air_c: Quantity, end_c: Quantity) -> Array:
    """Return the time from start to end temperature [s]; NaN unless air < end ≤ start.

    >>> round(float(time_to_cool(2.27103, 230.0, 25.0, 105.0)), 3)
    2.137
    """
    require_positive(time_constant=time_constant)
    start, air, end = as_array(start_c), as_array(air_c), as_array(end_c)
    reachable = (end > air) & (end <= start)
    ratio = np.where(reachable, (start - air) / np.where(reachable, end - air, 1.0), np.nan)
    return as_array(time_constant) * np.log(ratio)


def fin_decay(
    speed: Quantity,
    area: Quantity,
    perimeter: Quantity,
    density: Quantity,
    heat_capacity: Quantity,
    conductivity: Quantity,
    film_coefficient: Quantity,
) -> Array:
    """Return how fast the excess temperature falls behind a moving nozzle [1/m], conduction along the bead
    included.

    Source: moving fin as [Bellehumeur2004] uses it.

    >>> args = 0.0814159e-6, 1.12832e-3, 1050.0, 2080.0, 0.177, 60.0
    >>> round(float(fin_decay(0.025, *args)), 3)
    15.229
    """
    require_positive(speed=speed, density=density, heat_capacity=heat_capacity)
    require_positive(area=area, perimeter=perimeter, conductivity=conductivity, film_coefficient=film_coefficient)
    carried = as_array(density) * heat_capacity * speed
    a = conductivity / carried
    b = as_array(film_coefficient) * perimeter / (carried * area)
    return (np.sqrt(1 + 4 * a * b) - 1) / (2 * a)


def interface_temperature(
    thickness: Quantity, diffusivity: Quantity, bead_c: Quantity, below_c: Quantity, time: Quantity
) -> Array:
    """Return the temperature of the joint after a hot layer lands on a like, deep, cooler body [°C].

    Thickness [m], diffusivity [m²/s], time [s]. The top is taken as insulated. Starts at the mean of the two.
    Source: image argument of [CarslawJaeger1959] ch. 2.

    >>> round(float(interface_temperature(0.2e-3, 1e-7, 230.0, 80.0, 0.4)), 3)
    143.203
    """
    require_positive(thickness=thickness, diffusivity=diffusivity, time=time)
    below = as_array(below_c)
    depth = as_array(thickness) / np.sqrt(as_array(diffusivity) * time)
    return as_array(below + (as_array(bead_c) - below) / 2 * _erf(depth))


def cylinder_film_coefficient(
    speed: Quantity, diameter: Quantity, viscosity: Quantity, conductivity: Quantity, prandtl: Quantity
) -> Array:
    """Return h of a cylinder in cross flow [W/(m² K)]; NaN where Re Pr < 0.2.

    Air speed [m/s], diameter [m], kinematic viscosity [m²/s], air's conductivity [W/(m K)].
    Source: [ChurchillBernstein1977]; [Incropera2007] eq. 7.54.

    >>> round(float(cylinder_film_coefficient(10.0, 12.7e-3, 20.92e-6, 0.030, 0.70)), 1)
    96.0
    """
    require_positive(speed=speed, diameter=diameter, viscosity=viscosity, conductivity=conductivity, prandtl=prandtl)
    re, pr = as_array(speed) * diameter / viscosity, as_array(prandtl)
    growth = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1 + (0.4 / pr) ** (2 / 3)) ** 0.25
    nusselt = 0.3 + growth * (1 + (re / 282_000) ** (5 / 8)) ** (4 / 5)
    return np.where(re * pr >= 0.2, nusselt * conductivity / diameter, np.nan)


def wall_film_coefficient(
    speed: Quantity, length: Quantity, viscosity: Quantity, conductivity: Quantity, prandtl: Quantity
) -> Array:
    """Return mean h of a part's wall in laminar flow along it [W/(m² K)]; NaN where Re ≥ 5e5.

    Source: [Incropera2007] eq. 7.30.

    >>> round(float(wall_film_coefficient(3.0, 0.03, 20.92e-6, 0.030, 0.70)), 2)
    38.67
    """
    require_positive(speed=speed, length=length, viscosity=viscosity, conductivity=conductivity, prandtl=prandtl)
    re = as_array(speed) * length / viscosity
    nusselt = 0.664 * np.sqrt(re) * np.cbrt(as_array(prandtl))
    return np.where(re < 5e5, nusselt * conductivity / length, np.nan)
