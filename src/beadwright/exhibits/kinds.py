"""What kind of exhibit a file is: by what it holds, then by its name.

Names lie (a picture saved as .txt, a toolpath file as .nc or nothing at all), so the first bytes decide.
A picture is a photo unless its name says that it shows settings.
"""

from __future__ import annotations

import re
import zlib
from pathlib import PurePath
from typing import Literal, get_args

Kind = Literal[
    "toolpath",
    "photo",
    "settings_picture",
    "settings_text",
    "sound",
    "video",
    "heat_log",
    "mesh",
    "story",
    "unknown",
]
KINDS: tuple[Kind, ...] = get_args(Kind)
READ_NOW: frozenset[Kind] = frozenset({"toolpath", "settings_text", "story"})  # the others are kept with the case
HEAD_BYTES = 65_536

_WORD = re.compile(rb"(?<![A-Za-z])[GMTgmt]\d{1,4}(?:\.\d+)?(?!\d)")
_AXIS = re.compile(rb"(?<![A-Za-z])[XYZEFxyzef]\s?[-+]?(?:\d+\.?\d*|\.\d+)")
_PAIR = re.compile(r"^\s*[^\W\d][^:=\t;,]{1,60}\s*[:=\t;,]\s*\S.{0,60}$")
_NUMBERS = re.compile(r"^\s*[-+\d:.TZ ]+(?:[,;\t]\s*[-+]?\d*[.,]?\d*){1,12}\s*$")
_HEAT = re.compile(
    r"temp|°\s?c|heater|nozzle|hot ?end|bed|düse|bett|buse|plateau|boquilla|cama|target|soll", re.IGNORECASE
)
_TIME = re.compile(r"time|zeit|temps|tiempo|second|sekund|\bs\b|\bt\b", re.IGNORECASE)
_SETTINGS_NAME = re.compile(
    r"setting|einstell|r[ée]glage|ajuste|screen|bildschirm|[ée]cran|pantalla|profil", re.IGNORECASE
)
_BY_EXTENSION: dict[str, Kind] = {
    **dict.fromkeys(("gcode", "gco", "g", "nc", "ngc", "tap", "cnc"), "toolpath"),
    **dict.fromkeys(("jpg", "jpeg", "png", "webp", "heic", "heif", "gif", "bmp", "tif", "tiff"), "photo"),
    **dict.fromkeys(("wav", "mp3", "m4a", "aac", "ogg", "oga", "opus", "flac", "amr", "caf"), "sound"),
    **dict.fromkeys(("mp4", "mov", "mkv", "webm", "avi", "3gp", "m4v"), "video"),
    **dict.fromkeys(("stl", "3mf", "obj", "ply", "step", "stp", "amf"), "mesh"),
    **dict.fromkeys(("ini", "cfg", "conf", "toml", "json", "yaml", "yml"), "settings_text"),
    **dict.fromkeys(("txt", "md", "eml", "rtf"), "story"),
}  # fmt: skip


def guess_kind(path: str | PurePath, head: bytes) -> Kind:
    """Return the kind of an exhibit from its name and first bytes (`HEAD_BYTES` are plenty).

    >>> guess_kind("part.gcode", b"G28\\nG1 X10 Y5 E0.4 F1200\\n")
    'toolpath'
    >>> guess_kind("IMG_1.txt", b"\\xff\\xd8\\xff\\xe0")
    'photo'
    """
    name = PurePath(path)
    endings = [suffix[1:].lower() for suffix in name.suffixes]
    packed = head[:2] == b"\x1f\x8b"
    if packed:
        head = _unpacked(head)
        endings = [ending for ending in endings if ending not in ("gz", "gzip")]
    by_name = _BY_EXTENSION.get(endings[-1]) if endings else None
    found = _by_signature(head) or (_by_text(head, by_name) if _is_text(head) else None) or by_name or "unknown"
    if found == "photo" and _SETTINGS_NAME.search(name.stem):
        return "settings_picture"
    return found


