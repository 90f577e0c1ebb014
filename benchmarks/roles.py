"""How well and how fast the roles of beads are told, without comments.

    python benchmarks/roles.py [--megabytes 100]

Accuracy is the share of extruded length whose role is that which the generator laid it for (`tests/specimens`), by
print and by role. Speed is processor time on files made here, beside reading the same file.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath
from beadwright.toolpath.roles import Role, find_roles, warm
from beadwright.toolpath.roles_comments import bead_length
from reader import make_file
from specimens import toolpaths
from specimens.prints import PRINTS

PLAIN = ("box", "plate", "cylinder", "cone", "table", "bridge", "vase")
STYLES: dict[str, dict[str, object]] = {
    "plain": {},
    "brim": {"brim_loops": 6},
    "1 wall, 12 %": {"wall_lines": 1, "infill_percent": 12},
    "3 walls, 45 %": {"wall_lines": 3, "infill_percent": 45, "layer_height_mm": 0.28},
    "0.6 mm beads": {"line_width_mm": 0.6, "layer_height_mm": 0.3, "first_layer_height_mm": 0.3},
}


def confusion(make: Callable[..., toolpaths.Specimen], style: dict[str, object]) -> np.ndarray:
    """Return mm of path by role laid (rows) and role told (columns)."""
    specimen = make(comments=False, **style)
    path = read_toolpath(specimen.data)
    words = {role.words: role for role in Role}
    laid = np.zeros(path.lines + 2, np.int64)
    for line, role in specimen.truth["roles"].items():
        laid[line] = words[role]
    told = find_roles(path, find_layers(path)).role
    key = np.where(path.is_bead, laid[path.line], 0) * len(Role) + told
    return np.bincount(key, bead_length(path), len(Role) ** 2).reshape(len(Role), -1)


def accuracy() -> None:
    """Print the tables."""
    makes = {name: getattr(toolpaths, name) for name in PLAIN} | PRINTS
    total = np.zeros((len(Role), len(Role)))
    print(f"{'share of length told right, %':28}" + "".join(f"{style:>15}" for style in STYLES))
    for name, make in makes.items():
        tables = [confusion(make, style) for style in STYLES.values()]
        total += sum(tables)
        print(f"{name:28}" + "".join(f"{100 * np.trace(t) / t.sum():15.1f}" for t in tables))
    print(f"\n{'role':18}{'laid, m':>10}{'found, %':>10}{'right when told, %':>20}")
    for role in Role:
        laid, told = total[role].sum(), total[:, role].sum()
        if laid > 0:
            print(f"{role.words:18}{laid / 1e3:10.1f}{100 * total[role, role] / laid:10.1f}", end="")
            print(f"{100 * total[role, role] / max(told, 1e-9):20.1f}")
    print(f"{'all':18}{total.sum() / 1e3:10.1f}{100 * np.trace(total) / total.sum():10.1f}\n")


def timed(work: Callable[[], object]) -> tuple[float, object]:
    """Return the least processor time of three runs, s, and the result."""
    times = []
    for _ in range(3):
        begin = time.process_time()
        result = work()
        times.append(time.process_time() - begin)
    return min(times), result


def speed(megabytes: float) -> None:
    """Print processor time for two kinds of files: short curved beads, and long rows laid very close."""
    warm()
    with tempfile.TemporaryDirectory() as folder:
        for name in ("curved beads", "long close rows"):
            path = Path(folder) / "print.gcode"
            if name == "curved beads":
                make_file(path, round(megabytes * 34_000))
            else:
                toolpaths.large_file(path, megabytes)
            reading, toolpath = timed(lambda path=path: read_toolpath(path))
            layers = find_layers(toolpath)
            telling, _ = timed(lambda t=toolpath, found=layers: find_roles(t, found))
            metres = float(bead_length(toolpath).sum()) / 1e3
            print(
                f"{name}: {len(toolpath):,} moves, {metres:,.0f} m of beads, {len(layers)} layers:"
                f" roles {telling:.2f} s, reading {reading:.2f} s (processor time)"
            )


def main() -> None:
    """Print accuracy, then speed."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--megabytes", type=float, default=100.0)
    megabytes = options.parse_args().megabytes
    accuracy()
    speed(megabytes)


if __name__ == "__main__":
    main()
