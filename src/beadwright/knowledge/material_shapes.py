"""The shapes of the material tables: polymers, fillers, nozzle metals.

Units are in the keys. `min`/`max` is a window that grades lie in; `value` or `typical` is where to start.
Every number carries the tags of its sources. A `specific_heat_mean` runs from 25 °C to the typical nozzle
temperature, melting included: the one to use in the melt zone; `specific_heat` is the solid's. Flow limits
are for a 0.4 mm nozzle and 1.75 mm filament at the typical temperature, solid layers for 0.2 mm layers (keep
the thickness, not the count). Ranks: moisture 0 (none) to 5 (severe), warp 1 (none) to 5 (severe), abrasion 0
to 5.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from beadwright.knowledge.model import Number

Tags = tuple[str, ...]
Doubt = Literal["medium", "high"] | None


class Cited(BaseModel):
    """Closed, immutable, and never without a source."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    source: Tags = Field(min_length=1)
    note: str = ""
    how: str = ""
    doubt: Doubt = None


class Window(Cited):
    """A range to stay in, and where to start. `first_layer` only for the fan."""

    min: float
    max: float
    typical: float
    first_layer: float | None = None

    @model_validator(mode="after")
    def _ordered(self) -> Window:
        if not self.min <= self.typical <= self.max:
            raise ValueError(f"typical {self.typical:g} lies outside {self.min:g} to {self.max:g}")
        return self

    def clamp(self, value: float) -> float:
        """Return the nearest value inside."""
        return min(max(value, self.min), self.max)


class Chamber(Cited):
    """What surroundings the polymer wants: a warm chamber, or one no warmer than `max_c`."""

    need: Literal["none", "helpful", "recommended", "required"]
    temp_c: tuple[float, float] | None = None
    max_c: float | None = None


class Drying(Cited):
    """Oven temperature and hours; `target_percent` of mass where a guide states one."""

    temp_c: float
    hours: tuple[float, float]
    max_c: float
    target_percent: float | None = None


class FlowShift(Cited):
    """How the melt's viscosity moves with temperature; which constants are given depends on the model."""

    model: Literal["arrhenius", "wlf", "exponential", "none"]
    activation_kj_mol: float | None = None
    c1: float | None = None
    c2_k: float | None = None
    b_1_k: float | None = None
    reference_c: float | None = None
    viscosity_pa_s: float | None = None


class FlowLimit(Cited):
    """The largest flow people print at, for two lengths of melt zone [mm³/s]."""

    melt_zone_12mm: float = Field(gt=0)
    melt_zone_20mm: float = Field(gt=0)

    def at(self, melt_zone_mm: float) -> float:
        """Return the limit for another length, a straight line through the two, never below the origin's
        line.

        >>> FlowLimit(melt_zone_12mm=9, melt_zone_20mm=16, source=("Practice",)).at(16.0)
        12.5
        """
        slope = (self.melt_zone_20mm - self.melt_zone_12mm) / 8
        line = self.melt_zone_12mm + slope * (melt_zone_mm - 12)
        return max(line, self.melt_zone_12mm * melt_zone_mm / 20)


class BedSurface(Cited):
    surface: str
    fact: str


class Shell(Cited):
    """Closed layers that hide the inside, at 0.2 mm layers, and the thickness that matters."""

    bottom_solid_layers_min: int
    top_solid_layers_min: int
    top_thickness_min_mm: float | None = None


class Annealing(Cited):
    temp_c: tuple[float, float]
    minutes: tuple[float, float]
    extra_shrinkage_percent: tuple[float, float]


class Decomposition(Cited):
    from_c: float = Field(alias="from")


class MoistureEffect(Cited):
    from_percent: float
    to_percent: float
    strength_loss_percent: float
    thickness_gain_percent: float


class DiffusivityAnchor(Cited):
    """A span measured at another temperature than the table's."""

    min_m2_s: float
    max_m2_s: float
    temp_c: float
    rh_percent: float


