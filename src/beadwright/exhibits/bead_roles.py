"""What each bead of a file that was looked at is for, and what follows from it for the file as a whole."""

from __future__ import annotations

import numpy as np

from beadwright.exhibits.toolpath_file import LookResult
from beadwright.toolpath.roles_model import Role, Roles


def bead_roles(result: LookResult) -> Roles | None:
    """Return the role of every bead; None for a file without beads in layers."""
    found = result.measured.by_role
    return found.roles if found is not None else None


def role_values(result: LookResult, roles: Roles) -> dict[str, float]:
    """Return the share of plastic of each role, and in how many layers the outer contour comes first.

    Names: share_<role>_percent, outer_before_inner_percent.
    """
    moves = result.measured.moves
    plastic = np.where(moves.bead, moves.volume, 0.0)
    share = 100 * np.bincount(roles.role, plastic, len(Role)) / max(float(plastic.sum()), 1e-9)
    named = [role for role in Role if role is not Role.UNKNOWN]
    out = {f"share_{role.words.replace(' ', '_')}_percent": float(share[role]) for role in named}
    first = outer_first(result, roles)
    return out | ({} if first is None else {"outer_before_inner_percent": 100 * first})


def outer_first(result: LookResult, roles: Roles) -> float | None:
    """Return the share of layers that begin their outer contours before their inner ones; None without both."""
    layer = np.asarray(result.layers.index)
    begins = []
    for role in (Role.OUTER, Role.INNER):
        at = np.flatnonzero((roles.role == role) & (layer >= 0))
        first = np.full(len(result.layers), len(layer), np.int64)
        np.minimum.at(first, layer[at], at)
        begins.append(first)
    both = (begins[0] < len(layer)) & (begins[1] < len(layer))
    return float((begins[0] < begins[1])[both].mean()) if both.any() else None
