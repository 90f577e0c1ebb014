"""How fast a toolpath file is read, beside what else could be done with its bytes, on one machine in one run.

    python benchmarks/reader.py [--moves 3400000]

The file is made here: circles of short beads, layer upon layer, about 30 bytes a line. The budget is 200 MB/s
for the reader; what counts are the ratios, since machines differ. The general G-code library is timed on a
slice of 1 MB, if it is installed (`pip install gcodeparser`).
"""

from __future__ import annotations

import argparse
import gzip
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath, warm

MOVES_A_LAYER = 5000
SLICE = 1 << 20


def make_file(path: Path, moves: int) -> None:
    """Write an invented print of so many moves."""
    rng = np.random.default_rng(5)
    turn = 2 * np.pi * np.arange(MOVES_A_LAYER) / 250
    with path.open("w", encoding="ascii") as out:
        out.write("; invented test print\nM104 S215\nM140 S60\nG28\nG90\nM83\nG1 F2400\n")
        for layer in range(moves // MOVES_A_LAYER):
            radius = 20 + np.floor(turn / (2 * np.pi)) * 0.4 + rng.normal(0, 0.01, MOVES_A_LAYER)
            x, y = 100 + radius * np.cos(turn), 100 + radius * np.sin(turn)
            fed = rng.uniform(0.01, 0.04, MOVES_A_LAYER)
            out.write(f"; layer {layer}\nG1 Z{0.2 * (layer + 1):.2f} F600\nG1 E-0.8 F2100\nG1 F2400\n")
            out.writelines(f"G1 X{a:.3f} Y{b:.3f} E{c:.5f}\n" for a, b, c in zip(x, y, fed, strict=True))


def split_lines(path: Path) -> int:
    """Count words the plain Python way, without making numbers of them."""
    words = 0
    with path.open("rb") as lines:
        for line in lines:
            words += len(line.split())
    return words


def parse_lines(text: str) -> int:
    """Parse words into numbers the plain Python way."""
    moves, place = 0, dict.fromkeys("GXYZEFMS", 0.0)
    for line in text.splitlines():
        for word in line.split(";")[0].split():
            place[word[0]] = float(word[1:])
        moves += 1
    return moves


def library_parse(text: str) -> int:
    """Parse with a general G-code library."""
    from gcodeparser import parse_gcode_lines

    return sum(1 for _ in parse_gcode_lines(text))


def cpu_seconds() -> float:
    """Return processor time of this process and its children [s]; the wall clock where none is kept."""
    try:
        import resource
    except ImportError:
        return time.perf_counter()
    mine, theirs = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return mine.ru_utime + mine.ru_stime + theirs.ru_utime + theirs.ru_stime


def best_of(runs: int, work: Callable[[], object]) -> float:
    """Return the least processor time of `runs` runs [s]; a busy machine disturbs it less than the clock."""
    times = []
    for _ in range(runs):
        begin = cpu_seconds()
        work()
        times.append(cpu_seconds() - begin)
    return min(times)


def peak_megabytes(path: Path, work: str) -> tuple[float, float]:
    """Return the peak memory [MB] of a fresh process before and after it reads the file and does `work`."""
    code = f"""
from pathlib import Path
import psutil, re
from beadwright.toolpath.read import read_toolpath, warm
from beadwright.toolpath.layers import find_layers
def peak():
    if psutil.WINDOWS:
        return psutil.Process().memory_info().peak_wset / 1e6
    status = Path("/proc/self/status")  # a child's ru_maxrss would begin with its parent's
    if not status.exists():
        return float("nan")
    return int(re.search(r"VmHWM:\\s+(\\d+)", status.read_text())[1]) / 1e3
warm()
base = peak()
toolpath = read_toolpath(Path({str(path)!r}))
{work}
print(base, peak())
"""
    answer = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    before, after = map(float, answer.stdout.split())
    return before, after


def main() -> None:
    """Print one line a contender: MB/s, and how many times as long as this reader it takes."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--moves", type=int, default=3_400_000)
    moves = options.parse_args().moves
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "print.gcode"
        make_file(path, moves)
        size = path.stat().st_size
        print(f"{size / 1e6:.1f} MB, {moves:,} moves")
        begin = time.perf_counter()
        warm()
        print("MB a second of processor time, best of several runs, one core")
        print(f"compiling the kernel or loading it from its cache: {time.perf_counter() - begin:.1f} s")
        toolpath = read_toolpath(path)
        assert len(toolpath) >= moves
        report(path, size, toolpath)


def report(path: Path, size: int, toolpath: object) -> None:
    """Time all contenders on `path` and print them."""
    bytes_ = np.fromfile(path, np.uint8)
    packed = gzip.compress(path.read_bytes()[: 16 * SLICE], 6)
    text = path.read_bytes()[:SLICE].decode("ascii")
    ours = best_of(5, lambda: read_toolpath(path)) / size
    rows: list[tuple[str, float]] = [
        ("this reader", ours),
        (
            "this reader, gzip (16 MB, unpacked size)",
            best_of(3, lambda: read_toolpath(packed)) / (16 * SLICE),
        ),
        ("NumPy copy of the bytes", best_of(5, bytes_.copy) / size),
        (
            "wc -l",
            best_of(3, lambda: subprocess.run(["wc", "-l", path], check=True, capture_output=True)) / size,
        ),
        ("Python, lines split into words, no numbers", best_of(1, lambda: split_lines(path)) / size),
        ("Python, words to numbers (1 MB)", best_of(3, lambda: parse_lines(text)) / SLICE),
    ]
    try:
        rows.append(("general G-code library, gcodeparser (1 MB)", best_of(2, lambda: library_parse(text)) / SLICE))
    except ImportError:
        print("no general G-code library installed (pip install gcodeparser): not timed")
    for name, seconds in rows:
        print(f"{name:45} {1e-6 / seconds:10.1f} MB/s   {seconds / ours:8.2f} times this reader's time")
    layers = best_of(3, lambda: find_layers(toolpath))  # type: ignore[arg-type]
    print(f"{'find_layers':45} {layers:10.2f} s")
    before, read = peak_megabytes(path, "")
    _, with_layers = peak_megabytes(path, "find_layers(toolpath)")
    print(f"peak memory: {before:.0f} MB warm, {read:.0f} MB after reading, {with_layers:.0f} MB after layers")


if __name__ == "__main__":
    main()
