"""How long does the spine take on a file of 100 MB, and how much memory?

    python benchmarks/spine.py --megabytes 100 --rounds 3

Writes an invented file with the specimens' generator, then in child processes: a bare copy of the file's
bytes by NumPy, `wc -l`, read, layers, plan, timeline, and the whole of `look` (reading and audit
included). The first round compiles and is not counted; of the others the best time and the largest peak
are shown, with the ratio to the bare copy of the same run. Beside them the process times of `--help` and
of a diagnosis from a story alone. Prints one JSON object.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
STORY = "layers moved over half way up, knocking while it prints, lines not joined, nozzle at 210"
COMMANDS = {"help": ["--help"], "diagnose": ["diagnose", "--story", STORY, "--material", "TPU", "--json"]}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--megabytes", type=float, default=100.0)
    options.add_argument("--rounds", type=int, default=3)
    options.add_argument("--stage", help=argparse.SUPPRESS)
    options.add_argument("--file", type=Path, help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.stage:
        print(json.dumps(STAGES[given.stage](given.file)))
        return
    sys.path.insert(0, str(ROOT / "tests"))
    from specimens.toolpaths import large_file

    with tempfile.TemporaryDirectory(prefix="beadwright-spine-") as folder:
        path = Path(folder) / "large.gcode"
        report: dict[str, Any] = {"file": large_file(path, given.megabytes), "cores": os.cpu_count()}
        for stage in STAGES:
            report[stage] = measure(stage, path, given.rounds)
        report["wc_l_s"] = wall(["wc", "-l", str(path)], given.rounds) if shutil.which("wc") else None
    copy = report["copy"]["copy_s"]
    for stage in ("steps", "look"):
        report[stage]["ratio_to_copy"] = round(report[stage]["total_s"] / copy, 1)
    read = report["steps"]["read_s"]
    report["read_mb_s"] = round(report["file"]["bytes"] / 1e6 / read)
    for name, words in COMMANDS.items():
        report[f"{name}_s"] = wall([sys.executable, "-m", "beadwright", *words], 5)
    print(json.dumps(report, indent=1))


def measure(stage: str, path: Path, rounds: int) -> dict[str, float]:
    """Best times and largest peak of `rounds` processes, after one that compiles."""
    words = [sys.executable, str(Path(__file__).resolve()), "--stage", stage, "--file", str(path)]
    runs = []
    for _ in range(rounds + 1):
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        if done.returncode:
            sys.exit(f"stage {stage} failed:\n{done.stderr}")
        runs.append(json.loads(done.stdout))
    best = {key: min(run[key] for run in runs[1:]) for key in runs[0]}
    best["first_total_s"] = runs[0]["total_s"]
    best["peak_mb"] = max(run["peak_mb"] for run in runs[1:])
    return best


def wall(words: list[str], rounds: int) -> float | str:
    """Best wall time of a process [s], or the last line it said when it failed."""
    times = []
    for _ in range(rounds + 1):
        began = time.perf_counter()
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        times.append(time.perf_counter() - began)
        if done.returncode:
            return f"failed: {(done.stderr.strip().splitlines() or ['no word'])[-1]}"
    return round(min(times[1:]), 3)


class Clock:
    """Times named steps, by the wall and by the processor (which a busy machine does not stretch as much)."""

    def __init__(self) -> None:
        self.began = self.last = time.perf_counter()
        self.used = time.process_time()
        self.steps: dict[str, float] = {}

    def lap(self, name: str) -> None:
        now, used = time.perf_counter(), time.process_time()
        self.steps[f"{name}_s"] = round(now - self.last, 3)
        self.steps[f"{name}_cpu_s"] = round(used - self.used, 3)
        self.last, self.used = now, used

    def stop(self) -> dict[str, float]:
        return {**self.steps, "total_s": round(time.perf_counter() - self.began, 3), "peak_mb": peak_mb()}


def peak_mb() -> float:
    """Peak resident memory of this process [10⁶ bytes]."""
    if sys.platform == "win32":
        import psutil

        return round(psutil.Process().memory_info().peak_wset / 1e6)
    import resource

    unit = 1 if sys.platform == "darwin" else 1024
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6)


def copy(path: Path) -> dict[str, float]:
    import numpy as np

    clock = Clock()
    np.fromfile(path, np.uint8).copy()
    clock.lap("copy")
    return clock.stop()


def steps(path: Path) -> dict[str, float]:
    from beadwright.motion.limits import limits_from
    from beadwright.motion.plan import plan
    from beadwright.motion.timeline import Timeline
    from beadwright.toolpath.layers import find_layers
    from beadwright.toolpath.read import read_toolpath

    clock = Clock()
    toolpath = read_toolpath(path)
    clock.lap("read")
    layers = find_layers(toolpath)
    clock.lap("layers")
    planned = plan(toolpath, limits_from(toolpath))
    clock.lap("plan")
    Timeline.build(toolpath, planned, layers)
    clock.lap("timeline")
    return clock.stop()


def look(path: Path) -> dict[str, float]:
    import beadwright.exhibits.toolpath_file as reader

    clock = Clock()
    reader.look(path)
    clock.lap("look")
    return clock.stop()


STAGES: dict[str, Callable[[Path], dict[str, float]]] = {"copy": copy, "steps": steps, "look": look}

if __name__ == "__main__":
    main()
