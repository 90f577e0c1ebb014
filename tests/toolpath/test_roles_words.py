"""Comments matched to roles by trade words; wordings are our own."""

from __future__ import annotations

import doctest

import pytest

from beadwright.toolpath import roles_words
from beadwright.toolpath.roles import Role
from beadwright.toolpath.roles_words import roles_named


def test_the_docstring_holds() -> None:
    assert doctest.testmod(roles_words).failed == 0


@pytest.mark.parametrize(
    ("text", "role"),
    [
        ("outer wall", Role.OUTER),
        ("now the external contour", Role.OUTER),
        ("WALL, INNER", Role.INNER),
        ("inner perimeter", Role.INNER),
        ("solid fill", Role.SOLID),
        ("top skin", Role.SOLID),
        ("bottom layers", Role.SOLID),
        ("sparse infill", Role.SPARSE),
        ("infill of a bridge", Role.BRIDGE),
        ("support", Role.SUPPORT),
        ("support interface, solid fill", Role.SUPPORT),
        ("brim around part 2", Role.BRIM),
        ("skirt", Role.SKIRT),
        ("priming line", Role.SKIRT),
        ("raft, third course", Role.RAFT),
        ("wipe tower", Role.WIPE_TOWER),
        ("kind: purge tower", Role.WIPE_TOWER),
        ("Außenkontur außen", Role.OUTER),
        ("Innenwand", Role.INNER),
        ("Brücke", Role.BRIDGE),
        ("Stützen", Role.SUPPORT),
        ("paroi extérieure", Role.OUTER),
        ("relleno sólido", Role.SOLID),
        ("ponte", Role.BRIDGE),
    ],
)
def test_one_role(text: str, role: Role) -> None:
    assert roles_named(text) == {role}


@pytest.mark.parametrize("text", ["wall", "contour of island 4"])
def test_walls_leave_two_open(text: str) -> None:
    assert roles_named(text) == {Role.INNER, Role.OUTER}


@pytest.mark.parametrize(
    "text",
    [
        "layer 5 at height 1.2 mm",
        "infill = 20 %",
        "support: off",
        "brim width: 5",
        "nozzle = 210",
        "made on a Tuesday",
        "",
        "a long sentence about how the outer wall is best laid before the inner wall, for accuracy",
    ],
)
def test_no_role(text: str) -> None:
    assert roles_named(text) == frozenset()
