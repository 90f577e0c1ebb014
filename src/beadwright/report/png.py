"""A PNG writer for pictures made of pixels in memory (W3C Portable Network Graphics, third edition)."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

MAGIC = b"\x89PNG\r\n\x1a\n"
RGB_AND_ALPHA = 6
FILTER_UP = 2  # each row as its difference from the one above: flat regions shrink to nothing


def png(pixels: NDArray[np.uint8], level: int = 6) -> bytes:
    """Return `pixels` (rows, columns, 4) red, green, blue, alpha 0 … 255 as a PNG file, packed with effort 0 … 9."""
    rows, columns, _ = pixels.shape
    lines = np.empty((rows, 1 + 4 * columns), np.uint8)
    lines[:, 0] = FILTER_UP
    flat = pixels.reshape(rows, -1)
    lines[0, 1:] = flat[0]
    np.subtract(flat[1:], flat[:-1], out=lines[1:, 1:])  # wraps at 256, as the filter is defined
    header = struct.pack(">IIBBBBB", columns, rows, 8, RGB_AND_ALPHA, 0, 0, 0)
    return (
        MAGIC + _chunk(b"IHDR", header) + _chunk(b"IDAT", zlib.compress(lines.tobytes(), level)) + _chunk(b"IEND", b"")
    )


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