def _unpacked(head: bytes) -> bytes:
    """Unpack the start of a gzip file, never more than `HEAD_BYTES`."""
    try:
        return zlib.decompressobj(wbits=31).decompress(head, HEAD_BYTES)
    except zlib.error:
        return b""


def _by_signature(head: bytes) -> Kind | None:
    for mark, kind in _SIGNATURES:
        if head.startswith(mark):
            return kind
    if head[4:8] == b"ftyp":  # ISO base media file format, ISO/IEC 14496-12: the brand tells
        brand = head[8:12].lower()
        if brand in (b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"avif"):
            return "photo"
        return "sound" if brand.startswith((b"m4a", b"m4b")) else "video"
    if head[:4] == b"RIFF":
        return {b"WAVE": "sound", b"AVI ": "video", b"WEBP": "photo"}.get(head[8:12])  # type: ignore[return-value]
    if head[:4] == b"PK\x03\x04" and (b"3D/" in head or b"3dmodel" in head.lower()):
        return "mesh"
    if _is_binary_stl(head):
        return "mesh"
    return None


_SIGNATURES: tuple[tuple[bytes, Kind], ...] = (
    (b"\xff\xd8\xff", "photo"),
    (b"\x89PNG\r\n", "photo"),
    (b"GIF8", "photo"),
    (b"BM", "photo"),
    (b"II*\x00", "photo"),
    (b"MM\x00*", "photo"),
    (b"OggS", "sound"),
    (b"fLaC", "sound"),
    (b"ID3", "sound"),
    (b"\xff\xfb", "sound"),
    (b"\xff\xf1", "sound"),
    (b"#!AMR", "sound"),
    (b"caff", "sound"),
    (b"\x1aE\xdf\xa3", "video"),
    (b"ply\n", "mesh"),
    (b"ISO-10303-21", "mesh"),
)


def _is_binary_stl(head: bytes) -> bool:
    """Binary STL: 80 bytes, a count, 50 bytes per facet whose last two are zero; text never fits that."""
    if len(head) < 84 + 50 or _is_text(head):
        return False
    count = int.from_bytes(head[80:84], "little")
    facets = [head[84 + 50 * at + 48 : 84 + 50 * at + 50] for at in range(min(3, (len(head) - 84) // 50))]
    return 0 < count < 200_000_000 and all(end == b"\x00\x00" for end in facets)


def _is_text(head: bytes) -> bool:
    if b"\x00" in head or not head.strip():
        return False
    control = sum(byte < 32 and byte not in b"\t\n\r\f" for byte in head[:4096])
    return control <= len(head[:4096]) // 100


def _by_text(head: bytes, by_name: Kind | None) -> Kind | None:
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith(b"solid ") and b"facet" in head:
        return "mesh"
    lines = [line for line in head.splitlines()[:400] if line.strip()]
    if sum(line.startswith((b"v ", b"f ", b"vn ", b"vt ")) for line in lines) > len(lines) / 2:
        return "mesh"
    orders = [line for line in lines if not line.lstrip().startswith((b";", b"("))]
    moves = sum(1 for line in orders if _WORD.search(line.split(b";")[0]) and _AXIS.search(line))
    if moves and moves >= 0.3 * len(orders):
        return "toolpath"
    if by_name in ("toolpath", "mesh"):
        return by_name
    return _prose_or_table([line.decode("utf-8", "replace") for line in lines], by_name)


def _prose_or_table(lines: list[str], by_name: Kind | None) -> Kind | None:
    """Tell a log of temperatures from a list of settings from somebody's words."""
    if not lines:
        return by_name
    numbers = sum(bool(_NUMBERS.match(line)) for line in lines)
    header = " ".join(lines[:3])
    titled = bool(_HEAT.search(header) or _TIME.search(header))
    if numbers >= max(3, 0.6 * len(lines)) and (titled or numbers == len(lines)):
        return "heat_log"
    pairs = sum(bool(_PAIR.match(line)) and len(line.split()) <= 14 for line in lines)
    if by_name == "settings_text" or (pairs >= 2 and pairs >= 0.6 * len(lines)):
        return "settings_text"
    return "story"
