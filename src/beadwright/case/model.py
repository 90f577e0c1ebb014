"""The case file's shape: sections, keys, and what each value may be.

Ranges and word lists come from the nomenclature (`knowledge/terms.toml`), so that the case file, the settings
reader and the labels can never disagree. Unknown keys are errors, except under `[settings]` and `[measured]`,
where people type what their page says: nothing is refused for its name, and what is not understood is listed.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator

from beadwright.case.values import (
    Free,
    as_date,
    as_result,
    filler_key,
    plain_free,
    require_known_material,
    require_plausible,
    require_plausible_free,
)
from beadwright.facts import Fact

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Flag = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True, max_length=1000)]
Name = Annotated[str, Field(strict=True, min_length=1, max_length=200)]
Result = Annotated[Literal["yes", "no", "unsure"], BeforeValidator(as_result)]
Date = Annotated[datetime.date, BeforeValidator(as_date)]
MANY = Field(max_length=1000)  # rows of one kind; nobody writes more by hand
Story = Annotated[str, Field(strict=True, max_length=200_000)]


class Section(BaseModel):
    """Closed shape, immutable; keys named like a term are held against the term's range."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    terms: ClassVar[dict[str, str]] = {}  # key -> term id, where they differ

    @field_validator("*", mode="after")
    @classmethod
    def _plausible(cls, value: Any, info: Any) -> Any:
        if value is not None and info.field_name is not None:
            require_plausible(cls.terms.get(info.field_name, info.field_name), value)
        return value


class About(Section):
    """`[case]`: the words, and what is known of its history."""

    title: Text = ""
    story: Story = ""
    opened: Date | None = None
    first_seen: Text = ""  # whether printer, filament and file were ever good together


class Printer(Section):
    """`[printer]`: the machine as its owner knows it; lengths in mm."""

    kinematics: Text | None = None
    moving_bed: Text | None = None
    travel_mm: tuple[Number, Number, Number] | None = None
    origin_mm: tuple[Number, Number] | None = None
    extruder: Text | None = None
    nozzle_mm: Number | None = None
    nozzle_material: Text | None = None
    belt_pitch_mm: Number | None = None
    pulley_teeth: Number | None = None
    motor_step_deg: Number | None = None
    microsteps: Number | None = None
    screw_lead_mm: Number | None = None
    melt_zone_mm: Number | None = None
    drive_gear_mm: Number | None = None
    bed_surface: Text | None = None
    enclosed: Flag | None = None
    accel_mm_s2: Number | None = None
    junction_mm: Number | None = None
    corner_speed_mm_s: Number | None = None
    max_speed_mm_s: Number | None = None
    limits_of: Text | None = None
    delta_rod_mm: Number | None = None
    delta_radius_mm: Number | None = None
    lookahead_moves: Number | None = None
    min_move_s: Number | None = None
    heater_w: Number | None = None


class Dried(Section):
    """`[material] dried`: the last drying."""

    terms = {"temp_c": "dried_temp_c", "hours": "dried_hours", "days_ago": "dried_days_ago"}

    temp_c: Number | None = None
    hours: Number | None = None
    days_ago: Number | None = None


class Material(Section):
    """`[material]`: the filament and how it was kept."""

    polymer: Text | None = None
    filler: Text | None = None
    diameter_mm: Number | None = None
    opened_days: Number | None = None
    storage_rh: Number | None = None
    dried: Dried | None = None
    spool_g_left: Number | None = None

    @field_validator("polymer", mode="after")
    @classmethod
    def _known(cls, value: str | None) -> str | None:
        if value is not None:
            require_known_material(value)
        return value

    @field_validator("filler", mode="after")
    @classmethod
    def _known_filler(cls, value: str | None) -> str | None:
        if value is not None:
            filler_key(value)
        return value


class SignLine(Section):
    """`[[sign]]`: something seen, or looked for and not seen."""

    id: Name
    present: Flag = True
    confidence: Annotated[Number, Field(ge=0.0, le=1.0)] = 0.95


class AnswerLine(Section):
    """`[[answer]]`: the result of a check."""

    check: Name
    result: Result


class TrialLine(Section):
    """`[[trial]]`: one print attempt, with or without the defect."""

    printer: Text = ""
    spool: Text = ""
    file: Text = ""
    surroundings: Text = ""
    defect: Flag


class ExhibitLine(Section):
    """`[[exhibit]]`: a thing handed in; `file` is relative to the case file's folder."""

    file: Name
    kind: Name | None = None  # guessed when left out
    note: Text = ""


class Case(BaseModel):
    """One failed print and all that is known of it.

    >>> case = Case.model_validate({"settings": {"Düsentemperatur": "215 °C", "mood": "bad"}})
    >>> [(fact.name, fact.value) for fact in case.facts()]
    [('nozzle_temp_c', 215.0)]
    >>> case.unread()
    ['[settings] mood = "bad": no term of the trade matches this name']
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    case: About = About()
    printer: Printer = Printer()
    material: Material = Material()
    settings: dict[str, Free] = {}
    measured: dict[str, Free] = {}
    sign: Annotated[tuple[SignLine, ...], MANY] = ()
    answer: Annotated[tuple[AnswerLine, ...], MANY] = ()
    trial: Annotated[tuple[TrialLine, ...], MANY] = ()
    exhibit: Annotated[tuple[ExhibitLine, ...], MANY] = ()

    @field_validator("settings", "measured", mode="before")
    @classmethod
    def _free(cls, value: Any) -> Any:
        return plain_free(value)

    @field_validator("settings", "measured", mode="after")
    @classmethod
    def _exact_names_in_range(cls, value: dict[str, Any]) -> dict[str, Any]:
        require_plausible_free(value)
        return value

    def facts(self) -> list[Fact]:
        """Return everything stated, as facts: records, claims of the settings, measured values."""
        from beadwright.case.state import case_facts

        return case_facts(self)[0]

    def unread(self) -> list[str]:
        """Return one sentence per key of `[settings]` and `[measured]` that was not understood."""
        from beadwright.case.state import case_facts

        return case_facts(self)[1]
