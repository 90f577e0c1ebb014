"""The bytes of exhibits, found by what they are: `exhibits/ab/cdef…`, the SHA-256 in hexadecimal.

The order of writing is what makes a kill harmless: a temporary name in the same folder, flushed to the disk,
renamed, the folders flushed; only then may the database speak of it. A kill before that leaves a `.part` file
or bytes that no case holds, and `Store.sweep` finds both.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from beadwright.errors import ExhibitError, StoreError
from beadwright.files import sync_folder

LIMIT_BYTES = 2 * 1024**3
CHUNK_BYTES = 1 << 20
PART = ".part"
Source = Path | bytes | BinaryIO
_SHA256 = re.compile(r"[0-9a-f]{64}")
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_REFUSED = (errno.EROFS, errno.EACCES, errno.EPERM)


@dataclass(frozen=True)
class Kept:
    """Bytes that are safely on the disk."""

    sha256: str
    bytes: int


class ExhibitFolder:
    """The folder that keeps exhibits' bytes. Thread-safe and safe between processes: names are hashes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Return where bytes of that hash are, whether there or not. ValueError for anything but a hash."""
        if not _SHA256.fullmatch(sha256):
            raise ValueError(f"{sha256!r} is not a SHA-256 in lower-case hexadecimal")
        return self.folder / sha256[:2] / sha256[2:]

    def keep(self, source: Source, name: str, limit_bytes: int = LIMIT_BYTES) -> Kept:
        """Copy `source` in and return its hash once it would survive a power cut. Known bytes are kept once.

        `name` is for messages. ExhibitError when the source cannot be read or is larger than `limit_bytes`;
        StoreError when the folder cannot be written. Nothing half-written stays after either.
        """
        with _opened(source, name) as stream, self._failures(name):
            self.folder.mkdir(parents=True, exist_ok=True)
            part = self.folder / f"{uuid.uuid4().hex}{PART}"
            try:
                kept = _copy(stream, part, name, limit_bytes)
                self._settle(part, kept)
            finally:
                part.unlink(missing_ok=True)
        return kept

    def _settle(self, part: Path, kept: Kept) -> None:
        home = self.path(kept.sha256)
        if not (home.is_file() and home.stat().st_size == kept.bytes):
            home.parent.mkdir(exist_ok=True)
            os.replace(part, home)
        sync_folder(home.parent)  # also when already there: whoever renamed it may not have come to this yet
        sync_folder(self.folder)

    def parts(self) -> Iterator[Path]:
        """Yield files that were being written."""
        yield from self.folder.glob(f"*{PART}")

    def hashes(self) -> Iterator[str]:
        """Yield the SHA-256 of everything kept."""
        for path in self.folder.glob("??/*"):
            sha256 = path.parent.name + path.name
            if _SHA256.fullmatch(sha256):
                yield sha256

    def hash_again(self, sha256: str) -> str | None:
        """Return the SHA-256 that the bytes have now, None when they are gone. OSError when unreadable."""
        try:
            with self.path(sha256).open("rb") as stream:
                return hashlib.file_digest(stream, "sha256").hexdigest()
        except FileNotFoundError:
            return None

    @contextmanager
    def _failures(self, name: str) -> Iterator[None]:
        try:
            yield
        except OSError as failure:
            raise _store_error(failure, name, self.folder) from failure


def _store_error(failure: OSError, name: str, folder: Path) -> StoreError:
    if failure.errno in _FULL:
        return StoreError(
            f"no room to keep {name!r}: {failure.strerror}; nothing of it was kept",
            where=str(folder),
            fix="Free some space and add it again",
        )
    if failure.errno in _REFUSED:
        return StoreError(
            f"{name!r} cannot be kept: {failure.strerror}",
            where=str(folder),
            fix="Make the folder writable, or name another shop with --shop",
        )
    return StoreError(
        f"{name!r} cannot be kept: {failure.strerror or failure}",
        where=str(folder),
        fix="See that the folder is there and its disk is sound, then add it again",
    )


@contextmanager
def _opened(source: Source, name: str) -> Iterator[BinaryIO]:
    if isinstance(source, bytes):
        yield io.BytesIO(source)
    elif not isinstance(source, Path):
        yield source
    elif source.exists() and not source.is_file():  # a pipe would wait for ever, a folder has no bytes
        raise ExhibitError("is not a file", where=str(source), fix="Name the files themselves")
    else:
        try:
            stream = source.open("rb")
        except (OSError, ValueError) as failure:  # ValueError: a NUL in the name
            raise _unreadable(failure, str(source)) from failure
        with stream:
            yield stream


def _copy(stream: BinaryIO, part: Path, name: str, limit_bytes: int) -> Kept:
    digest, size = hashlib.sha256(), 0
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        while chunk := _read(stream, name):
            size += len(chunk)
            if size > limit_bytes:
                raise ExhibitError(
                    f"is larger than {limit_bytes / 1e6:,.0f} MB, the most that is kept",
                    where=name,
                    fix="Cut it down to the part that shows the fault",
                )
            digest.update(chunk)
            _write(handle, chunk)
        os.fsync(handle)
    finally:
        os.close(handle)
    return Kept(digest.hexdigest(), size)


def _read(stream: BinaryIO, name: str) -> bytes:
    try:
        return stream.read(CHUNK_BYTES)
    except OSError as failure:
        raise _unreadable(failure, name) from failure


def _unreadable(failure: Exception, where: str) -> ExhibitError:
    return ExhibitError(
        f"cannot be read: {getattr(failure, 'strerror', None) or failure}",
        where=where,
        fix="See that it is there and that you may read it",
    )


def _write(handle: int, chunk: bytes) -> None:
    left = memoryview(chunk)
    while left:
        left = left[os.write(handle, left) :]
