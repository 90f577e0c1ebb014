"""How well two beads grow together while the joint is hot.

Times in s, temperatures in °C unless said, shifts as log10 a_T. The joint heals with the fourth root of time,
at a rate that follows the polymer's temperature shift [WoolOConnor1981], [YangPitchumani2002]; welds of
printed ABS were found to follow the equivalent isothermal time [Seppala2017]. Left out: voids (multiply by
the bonded share of area), crystals (a semi-crystalline joint stops healing when it crystallises).
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
ZERO_C = 273.15  # K
WLF_RANGE_K = 100.0  # [IUPAC12821] gives Tg to about Tg + 50 K; tables are used to Tg + 100 K


def wlf_shift(temp_c: Quantity, reference_c: Quantity, c1: Quantity = 17.44, c2_k: Quantity = 51.6) -> Array:
    """Return log10 of the shift factor (Williams, Landel, Ferry); negative when warmer than the reference.

    NaN below the reference and more than 100 K above it. Universal constants: [Williams1955]; form:
    [IUPAC12821].

    >>> round(float(wlf_shift(130.0, 80.0)), 5)
    -8.58268
    """
    require_positive(c1=c1, c2_k=c2_k)
    above = as_array(temp_c) - reference_c
    inside = (above >= 0) & (above <= WLF_RANGE_K)
    rise = np.where(inside, above, 0.0)
    return np.where(inside, -as_array(c1) * rise / (as_array(c2_k) + rise), np.nan)


def arrhenius_shift(temp_c: Quantity, reference_c: Quantity, activation_j_mol: Quantity) -> Array:
    """Return log10 of the shift factor exp((E/R)(1/T - 1/T_ref)); negative when warmer than the reference.

    >>> round(float(arrhenius_shift(220.0, 190.0, 80_000.0)), 3)
    -0.549
    """
    require_positive(activation_j_mol=activation_j_mol)
    inverse = 1 / (as_array(temp_c) + ZERO_C) - 1 / (as_array(reference_c) + ZERO_C)
    return as_array(as_array(activation_j_mol) / GAS_CONSTANT * inverse / np.log(10))


def healing_degree(durations: Quantity, full_strength_times: Quantity) -> Array:
    """Return the degree of healing, 0 to 1, after a history of stretches of constant temperature.

    ``(..., n)``: length of each stretch and the time to full strength at its temperature. Strength goes with
    this value, fracture energy with its square. Source: [YangPitchumani2002], [WoolOConnor1981].

    >>> round(float(healing_degree(np.array([2.0, 3.0]), np.array([50.0, 200.0]))), 6)
    0.484273
    """
    require_not_negative(durations=durations)
    require_positive(full_strength_times=full_strength_times)
    share = np.atleast_1d(as_array(durations) / full_strength_times).sum(axis=-1)
    return as_array(np.minimum(share, 1.0) ** 0.25)


def equivalent_time(durations: Quantity, shifts: Quantity) -> Array:
    """Return the time at the reference temperature that does the same work as the history [s], ``(..., n)``
    in.

    Source: [Seppala2017].

    >>> float(equivalent_time(np.array([1.0, 2.0]), np.array([0.0, -1.0])))
    21.0
    """
    require_not_negative(durations=durations)
    worked = as_array(durations) * 10.0 ** -as_array(shifts)
    return as_array(np.atleast_1d(worked).sum(axis=-1))
