"""The nomenclature page says what the terms say."""

from __future__ import annotations

from pathlib import Path

from beadwright.knowledge.nomenclature import nomenclature
from beadwright.knowledge.terms import load_terms

PAGE = Path(__file__).parents[2] / "docs" / "nomenclature.md"


def test_the_page_is_what_the_terms_write() -> None:
    assert PAGE.read_text("utf-8") == nomenclature()


def test_every_term_is_on_it_once() -> None:
    page = nomenclature()
    assert [page.count(f"| `{name}` |") for name in load_terms()] == [1] * len(load_terms())
