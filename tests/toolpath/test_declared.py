"""Claims harvested from comments: what is a setting, what only marks a place."""

from __future__ import annotations

import doctest

from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.toolpath import declared as module
from beadwright.toolpath.declared import MOST_CLAIMS, declared
from beadwright.toolpath.read import read_toolpath
from specimens.toolpaths import box

BEAD = "G1 X{} E{} F900\n"


def claims(text: str) -> dict[str, str]:
    return {claim.name_text: claim.value_text for claim in declared(read_toolpath(text.encode()))}


def test_the_docstring_holds() -> None:
    assert doctest.testmod(module).failed == 0


def test_claims_of_a_specimen_come_back() -> None:
    said = {"bottom layers": 4, "infill": "20 %", "Düsentemperatur": "215 °C"}
    found = declared(read_toolpath(box((10, 10, 1), claims=said).data))
    assert {claim.name_text: claim.value_text for claim in found} == {name: str(v) for name, v in said.items()}


def test_both_signs_and_brackets() -> None:
    assert claims("; wall lines: 3\n(shell thickness = 1.2 mm)\nG1 X5 E1 F900\n") == {
        "wall lines": "3",
        "shell thickness": "1.2 mm",
    }


def test_a_name_that_changes_among_the_beads_marks_places() -> None:
    text = "; height: 9\n" + "".join(BEAD.format(k, k) + f"; height: {k}\n" for k in range(1, 5)) + BEAD.format(9, 9)
    assert claims(text) == {"height": "9"}
    once = BEAD.format(1, 1) + "; spool: grey\n" + BEAD.format(2, 2)
    assert claims(once) == {"spool": "grey"}


def test_sentences_and_empty_values_are_no_claims() -> None:
    assert claims("; invented specimen, no real print\n; support =\n; = 5\n;:\nG1 X1 E1 F900\n") == {}


def test_many_claims_are_bounded() -> None:
    text = "".join(f"; n{'a' * (k % 7)} {k} = {k}\n" for k in range(MOST_CLAIMS + 500)) + "G1 X1 E1 F900\n"
    assert len(declared(read_toolpath(text.encode()))) == MOST_CLAIMS


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=80), max_size=12))
def test_any_comment_is_taken(texts: list[str]) -> None:
    data = "".join(f"; {text}\n" for text in texts) + "G1 X1 E1 F900\n"
    for claim in declared(read_toolpath(data.encode("utf-8", "replace"))):
        assert claim.name_text.strip()
        assert claim.value_text.strip()
        assert claim.line >= 1
