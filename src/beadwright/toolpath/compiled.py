"""The one way the reader's kernels are compiled, and whether that has been done on this machine already.

Numba checks its cache against the file a kernel is written in, not against the files of the kernels it
calls; so `drop_stale_kernels` removes an index older than any kernel source beside it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar, cast

Kernel = TypeVar("Kernel", bound=Callable[..., object])
HERE = Path(__file__).parent
SOURCES = (
    "arcs.py",
    "compiled.py",
    "dialect.py",
    "modes.py",
    "moves.py",
    "numbers.py",
    "slots.py",
    "tables.py",
    "words.py",
)
ENTRY = "words.read_words"


def compiled(function: Kernel) -> Kernel:
    """Compile `function` on first call, without the interpreter lock, kept on disk for the next process."""
    from numba import njit

    return cast(Kernel, njit(cache=True, nogil=True, error_model="numpy")(function))


def woven(function: Kernel) -> Kernel:
    """As `compiled`, and copied into each kernel that calls it: for the innermost steps."""
    from numba import njit

    return cast(Kernel, njit(cache=True, nogil=True, error_model="numpy", inline="always")(function))


def cache_folders() -> Iterator[Path]:
    """Yield where numba may have put the index of this folder's kernels."""
    if chosen := os.environ.get("NUMBA_CACHE_DIR"):
        yield from Path(chosen).glob("toolpath_*")
        return
    yield HERE / "__pycache__"
    home = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache"))
    yield from (home / "numba").glob("toolpath_*")  # where the package folder cannot be written to


def cached_indexes(entry: str = ENTRY) -> list[Path]:
    """Return the cache index files of the entry kernel (`*` stands for anything) for this Python version, stale ones
    too.
    """
    version = f"py{sys.version_info.major}{sys.version_info.minor}"
    return [index for folder in cache_folders() for index in folder.glob(f"{entry}-*.{version}*.nbi")]


def newest_source(sources: tuple[str, ...] = SOURCES) -> float:
    """Return when a kernel source was last changed [s since the epoch]."""
    return max((HERE / name).stat().st_mtime for name in sources)


def drop_stale_kernels(entry: str = ENTRY, sources: tuple[str, ...] = SOURCES) -> None:
    """Remove the entry kernel's index where a kernel it calls has changed since."""
    changed = newest_source(sources)
    for index in cached_indexes(entry):
        if index.stat().st_mtime < changed:
            index.unlink(missing_ok=True)
