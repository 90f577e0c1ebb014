"""The shape of `clock --json`, version 1. Keys are never taken away or change their meaning within a version."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from beadwright.diagnosis import clock_words as words
from beadwright.diagnosis.clock_evidence import ClockReading
from beadwright.diagnosis.clock_maps import UNITS
from beadwright.diagnosis.clocks import Rhythm

FORMAT = "beadwright.clock/1"


class Part(BaseModel):
    """Closed shape, immutable, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class RhythmRow(Part):
    """The best beat on one clock."""

    clock: Literal["z", "s", "filament", "path", "layer"]
    alike: tuple[str, ...] = Field(description="clocks that cannot differ from it over these marks")
    period: float
    u: float = Field(description="standard uncertainty of the period")
    unit: str
    chance: float = Field(description="of this clock among all, given that there is a rhythm")
    rayleigh_z: float = Field(description="Rayleigh's statistic there, weighted by reading error")
    false_alarm: float = Field(description="chance that the best of all tried reaches that statistic without a rhythm")


class SourceRow(Part):
    """A part or cycle of this printer that acts as the marks do."""

    part: str
    clock: str
    period: tuple[float, float] = Field(description="shortest and longest")
    unit: str
    known_from: str
    would_mean: str
    causes: tuple[str, ...]


class ClockAnswer(Part):
    """Which clock the marks are even in."""

    format: Literal["beadwright.clock/1"] = "beadwright.clock/1"
    file: str
    marks_mm: tuple[float, ...]
    u_mm: float
    verdict: Literal["told", "open", "no rhythm", "too few", "too coarse"]
    false_alarm: float = Field(description="chance of marks as regular as these on any clock, without a rhythm")
    text: str
    advice: str
    rhythms: tuple[RhythmRow, ...] = Field(description="best first")
    sources: tuple[SourceRow, ...] = Field(description="best first; empty where there is no rhythm")
    likelihood_ratios: dict[str, float] = Field(description="by cause, over that of a failed print with another cause")
    drift: str
    layer_times: str


def answer(reading: ClockReading, file: str, marks_mm: tuple[float, ...], u_mm: float) -> ClockAnswer:
    """Return a reading in the shape that is printed."""
    return ClockAnswer(
        file=file,
        marks_mm=marks_mm,
        u_mm=u_mm,
        verdict=reading.test.verdict,
        false_alarm=reading.test.false_alarm,
        text=words.verdict_text(reading.test),
        advice=words.advice(reading.test),
        rhythms=tuple(_rhythm(one) for one in reading.test.rhythms),
        sources=tuple(
            SourceRow(
                part=one.source.part, clock=one.source.clock, period=(one.source.low, one.source.high),
                unit=UNITS[one.source.clock], known_from=one.source.known, would_mean=one.source.meaning,
                causes=one.source.causes,
            )
            for one in words.fitting(reading)
        ),
        likelihood_ratios=reading.ratios,
        drift=words.drift_text(reading),
        layer_times=words.jumps_text(reading),
    )  # fmt: skip


def _rhythm(one: Rhythm) -> RhythmRow:
    return RhythmRow(
        clock=one.clock, alike=one.alike, period=one.period, u=one.u, unit=UNITS[one.clock],
        chance=min(one.chance, 1.0), rayleigh_z=one.z, false_alarm=one.false_alarm,
    )  # fmt: skip


def clock_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `clock --json`."""
    schema = ClockAnswer.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": FORMAT, **schema}
