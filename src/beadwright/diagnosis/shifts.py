"""What made a layer shift of (dx, dy): each cause moves the head in its own way, and the drive's numbers
tell which.

    one motor lost steps     4, 8, 12 … full steps on one belt: one electrical period of a two-phase motor
    each a belt jumped teeth      whole pitches on one belt a pulley slipped         any amount on one belt
    several motors           multiples of 4 full steps on each of two belts part knocked, plate moved, a
    file that moves by itself   any direction, any amount

On a machine with one motor per axis "one belt" is X or Y alone; with two crossed belts it is an exact ±45°
(a = x + y, b = x − y), and half of the belt's travel shows in each of dx and dy. Lengths in mm.
Source: torque period and transform, reference facts on belts and steppers (Acarnley 2002, ch. 1–3, from
memory). How large a slip is and how often: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from beadwright.diagnosis.densities import comb, flat, normal
from beadwright.physics.belts import full_step_mm

REACH_MM = 40.0  # a part or plate that moves, moves by less than this in each direction
SLIP_REACH_MM = 15.0  # a pulley slips by less than this on its belt before someone stops the print
PERIODS, PERIOD_RATIO = 40, 0.85  # losing k + 1 periods is 0.85 times as likely as losing k
TEETH, TOOTH_RATIO = 6, 0.4
DEFAULT_U_MM = 0.15  # a reading with a calliper on a printed wall
BLUNDER = 0.02  # share of readings that are simply wrong: anything within reach


@dataclass(frozen=True)
class Drive:
    """What moves the head in the plane."""

    pitch_mm: float = 2.0
    teeth: float = 20.0
    step_deg: float = 1.8
    kinematics: str = "other"  # cartesian, corexy, delta, other

    @property
    def quantum_mm(self) -> float:
        """Belt travel of four full steps."""
        return 4 * float(full_step_mm(self.step_deg, self.teeth, self.pitch_mm))

    @property
    def crossed(self) -> bool:
        return self.kinematics == "corexy"


def shift_ratios(dx: float, dy: float, drive: Drive, u: float = DEFAULT_U_MM) -> dict[str, float]:
    """Return, by cause, the density of the reading (dx, dy) over that of a shift about which nothing is
    known.

    `u` is the standard error of each component. A density on two belts is one on (dx, dy) times the
    transform's determinant, 2. A delta moves along no fixed directions: there only the amounts of the whole
    are left, so 1 each.
    """
    background = _anything(dx, dy, u)
    if drive.kinematics == "delta":
        return dict.fromkeys(_BELT_CAUSES, 1.0)
    # (a, b): travel of the two belts, its error and the area element d(a, b)/d(dx, dy)
    a, b, sigma, area = (dx + dy, dx - dy, u * sqrt(2), 2.0) if drive.crossed else (dx, dy, u, 1.0)

    def on_one(density_a: float, density_b: float) -> float:
        still_a, still_b = float(normal(a, 0.0, sigma)), float(normal(b, 0.0, sigma))
        return area * (density_a * still_b + density_b * still_a) / 2

    steps = [float(comb(t, drive.quantum_mm, PERIOD_RATIO, PERIODS, sigma)) for t in (a, b)]
    teeth = [float(comb(t, drive.pitch_mm, TOOTH_RATIO, TEETH, sigma)) for t in (a, b)]
    slips = [float(flat(t, -SLIP_REACH_MM, SLIP_REACH_MM, sigma)) for t in (a, b)]
    density = {
        "one_motor_lost_steps": on_one(*steps),
        "belt_tooth_jumped": on_one(*teeth),
        "pulley_slips": on_one(*slips),
        "several_motors_lost_steps": area * steps[0] * steps[1],
    }
    ratios = {cause: (1 - BLUNDER) * value / background + BLUNDER for cause, value in density.items()}
    return ratios | dict.fromkeys(_ANY_DIRECTION, 1.0)


_BELT_CAUSES = ("one_motor_lost_steps", "belt_tooth_jumped", "pulley_slips", "several_motors_lost_steps")
_ANY_DIRECTION = ("part_knocked", "plate_shifted", "file_shifts_itself")


def _anything(dx: float, dy: float, u: float) -> float:
    """Return the density of a shift of any size and direction: half within a few mm, half anywhere."""
    near = float(flat(dx, -5.0, 5.0, u) * flat(dy, -5.0, 5.0, u))
    far = float(flat(dx, -REACH_MM, REACH_MM, u) * flat(dy, -REACH_MM, REACH_MM, u))
    return max((near + far) / 2, 1e-6)


def direction_u_mm(drive: Drive) -> float:
    """Return the standard error of dx and dy below which whole lost periods stand apart from any other
    amount.

    Neighbours must lie four standard errors apart; with crossed belts a period shows as half in each
    component.
    """
    return drive.quantum_mm / (8.0 if drive.crossed else 4.0)


def reading_advice(drive: Drive, u: float) -> str:
    """Say, when the reading is too coarse to tell whole periods, how well one must measure; else nothing.

    >>> reading_advice(Drive(kinematics="corexy"), 0.3).split(";")[1]
    ' ±0.1 mm or better would tell'
    """
    needed = direction_u_mm(drive)
    if u <= needed:
        return ""
    return (
        f"the shift is read to ±{u:.2g} mm, too coarse to tell whole lost steps from a slip; "
        f"±{needed:.2g} mm or better would tell"
    )


def shift_text(dx: float, dy: float, drive: Drive, u: float) -> str:
    """Say what was measured in the drive's own units."""
    head = f"shift of ({dx:.2f}, {dy:.2f}) mm"
    if drive.kinematics == "delta":
        return head
    moved = (dx + dy, dx - dy) if drive.crossed else (dx, dy)
    sigma = u * (sqrt(2) if drive.crossed else 1)
    names = ("one belt", "the other belt") if drive.crossed else ("X", "Y")
    periods = [value / drive.quantum_mm for value in moved]
    if min(abs(value) for value in moved) < 3 * sigma:
        k = int(np.argmax(np.abs(moved)))
        line = "along an exact diagonal, so one motor alone" if drive.crossed else f"along {names[k]} alone"
        return f"{head}: {line}; {abs(periods[k]):.2f} times four full steps"
    return f"{head}: {abs(periods[0]):.2f} and {abs(periods[1]):.2f} times four full steps on both motors"


def sign_links(kinematics: str | None) -> dict[str, dict[str, float]]:
    """Return, by sign, the chances that hold on this kind of machine, in place of the tables' mixed ones.

    One drive alone means an exact diagonal with two crossed belts and one axis with a motor per axis; both
    drives may give any direction. Common practice, no source.
    """
    if kinematics not in ("corexy", "cartesian"):
        return {}
    typical, odd = (
        ("shift_diagonal", "shift_one_axis") if kinematics == "corexy" else ("shift_one_axis", "shift_diagonal")
    )
    one = ("one_motor_lost_steps", "belt_tooth_jumped", "pulley_slips")
    both = "several_motors_lost_steps"
    return {
        typical: dict.fromkeys(one, 0.88) | {both: 0.06},
        odd: dict.fromkeys(one, 0.03) | {both: 0.15},
        "shift_off_diagonal": dict.fromkeys(one, 0.03) | {both: 0.75},
    }
