"""A case from the command line's arguments, without writing a file first."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from beadwright.case.model import Case
from beadwright.case.read import check_case
from beadwright.errors import CaseError
from beadwright.knowledge.terms import load_terms, nearest

_PRINTER_WORDS: dict[str, tuple[str, Any]] = {
    **{word: ("kinematics", word) for word in load_terms()["kinematics"].one_of or ()},
    **{word: ("extruder", word) for word in load_terms()["extruder"].one_of or ()},
    "enclosed": ("enclosed", True),
    "open": ("enclosed", False),
    "moving_bed_y": ("moving_bed", "y"),
    "moving_bed_z": ("moving_bed", "z"),
    "fixed_bed": ("moving_bed", "none"),
}


def case_from_arguments(
    files: Sequence[Path | str] = (),
    story: str = "",
    material: str | None = None,
    printer: str | None = None,
    settings: Mapping[str, Any] | None = None,
) -> Case:
    """Return the case that a command line states; any part may be missing.

    `printer` takes words ("corexy", "cartesian bowden moving-bed-y") and keys ("nozzle_mm=0.6"),
    parted by spaces or commas. Exhibits keep the path they were named by.
    Raises CaseError as `read_case` does.
    """
    raw: dict[str, Any] = {"case": {"story": story}, "exhibit": [{"file": str(file)} for file in files]}
    if material:
        raw["material"] = {"polymer": material}
    if printer:
        raw["printer"] = dict(_printer_word(word) for word in re.split(r"[\s,;+]+", printer.strip()) if word)
    if settings:
        raw["settings"] = dict(settings)
    return check_case(raw, "command line")


def _printer_word(word: str) -> tuple[str, Any]:
    key, equals, value = word.partition("=")
    if equals:
        return key.strip(), _number_or_text(value.strip())
    plain = re.sub(r"[\s-]+", "_", word.casefold())
    if plain in _PRINTER_WORDS:
        return _PRINTER_WORDS[plain]
    near = nearest(plain, _PRINTER_WORDS, cutoff=0.5)
    fix = f"Did you mean {near}?" if near else "Words: " + ", ".join(_PRINTER_WORDS)
    raise CaseError(f"{word!r} says nothing known of a printer", where="command line, printer", fix=fix)


def _number_or_text(value: str) -> float | str | bool:
    try:
        return float(value.replace(",", "."))
    except ValueError:
        return {"true": True, "false": False}.get(value.casefold(), value)
