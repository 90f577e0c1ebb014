"""Write the bundled example again: `python examples/make_examples.py`.

Everything in it is invented: the workshop, the part, the failure. The toolpath comes from the small
generator that the tests use, so what the file really orders is known by construction.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "tests"))

from specimens.recipe import Recipe  # noqa: E402
from specimens.regions import Region  # noqa: E402
from specimens.toolpaths import SOLID, SPARSE, Slice, Specimen, build  # noqa: E402

# The fault is in these numbers: 210 °C is below what this polymer wants, and 0.48 x 0.24 mm beads at 110
# mm/s ask the hot end for some 11 mm³/s. Travel runs at bead height.
BRACKET = Recipe(
    layer_height_mm=0.24,
    first_layer_height_mm=0.24,
    line_width_mm=0.48,
    bottom_solid_layers=2,
    top_solid_layers=3,
    wall_lines=2,
    infill_percent=25.0,
    nozzle_temp_c=210.0,
    bed_temp_c=45.0,
    fan_percent=50.0,
    speed_mm_s=110.0,
    outer_speed_mm_s=80.0,
    first_layer_speed_mm_s=45.0,
    travel_speed_mm_s=250.0,
    accel_mm_s2=6000.0,
    retraction_mm=0.6,
    retraction_mm_s=30.0,
    z_hop_mm=0.0,
    support=False,
    centre_mm=(125.0, 105.0),
    machine_mm=(250.0, 210.0, 220.0),
    relative_extrusion=True,
    claims={
        "nozzle temperature": "210 C",
        "bed temperature": "45 C",
        "layer height": "0.24 mm",
        "line width": "0.48 mm",
        "bottom solid layers": 2,
        "top solid layers": 3,
        "infill": "25 %",
    },
)


def bracket() -> Specimen:
    """A hinge bracket: a flange, a web standing on it, and two knuckles that rise beside the web."""
    x, y = BRACKET.centre_mm
    flange = _prism(Region(x, y, 46.0, 26.0), 14)
    web = _prism(Region(x, y + 9.0, 46.0, 6.0), 46)
    left, right = (_prism(Region(x + off, y - 5.0, 11.0, 11.0, 5.5, segments=40), 46) for off in (-15.0, 15.0))
    upper = [Slice(a.islands + b.islands + c.islands) for a, b, c in zip(web, left, right, strict=True)]
    return build(BRACKET, flange + upper)


def _prism(region: Region, count: int) -> list[Slice]:
    """Slices of one upright shape: solid below and above, sparse between, directions alternating."""
    solid_to, solid_from = BRACKET.bottom_solid_layers, count - BRACKET.top_solid_layers
    roles = [SOLID if k < solid_to or k >= solid_from else SPARSE for k in range(count)]
    return [Slice(((region, role, 45.0 + 90.0 * (k % 2)),)) for k, role in enumerate(roles)]


def main() -> None:
    target = HERE / "tern-lane" / "bracket.gcode"
    specimen = bracket()
    specimen.save(target)
    print(f"{target.name}: {target.stat().st_size} bytes, {specimen.truth['layer_count']} layers")


if __name__ == "__main__":
    main()
