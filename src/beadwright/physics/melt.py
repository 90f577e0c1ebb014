"""Heat into the strand while it passes the melt zone: what temperature its core reaches, what flow that
allows.

SI, temperatures in °C. The strand is a cylinder in plug flow whose surface the wall heats: ``theta = (T -
T_wall) / (T_in - T_wall)`` falls with the Fourier number ``Fo = alpha t / R² = pi alpha L / Q``; the radius
cancels, so filament of any diameter melts alike at the same volume flow. Left out: shear heating, the cone
below the zone, back-flow, the gap between strand and wall (except in `convective_*`). Trust the scaling
(linear in length and diffusivity); trust the level of a flow limit to ±30 % only. Sources:
[CarslawJaeger1959] secs. 7.6-7.7; [Incropera2007] sec. 5.6; for the process [Go2017], [LuoPeclet2020].
"""

from __future__ import annotations

import math

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive
from beadwright.physics.bessel import J0_ZEROS, J1_AT_J0_ZEROS, J1_ZEROS, j0, j1

SHORT_FO = 0.02  # below it six terms no longer reach 1e-4; the short-time forms do
ONE_TERM_FO = 0.2  # above it one term is good to 1 %, [Incropera2007] sec. 5.6
ZETA_SQUARED = float(J0_ZEROS[0] ** 2)  # 5.7832
AXIS_C1 = float(2 / (J0_ZEROS[0] * J1_AT_J0_ZEROS[0]))  # 1.6020


def residence_time(length: Quantity, strand_area: Quantity, flow: Quantity) -> Array:
    """Return the time a piece of strand spends in the melt zone [s]: length [m], area [m²], flow [m³/s].

    >>> round(float(residence_time(0.012, 2.405282e-6, 10e-9)), 4)
    2.8863
    """
    require_positive(length=length, strand_area=strand_area, flow=flow)
    return as_array(length) * strand_area / flow


def fourier_number(diffusivity: Quantity, length: Quantity, flow: Quantity) -> Array:
    """Return Fo of the strand as it leaves the zone: diffusivity [m²/s], length [m], flow [m³/s].

    >>> round(float(fourier_number(6e-8, 0.012, 10e-9)), 6)
    0.226195
    """
    require_positive(diffusivity=diffusivity, length=length, flow=flow)
    return np.pi * as_array(diffusivity) * length / flow


def axis_theta(fo: Quantity) -> Array:
    """Return theta on the axis, wall held: 1 cold, 0 at wall temperature. To 1e-4 or better for any Fo > 0.

    >>> round(float(axis_theta(0.2)), 4)
    0.5015
    """
    require_positive(fo=fo)
    fo = as_array(fo)
    terms = 2 / (J0_ZEROS * J1_AT_J0_ZEROS) * np.exp(-(J0_ZEROS**2) * np.maximum(fo, SHORT_FO)[..., None])
    return np.where(fo < SHORT_FO, 1.0, terms.sum(axis=-1))


def mean_theta(fo: Quantity) -> Array:
    """Return theta averaged over the section, wall held. To 1e-4 or better for any Fo > 0.

    Below Fo 0.02 by [Crank1975] eq. 5.25.

    >>> round(float(mean_theta(0.2)), 4)
    0.2179
    """
    require_positive(fo=fo)
    fo = as_array(fo)
    root = np.sqrt(fo)
    short = 1 - 4 / math.sqrt(math.pi) * root + fo + root**3 / (3 * math.sqrt(math.pi))
    terms = 4 / J0_ZEROS**2 * np.exp(-(J0_ZEROS**2) * np.maximum(fo, SHORT_FO)[..., None])
    return np.where(fo < SHORT_FO, short, terms.sum(axis=-1))


def core_temperature(wall_c: Quantity, inlet_c: Quantity, fo: Quantity) -> Array:
    """Return the temperature of the strand's axis as it leaves the zone [°C].

    >>> round(float(core_temperature(215.0, 25.0, fourier_number(6e-8, 0.012, 10e-9))), 2)
    132.92
    """
    return as_array(wall_c) + (as_array(inlet_c) - wall_c) * axis_theta(fo)


def mean_temperature(wall_c: Quantity, inlet_c: Quantity, fo: Quantity) -> Array:
    """Return the mean temperature of the strand's section as it leaves the zone [°C].

    >>> round(float(mean_temperature(215.0, 25.0, 0.2)), 1)
    173.6
    """
    return as_array(wall_c) + (as_array(inlet_c) - wall_c) * mean_theta(fo)


