"""Settings that a toolpath file declares in its comments: `name = value`, `name: value`.

They are claims, not facts: what the file says of itself, to be held against what its beads do. Nothing is known here
of any program's names; the words are handed on as they stand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from beadwright.toolpath.columns import Toolpath

MOST_CLAIMS = 2_000
LONGEST_VALUE = 160  # comments themselves are kept to 200 bytes
_NAME = r"(?P<name>[^\W\d_][^=:]{0,59}?)"
_CLAIM = re.compile(r"^[\s;#/*-]*" + _NAME + r"\s*[=:]\s*(?P<value>\S.*?)\s*$")


@dataclass(frozen=True)
class Claim:
    """One setting as declared."""

    name_text: str
    value_text: str
    line: int  # 1-based, of the first place that says so


def declared(toolpath: Toolpath) -> tuple[Claim, ...]:
    """Return the settings that comments declare, in the order of their lines; at most MOST_CLAIMS.

    A name that takes several values among the beads marks places (`height: 0.4`) and declares nothing there; before
    the first bead and after the last it counts all the same.

    >>> from beadwright.toolpath.read import read_toolpath
    >>> text = b"; layer height = 0.2 mm\\nG1 X10 E1 F900\\n; z: 0.2\\nG1 X0 E2\\n; z: 0.4\\nG1 X5 E3\\n"
    >>> [(claim.name_text, claim.value_text, claim.line) for claim in declared(read_toolpath(text))]
    [('layer height', '0.2 mm', 1)]
    """
    marks = toolpath.events.comment
    text, at = np.unique(np.asarray(marks.tool), return_index=True)  # the first place of each text
    parsed = [_parse(toolpath.comments[number]) if 0 <= number < len(toolpath.comments) else None for number in text]
    beads = np.flatnonzero(toolpath.is_bead)
    first, last = (int(beads[0]), int(beads[-1])) if len(beads) else (0, 0)
    values: dict[str, set[str]] = {}
    for found in parsed:
        if found is not None:
            values.setdefault(found[0].casefold(), set()).add(found[1])
    claims = []
    for found, row in zip(parsed, at.tolist(), strict=True):
        if found is None:
            continue
        among_beads = first < marks.move[row] <= last
        if not (among_beads and len(values[found[0].casefold()]) > 1):
            claims.append(Claim(*found, int(marks.line[row])))
    return tuple(sorted(claims, key=lambda claim: claim.line)[:MOST_CLAIMS])


def _parse(text: str) -> tuple[str, str] | None:
    found = _CLAIM.match(text)
    if found is None or len(found["value"]) > LONGEST_VALUE:
        return None
    return found["name"].strip(), found["value"]
