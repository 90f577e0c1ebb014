"""What in this printer acts periodically, on which clock and how often, and how well marks fit each.

Periods follow from the machine's numbers by kinematics (`physics.marks`); where a number is not known the usual
sizes stand for it ("common practice, no source"). A period shorter than two layers is seen down a wall only once a
layer and beats with the layers, as a wheel seems to turn slowly on film; that is worked out where the period is
known well enough to say how.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadwright.diagnosis.clock_fit import Floats, Marks, OnClock, log_mean, log_ratios
from beadwright.diagnosis.clock_maps import PrintClocks, RhythmClock
from beadwright.facts import Facts
from beadwright.physics.marks import apparent_layers, gear_turn_filament_mm

GEAR_MM = (7.0, 12.5)  # usual effective diameters
SPOOL_MM = (70.0, 200.0)  # of the winding, empty to full
LEADS_MM = (2.0, 4.0, 8.0)
BED_S, NOZZLE_S, ROOM_S = (8.0, 150.0), (6.0, 90.0), (180.0, 3600.0)
STRAND_MM = (100.0, 20_000.0)  # unevenness of a strand has no set period
TOO_OFTEN = 3.0  # events per mark from which on a source would leave far more marks than were found
TOO_OFTEN_LOG = -2.3  # what such a source then stands at: one in ten
MOST_SAMPLES = 3000


@dataclass(frozen=True)
class Source:
    """One part or cycle. `regular`: how often its marks, where it is the fault, come evenly; causes it speaks for."""

    part: str
    clock: RhythmClock
    low: float  # period, in the clock's unit
    high: float
    known: str  # where the period comes from
    causes: tuple[str, ...] = ()
    regular: float = 0.9
    meaning: str = ""

    @property
    def middle(self) -> float:
        return float((self.low * self.high) ** 0.5)

    @property
    def is_narrow(self) -> bool:
        return self.high / self.low < 1.5


def sources_of(facts: Facts, clocks: PrintClocks) -> tuple[Source, ...]:
    """Return all sources of this printer; facts used: screw_lead_mm, motor_step_deg, drive_gear_mm, period_s."""
    return (*_screw(facts, clocks), *_feed(facts), *_heat(facts), *_layer_patterns())


def _screw(facts: Facts, clocks: PrintClocks) -> list[Source]:
    lead = facts.number("screw_lead_mm")
    known = f"screw_lead_mm = {lead:g}" if lead else "a usual lead"
    meaning = "the lift screw is bent, or its nut holds the bed or head sideways"
    found = [
        Source("one turn of the lift screw", "z", 0.99 * one, 1.01 * one, known, ("screw_wobble",), 0.95, meaning)
        for one in ((lead,) if lead else LEADS_MM)
    ]
    if lead:
        step = lead * (facts.number("motor_step_deg", 1.8) or 1.8) / 360
        height = clocks.layer_height_mm
        apparent = float(apparent_layers(step, height)) * height  # layers sample the steps
        if apparent < clocks.z[-1] / 3:
            found.append(
                Source(
                    "layer height against the screw motor's full steps", "z", 0.97 * apparent, 1.03 * apparent,
                    f"{height:g} mm is no whole number of {step:g} mm", (), 0.5,
                    "a layer height that is a whole number of full steps would end it",
                )
            )  # fmt: skip
    return found


def _feed(facts: Facts) -> list[Source]:
    gear = facts.number("drive_gear_mm")
    sizes = (0.97 * gear, 1.03 * gear) if gear else GEAR_MM
    gear_low, gear_high = (float(gear_turn_filament_mm(size)) for size in sizes)
    spool_low, spool_high = (float(gear_turn_filament_mm(size)) for size in SPOOL_MM)
    return [
        Source("one turn of the drive gear", "filament", gear_low, gear_high,
               f"drive_gear_mm = {gear:g}" if gear else "usual gears", ("drive_gear_eccentric",), 0.9,
               "the drive gear runs out of true"),
        Source("one turn of the spool", "filament", spool_low, spool_high, "windings of 70–200 mm",
               ("spool_drags",), 0.6, "the spool pulls on the strand once a turn"),
        Source("unevenness of the strand", "filament", *STRAND_MM, "no set period",
               ("filament_diameter_varies", "outer_wraps_damp"), 0.2,
               "the strand changes along its length: in diameter, or damp where it lay outside"),
    ]  # fmt: skip


def _heat(facts: Facts) -> list[Source]:
    period = facts.number("period_s")
    known = f"period_s = {period:g}" if period else "usual cycles"
    bed, nozzle = ((0.96 * period, 1.04 * period),) * 2 if period else (BED_S, NOZZLE_S)
    return [
        Source("the bed heater's cycle", "s", *bed, known, ("bed_heater_swings",), 0.85,
               "the bed heats and rests in long swings and bows with them"),
        Source("the nozzle heater's cycle", "s", *nozzle, known, ("heater_loop_swings",), 0.8,
               "the nozzle temperature swings, and the bead with it"),
        Source("a cycle of the room or chamber", "s", *ROOM_S, "a heating, a fan, a door: minutes to an hour",
               ("cold_room_or_draught",), 0.4, "the air about the print changes in turns"),
    ]  # fmt: skip


def _layer_patterns() -> list[Source]:
    return [
        Source("the seam, once a layer", "layer", 0.97, 1.03, "by the way layers begin", (), 0.9,
               "every layer's own start and end; no part of the machine"),
        Source("a pattern of two layers", "layer", 1.97, 2.03, "directions of raster that alternate", (), 0.5,
               "the file's own alternation; no part of the machine"),
    ]  # fmt: skip


def source_log_ratio(marks: Marks, clocks: PrintClocks, source: Source) -> float | None:
    """Return ln of the likelihood of the marks if they come from `source` over that of no rhythm.

    None where the period is shorter than two layers and not known well enough to say how it beats with them.
    """
    ends = clocks.at(source.clock, [marks.low, marks.high])
    span = float(ends[1] - ends[0])
    layers = (marks.high - marks.low) / clocks.layer_height_mm
    if source.clock != "layer" and source.high < 2 * span / max(layers, 1.0):
        return _beating(marks, clocks, source, span / max(layers, 1.0))
    beats = np.array([span / source.high, span / source.low])
    limit = TOO_OFTEN * len(marks)
    if beats[0] > limit:
        return TOO_OFTEN_LOG
    tried = _evenly(beats[0], min(beats[1], limit))
    inside = log_mean(log_ratios(OnClock.of(marks, clocks, source.clock), tried / span), 1 / tried)
    if beats[1] <= limit:
        return inside
    within = float(np.log(limit / beats[0]) / np.log(beats[1] / beats[0]))
    return log_mean(np.array([inside, TOO_OFTEN_LOG]), np.array([within, 1 - within]))


def _evenly(low: float, high: float) -> Floats:
    count = int(np.clip(np.ceil((high - low) / 0.04), 9, MOST_SAMPLES))
    return np.linspace(low, high, count)


def _beating(marks: Marks, clocks: PrintClocks, source: Source, per_layer: float) -> float | None:
    """A period within two layers, sampled once a layer at one place of the wall."""
    if (source.high - source.low) * per_layer / source.middle**2 > 0.25:  # turns a layer are not known
        return None
    phases = span_of_beats(clocks, source, marks)
    ratios = [_on_beat(marks, clocks, turns) for turns in phases]
    return log_mean(np.array(ratios))


def span_of_beats(clocks: PrintClocks, source: Source, marks: Marks) -> list[Floats]:
    """Return, for periods within the source's range, the turns that seem to have passed at each layer, `(k + 1,)`."""
    column = getattr(clocks, source.clock)
    cycles = float(np.ptp(clocks.at(source.clock, [marks.low, marks.high])))
    count = int(np.clip((cycles / source.low - cycles / source.high) / 0.1, 9, 400))
    steps = (np.diff(column) / period for period in np.linspace(source.low, source.high, count))
    return [np.concatenate([[0.0], np.cumsum(step - np.round(step))]) for step in steps]


