"""The windows rules hold facts against, from the material table; None or a careful default where no polymer
is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from beadwright.knowledge.material_shapes import Material
from beadwright.knowledge.material_shapes import Window as Span

from .ask import PRACTICE, Window

LEAST_BOTTOM, LEAST_TOP = (
    3,
    4,
)  # of 0.2 mm layers, for a polymer that is not known: common practice, no source


def _window(span: Span) -> Window:
    return Window(span.min, span.max, span.source[0])


def nozzle_window(material: Material | None) -> Window | None:
    """Nozzle temperature, °C."""
    return _window(material.nozzle_temp_c) if material else None


def bed_window(material: Material | None) -> Window | None:
    """Bed temperature, °C."""
    return _window(material.bed_temp_c) if material else None


def fan_window(material: Material | None) -> Window | None:
    """Part fan above the first layers, %."""
    return _window(material.part_fan_percent) if material else None


def support_window(material: Material | None) -> Window | None:
    """Gap between support and part, mm."""
    gap = material.support_gap_mm if material else None
    if gap is None or (gap.min is None and gap.max is None and gap.value is None):
        return None
    low = gap.min if gap.min is not None else gap.value
    high = gap.max if gap.max is not None else gap.value
    return Window(low, high, gap.source[0])


@dataclass(frozen=True)
class ShellNeeds:
    """Least solid layers, counted in layers of 0.2 mm."""

    bottom_layers: int
    top_layers: int
    source: str


def shell_needs(material: Material | None) -> ShellNeeds:
    """What closes a part; common practice where the polymer is not known."""
    if material is None:
        return ShellNeeds(LEAST_BOTTOM, LEAST_TOP, PRACTICE)
    shell = material.shell
    return ShellNeeds(shell.bottom_solid_layers_min, shell.top_solid_layers_min, shell.source[0])
