"""Writing a case as TOML that a person likes to read and `read_case` reads back to the same case."""

from __future__ import annotations

import datetime
import re
from typing import Any

from beadwright.case.model import Case

_BARE = re.compile(r"^[A-Za-z0-9_-]+$")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t", "\b": "\\b", "\f": "\\f"}


def to_toml(case: Case) -> str:
    """Return the case file's text; only what was stated is written."""
    stated = case.model_dump(exclude_defaults=True)
    parts = [_table(f"[{name}]", body) for name, body in stated.items() if isinstance(body, dict) and body]
    for name, rows in stated.items():
        if not isinstance(rows, dict):
            parts += [_table(f"[[{name}]]", row) for row in rows]
    return "\n".join(parts)


def _table(header: str, body: dict[str, Any]) -> str:
    lines = [f"{_key(key)} = {_value(value)}" for key, value in body.items() if value is not None]
    return "\n".join([header, *lines, ""])


def _key(key: str) -> str:
    return key if _BARE.match(key) else _string(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _block(value) if "\n" in value else _string(value)
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, dict):
        inner = ", ".join(f"{_key(key)} = {_value_inline(entry)}" for key, entry in value.items() if entry is not None)
        return f"{{ {inner} }}" if inner else "{}"
    return "[" + ", ".join(_value_inline(entry) for entry in value) + "]"


def _value_inline(value: Any) -> str:
    return _string(value) if isinstance(value, str) else _value(value)


def _string(text: str) -> str:
    return '"' + "".join(_escape(mark) for mark in text) + '"'


def _block(text: str) -> str:
    """Write text with line breaks over several lines; all but the breaks is escaped as in one line."""
    return '"""\n' + "\n".join("".join(_escape(mark) for mark in line) for line in text.split("\n")) + '"""'


def _escape(mark: str) -> str:
    if mark in _ESCAPES:
        return _ESCAPES[mark]
    return f"\\u{ord(mark):04x}" if ord(mark) < 0x20 or ord(mark) == 0x7F else mark
