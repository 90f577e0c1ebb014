"""Files written so that a kill leaves the old content or the new, never half of either; tables of ours read fast."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import tomllib
from pathlib import Path
from typing import Any


def write_atomically(path: Path, content: bytes) -> None:
    """Write `content` to a temporary name beside `path`, flush it to the disk, rename it into place.

    Raises OSError as the system gives it; the temporary file is gone then.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a rename in `folder` survive a power cut, where the system offers that."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML table of ours, from a finished copy where one is kept: parsing TOML takes ten times as long.

    The copy goes by the content's own hash, so it cannot go stale. Dates are not expected.
    Raises OSError, UnicodeDecodeError, TOMLDecodeError.
    """
    content = path.read_bytes()
    copy = cache_folder() / "tables" / f"{hashlib.sha256(content).hexdigest()}.json"
    with contextlib.suppress(ValueError):
        return dict(json.loads(kept(copy) or b""))
    table = tomllib.loads(content.decode("utf-8"))
    with contextlib.suppress(TypeError):
        keep(copy, json.dumps(table, ensure_ascii=False).encode())
    return table


def cache_folder() -> Path:
    """Return the platform's cache folder of this program: what lies there only saves time."""
    from platformdirs import user_cache_path

    return user_cache_path("beadwright", appauthor=False)


def kept(path: Path) -> bytes | None:
    """Return what was kept in the cache at a path, None when there is nothing or it cannot be read."""
    try:
        return path.read_bytes()
    except OSError:
        return None


def keep(path: Path, content: bytes) -> None:
    """Keep content in the cache at a path; a folder that cannot be written is no error."""
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, content)
