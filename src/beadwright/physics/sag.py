"""Strands that hang in the air: how fast a molten one sags, how far a solid or slack one does.

SI. A solid strand does not sag; all that shows happens in the second or two before it is solid, plus slack
from too much plastic. Sources: beams [Roark]; molten strand by three times the shear viscosity for the
modulus [Trouton1906].
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive

GRAVITY = 9.80665  # m/s², standard


def strand_weight(diameter: Quantity, density: Quantity) -> Array:
    """Return the weight of a round strand per length [N/m].

    >>> round(float(strand_weight(0.4e-3, 1200.0)) * 1e3, 6)
    1.478808
    """
    require_positive(diameter=diameter, density=density)
    return as_array(density) * GRAVITY * np.pi / 4 * as_array(diameter) ** 2


def strand_inertia(diameter: Quantity) -> Array:
    """Return the second moment of a round section [m⁴].

    >>> round(float(strand_inertia(0.4e-3)) * 1e15, 6)
    1.256637
    """
    require_positive(diameter=diameter)
    return np.pi / 64 * as_array(diameter) ** 4


def pinned_sag(weight: Quantity, span: Quantity, modulus: Quantity, inertia: Quantity) -> Array:
    """Return the sag at midspan of an evenly loaded beam on pinned ends [m]; a fifth of it on clamped ends.

    Weight [N/m], span [m], modulus [Pa], second moment [m⁴]. Source: [Roark].

    >>> round(float(pinned_sag(1000.0, 2.0, 200e9, 8e-6)) * 1e3, 6)
    0.130208
    """
    require_positive(weight=weight, span=span, modulus=modulus, inertia=inertia)
    return 5 * as_array(weight) * as_array(span) ** 4 / (384 * as_array(modulus) * inertia)


def molten_sag_rate(weight: Quantity, span: Quantity, viscosity: Quantity, inertia: Quantity) -> Array:
    """Return how fast a molten strand on pinned ends sags [m/s]; viscosity [Pa s]. Source: [Trouton1906],
    [Roark].

    >>> round(float(molten_sag_rate(1.478808e-3, 0.01, 3000.0, 1.256637e-15)) * 1e3, 3)
    17.025
    """
    require_positive(viscosity=viscosity)
    return pinned_sag(weight, span, 3 * as_array(viscosity), inertia)


def catenary_sag(weight: Quantity, span: Quantity, tension: Quantity) -> Array:
    """Return the sag of a limp strand under a horizontal pull [m]: weight [N/m], span [m], tension [N].

    >>> round(float(catenary_sag(1.478808e-3, 0.01, 1e-4)) * 1e3, 6)
    0.184935
    """
    require_positive(weight=weight, span=span, tension=tension)
    ratio = as_array(weight) / tension
    return (np.cosh(ratio * span / 2) - 1) / ratio


def slack_sag(span: Quantity, excess: Quantity) -> Array:
    """Return the sag of a strand laid longer than its span by that share [unit of the span], shallow.

    >>> round(float(slack_sag(20.0, 0.01)), 2)
    1.22
    """
    require_positive(span=span)
    require_not_negative(excess=excess)
    return as_array(span) * np.sqrt(3 * as_array(excess) / 8)
