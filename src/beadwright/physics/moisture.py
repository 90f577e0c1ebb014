"""Water in filament: how it gets in, and how long it takes to get out of a strand and out of a wound spool.

SI, temperatures in °C, ``F = D t / a²``. One strand: Fick in a cylinder, found to hold for twelve printing
filaments [Aniskevich2023]. A spool: vapour between the turns as diffusion with instantaneous linear sorption
[Crank1975] ch. 14; that part is derived and unmeasured, a factor of two either way. Left out: D that grows
with water content (polyamides, PVA: drying lags behind), flanges that breathe.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive
from beadwright.physics.melt import mean_theta
from beadwright.physics.weld import GAS_CONSTANT, ZERO_C

WATER_KG_MOL = 0.018015
VAPOUR_IN_AIR_M2_S = 2.5e-5  # at 23 °C, grows with T^1.8; handbook value, memory
SLAB_HALF_TIME = 0.196731  # D t / l² at half uptake through one face, [Crank1975] sec. 4.3
PACK_VOID = 0.10  # share of air in a parallel winding: dense 0.093, square 0.215 (geometry)
PACK_TORTUOSITY = 1.3  # estimate


def strand_uptake(f: Quantity) -> Array:
    """Return the share of the final change that a long strand has reached, in or out; 0 at F = 0.

    The same series as heat into a strand. Source: [Crank1975] eqs. 5.23, 5.25.

    >>> round(float(strand_uptake(0.1)), 4)
    0.6058
    """
    require_not_negative(f=f)
    f = as_array(f)
    return np.where(f > 0, 1 - mean_theta(np.maximum(f, 1e-300)), 0.0)


def strand_number(share: Quantity) -> Array:
    """Return the F at which a strand has reached that share; undoes `strand_uptake`. NaN unless 0 < share <
    1.

    >>> round(float(strand_number(0.5)), 4), round(float(strand_number(0.99)), 4)
    (0.0631, 0.7326)
    """
    share = as_array(share)
    inside = (share > 0) & (share < 1)
    target = np.where(inside, share, 0.5)
    low, high = np.zeros_like(target), np.maximum(0.2, -np.log1p(-target) / 5.0 + 0.1)
    for _ in range(60):
        middle = (low + high) / 2
        short = strand_uptake(middle) < target
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.where(inside, (low + high) / 2, np.nan)


def diffusivity_at(
    reference: Quantity, reference_c: Quantity, activation_j_mol: Quantity, temp_c: Quantity
) -> Array:
    """Return D at another temperature [unit of the reference], Arrhenius.

    >>> round(float(diffusivity_at(1.0, 23.0, 50_000.0, 70.0)), 3)
    16.139
    """
    require_positive(reference=reference, activation_j_mol=activation_j_mol)
    inverse = 1 / (as_array(temp_c) + ZERO_C) - 1 / (as_array(reference_c) + ZERO_C)
    return as_array(reference) * np.exp(-as_array(activation_j_mol) / GAS_CONSTANT * inverse)


def saturation_pressure_pa(temp_c: Quantity) -> Array:
    """Return the vapour pressure of water [Pa]; NaN outside 0-200 °C, rough above 60 °C. Source: [Magnus].

    >>> round(float(saturation_pressure_pa(23.0)))
    2803
    """
    temp = as_array(temp_c)
    inside = (temp >= 0) & (temp <= 200)
    value = 611.2 * np.exp(17.62 * np.where(inside, temp, 0.0) / (243.12 + np.where(inside, temp, 0.0)))
    return np.where(inside, value, np.nan)


def oven_humidity_percent(room_c: Quantity, room_rh: Quantity, oven_c: Quantity) -> Array:
    """Return the relative humidity of room air warmed to the oven's temperature [%]: no drying goes below its
    balance.

    >>> round(float(oven_humidity_percent(23.0, 50.0, 80.0)), 1)
    2.9
    """
    require_not_negative(room_rh=room_rh)
    return as_array(room_rh) * saturation_pressure_pa(room_c) / saturation_pressure_pa(oven_c)


def pack_diffusivity(
    polymer_density: Quantity, uptake_percent_at_50: Quantity, temp_c: Quantity, void: float = PACK_VOID
) -> Array:
    """Return the effective diffusivity of water through a wound spool [m²/s].

    Density [kg/m³], the polymer's balance at 50 % RH [% of mass], taken as constant in temperature.
    Source: derived, [Crank1975] ch. 14; a factor of two either way.

    >>> round(float(pack_diffusivity(1240.0, 0.3, 50.0)) * 1e8, 1)
    2.8
    """
    require_positive(polymer_density=polymer_density, uptake_percent_at_50=uptake_percent_at_50, void=void)
    kelvin = as_array(temp_c) + ZERO_C
    vapour = 0.5 * saturation_pressure_pa(temp_c) * WATER_KG_MOL / (GAS_CONSTANT * kelvin)  # kg/m³ at 50 % RH
    partition = as_array(polymer_density) * as_array(uptake_percent_at_50) / 100 / vapour
    air = VAPOUR_IN_AIR_M2_S * (kelvin / (23 + ZERO_C)) ** 1.8
    return air * void / PACK_TORTUOSITY / ((1 - void) * partition + void)


def slab_half_time(depth: Quantity, diffusivity: Quantity) -> Array:
    """Return the time in which a layer closed on one face loses half its water [s]: depth [m], D [m²/s].

    >>> round(float(slab_half_time(0.05, 5.9e-9)) / 3600)
    23
    """
    require_positive(depth=depth, diffusivity=diffusivity)
    return SLAB_HALF_TIME * as_array(depth) ** 2 / diffusivity


def winding_uptake(f: Quantity, radius_ratio: float, cells: int = 240) -> Array:
    """Return the share a hollow cylinder has reached through its outer face, hub sealed; ``F = D t / (r2 -
    r1)²``.

    `radius_ratio` = r1/r2 of hub and winding. Finite volumes in radius, exact in time (eigenvectors): within
    1e-4 for F ≥ 0.001. Source: [Crank1975] sec. 5.4 states the series in Bessel functions; this solves the
    same equation.

    >>> round(float(winding_uptake(0.2, 0.4)), 3)
    0.629
    """
    if not 0 < radius_ratio < 1:
        raise ValueError(f"radius_ratio must lie between 0 and 1, found {radius_ratio}")
    require_not_negative(f=f)
    rates, weights = _winding_modes(radius_ratio, cells)
    left = weights * np.exp(-rates * as_array(f)[..., None])
    return as_array(1 - left.sum(axis=-1))


def winding_number(share: float, radius_ratio: float) -> float:
    """Return the F at which a winding has reached that share; undoes `winding_uptake`. NaN unless 0 < share <
    1.

    >>> round(winding_number(0.5, 0.4), 3)
    0.118
    """
    if not 0 < share < 1:
        return float("nan")
    rates, weights = _winding_modes(radius_ratio, 240)
    low, high = 0.0, 10.0
    for _ in range(60):
        middle = (low + high) / 2
        if 1 - float((weights * np.exp(-rates * middle)).sum()) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _winding_modes(radius_ratio: float, cells: int) -> tuple[Array, Array]:
    """Return decay rates and weights of the remaining mean, both ``(cells,)``; lengths in units of the
    depth."""
    inner = radius_ratio / (1 - radius_ratio)
    faces = inner + np.linspace(0, 1, cells + 1)
    volume = (faces[1:] ** 2 - faces[:-1] ** 2) / 2
    link = faces[1:-1] * cells  # conductance between neighbours: face radius over cell width
    diagonal = np.zeros(cells)
    diagonal[:-1] += link
    diagonal[1:] += link
    diagonal[-1] += faces[-1] * cells * 2  # half a cell to the open outer face
    root = np.sqrt(volume)
    matrix = np.diag(diagonal / volume)
    off = -link / (root[:-1] * root[1:])
    matrix += np.diag(off, 1) + np.diag(off, -1)
    rates, modes = np.linalg.eigh(matrix)
    return rates, (modes.T @ root) ** 2 / volume.sum()
