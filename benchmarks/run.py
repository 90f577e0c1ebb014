"""Run every benchmark in turn, each in a process of its own, and print its figures.

make bench                      all of them
make bench ONLY="reader spine"  some of them
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


def main() -> int:
    """Return the number of benchmarks that failed to run."""
    wanted = os.environ.get("ONLY", "").split()
    failed = 0
    for script in sorted(HERE.glob("*.py")):
        if script.stem in ("run", "__init__") or (wanted and script.stem not in wanted):
            continue
        print(f"\n== {script.stem}", flush=True)
        failed += subprocess.run([sys.executable, str(script)], check=False).returncode != 0
    return failed


if __name__ == "__main__":
    sys.exit(main())
