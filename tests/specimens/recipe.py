"""What a specimen toolpath is asked to be: every number a test may want to know beforehand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Recipe:
    """Settings of a specimen; mm, mm/s, °C, percent, as the names say. None: the word is not written."""

    layer_height_mm: float = 0.2
    first_layer_height_mm: float = 0.2
    line_width_mm: float = 0.45
    filament_diameter_mm: float = 1.75
    flow_percent: float = 100.0  # of the stadium section; baked into E
    bottom_solid_layers: int = 4
    top_solid_layers: int = 4
    wall_lines: int = 2
    infill_percent: float = 20.0
    skirt_loops: int = 1
    brim_loops: int = 0
    prime: bool = True
    # heat
    nozzle_temp_c: float | None = 210.0
    first_layer_nozzle_temp_c: float | None = None  # None: as the other layers
    bed_temp_c: float | None = 60.0
    first_layer_bed_temp_c: float | None = None
    fan_percent: float | None = 100.0
    first_layer_fan_percent: float = 0.0
    # speed
    speed_mm_s: float = 80.0
    outer_speed_mm_s: float = 40.0
    first_layer_speed_mm_s: float = 25.0
    travel_speed_mm_s: float = 150.0
    accel_mm_s2: float | None = 2000.0
    travel_accel_mm_s2: float | None = None
    junction_mm: float | None = None
    corner_speed_mm_s: float | None = None
    max_speed_mm_s: tuple[float, float, float, float] | None = None  # x y z e
    max_accel_mm_s2: tuple[float, float, float, float] | None = None
    # travel
    retraction_mm: float = 0.8
    retraction_mm_s: float = 35.0
    z_hop_mm: float = 0.2
    retract_beyond_mm: float = 1.5  # shorter travels go without a retraction
    # support (shapes that offer room for one)
    support: bool = True
    support_gap_layers: int = 1
    support_gap_xy_mm: float = 0.8
    support_spacing_mm: float = 2.5
    # place
    machine_mm: tuple[float, float, float] = (220.0, 220.0, 250.0)
    centre_mm: tuple[float, float] = (110.0, 110.0)
    shift_words_mm: tuple[float, float] = (0.0, 0.0)  # by G92: words differ from the machine's frame by this
    outside_mm: float = 0.0  # one travel that leaves the machine by this much
    # dialect
    relative_extrusion: bool = False
    inch: bool = False
    reset_e_each_layer: bool = False
    arcs: bool = False  # round walls by G3
    comments: bool = True
    claims: Mapping[str, object] = field(default_factory=dict)  # written as "; name = value" at the end
    numbered: bool = False  # N words and checksums
    crlf: bool = False
    lower: bool = False
    squeezed: bool = False  # no spaces between words
    pause_before_layer: int | None = None  # 0-based
    dwell_s: float = 0.0  # once, before the first layer
    cut_short: float = 1.0  # share of the bytes that is kept

    def area(self, height_mm: float, width_mm: float | None = None) -> float:
        """Section of a bead, mm²: flat sides above and below, half-round flanks; flow included."""
        width = self.line_width_mm if width_mm is None else width_mm
        return ((width - height_mm) * height_mm + math.pi * height_mm**2 / 4) * self.flow_percent / 100

    def feed_per_mm(self, height_mm: float) -> float:
        """Filament in one mm of bead, mm."""
        return self.area(height_mm) / (math.pi * self.filament_diameter_mm**2 / 4)

    def pitch(self, height_mm: float) -> float:
        """Spacing of solid lines that leaves no void on average, mm."""
        return self.line_width_mm - height_mm * (1 - math.pi / 4)
