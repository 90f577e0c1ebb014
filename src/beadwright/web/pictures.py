"""Which exhibits a browser may show in place: pictures, known by their first bytes, never by their name."""

from __future__ import annotations

from pathlib import Path

JPEG = b"\xff\xd8\xff"
PNG = b"\x89PNG\r\n\x1a\n"


def picture_type(path: Path) -> str | None:
    """Return the media type of a JPEG, PNG or WebP file; None for anything else, a missing file too."""
    try:
        with path.open("rb") as stream:
            head = stream.read(12)
    except OSError:
        return None
    if head.startswith(JPEG):
        return "image/jpeg"
    if head.startswith(PNG):
        return "image/png"
    if head[:4] == b"RIFF" and head[8:] == b"WEBP":
        return "image/webp"
    return None
