"""How long does the motion plan take under each kind of limits, on a file of 100 MB (3.3 million moves)?

    python benchmarks/motion.py --megabytes 100

Processor time on one core, best of five after a first run that compiles; the time line beside.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    """Print one line a kind of limits: seconds, and millions of moves a second."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--megabytes", type=float, default=100.0)
    given = options.parse_args()
    sys.path.insert(0, str(ROOT / "tests"))
    from beadwright.motion.limits import Limits
    from beadwright.motion.plan import plan
    from beadwright.motion.timeline import Timeline
    from beadwright.toolpath.layers import find_layers
    from beadwright.toolpath.read import read_toolpath
    from specimens.toolpaths import large_file

    with tempfile.TemporaryDirectory(prefix="beadwright-motion-") as folder:
        path = Path(folder) / "large.gcode"
        large_file(path, given.megabytes)
        toolpath = read_toolpath(path)
    motors = {"max_speed": (300.0, 300.0, 300.0, 80.0), "max_accel": (3000.0, 3000.0, 3000.0, 5000.0), "axes": "motor"}
    kinds = {
        "corner deviation": Limits.uniform(),
        "corner speed": Limits.uniform(junction_mm=None),
        "two belts": Limits.uniform(kinematics="corexy", **motors),
        "carriages of a delta": Limits.uniform(kinematics="delta", rod_mm=300.0, tower_radius_mm=130.0, **motors),
        "queue of 16": Limits.uniform(lookahead_moves=16),
    }
    for name, limits in kinds.items():
        show(name, len(toolpath), best(lambda limits=limits: plan(toolpath, limits)))
    planned, layers = plan(toolpath, Limits.uniform()), find_layers(toolpath)
    show("time line", len(toolpath), best(lambda: Timeline.build(toolpath, planned, layers)))


def best(work: Callable[[], object], rounds: int = 5) -> float:
    work()
    times = []
    for _ in range(rounds):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return min(times)


def show(name: str, moves: int, seconds: float) -> None:
    print(f"{name:24}{seconds:8.3f} s {moves / seconds / 1e6:8.1f} million moves a second")


if __name__ == "__main__":
    main()
