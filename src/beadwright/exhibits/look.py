"""The shape of `look --json`, version 1: what one toolpath file tells the machine to do. Lengths in mm.

Keys are never taken away or change their meaning within a version; new ones may be added.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

FORMAT = "beadwright.look/1"

Point = tuple[float, float, float]
Box = tuple[Point, Point]
LineValue = tuple[int, float]


class Part(BaseModel):
    """Common to all parts: closed shape, immutable, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class LayerSummary(Part):
    """Layers at a glance."""

    count: int
    first_mm: float | None = Field(description="height of the first layer")
    typical_mm: float | None = Field(description="median height of the others")
    z_mm: tuple[float, ...]


class Spread(Part):
    """How a quantity is spread over the beads of a layer, by time."""

    median: float | None
    p95: float | None


class LayerRow(Part):
    """One layer of the per-layer table."""

    z_mm: float
    height_mm: float | None
    seconds: float
    flow_mm3_s: Spread
    speed_mm_s: Spread
    filament_mm: float
    retractions: int
    nozzle_c: float | None
    bed_c: float | None
    fan_percent: float | None
    bead_mm: float = Field(description="length of the beads")
    lines: tuple[int, int] | None = Field(description="source lines of the first and last bead")
    core_c: float | None = Field(
        default=None, description="5th percentile by time of the strand's core as it leaves the melt zone"
    )
    weld_index: float | None = Field(
        default=None, description="of the joint with the layer below, 1 as usual for the polymer; rough, within a file"
    )


class Place(Part):
    """Where in the print; null where not known."""

    layers: tuple[int, int] | None = Field(default=None, description="1-based, both ends included")
    lines: tuple[int, int] | None = None
    z_mm: tuple[float, float] | None = None


class FindingRow(Part):
    """What a rule found."""

    rule: str
    level: Literal["note", "warn", "fault", "danger"]
    value: float
    unit: str
    window: tuple[float | None, float | None]
    source: str
    where: Place
    text: str
    bears_on: tuple[str, ...]
    origin: str = Field(description="where the value comes from, in words")
    clears: str = Field(default="", description="the change that would clear it")


class ProblemRow(Part):
    """Words in the file that were not understood or cannot be right."""

    line: int
    text: str
    meaning: str
    count: int = Field(description="how many lines share it")


class FactRow(Part):
    """A named quantity measured in the file."""

    name: str
    value: float | str | bool | tuple[float, ...]
    where: str


class ColdSpan(Part):
    """A run of layers in which the strand leaves too cold for its flow."""

    where: Place
    share: float = Field(description="of their bead time with the core below target")
    core_c: float = Field(description="5th percentile by time, in the coldest of the layers")


class HeatSummary(Part):
    """Heat taken up in the melt zone, over the whole file; good to ±30 % in flow."""

    core_target_c: float
    cold: tuple[ColdSpan, ...] = Field(description="where the core stays below target for over 10 % of the time")
    assumes: tuple[str, ...]


class Look(Part):
    """One toolpath file, looked at."""

    format: Literal["beadwright.look/1"] = "beadwright.look/1"
    file: str
    bytes: int
    lines: int
    extrusion: str = Field(description="absolute | relative | mixed")
    units: str = Field(description="mm | inch | mixed")
    tools: tuple[int, ...]
    moves: int = Field(description="source moves: an arc is one")
    beads: int = Field(description="moves that feed filament forward while the head travels")
    retractions: int = Field(description="runs of backward feeding with no forward feed in between")
    arcs: int
    layers: LayerSummary
    bead_box: Box | None
    move_box: Box | None
    filament_mm: float = Field(description="what ends up in beads and priming")
    volume_mm3: float
    mass_g: float
    mass_assumes: str = Field(description="filament diameter and density behind volume and mass")
    seconds: float = Field(description="by a motion plan; waiting for heat is not in it")
    motion_assumes: dict[str, str] = Field(description="where each motion limit comes from")
    nozzle_c: tuple[LineValue, ...] = Field(description="(source line, value): each value where it takes effect")
    bed_c: tuple[LineValue, ...]
    fan_percent: tuple[LineValue, ...]
    per_layer: tuple[LayerRow, ...]
    findings: tuple[FindingRow, ...]
    not_asked: tuple[str, ...] = Field(description="rules for which something was not known")
    problems: tuple[ProblemRow, ...]
    facts: tuple[FactRow, ...]
    claims: tuple[FactRow, ...] = Field(
        default=(), description="what the file's comments declare, as far as understood"
    )
    heat: HeatSummary | None = Field(default=None, description="only where asked for, and the polymer is known")
    left_out: tuple[str, ...] = Field(description="what a long table above does not list")


def look_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `look --json`."""
    schema = Look.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": FORMAT}
