"""What every model does first with its arguments, so that the policy is one.

Impossible input (a negative length) raises ValueError naming the argument; input outside the range that a
source covers gives NaN in that row. Scalars and arrays take the same path.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Quantity = float | Array


def as_array(value: Quantity) -> Array:
    """Return the value as float64, scalars as shape ``()``."""
    return np.asarray(value, dtype=np.float64)


def require_positive(**named: Quantity) -> None:
    """Raise ValueError naming the first argument that is not positive everywhere."""
    for name, value in named.items():
        if not np.all(as_array(value) > 0):
            raise ValueError(f"{name} must be positive, found {value}")


def require_not_negative(**named: Quantity) -> None:
    """Raise ValueError naming the first argument that is negative or NaN anywhere."""
    for name, value in named.items():
        if not np.all(as_array(value) >= 0):
            raise ValueError(f"{name} must not be negative, found {value}")
