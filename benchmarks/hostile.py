"""How long, and how much memory, do files made to hurt take? Each is looked at in a process of its own.

    python benchmarks/hostile.py --count 1000000 [--only NAME]

Prints a line a file: its size, processor seconds and peak memory of `beadwright look --json`, and how it ended.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
MOST_SECONDS, MOST_BYTES = 120, 6 << 30


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--count", type=int, default=1_000_000)
    options.add_argument("--only")
    given = options.parse_args()
    sys.path.insert(0, str(ROOT / "tests" / "toolpath"))
    from hostile_files import FILES, REFUSED

    files = {**FILES, **{name: make for name, (make, _) in REFUSED.items()}}
    print(f"{'file':32}{'MB':>8}{'CPU s':>8}{'peak MB':>9}  end")
    with tempfile.TemporaryDirectory(prefix="beadwright-hostile-") as folder:
        for name, make in files.items():
            if given.only and given.only not in name:
                continue
            path = Path(folder) / "print.gcode"
            path.write_bytes(make(given.count))
            print(f"{name:32}{path.stat().st_size / 1e6:8.1f}{look(path)}", flush=True)


def look(path: Path) -> str:
    """Look at `path` under limits of memory and time; return the figures and the end."""
    words = [sys.executable, "-m", "beadwright", "look", str(path), "--json"]
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        child = subprocess.Popen(words, stdout=out, stderr=err, preexec_fn=limit)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        text, said = out.read(), err.read().decode(errors="replace").strip()
    seconds, peak = used.ru_utime + used.ru_stime, used.ru_maxrss * 1024 / 1e6
    return f"{seconds:8.1f}{peak:9.0f}  {end(child.returncode, text, said)}"


def limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))


def end(code: int, text: bytes, said: str) -> str:
    if code:
        return f"exit {code}: {said.splitlines()[-1] if said else ''}"[:150]

    def refuse(constant: str) -> float:
        raise ValueError(constant)

    page = json.loads(text, parse_constant=refuse)
    return f"{len(text) / 1e6:.1f} MB of JSON, {len(page['findings'])} findings, {len(page['problems'])} problems"


if __name__ == "__main__":
    main()