class Variant(Cited):
    """A common copolymer of the family that melts elsewhere."""

    name: str
    melting_c: float
    nozzle_min_c: float
    nozzle_max_c: float
    warp_rank: int


class Material(BaseModel):
    """One polymer, unfilled and natural. `melting_c` is None for an amorphous one."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    key: str
    name: str
    abbreviation: str
    also: tuple[str, ...] = ()  # other names that people type
    morphology: str
    sets_amorphous: bool = False  # melts as crystals, yet crystallises too slowly to do so on the part
    caution: str = ""
    nozzle_temp_c: Window
    bed_temp_c: Window
    part_fan_percent: Window
    chamber: Chamber
    density_kg_m3: Number
    glass_transition_c: Number
    melting_c: Number | None = None
    no_melting_point: Cited | None = None
    decomposition_c: Decomposition | None = None
    specific_heat_j_kg_k: Number
    specific_heat_mean_j_kg_k: Number
    conductivity_w_m_k: Number
    linear_expansion_1_k: Number
    shrinkage_percent: Number
    annealing: Annealing | None = None
    moisture_50rh_percent: Number
    moisture_90rh_percent: Number | None = None
    moisture_saturation_percent: Number | None = None
    soluble_in_water: Cited | None = None
    moisture_effect: MoistureEffect | None = None
    moisture_rank: Number
    water_diffusivity_m2_s: Number
    water_diffusivity_anchor: DiffusivityAnchor | None = None
    water_activation_kj_mol: Number
    drying: Drying
    flow_shift: FlowShift
    core_target_c: Number
    max_flow_mm3_s: FlowLimit
    bed_surfaces: tuple[BedSurface, ...]
    warp_rank: Number
    shell: Shell
    support_gap_mm: Number
    variant: dict[str, Variant] = {}

    @model_validator(mode="after")
    def _melts_or_not(self) -> Material:
        if (self.melting_c is None) == (self.no_melting_point is None):
            raise ValueError("needs either melting_c or no_melting_point")
        if (self.moisture_saturation_percent is None) == (self.soluble_in_water is None):
            raise ValueError("needs either moisture_saturation_percent or soluble_in_water")
        if not self.core_target_c.best < self.nozzle_temp_c.typical:
            raise ValueError("core_target_c must lie below the typical nozzle temperature")
        return self

    @property
    def melt_diffusivity_m2_s(self) -> float:
        """Thermal diffusivity for the melt zone, melting heat included [m²/s]."""
        return self.conductivity_w_m_k.best / (self.density_kg_m3.best * self.specific_heat_mean_j_kg_k.best)


class Factor(Number):
    """A number relative to the plain polymer's, at a mass share of filler."""

    at_mass_fraction: float | None = None


class FillerNozzle(Cited):
    min_mm: float
    typical_mm: float
    material: str


class MetalKind(Cited):
    density_kg_m3: float
    abrasion_rank: int


class Filler(BaseModel):
    """What is mixed into a polymer."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    key: str
    name: str
    also: tuple[str, ...] = ()
    density_kg_m3: Number
    mass_fraction: Window
    abrasion_rank: Number
    hardness_vickers_hv: Number | None = None
    hardness_mohs: Number | None = None
    expansion_factor: Factor
    conductivity_factor: Factor
    shrinkage_factor: Factor
    warp_rank_change: Number
    moisture_factor: Cited | None = None
    own_moisture_50rh_percent: Number | None = None
    moisture_rank_change: Number | None = None
    chars_above_c: Number | None = None
    nozzle: FillerNozzle
    kind: dict[str, MetalKind] = {}


class NozzleMetal(BaseModel):
    """What a nozzle is made of."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    key: str
    name: str
    hardness_vickers_hv: Number
    conductivity_w_m_k: Number
    temperature_offset_c: Number | None = None
