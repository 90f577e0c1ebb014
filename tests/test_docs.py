"""What the pages say must be so."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from beadwright.case.read import read_case
from beadwright.knowledge.load import load_knowledge

ROOT = Path(__file__).parent.parent
sys.path.insert(0, str(ROOT / "tools"))


def test_the_case_file_page_shows_a_case_that_can_be_read() -> None:
    page = (ROOT / "docs" / "case-file.md").read_text("utf-8")
    example = re.search(r"```toml\n(.*?)```", page, re.DOTALL)
    assert example
    case = read_case(example[1], knowledge=load_knowledge())
    assert case.unread() == []


PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *(ROOT / "benchmarks").glob("*.md")])


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text("utf-8")):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert (page.parent / target).exists(), target


def test_the_reference_pages_are_what_the_code_would_write() -> None:
    import build_docs

    for name, text in build_docs.pages().items():
        assert (ROOT / "docs" / "reference" / name).read_text("utf-8") == text, f"run `make docs`: {name} is stale"
