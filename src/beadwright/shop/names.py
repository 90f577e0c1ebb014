"""Text from outside, made fit to be stored and shown. A name from outside is never used to find bytes."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

LONGEST_NAME_BYTES = 180  # below the 255 that common file systems allow, with room for a number
NAMELESS = "unnamed"
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(?=\.|$)")  # device names where Windows looks for files
_UNFIT = frozenset('<>:"|?*')  # forbidden in file names there


def plain_text(text: str) -> str:
    """Return `text` with what no database can hold (NUL, halves of surrogate pairs) replaced by U+FFFD."""
    return "".join("\ufffd" if char == "\0" or "\ud800" <= char <= "\udfff" else char for char in text)


def display_name(given: str) -> str:
    r"""Return the last part of a path of either kind, without what could mislead an eye or a file system.

    Control characters and invisible format characters go (those that turn the reading direction let a name
    pose as another), long names are cut before their ending, empty ones get a name.

    >>> display_name("../../etc/passwd")
    'passwd'
    >>> display_name("C:\\prints\\tern\u202egnp.exe")
    'terngnp.exe'
    """
    last = re.split(r"[/\\]", plain_text(given))[-1]
    shown = "".join(_fit(char) for char in unicodedata.normalize("NFC", last))
    shown = " ".join(shown.split()).strip(". ")
    if _RESERVED.match(shown):
        shown = f"_{shown}"
    return _shortened(shown, LONGEST_NAME_BYTES) or NAMELESS


def unique_name(name: str, taken: Container[str]) -> str:
    """Return `name`, or `name (2)`, `name (3)` … before its ending, whichever is not in `taken`."""
    stem, ending = _split(name)
    candidate, count = name, 1
    while candidate in taken:
        count += 1
        candidate = f"{stem} ({count}){ending}"
    return candidate


def _fit(char: str) -> str:
    if char in _UNFIT:
        return "_"
    category = unicodedata.category(char)
    return " " if char.isspace() else "" if category in ("Cc", "Cf", "Cn", "Co", "Cs") else char


def _split(name: str) -> tuple[str, str]:
    stem, dot, ending = name.rpartition(".")
    return (stem, dot + ending) if stem and len(ending) <= 12 else (name, "")


def _shortened(name: str, limit: int) -> str:
    if len(name.encode()) <= limit:
        return name
    stem, ending = _split(name)
    room = limit - len(ending.encode()) - len("…".encode())
    return stem.encode()[:room].decode(errors="ignore") + "…" + ending