def _on_beat(marks: Marks, clocks: PrintClocks, turns: Floats) -> float:
    """Fit marks to seeming turns: every whole one, either way round, leaves a mark."""
    t = np.interp(marks.z, clocks.z, turns)
    reach = 1.5 * clocks.layer_height_mm
    sides = np.interp(marks.z + reach, clocks.z, turns) - np.interp(marks.z - reach, clocks.z, turns)
    slope = np.maximum(np.abs(sides) / (2 * reach), 1e-6)
    heights = np.linspace(marks.low, marks.high, 400)
    passed = float(np.abs(np.diff(np.interp(heights, clocks.z, turns))).sum())
    if passed < 1.0:
        return TOO_OFTEN_LOG
    share = slope * (marks.high - marks.low) / passed
    return float(log_ratios(OnClock(t, marks.u * slope, share, passed), np.ones(1))[0])


def layer_time_jumps(marks: Marks, clocks: PrintClocks) -> tuple[int, float]:
    """Return how many marks lie where the layer time jumps by a fifth, and the chance of as many at random.

    Such marks come from the part's own shape: beads laid on a layer that had more or less time to cool.
    """
    seconds = np.maximum(np.diff(clocks.s), 1e-6)
    change = np.abs(np.log(seconds[1:] / seconds[:-1]))
    edges = clocks.z[1:-1][change > np.log(1.2)]
    if not len(edges):
        return 0, 1.0
    reach = float(2 * marks.u.mean())
    heights = np.linspace(marks.low, marks.high, 2000)
    covered = float(np.mean(np.abs(heights[:, None] - edges[None, :]).min(axis=1) <= reach))
    hits = int(np.sum(np.abs(marks.z[:, None] - edges[None, :]).min(axis=1) <= reach))
    return hits, _at_least(hits, len(marks), covered)


def _at_least(hits: int, count: int, share: float) -> float:
    """Return the binomial chance of `hits` or more."""
    from math import comb

    return float(min(sum(comb(count, k) * share**k * (1 - share) ** (count - k) for k in range(hits, count + 1)), 1.0))
