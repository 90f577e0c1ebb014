"""From what people type ("PETG", "nylon", "PA6-CF", "wood-filled PLA") to polymer and filler.

Open names only: ISO 1043 symbols and everyday chemical words, each polymer's own file listing its own.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import cache

from beadwright.errors import NotFoundError
from beadwright.knowledge.material_table import load_fillers, load_materials


def find_material(text: str) -> tuple[str, str | None]:
    """Return (polymer key, filler key or None) of a name as people type it.

    Raises NotFoundError naming the nearest known name.

    >>> find_material("PETG"), find_material("nylon"), find_material("PA6-CF15")
    (('petg', None), ('pa6', None), ('pa6', 'carbon_fibre'))
    """
    words = _words(text)
    polymer, taken = _longest(words, polymer_names())
    if polymer is None:
        raise NotFoundError(f"no polymer is called '{text.strip()}'", where="material", fix=_nearest(text))
    rest = " ".join(words).replace(taken, "|", 1).split()  # a filler's word may also be part of a polymer's name
    filler, _ = _longest(rest, filler_names())
    return polymer, filler


def match_material(text: str) -> tuple[str, str | None] | None:
    """Return the same as `find_material`, or None when no polymer is named."""
    try:
        return find_material(text)
    except NotFoundError:
        return None


@cache
def polymer_names() -> dict[str, str]:
    """Return folded name -> polymer key."""
    return {
        " ".join(_words(name)): key
        for key, entry in load_materials().items()
        for name in (key, entry.name, entry.abbreviation, *entry.also)
    }


@cache
def filler_names() -> dict[str, str]:
    """Return folded name -> filler key."""
    return {
        " ".join(_words(name)): key for key, entry in load_fillers().items() for name in (key, entry.name, *entry.also)
    }


def _words(text: str) -> list[str]:
    """Fold to lower-case words; a filler symbol stuck to the polymer, or its percentage to it, comes
    apart."""
    folded = re.sub(r"[^a-z0-9]+", " ", text.lower())
    apart = re.sub(r"\b([a-z]+\d*)(cf|gf|wd)\d*\b", _part, folded)
    return re.sub(r"\b(cf|gf|wd)\d+\b", r"\1", apart).split()


def _part(match: re.Match[str]) -> str:
    return f"{match[1]} {match[2]}" if len(match[1]) > 1 else match[0]


def _longest(words: list[str], names: dict[str, str]) -> tuple[str | None, str]:
    """Return the key of the longest run of words that is a name, and that run."""
    for length in range(min(len(words), 6), 0, -1):
        for start in range(len(words) - length + 1):
            run = " ".join(words[start : start + length])
            if run in names:
                return names[run], run
    return None, ""


def _nearest(text: str) -> str:
    close = get_close_matches(" ".join(_words(text)), polymer_names(), n=1, cutoff=0.5)
    known = ", ".join(entry.abbreviation for entry in load_materials().values())
    return f"Did you mean {close[0]}? Known are {known}" if close else f"Known are {known}"
