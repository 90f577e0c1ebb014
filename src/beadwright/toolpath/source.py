"""The bytes of a toolpath file, plain or gzip, as blocks of whole lines in bounded memory."""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from beadwright.errors import ToolpathError

PIECE = 1 << 20  # small enough to stay in the processor's cache between the reading and the kernel
LINE_LIMIT = 64 << 20
SIZE_LIMIT = 4 << 30
RATIO_LIMIT = 200  # text of toolpaths packs three- to tenfold
RATIO_FREE = 256 << 20  # below this size any ratio will do
GZIP = b"\x1f\x8b"
PAD = b"\n\n\n"  # the kernel looks up to three bytes past the end
ZERO_RUN = re.compile(rb"\0{16,}")
AS_TEXT = "Hand in the toolpath as plain text (G-code), or that text packed with gzip."
AS_UTF_8 = "Save it as UTF-8."
COPY_AGAIN = "The copy was interrupted: copy the file again."
UNPACK = "Unpack it first, or pack it with gzip."
# What other files begin with: byte order marks (Unicode standard, ch. 23.8), gzip RFC 1952, xz, zstd RFC 8878, bzip2,
# PNG (ISO/IEC 15948), JPEG (ISO/IEC 10918), PDF (ISO 32000); from memory.
OTHER_FILES = (
    (b"\xff\xfe", "text in UTF-16", AS_UTF_8),
    (b"\xfe\xff", "text in UTF-16", AS_UTF_8),
    (GZIP, "a gzip file inside a gzip file", "Unpack it once."),
    (b"\xfd7zXZ\0", "a file packed with xz", UNPACK),
    (b"\x28\xb5\x2f\xfd", "a file packed with zstd", UNPACK),
    (b"BZh", "a file packed with bzip2", UNPACK),
    (b"\x89PNG", "a picture", AS_TEXT),
    (b"\xff\xd8\xff", "a picture", AS_TEXT),
    (b"%PDF-", "a PDF document", AS_TEXT),
)


