"""What two files are compared in, and the shape of `compare --json`, version 1.

Keys are never taken away or change their meaning within a version; new ones may be added. Lengths mm, times s.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, log
from typing import Any, Literal

from pydantic import Field

from beadwright.exhibits.look import FindingRow, Part
from beadwright.exhibits.look import Place as Where

FORMAT = "beadwright.compare/1"


class FileRow(Part):
    """One of the two files at a glance."""

    file: str
    layers: int
    seconds: float
    filament_mm: float
    size_mm: tuple[float, float, float] | None = Field(description="of the beads above the first layer")


class SamePart(Part):
    """Whether both files print the same part."""

    verdict: Literal["same", "turned", "scaled", "other", "unknown"]
    text: str
    moved_mm: tuple[float, float] | None = Field(description="from the good file's place on the bed to the other's")
    profile_match: float | None = Field(description="of the areas within the outline, up the height: 1 when alike")
    volume_ratio: float | None = Field(description="plastic of the bad file over that of the good one")


class DifferenceRow(Part):
    """One quantity that differs."""

    name: str
    text: str
    unit: str
    good: float | bool | None
    bad: float | bool | None
    times: float | None = Field(description="bad over good, where both are above 0")
    size: float = Field(description="the difference in units of a difference that matters for this quantity")
    finding: str | None = Field(description="rule that speaks up on the bad file only and is about this quantity")
    bears_on: tuple[str, ...] = Field(description="causes that finding bears on")
    finding_bits: float
    bits: float = Field(description="log2(1 + size) + finding_bits: what the rows are ordered by")
    where: Where = Field(description="heights at which they differ, where that can be told")
    share: float | None = Field(description="of those heights in the whole")


class Comparison(Part):
    """Two files side by side."""

    format: Literal["beadwright.compare/1"] = "beadwright.compare/1"
    good: FileRow
    bad: FileRow
    same_part: SamePart
    differences: tuple[DifferenceRow, ...]
    same: tuple[str, ...] = Field(description="quantities that do not differ by a fifth of what matters")
    one_sided: tuple[str, ...] = Field(description="quantities that only one of the files gives")
    only_bad: tuple[FindingRow, ...]
    only_good: tuple[FindingRow, ...]
    assumes: tuple[str, ...]


def compare_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `compare --json`."""
    schema = Comparison.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": FORMAT}


@dataclass(frozen=True)
class Quantity:
    """How one quantity is compared."""

    name: str  # of the fact or series
    noun: str
    unit: str
    matters: float  # a difference that makes itself felt; of the logarithm where relative. Common practice, no source
    relative: bool = False
    rules: tuple[str, ...] = ()  # audit rules that speak of it

    def step(self, good: float, bad: float) -> float:
        """Return the difference from good to bad on the scale it is measured on; zero against something is large."""
        if not self.relative or isnan(good) or isnan(bad):
            return bad - good
        if good > 0 and bad > 0:
            return log(bad / good)
        return 0.0 if good == bad else (1 if bad > good else -1) * NOTHING_AGAINST_SOME * self.matters


NOTHING_AGAINST_SOME = 5.0  # differences that matter, between none at all and some
FELT = 0.2  # of a difference that matters: below it two values count as the same


def _q(name: str, noun: str, unit: str, matters: float, *rules: str, relative: bool = False) -> Quantity:
    return Quantity(name, noun, unit, matters, relative, rules)


