"""Water in filament: how it gets in, and how long it takes to get out of a strand and out of a wound spool.

SI, temperatures in °C, ``F = D t / a²``. One strand: Fick in a cylinder, found to hold for twelve printing
filaments [Aniskevich2023]. A spool: vapour between the turns as diffusion with instantaneous linear sorption
[Crank1975] ch. 14; that part is derived and unmeasured, a factor of two either way. Left out: D that grows
with water content (polyamides, PVA: drying lags behind), flanges that breathe.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive
from beadwright.physics.melt import mean_theta
from beadwright.physics.weld import GAS_CONSTANT, ZERO_C

WATER_KG_MOL = 0.018015
VAPOUR_IN_AIR_M2_S = 2.5e-5  # at 23 °C, grows with T^1.8; handbook value, memory
SLAB_HALF_TIME = 0.196731  # D t / l² at half uptake through one face, [Crank1975] sec. 4.3
WINDING_FROM = 0.002  # F from which the marching holds
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


def diffusivity_at(reference: Quantity, reference_c: Quantity, activation_j_mol: Quantity, temp_c: Quantity) -> Array:
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


def winding_uptake(f: Quantity, radius_ratio: float) -> Array:
    """Return the share a hollow cylinder has reached through its outer face, hub sealed; within 1e-3.

    ``F = D t / (r2 - r1)²`` and `radius_ratio` = r1/r2 of hub and winding. NaN below F = 0.002. Source:
    [Crank1975] sec. 5.4 gives it as a series in Bessel functions; here the same equation is marched in time.

    >>> round(float(winding_uptake(0.2, 0.4)), 2)
    0.63
    """
    require_not_negative(f=f)
    times, shares = _winding_curve(radius_ratio)
    f = as_array(f)
    return np.where(f >= WINDING_FROM, np.interp(f, times, shares), np.nan)


def winding_number(share: Quantity, radius_ratio: float) -> Array:
    """Return the F at which a winding has reached that share; undoes `winding_uptake`.

    NaN unless 0.1 ≤ share ≤ 0.999.

    >>> round(float(winding_number(0.5, 0.4)), 3)
    0.118
    """
    times, shares = _winding_curve(radius_ratio)
    share = as_array(share)
    return np.where((share >= 0.1) & (share <= 0.999), np.interp(share, shares, times), np.nan)


@lru_cache(maxsize=64)
def _winding_curve(radius_ratio: float, cells: int = 40) -> tuple[Array, Array]:
    """Return F and share reached, up to 0.9999, both ``(k,)``.

    Finite volumes in radius, trapezoidal steps growing with time after four implicit ones that calm the
    start. Plain floats: for so few cells they are quicker than a linear-algebra library, and do not wait for
    its threads.
    """
    if not 0 < radius_ratio < 1:
        raise ValueError(f"radius_ratio must lie between 0 and 1, found {radius_ratio}")
    inner = radius_ratio / (1 - radius_ratio)
    faces = [inner + i / cells for i in range(cells + 1)]
    volume = [(faces[i + 1] ** 2 - faces[i] ** 2) / 2 for i in range(cells)]
    link = [face * cells for face in faces]  # conductance through each face: radius over cell width
    link[0], link[-1] = 0.0, 2 * link[-1]  # sealed hub; half a cell to the open rim
    left, total = [1.0] * cells, sum(volume)
    times, shares, time, step = [0.0], [0.0], 0.0, 1e-5
    while shares[-1] < 0.9999:
        left = _winding_step(left, volume, link, step, 1.0 if len(times) < 5 else 0.5)
        time += step
        step *= 1.06
        times.append(time)
        shares.append(1 - sum(v * c for v, c in zip(volume, left, strict=True)) / total)
    return np.array(times), np.array(shares)


def _winding_step(
    left: list[float], volume: list[float], link: list[float], step: float, implicit: float
) -> list[float]:
    """Return the contents after one step, `implicit` of it taken at the new time (Thomas's elimination)."""
    now, before = implicit * step, (1 - implicit) * step
    last = len(left) - 1
    ratio: list[float] = []
    value: list[float] = []
    for i, content in enumerate(left):
        inward = link[i] * (content - left[i - 1]) if i else 0.0
        outward = link[i + 1] * (content - (left[i + 1] if i < last else 0.0))
        right = volume[i] * content - before * (inward + outward)
        pivot = volume[i] + now * (link[i] + link[i + 1]) - (now * link[i] * ratio[-1] if i else 0.0)
        ratio.append(now * link[i + 1] / pivot)
        value.append((right + (now * link[i] * value[-1] if i else 0.0)) / pivot)
    for i in range(last - 1, -1, -1):
        value[i] += ratio[i] * value[i + 1]
    return value
