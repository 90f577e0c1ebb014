"""Toothed belts, steppers and the plucked belt: why a lost step has a size, and what a hum says about
tension.

Lengths along the machine in mm, angles of the motor in degrees; the string in SI. An energised two-phase
motor that is pushed past its unstable point settles one electrical period away, four full steps of a common
hybrid motor, never one [Acarnley2002], [KenjoSugawara1994]. Microstepping does not change that. Left out:
teeth that ride up without jumping, belt stretch, a driver that lost its phase (may re-seat within two steps).
"""

from __future__ import annotations

import numpy as np

from beadwright.physics.arguments import Array, Quantity, as_array, require_positive

FULL_STEPS_PER_PERIOD = 4  # 50 rotor teeth on a 200-step motor: 360/50 = 4 * 1.8 degrees, [Acarnley2002] chs. 1-3


def full_step_mm(step_deg: Quantity, teeth: Quantity, pitch_mm: Quantity) -> Array:
    """Return belt travel per full motor step [mm].

    Arguments broadcast: motor step [deg], pulley teeth, belt pitch [mm]. Source: definition, [ISO5294].

    >>> round(float(full_step_mm(1.8, 20, 2.0)), 12)
    0.2
    """
    require_positive(step_deg=step_deg, teeth=teeth, pitch_mm=pitch_mm)
    return as_array(teeth) * pitch_mm * step_deg / 360.0


def screw_full_step_mm(step_deg: Quantity, lead_mm: Quantity) -> Array:
    """Return screw travel per full motor step [mm]: motor step [deg], lead [mm].

    >>> round(float(screw_full_step_mm(1.8, 8.0)), 12)
    0.04
    """
    require_positive(step_deg=step_deg, lead_mm=lead_mm)
    return as_array(lead_mm) * step_deg / 360.0


def steps_per_mm(step_deg: Quantity, microsteps: Quantity, teeth: Quantity, pitch_mm: Quantity) -> Array:
    """Return microsteps per mm of belt.

    >>> round(float(steps_per_mm(1.8, 16, 20, 2.0)), 9)
    80.0
    """
    require_positive(microsteps=microsteps)
    return as_array(microsteps) / full_step_mm(step_deg, teeth, pitch_mm)


def slip_quantum_mm(step_deg: Quantity, teeth: Quantity, pitch_mm: Quantity) -> Array:
    """Return the belt travel that an energised two-phase motor loses at a time [mm]: four full steps.

    >>> round(float(slip_quantum_mm(1.8, 20, 2.0)), 12)
    0.8
    """
    return FULL_STEPS_PER_PERIOD * full_step_mm(step_deg, teeth, pitch_mm)


def belts_from_head(x: Quantity, y: Quantity) -> tuple[Array, Array]:
    """Return the travel of belts a and b that puts the head of a two-belt machine at (x, y), same unit.

    Source: [TwoBeltCourse]. Signs and the names a, b are convention.

    >>> [float(v) for v in belts_from_head(3.0, 1.0)]
    [4.0, 2.0]
    """
    return as_array(x) + y, as_array(x) - y


def head_from_belts(a: Quantity, b: Quantity) -> tuple[Array, Array]:
    """Return the head position that belts a and b give on a two-belt machine; undoes `belts_from_head`.

    One belt alone therefore moves the head along an exact diagonal, by 1/sqrt(2) of the belt's travel.

    >>> [float(v) for v in head_from_belts(0.8, 0.0)]
    [0.4, 0.4]
    """
    return (as_array(a) + b) / 2, (as_array(a) - b) / 2


def string_frequency_hz(span_m: Quantity, tension_n: Quantity, mass_kg_m: Quantity) -> Array:
    """Return the pitch of a plucked flexible span [Hz].

    Free span between tangent points [m], tension [N], belt mass per length [kg/m].
    Source: Mersenne's string, [FletcherRossing1998] ch. 2. Leaves out bending stiffness.

    >>> round(float(string_frequency_hz(0.15, 20.0, 0.008)), 4)
    166.6667
    """
    require_positive(span_m=span_m, tension_n=tension_n, mass_kg_m=mass_kg_m)
    return np.sqrt(as_array(tension_n) / mass_kg_m) / (2 * as_array(span_m))


def string_tension_n(frequency_hz: Quantity, span_m: Quantity, mass_kg_m: Quantity) -> Array:
    """Return the tension of a span heard at a pitch [N]; undoes `string_frequency_hz`.

    >>> round(float(string_tension_n(100.0, 0.15, 0.008)), 9)
    7.2
    """
    require_positive(frequency_hz=frequency_hz, span_m=span_m, mass_kg_m=mass_kg_m)
    return 4 * as_array(mass_kg_m) * as_array(span_m) ** 2 * as_array(frequency_hz) ** 2


def pinned_span_frequency_hz(
    span_m: Quantity, tension_n: Quantity, mass_kg_m: Quantity, bending_n_m2: Quantity, harmonic: int = 1
) -> Array:
    """Return the n-th pitch of a stiff span on pinned ends [Hz]; bending stiffness E I [N m²].

    Source: [FletcherRossing1998] sec. 2.18.

    >>> round(float(pinned_span_frequency_hz(0.20, 30.0, 0.008, 2e-5)), 4)
    153.1057
    """
    require_positive(harmonic=harmonic)
    stiffness = _relative_stiffness(span_m, tension_n, bending_n_m2)
    plain = string_frequency_hz(span_m, tension_n, mass_kg_m)
    return harmonic * plain * np.sqrt(1 + harmonic**2 * np.pi**2 * stiffness)


def clamped_span_frequency_hz(
    span_m: Quantity, tension_n: Quantity, mass_kg_m: Quantity, bending_n_m2: Quantity
) -> Array:
    """Return the lowest pitch of a stiff span on clamped ends [Hz], to second order in stiffness.

    NaN where E I exceeds 1 % of T L²: the expansion no longer holds. Source: [FletcherRossing1998] sec. 2.18.

    >>> round(float(clamped_span_frequency_hz(0.20, 30.0, 0.008, 2e-5)), 3)
    154.366
    """
    stiffness = _relative_stiffness(span_m, tension_n, bending_n_m2)
    plain = string_frequency_hz(span_m, tension_n, mass_kg_m)
    raised = plain * (1 + 2 * np.sqrt(stiffness) + (4 + np.pi**2 / 2) * stiffness)
    return np.where(stiffness < 0.01, raised, np.nan)


def _relative_stiffness(span_m: Quantity, tension_n: Quantity, bending_n_m2: Quantity) -> Array:
    require_positive(span_m=span_m, tension_n=tension_n, bending_n_m2=bending_n_m2)
    return as_array(bending_n_m2) / (as_array(tension_n) * as_array(span_m) ** 2)