QUANTITIES: tuple[Quantity, ...] = (
    _q("nozzle_temp_c", "nozzle temperature", "°C", 5, "nozzle_below_window", "nozzle_above_window", "cold_extrusion"),
    _q("first_layer_nozzle_temp_c", "nozzle temperature of the first layer", "°C", 5, "first_layer_colder"),
    _q("coldest_feed_c", "lowest nozzle temperature while feeding", "°C", 10, "cold_extrusion"),
    _q("bed_temp_c", "bed temperature", "°C", 5, "bed_below_window", "bed_above_window"),
    _q("first_layer_bed_temp_c", "bed temperature of the first layer", "°C", 5, "bed_off"),
    _q("bed_off_at_start", "bed off when the first bead is laid", "", 0.3, "bed_off"),
    _q("nozzle_never_heated", "nozzle never heated", "", 0.3, "nozzle_never_heated"),
    _q("chamber_temp_c", "chamber temperature", "°C", 10),
    _q("core_c", "core of the strand", "°C", 12),
    _q("weld_index", "weld index", "", 0.3, relative=True),
    _q("speed_mm_s", "speed of beads", "mm/s", 0.15, "speed_high", relative=True),
    _q("outer_speed_mm_s", "speed of the outer contour", "mm/s", 0.15, relative=True),
    _q("inner_speed_mm_s", "speed of inner contours", "mm/s", 0.2, relative=True),
    _q("solid_speed_mm_s", "speed of solid raster", "mm/s", 0.2, relative=True),
    _q("sparse_speed_mm_s", "speed of sparse raster", "mm/s", 0.2, relative=True),
    _q("first_layer_speed_mm_s", "speed of the first layer", "mm/s", 0.25, "first_layer_fast", relative=True),
    _q("travel_speed_mm_s", "speed of travels", "mm/s", 0.3, relative=True),
    _q("flow_mm3_s", "flow, 95th percentile", "mm³/s", 0.15, "flow_above_melt_capacity", relative=True),
    _q("outer_accel_mm_s2", "acceleration of the outer contour", "mm/s²", 0.4, relative=True),
    _q("support_gap_mm", "gap over support", "mm", 0.05, "support_gap_small", "support_gap_large"),
    _q("flow_max_mm3_s", "largest flow", "mm³/s", 0.25, relative=True),
    _q("accel_mm_s2", "acceleration", "mm/s²", 0.4, "acceleration_high", relative=True),
    _q("layer_height_mm", "layer height", "mm", 0.1, "layer_above_bore", relative=True),
    _q(
        "first_layer_height_mm",
        "height of the first layer",
        "mm",
        0.1,
        "first_layer_thin",
        "first_layer_thick",
        relative=True,
    ),
    _q("line_width_mm", "width of beads", "mm", 0.06, "line_narrower_than_bore", "flow_percent_odd", relative=True),
    _q("bottom_solid_layers", "solid layers at the bottom", "", 1, "bottom_too_thin"),
    _q("top_solid_layers", "solid layers at the top", "", 1, "top_too_thin"),
    _q("wall_lines", "lines in a wall", "", 1, "walls_too_few"),
    _q("infill_percent", "infill", "%", 8, "infill_too_sparse"),
    _q("retraction_mm", "retraction", "mm", 0.4, "retraction_short", "retraction_long", relative=True),
    _q("retraction_mm_s", "speed of retraction", "mm/s", 0.4, relative=True),
    _q("retraction_count", "number of retractions", "", 0.3, relative=True),
    _q("retractions_on_10_mm", "most retractions on 10 mm of filament", "", 0.5, "retractions_grind", relative=True),
    _q("z_hop_mm", "lift on travels", "mm", 0.15, "no_lift_set"),
    _q(
        "crossings_without_lift", "travels over laid beads without a lift", "", 0.7, "no_lift_over_beads", relative=True
    ),
    _q("fan_percent", "part fan", "%", 15, "fan_below_window", "fan_above_window"),
    _q("first_layer_fan_percent", "part fan on the first layer", "%", 25, "fan_on_first_layer"),
    _q("min_layer_seconds", "shortest layer", "s", 0.3, "layer_time_short", relative=True),
    _q("print_seconds", "time of the print", "s", 0.2, relative=True),
    _q("filament_mm", "filament", "mm", 0.1, relative=True),
    _q("layer_count", "number of layers", "", 0.1, "file_ends_abruptly", relative=True),
    _q("print_height_mm", "height of the print", "mm", 0.05, "file_ends_abruptly", relative=True),
    _q("first_layer_area_mm2", "area of the first layer", "mm²", 0.3, "foothold_small", relative=True),
    _q("slenderness", "slenderness", "", 0.3, "foothold_small", relative=True),
    _q("moves_outside_mm", "how far moves leave the machine", "mm", 0.5, "outside_machine"),
    _q("file_ends_abruptly", "file ends in the middle", "", 0.3, "file_ends_abruptly"),
    _q("start_not_understood", "words not understood before the first bead", "", 2),
    _q("layer_seconds", "time of a layer", "s", 0.25, relative=True),
    _q("acceleration_mm_s2", "acceleration", "mm/s²", 0.4, relative=True),
    _q("filling_percent", "filling of the outline", "%", 15),
    _q("nozzle_c", "nozzle temperature along the print", "°C", 5),
    _q("bed_c", "bed temperature along the print", "°C", 5),
    _q("outer_before_inner_percent", "layers that lay the outer contour before the inner", "%", 30),
)
BY_NAME = {quantity.name: quantity for quantity in QUANTITIES}
EXPECTED_OF_ANY_PAIR = frozenset({"print_height_mm", "layer_count"})  # `same_part` speaks of them
