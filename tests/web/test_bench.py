"""The bench in a real browser: a case from its words to its outcome."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from .conftest import EXAMPLE, Bench

pytestmark = pytest.mark.browser

STORY = "Überall Fäden zwischen den Türmen, wie Spinnweben. Rolle liegt seit drei Monaten offen."


def open_case(page: Page, bench: Bench, story: str = STORY, files: tuple[str, ...] = ()) -> None:
    page.goto(f"{bench.url}/new")
    page.get_by_label("What the sender wrote").fill(story)
    page.get_by_label("Material", exact=True).fill("PETG")
    if files:
        page.get_by_label(re.compile("Toolpath, photos")).set_input_files([EXAMPLE / name for name in files])
    page.get_by_role("button", name="Open the case").click()
    page.wait_for_url(re.compile(r"/cases/\d+$"))


def chances(page: Page) -> list[str]:
    return page.locator(".causes > li").all_inner_texts()


def test_a_case_is_opened_a_check_answered_and_the_ranking_moves(page: Page, bench: Bench) -> None:
    open_case(page, bench)
    page.goto(bench.url)
    page.get_by_role("link", name=re.compile("Überall Fäden")).click()
    before = chances(page)
    page.locator("#checks").get_by_role("button", name="Yes").first.click()
    expect(page.locator(".answered li")).to_have_count(1)
    assert chances(page) != before
    assert page.locator("[data-live]").inner_text() != ""
    page.reload()  # what was acknowledged is stored, not only shown
    expect(page.locator(".answered li")).to_have_count(1)


def test_the_whole_job_works_without_javascript(browser: Browser, bench: Bench) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    open_case(page, bench)
    before = chances(page)
    page.locator("#checks").get_by_role("button", name="No").first.click()
    expect(page.locator(".answered li")).to_have_count(1)
    assert chances(page) != before
    page.get_by_role("button", name=re.compile("Take back")).click()
    expect(page.locator(".answered li")).to_have_count(0)
    assert chances(page) == before
    page.get_by_label("What it turned out to be").select_option("filament_damp")
    page.get_by_label("What proved it").fill("dry spool prints clean")
    page.get_by_role("button", name="Close the case").click()
    expect(page.locator("#outcome")).to_contain_text("Dry spool prints clean")
    page.goto(bench.url)
    expect(page.locator("#closed")).to_contain_text("It was")
    context.close()


def test_a_toolpath_file_brings_its_strip_and_its_findings(page: Page, bench: Bench) -> None:
    open_case(page, bench, files=("bracket.gcode",))
    expect(page.locator("#timeline figure.xray")).to_have_count(1)
    expect(page.locator("#timeline figure.strip")).to_have_count(1)
    expect(page.locator("#timeline table tbody tr").first).to_be_visible()
    expect(page.locator("#exhibits")).to_contain_text("layers")


def test_two_tabs_the_later_one_is_told_and_loses_nothing(page: Page, bench: Bench) -> None:
    open_case(page, bench)
    second = page.context.new_page()
    second.goto(page.url)
    page.locator("#checks").get_by_role("button", name="Yes").first.click()
    expect(page.locator(".answered li")).to_have_count(1)
    second.get_by_label("What proved it").fill("typed for ten minutes")
    second.get_by_label("What it turned out to be").select_option("filament_damp")
    second.get_by_role("button", name="Close the case").click()
    expect(second.get_by_role("heading", level=1)).to_have_text("Changed meanwhile")
    expect(second.locator("blockquote")).to_contain_text("typed for ten minutes")
    assert bench.store.list_cases()[0].status == "open"


def test_hostile_words_and_names_stay_words(page: Page, bench: Bench) -> None:
    shouted: list[str] = []
    page.on("dialog", lambda dialog: (shouted.append(dialog.message), dialog.dismiss()))
    story = "strings everywhere <script>alert(1)</script><img src=x onerror=alert(2)> {{ 7*7 }}"
    page.goto(f"{bench.url}/new")
    page.get_by_label("What the sender wrote").fill(story)
    page.get_by_label(re.compile("Toolpath, photos")).set_input_files(
        {
            "name": "<img src=x onerror=alert(3)>.txt",
            "mimeType": "text/html",
            "buffer": b"<script>alert(4)</script>",
        }
    )
    page.get_by_role("button", name="Open the case").click()
    page.wait_for_url(re.compile(r"/cases/\d+$"))
    expect(page.locator("blockquote").first).to_contain_text("<script>alert(1)</script>")
    page.goto(bench.url)
    assert shouted == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_have_no_accessibility_violations(browser: Browser, bench: Bench, scheme: str) -> None:
    context = browser.new_context(color_scheme=scheme, bypass_csp=True)  # axe is injected as a script
    page = context.new_page()
    open_case(page, bench, files=("bracket.gcode",))
    case = page.url
    found = []
    for url in (bench.url, f"{bench.url}/new", case, f"{bench.url}/library/causes?word=belt"):
        page.goto(url)
        found += [
            (url, violation["id"], violation["nodes"][0]["html"])
            for violation in Axe().run(page).response["violations"]
        ]
    context.close()
    assert found == []


def test_no_page_is_wider_than_a_phone(browser: Browser, bench: Bench) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    open_case(page, bench, files=("bracket.gcode",))
    for url in (page.url, bench.url, f"{bench.url}/new", f"{bench.url}/library/checks"):
        page.goto(url)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, url
    context.close()


def test_the_pure_modules_say_what_changed(page: Page, bench: Bench) -> None:
    page.goto(bench.url)
    said = page.evaluate(
        """async () => {
            const { leaderChange } = await import("/static/lib/ranking.js");
            const { sizeWords } = await import("/static/lib/sizes.js");
            const a = { name: "damp filament", chance: "60 %" }, b = { name: "damp filament", chance: "80 %" };
            const c = { name: "cold nozzle", chance: "70 %" };
            return [leaderChange([a], [b]), leaderChange([a], [c]), leaderChange([a], [a]), leaderChange([a], []),
                    sizeWords(512), sizeWords(1536), sizeWords(25_000_000)];
        }"""
    )
    assert said == [
        "damp filament still leads: 60 % before, 80 % now.", "Now leading: cold nozzle, 70 %.",
        "damp filament still leads with 60 %.", "No cause is ranked.", "512 bytes", "1.5 kB", "25 MB",
    ]  # fmt: skip
