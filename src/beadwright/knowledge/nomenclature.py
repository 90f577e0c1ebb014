"""The nomenclature page, written from the terms.

python -m beadwright.knowledge.nomenclature > docs/nomenclature.md
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from beadwright.knowledge.model import Term
from beadwright.knowledge.terms import load_terms

_GROUPS = {
    "printer": "The printer (`[printer]`)",
    "material": "The material (`[material]`)",
    "setting": "Settings (`[settings]`, claimed by a page or by the file's comments)",
    "file": "Measured in the toolpath file",
    "measured": "Measured by a person or an instrument (`[measured]`)",
}
_INTRO = """# Nomenclature

One name and one unit per quantity, for code, columns, case files, JSON and labels. Units ride in names.
Ranges are what is plausible, wide enough for any filament machine; a value outside is taken for a slip of
digit or unit. Defaults are common practice, no source. Written from `src/beadwright/knowledge/terms.toml`.
"""


def nomenclature() -> str:
    """Return the page as Markdown."""
    return "\n".join([_INTRO, *(line for group in _GROUPS for line in _section(group))])


def _section(group: str) -> Iterator[str]:
    yield f"## {_GROUPS[group]}\n"
    yield "| name | meaning | unit | plausible | default |"
    yield "|---|---|---|---|---|"
    for term in load_terms().values():
        if term.group == group:
            cells = (f"`{term.id}`", _meaning(term), _unit(term), _plausible(term), _default(term))
            yield f"| {' | '.join(cells)} |"
    yield ""


def _meaning(term: Term) -> str:
    return f"{term.name}. {term.text}" if term.text else term.name


def _unit(term: Term) -> str:
    return {"text": "text", "flag": "true or false"}.get(term.kind, "count or ratio" if term.unit == "1" else term.unit)


def _plausible(term: Term) -> str:
    if term.one_of:
        return ", ".join(term.one_of)
    return f"{term.range[0]:g} to {term.range[1]:g}" if term.range else ""


def _default(term: Term) -> str:
    if term.default is None:
        return ""
    return f"{term.default:g}" if isinstance(term.default, float | int) else term.default


if __name__ == "__main__":
    sys.stdout.write(nomenclature())
