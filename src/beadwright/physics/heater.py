"""A heater's loop: controller settings from a relay test.

Powers in %, temperatures in K, times in s. The describing function takes the swing for a sine: on a heater
that lags more than it delays, the ultimate gain comes out 15-20 % low. Left out: heating and cooling at
different rates (centre the relay so that both half periods match, or both numbers are biased).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_not_negative, require_positive


@dataclass(frozen=True)
class LoopSettings:
    """Gain [%/K], integral and derivative time [s]; arrays of one shape."""

    gain: Array
    integral_s: Array
    derivative_s: Array

    @property
    def parallel(self) -> tuple[Array, Array, Array]:
        """Proportional, integral and derivative gain [%/K, %/(K s), % s/K]."""
        return self.gain, self.gain / self.integral_s, self.gain * self.derivative_s


def ultimate_gain(relay_amplitude: Quantity, swing_amplitude: Quantity, hysteresis: Quantity = 0.0) -> Array:
    """Return the gain at which the loop would just swing [%/K].

    Half the relay's span [%], half the swing's span [K], half the relay's dead band [K]; NaN where the band
    exceeds the swing. Source: [AstromHagglund1984].

    >>> round(float(ultimate_gain(50.0, 5.0)), 6)
    12.732395
    """
    require_positive(relay_amplitude=relay_amplitude, swing_amplitude=swing_amplitude)
    require_not_negative(hysteresis=hysteresis)
    squared = as_array(swing_amplitude) ** 2 - as_array(hysteresis) ** 2
    return 4 * as_array(relay_amplitude) / (np.pi * np.sqrt(np.where(squared > 0, squared, np.nan)))


def pid_settings(ultimate: Quantity, period_s: Quantity) -> LoopSettings:
    """Return the classic settings; they aim at quarter decay, so they overshoot: halve the gain for a quiet
    bed.

    Source: [ZieglerNichols1942].

    >>> settings = pid_settings(12.732395, 40.0)
    >>> [round(float(v), 4) for v in settings.parallel]
    [7.6394, 0.382, 38.1972]
    """
    require_positive(ultimate=ultimate, period_s=period_s)
    period = as_array(period_s)
    return LoopSettings(0.6 * as_array(ultimate), period / 2, period / 8)


def pi_settings(ultimate: Quantity, period_s: Quantity) -> LoopSettings:
    """Return the classic settings without derivative action. Source: [ZieglerNichols1942].

    >>> round(float(pi_settings(12.732395, 40.0).integral_s), 4)
    33.3333
    """
    require_positive(ultimate=ultimate, period_s=period_s)
    period = as_array(period_s)
    return LoopSettings(0.45 * as_array(ultimate), period / 1.2, np.zeros_like(period))


def relay_swing(gain: Quantity, relay_amplitude: Quantity, delay_s: Quantity, lag_s: Quantity) -> tuple[Array, Array]:
    """Return (half swing, period) of a relay on a delay and one lag, exactly: what a test of a known heater
    shows.

    Static gain [K/%], relay half span [%], dead time and lag [s]. Source: derived, piecewise exponentials.

    >>> [round(float(v), 6) for v in relay_swing(1.0, 1.0, 1.0, 2.0)]
    [0.393469, 3.327186]
    """
    require_positive(gain=gain, relay_amplitude=relay_amplitude, delay_s=delay_s, lag_s=lag_s)
    ratio = as_array(delay_s) / lag_s
    swing = as_array(gain) * relay_amplitude * -np.expm1(-ratio)
    return swing, 2 * as_array(lag_s) * np.log(2 * np.exp(ratio) - 1)
