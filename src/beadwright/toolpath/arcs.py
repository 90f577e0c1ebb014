"""Arcs in the XY plane: where the centre is, and into how many chords one is cut.

Rules of NISTIR 6556 section 3.5.3 (from memory): G2 clockwise, G3 counter-clockwise, I J from the arc's
start to its centre, or R with a negative sign for the longer way round; equal ends with I J make a full
circle; a Z word makes a helix.
"""

from __future__ import annotations

import math

from beadwright.toolpath.compiled import compiled
from beadwright.toolpath.slots import MAX_CHORDS

SAGITTA_MM = 0.01  # how far a chord may lie from its arc
RADIUS_SLACK_MM = 0.05  # start and end radius may differ by this (files round to 0.001 mm) …
RADIUS_SLACK_PART = 0.002  # … or by this part of the radius


@compiled
def centre_from_radius(dx: float, dy: float, radius: float, clockwise: bool) -> tuple[float, float, bool]:
    """Return the centre relative to the start of an arc that ends at (dx, dy), and whether there is one."""
    half = 0.5 * math.hypot(dx, dy)
    size = abs(radius)
    if half == 0.0 or half > size * 1.001 + 0.002:
        return 0.0, 0.0, False
    height = math.sqrt(max(size * size - half * half, 0.0)) / (2.0 * half)
    # along the chord the centre lies left for a short counter-clockwise arc; R < 0 and G2 each flip the side
    if clockwise != (radius < 0.0):
        height = -height
    return 0.5 * dx - height * dy, 0.5 * dy + height * dx, True


@compiled
def centre_fits(dx: float, dy: float, i: float, j: float) -> bool:
    """Return whether start and end lie equally far from the centre (i, j), within rounding."""
    first = math.hypot(i, j)
    last = math.hypot(dx - i, dy - j)
    return first > 0.0 and abs(first - last) <= max(RADIUS_SLACK_MM, RADIUS_SLACK_PART * first)


@compiled
def sweep(dx: float, dy: float, i: float, j: float, clockwise: bool) -> float:
    """Return the signed angle swept [rad], counter-clockwise positive; a whole turn when the ends are
    equal.
    """
    if dx == 0.0 and dy == 0.0:
        return -2.0 * math.pi if clockwise else 2.0 * math.pi
    angle = math.atan2(dy - j, dx - i) - math.atan2(-j, -i)
    if clockwise and angle >= 0.0:
        angle -= 2.0 * math.pi
    elif not clockwise and angle <= 0.0:
        angle += 2.0 * math.pi
    return angle


@compiled
def chord_count(angle: float, radius: float) -> int:
    """Return how many chords keep the sagitta within `SAGITTA_MM`, from 1 to `MAX_CHORDS`."""
    turn = abs(angle)
    step = 0.5 * math.pi
    if radius > SAGITTA_MM:
        step = min(step, 2.0 * math.acos(1.0 - SAGITTA_MM / radius))
    return max(1, min(MAX_CHORDS, math.ceil(turn / step - 1e-9)))