class Source:
    """A toolpath's bytes being read once; `damage` says what was wrong with a gzip file that could be read
    in part.
    """

    def __init__(self, stream: BinaryIO, name: str, size: int | None, piece: int = PIECE) -> None:
        self.name = name
        self.size = size  # as stored
        self.consumed = 0  # of it
        self.unpacked = 0
        self.damage = ""
        self.ends_open = False  # no line end behind the last line
        self.tail = b""  # the last few kilobytes
        self._stream = stream
        self._piece = piece

    @classmethod
    def open(cls, source: Path | bytes | BinaryIO, name: str | None, piece: int = PIECE) -> Source:
        """Open a path, bytes or a binary stream. Raises ToolpathError where a path cannot be opened."""
        if isinstance(source, bytes):
            return cls(io.BytesIO(source), name or "toolpath", len(source), piece)
        if isinstance(source, Path):
            try:
                stream = source.open("rb")
                size = source.stat().st_size
            except OSError as error:
                reason = (error.strerror or str(error)).lower()
                raise ToolpathError(
                    f"cannot be opened ({reason})",
                    where=str(source),
                    fix="Check the path and its permissions.",
                ) from error
            return cls(stream, name or source.name, size, piece)
        return cls(source, name or str(getattr(source, "name", "toolpath")), None, piece)

    def close(self) -> None:
        """Close the stream."""
        self._stream.close()

    def blocks(self) -> Iterator[bytes]:
        """Yield whole lines, each block followed by `PAD`, which is not part of it.

        Raises ToolpathError where the file is none that can be read: too large, no text, a line without end.
        """
        held: list[bytes] = []
        for piece in self._pieces():
            self.tail = (self.tail + piece[-4096:])[-4096:]
            cut = last_line_end(piece)
            if cut == 0:
                held.append(piece)
                self._check_line(held)
                continue
            yield b"".join([*held, piece[:cut], PAD])
            held = [piece[cut:]] if cut < len(piece) else []
        if held:
            self.ends_open = True
            yield b"".join([*held, b"\n", PAD])

    def _check_line(self, held: list[bytes]) -> None:
        length = sum(map(len, held))
        if length > LINE_LIMIT:
            raise ToolpathError(
                f"a line of more than {LINE_LIMIT >> 20} MB, which no toolpath has",
                where=self.name,
                fix="Hand in the file as the program that planned the print wrote it.",
            )

    def _pieces(self) -> Iterator[bytes]:
        first = self._read()
        pieces = self._inflated(first) if first[:2] == GZIP else self._plain(first)
        for number, piece in enumerate(pieces):
            self.unpacked += len(piece)
            if number == 0:
                refuse_if_no_text(piece, self.name)
                piece = piece.removeprefix(b"\xef\xbb\xbf")
            self._check_size()
            if piece:
                yield piece

    def _read(self) -> bytes:
        try:
            raw = self._stream.read(self._piece)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise ToolpathError(f"cannot be read ({reason})", where=self.name, fix="Check the disk.") from error
        self.consumed += len(raw)
        return raw

    def _plain(self, raw: bytes) -> Iterator[bytes]:
        while raw:
            yield raw
            raw = self._read()

    def _inflated(self, raw: bytes) -> Iterator[bytes]:
        engine = zlib.decompressobj(wbits=31)
        try:
            while raw:
                if text := engine.decompress(raw, self._piece):
                    yield text
                raw = engine.unconsumed_tail
                if engine.eof:
                    raw = engine.unused_data or self._read()
                    if raw[:2] != GZIP:  # padding behind the last member is allowed
                        return
                    engine = zlib.decompressobj(wbits=31)
                raw = raw or self._read()
            self.damage = "the gzip file ends before its end; what could be unpacked was read"
        except zlib.error:
            self.damage = "the gzip file is damaged; what could be unpacked before that was read"

    def _check_size(self) -> None:
        packed = max(self.consumed, 1)
        if self.unpacked > SIZE_LIMIT:
            found = f"more than {SIZE_LIMIT >> 30} GiB of text"
        elif self.unpacked > RATIO_FREE and self.unpacked > RATIO_LIMIT * packed:
            found = f"a gzip file that grows more than {RATIO_LIMIT}-fold when unpacked"
        else:
            return
        raise ToolpathError(found, where=self.name, fix="Hand in the toolpath of one print, plain or gzip.")


def last_line_end(piece: bytes) -> int:
    """Return the index behind the last line end, 0 where there is none; zero bytes alone count as one."""
    if cut := piece.rfind(b"\n") + 1:
        return cut
    if cut := piece.rfind(b"\r") + 1:
        return cut
    return len(piece) if piece.endswith(b"\0") and not piece.strip(b"\0") else 0


def refuse_if_no_text(piece: bytes, name: str) -> None:
    """Raise ToolpathError, saying what it is, where the first bytes are those of another sort of file."""
    head = piece[:65_536]
    for start, found, fix in OTHER_FILES:
        if head.startswith(start):
            raise ToolpathError(found, where=name, fix=fix)
    if head.startswith(b"PK\x03\x04"):
        found = "a 3MF container, which holds a model" if b"3D/" in head else "a ZIP archive"
        raise ToolpathError(found, where=name, fix="Take the toolpath file out of it first.")
    if not head.strip(b"\0"):
        raise ToolpathError("begins with nothing but zero bytes", where=name, fix=COPY_AGAIN)
    head = ZERO_RUN.sub(b"", head)  # what an interrupted copy leaves is skipped later, and said
    zeros = head.rstrip(b"\0").count(0)
    if zeros * 4 > len(head) and max(head[::2].count(0), head[1::2].count(0)) > 0.9 * zeros:
        raise ToolpathError("text in UTF-16", where=name, fix=AS_UTF_8)
    control = sum(head.count(byte) for byte in [*range(1, 9), *range(14, 32), 127])
    if zeros * 100 > len(head) or control * 50 > len(head):
        raise ToolpathError("a binary file, not text", where=name, fix=AS_TEXT)