def fourier_for_axis(theta: Quantity) -> Array:
    """Return the Fo at which the axis has come down to theta; NaN unless 0 < theta < 1.

    >>> round(float(fourier_for_axis(0.50149)), 4)
    0.2
    """
    theta = as_array(theta)
    inside = (theta > 0) & (theta < 1)
    target = np.where(inside, theta, 0.5)
    one_term = np.log(AXIS_C1 / target) / ZETA_SQUARED
    # Near 1 the single term is off: halve the bracket on the full series, which falls monotonically.
    low, high = np.full_like(target, SHORT_FO), np.maximum(one_term + 0.05, 0.3)
    for _ in range(34):
        middle = (low + high) / 2
        colder = axis_theta(middle) > target
        low, high = np.where(colder, middle, low), np.where(colder, high, middle)
    return np.where(inside, (low + high) / 2, np.nan)


def largest_flow(
    diffusivity: Quantity, length: Quantity, wall_c: Quantity, inlet_c: Quantity, core_c: Quantity
) -> Array:
    """Return the largest flow whose axis still reaches `core_c` [m³/s].

    NaN unless inlet < core < wall: no flow at all, or any, would do. ±30 % (see the module's first lines).

    >>> wall = 25 + (150 - 25) / (1 - 0.342)
    >>> round(float(largest_flow(6e-8, 0.012, wall, 25.0, 150.0)) * 1e9, 2)
    8.48
    """
    require_positive(diffusivity=diffusivity, length=length)
    wall, inlet, core = as_array(wall_c), as_array(inlet_c), as_array(core_c)
    span = np.where(wall > inlet, wall - inlet, np.nan)
    return np.pi * as_array(diffusivity) * length / fourier_for_axis((wall - core) / span)


def wall_for_core(core_c: Quantity, inlet_c: Quantity, fo: Quantity) -> Array:
    """Return the wall temperature that brings the axis to `core_c` at this Fo [°C]; undoes
    `core_temperature`.

    NaN where hardly any heat reaches the axis (theta > 0.95), whatever the wall.

    >>> round(float(wall_for_core(132.92, 25.0, fourier_number(6e-8, 0.012, 10e-9))), 1)
    215.0
    """
    theta = axis_theta(fo)
    warmed = np.where(theta < 0.95, theta, np.nan)
    return as_array((as_array(core_c) - as_array(inlet_c) * warmed) / (1 - warmed))


def melt_power(density: Quantity, flow: Quantity, mean_heat_capacity: Quantity, rise_k: Quantity) -> Array:
    """Return the least heater power that warms the flow by `rise_k` [W]; mean heat capacity [J/(kg K)],
    melting in.

    >>> round(float(melt_power(1240.0, 10e-9, 1800.0, 190.0)), 4)
    4.2408
    """
    require_positive(density=density, flow=flow, mean_heat_capacity=mean_heat_capacity)
    return as_array(density) * flow * mean_heat_capacity * rise_k


def nozzle_pressure(viscosity: Quantity, length: Quantity, radius: Quantity, flow: Quantity) -> Array:
    """Return the pressure drop over the nozzle's land [Pa], Newtonian: viscosity [Pa s], lengths [m], flow
    [m³/s].

    >>> round(float(nozzle_pressure(500.0, 0.6e-3, 0.2e-3, 10e-9)) / 1e6, 3)
    4.775
    """
    require_positive(viscosity=viscosity, length=length, radius=radius, flow=flow)
    return 8 * as_array(viscosity) * length * flow / (np.pi * as_array(radius) ** 4)


def convective_roots(biot: float) -> Array:
    """Return the first six roots of ``zeta J1(zeta) = Bi J0(zeta)``, ``(6,)``, by halving.

    Bi = h R / k of the film or gap at the wall. Source: [Incropera2007] eq. 5.47.

    >>> [round(float(v), 4) for v in convective_roots(1.0)[:2]]
    [1.2558, 4.0795]
    """
    require_positive(biot=biot)
    low, high = J1_ZEROS.copy(), J0_ZEROS.copy()  # one root between each zero of J1 and the next of J0
    for _ in range(60):
        middle = (low + high) / 2
        # The difference falls through the root where J0 > 0 at the lower end, rises where J0 < 0.
        before = (biot * j0(middle) - middle * j1(middle)) * np.sign(j0(low)) > 0
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    return as_array((low + high) / 2)


def convective_theta(radius_ratio: Quantity, fo: Quantity, biot: float) -> Array:
    """Return theta at r/R in a cylinder heated through a film or gap; NaN below Fo 0.02.

    Source: [Incropera2007] eqs. 5.47-5.49; [CarslawJaeger1959] sec. 7.7.

    >>> round(float(convective_theta(0.3, 0.23, 1.02)), 4)
    0.8034
    """
    require_positive(fo=fo)
    zeta = convective_roots(biot)
    weight = 2 / zeta * j1(zeta) / (j0(zeta) ** 2 + j1(zeta) ** 2)
    fo = as_array(fo)
    decay = np.exp(-(zeta**2) * np.maximum(fo, SHORT_FO)[..., None])
    value = (weight * decay * j0(zeta * as_array(radius_ratio)[..., None])).sum(axis=-1)
    return np.where(fo < SHORT_FO, np.nan, value)
