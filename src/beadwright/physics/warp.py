"""Warp: layers that shrink on layers that have shrunk already.

SI. A bimetal strip [Timoshenko1925], and the stack of layers that is the same formula with equal moduli
[WangXiJin2007]. It falls with the square of height for ever, while measured warp is largest at middling
height [Armillotta2017]: use it to rank material, length and chamber, not to foretell millimetres.
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive


def bimetal_curvature(
    thickness_1: Quantity, thickness_2: Quantity, modulus_1: Quantity, modulus_2: Quantity, mismatch: Quantity
) -> Array:
    """Return the curvature of two bonded layers [1/m] whose free strains differ by `mismatch`.

    Thicknesses [m], moduli in one unit. Source: [Timoshenko1925].

    >>> round(float(1 / bimetal_curvature(1e-3, 1e-3, 70.0, 200.0, 11e-6 * 100)), 6)
    1.303571
    """
    require_positive(thickness_1=thickness_1, thickness_2=thickness_2, modulus_1=modulus_1, modulus_2=modulus_2)
    m, n = as_array(thickness_1) / thickness_2, as_array(modulus_1) / modulus_2
    height = as_array(thickness_1) + thickness_2
    return 6 * as_array(mismatch) * (1 + m) ** 2 / (height * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))


def free_tip_rise(length: Quantity, curvature: Quantity) -> Array:
    """Return how far the free end of a strip held at the other end moves [m], small curvature.

    >>> float(free_tip_rise(2.0, 0.5))
    1.0
    """
    require_positive(length=length)
    return as_array(length) ** 2 * curvature / 2


def stack_radius(layers: Quantity, layer_height: Quantity, expansion: Quantity, drop_k: Quantity) -> Array:
    """Return the bending radius of n layers whose top one shrinks over `drop_k` on the others [m].

    Layer height [m], expansion [1/K]. NaN for a single layer. Source: [WangXiJin2007].

    >>> round(float(stack_radius(5, 0.25, 90e-6, 80.0)), 4)
    180.8449
    """
    require_positive(layers=layers, layer_height=layer_height, expansion=expansion, drop_k=drop_k)
    n = as_array(layers)
    below = np.where(n > 1, n - 1, np.nan)
    return n**3 * layer_height / (6 * as_array(expansion) * drop_k * below)


def corner_lift(length: Quantity, radius: Quantity) -> Array:
    """Return how far the ends of a section of that length stand up [same unit as the arguments].

    >>> round(float(corner_lift(100.0, 180.8449)), 4)
    6.8681
    """
    require_positive(length=length, radius=radius)
    # 1 - cos written as a square: no digits lost for long radii
    half_sine = np.sin(as_array(length) / (4 * as_array(radius)))
    return as_array(2 * as_array(radius) * half_sine**2)


def locked_stress(modulus: Quantity, expansion: Quantity, drop_k: Quantity) -> Array:
    """Return the stress of a bar held at its length while cooling [unit of the modulus].

    >>> round(float(locked_stress(2000.0, 90e-6, 80.0)), 6)
    14.4
    """
    require_positive(modulus=modulus, expansion=expansion)
    return as_array(modulus) * expansion * drop_k


def locked_plate_stress(modulus: Quantity, expansion: Quantity, drop_k: Quantity, poisson: Quantity) -> Array:
    """Return the stress of a plate held in both directions while cooling [unit of the modulus].

    >>> round(float(locked_plate_stress(2000.0, 90e-6, 80.0, 0.35)), 4)
    22.1538
    """
    if not np.all((as_array(poisson) > -1) & (as_array(poisson) < 1)):
        raise ValueError(f"poisson must lie between -1 and 1, found {poisson}")
    return locked_stress(modulus, expansion, drop_k) / (1 - as_array(poisson))
