"""What do heat by layer and the search for changes cost on a file of 100 MB?

    python benchmarks/there.py --megabytes 100 --rounds 3

Writes an invented file with the specimens' generator and looks at it once; then times, in process seconds, the heat
history, the series by layer, the change points and the whole of "what happens there", the best of the rounds after one
that compiles. Prints one JSON object; `copy_s` is a bare copy of the file's bytes by NumPy in the same run.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--megabytes", type=float, default=100.0)
    options.add_argument("--rounds", type=int, default=3)
    given = options.parse_args()
    sys.path.insert(0, str(ROOT / "tests"))
    from specimens.toolpaths import large_file

    with tempfile.TemporaryDirectory(prefix="beadwright-there-") as folder:
        path = Path(folder) / "large.gcode"
        report: dict[str, Any] = {"file": large_file(path, given.megabytes), "cores": os.cpu_count()}
        print(json.dumps(report | measure(path, given.rounds), indent=1))


def measure(path: Path, rounds: int) -> dict[str, float]:
    """Best process seconds of each step, and the peak before and after them [MB]."""
    from beadwright.audit.changes import find_commands, find_steps
    from beadwright.audit.heat_history import heat_history
    from beadwright.audit.layer_series import layer_series
    from beadwright.exhibits.place import parse_place
    from beadwright.exhibits.there import what_happens
    from beadwright.exhibits.toolpath_file import look
    from beadwright.facts import Fact, Facts, Origin
    from beadwright.knowledge.material_table import load_materials

    materials = load_materials()
    facts = Facts([Fact("polymer", "pla", Origin.RECORD)])
    out = {"copy_s": best(np.fromfile(path, np.uint8).copy, rounds)}
    result = look(path, facts=facts, materials=materials)
    before = peak()
    moves, pla = result.measured.moves, materials["pla"]
    heat = heat_history(moves, result.facts, pla)
    series = layer_series(result.measured, heat)
    out["heat_s"] = best(lambda: heat_history(moves, result.facts, pla), rounds)
    out["series_s"] = best(lambda: layer_series(result.measured, heat), rounds)
    out["changes_s"] = best(lambda: (find_steps(series), find_commands(moves)), rounds)
    out["there_s"] = best(lambda: what_happens(result, parse_place("layer:100")), rounds)
    return {name: round(value, 3) for name, value in out.items()} | {"look_peak_mb": before, "peak_mb": peak()}


def best(step: Callable[[], Any], rounds: int) -> float:
    """Least process seconds of `rounds` calls, after one that is not counted."""
    step()
    times = []
    for _ in range(rounds):
        begin = time.process_time()
        step()
        times.append(time.process_time() - begin)
    return min(times)


def peak() -> float:
    """Largest memory so far [MB]."""
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3, 1)


if __name__ == "__main__":
    main()
