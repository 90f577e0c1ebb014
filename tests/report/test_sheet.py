"""The case sheet as one file."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from beadwright.case.quick import case_from_arguments
from beadwright.report.sheet import render_sheet
from beadwright.workup import work_up


class Outline(HTMLParser):
    """Collects tags and checks that they nest."""

    VOID = frozenset({"meta", "link", "img", "input", "br", "path", "line", "rect"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag


def sheet(story: str = "strings everywhere and it pops") -> str:
    return render_sheet(work_up(case_from_arguments((), story=story, material="PETG")))


def test_the_sheet_needs_nothing_from_anywhere() -> None:
    page = sheet()
    assert not re.search(r"""(?:src|href)=["'](?!#|data:)""", page)
    assert "<script" not in page


def test_the_sheet_is_well_formed_and_in_order() -> None:
    page = sheet("strings")  # not enough to settle anything, so every entry is there
    outline = Outline()
    outline.feed(page)
    assert outline.open == []
    assert outline.seen.count("h1") == 1
    order = [page.index(f'id="{part}"') for part in ("story", "exhibits", "causes", "checks", "plan")]
    assert order == sorted(order)


def test_what_was_read_in_the_story_is_marked_where_it_stands() -> None:
    marked = re.findall(r"<mark[^>]*>([^<]*)</mark>", sheet())
    assert any("strings" in text for text in marked)
    assert any("pops" in text for text in marked)


def test_hostile_words_are_shown_as_words() -> None:
    page = sheet('<script>alert(1)</script> "><img src=x> strings {{ 7*7 }}')
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;" in page
    assert "{{ 7*7 }}" in page


def test_every_caution_of_the_answer_leads_the_sheet() -> None:
    workup = work_up(case_from_arguments((), story="the heater wire is burnt and smells, display shows a heater error"))
    page = render_sheet(workup)
    assert workup.diagnosis.cautions
    first_entry = page.index('<section class="entry"')
    assert page.index("Caution") < first_entry
