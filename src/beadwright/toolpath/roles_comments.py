"""Comments held against what the beads tell: they confirm or overrule, and disagreement is counted."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from beadwright.toolpath.columns import Toolpath
from beadwright.toolpath.roles_model import REASONS, Role, Roles
from beadwright.toolpath.roles_words import default, roles_named

ENOUGH_NAMED = 0.6  # share of bead length; comments that name less do not part the moves
ENOUGH_AGREEMENT = 0.4  # comments that agree less with the beads are not about them
BY_COMMENT = REASONS.index("a comment names it")


def with_comments(toolpath: Toolpath, roles: Roles) -> Roles:
    """Return `roles` confirmed or overruled by the comments of `toolpath`, and how far the two agree."""
    named = [roles_named(text) for text in toolpath.comments]
    marks = toolpath.events.comment
    text = np.asarray(marks.tool, np.int64)
    tells = np.array([bool(roles_of) for roles_of in named] + [False])
    keep = tells[text] if len(text) else np.zeros(0, np.bool_)
    move, text = np.asarray(marks.move, np.int64)[keep], text[keep]
    if not len(move):
        return roles
    sets = sorted({roles_of for roles_of in named if roles_of}, key=sorted)
    number = {roles_of: i for i, roles_of in enumerate(sets)}
    of_text = np.array([number.get(roles_of, -1) for roles_of in named], np.int16)
    counts = np.diff(np.append(move, len(toolpath)), prepend=0)
    said = np.repeat(np.append(np.int16(-1), of_text[text]), counts)
    return _held(toolpath, roles, sets, said)


def _held(toolpath: Toolpath, roles: Roles, sets: list[frozenset[Role]], said: NDArray[np.int16]) -> Roles:
    """Compare by length; overrule where the comments can be trusted. `said` (n,) is the set named, or -1."""
    width = len(Role)
    length = bead_length(toolpath)
    key = (said.astype(np.int64) + 1) * width + roles.role
    table = np.bincount(key, length, (len(sets) + 1) * width).reshape(-1, width)
    total, named = float(table.sum()), float(table[1:].sum())
    if named <= 0:
        return roles
    allowed = np.array([[one in roles_of for one in Role] for roles_of in sets])
    wanted = np.array([default(roles_of) for roles_of in sets], np.uint8)
    agreement = float(table[1:][allowed].sum()) / named
    pairs: dict[tuple[Role, Role], float] = {}
    for i, row in enumerate(table[1:]):
        for seen in Role:
            if row[seen] > 0 and not allowed[i, seen]:
                pair = (seen, Role(wanted[i]))
                pairs[pair] = pairs.get(pair, 0.0) + float(row[seen]) / named
    told_apart = len({wanted[i] for i, row in enumerate(table[1:]) if row.sum() > 0}) > 1
    trusted = told_apart and named >= ENOUGH_NAMED * total and agreement >= ENOUGH_AGREEMENT
    role, reason = roles.role, roles.reason
    if trusted and pairs:
        overruled = (said >= 0) & (length > 0)
        at = np.flatnonzero(overruled)
        at = at[~allowed[said[at], role[at]]]
        role, reason = role.copy(), reason.copy()
        role[at], reason[at] = wanted[said[at]], BY_COMMENT
    return replace(
        roles,
        role=role,
        reason=reason,
        from_comments=named / total if total > 0 else 0.0,
        agreement=agreement if math.isfinite(agreement) else math.nan,
        disagreements=tuple((a, b, share) for (a, b), share in sorted(pairs.items(), key=lambda p: -p[1])),
        comments_trusted=trusted,
    )


def bead_length(toolpath: Toolpath) -> NDArray[np.float32]:
    """Return the path length of each bead, mm, `(n,)`; 0 for other moves."""
    square = np.zeros(len(toolpath), np.float32)
    for axis, ends in enumerate((toolpath.x, toolpath.y, toolpath.z)):
        step = np.diff(ends, prepend=toolpath.start[axis]).astype(np.float32)
        square += step * step
    square[~toolpath.is_bead] = 0
    return np.sqrt(square)
