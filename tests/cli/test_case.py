"""`beadwright case …`: what is typed, what is printed where, what is kept."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from beadwright.cli import case
from beadwright.errors import CaseError, ExhibitError, InputError, NotFoundError
from beadwright.knowledge.load import load_knowledge
from beadwright.shop.location import find_shop
from beadwright.shop.store import Store

Run = Callable[..., Result]
STORY = "went sideways at about 18 mm, clicking before that"


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BEADWRIGHT_SHOP", str(tmp_path / "shop"))
    return tmp_path / "shop"


@pytest.fixture
def run(shop: Path) -> Run:
    app = typer.Typer()
    case.register(app)

    def invoke(*words: object) -> Result:
        result = CliRunner().invoke(app, ["case", *map(str, words)])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return invoke


@pytest.fixture
def check() -> str:
    return next(iter(load_knowledge().checks))


def kept(shop: Path, number: int = 1):
    with Store.open(find_shop(shop)) as store:
        return store.get(number)


def test_a_story_alone_opens_a_case(run: Run, shop: Path) -> None:
    result = run("new", "--story", STORY, "--title", "Hinge pin")
    assert result.stdout == "case 1 opened: Hinge pin (0 exhibits)\n"
    assert (kept(shop).story, kept(shop).title) == (STORY, "Hinge pin")


def test_a_case_file_brings_the_exhibits_beside_it(run: Run, shop: Path, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "left.jpg").write_bytes(b"left")
    (tmp_path / "extra.gcode").write_bytes(b"G1 X1 E1")
    (tmp_path / "case.toml").write_text(
        f'[case]\nstory = "{STORY}"\n[[exhibit]]\nfile = "photos/left.jpg"\nkind = "photo"\nnote = "from the left"\n'
    )
    result = run("new", tmp_path / "case.toml", tmp_path / "extra.gcode")
    assert "(2 exhibits)" in result.stdout
    row = kept(shop)
    assert [(one.name, one.kind, one.note) for one in row.exhibits] == [
        ("left.jpg", "photo", "from the left"), ("extra.gcode", "", ""),
    ]  # fmt: skip
    assert [line.file for line in row.case().exhibit] == ["left.jpg", "extra.gcode"]


@pytest.mark.parametrize(
    "file", ["../secret.txt", "/etc/hostname", "C:\\\\secret.txt", "a/../../secret.txt", "..\\\\s"]
)
def test_a_case_file_cannot_fetch_files_from_elsewhere(run: Run, shop: Path, tmp_path: Path, file: str) -> None:
    (tmp_path / "secret.txt").write_text("mine")
    folder = tmp_path / "from a stranger"
    folder.mkdir()
    (folder / "case.toml").write_text(f'[case]\nstory = "look"\n[[exhibit]]\nfile = "{file}"\n')
    with pytest.raises(CaseError, match="outside the case file's folder"):
        run("new", folder / "case.toml")
    assert run("list", "--status", "all").stdout == ""


def test_a_missing_exhibit_opens_nothing(run: Run, tmp_path: Path) -> None:
    with pytest.raises(ExhibitError, match=r"gone\.jpg: cannot be read"):
        run("new", tmp_path / "gone.jpg", "--story", STORY)
    assert run("list", "--status", "all").stdout == ""


def test_nothing_at_all_opens_nothing(run: Run) -> None:
    with pytest.raises(CaseError, match="nothing"):
        run("new")


def test_add_names_each_exhibit_once_it_is_kept(run: Run, shop: Path, tmp_path: Path) -> None:
    run("new", "--story", STORY)
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(name.encode())
    result = run("add", 1, tmp_path / "a.jpg", tmp_path / "b.jpg", "--kind", "photo", "--note", "in daylight")
    lines = result.stdout.splitlines()
    assert [line.split("SHA-256 ")[1].rstrip(")") for line in lines] == [
        hashlib.sha256(name).hexdigest() for name in (b"a.jpg", b"b.jpg")
    ]
    assert {(one.kind, one.note) for one in kept(shop).exhibits} == {("photo", "in daylight")}


def test_adding_stops_at_the_first_that_cannot_be_read_and_keeps_those_before(run: Run, shop: Path, tmp_path) -> None:
    run("new", "--story", STORY)
    (tmp_path / "a.jpg").write_bytes(b"a")
    with pytest.raises(ExhibitError):
        run("add", 1, tmp_path / "a.jpg", tmp_path / "gone.jpg")
    assert [one.name for one in kept(shop).exhibits] == ["a.jpg"]


def test_answers_are_kept_and_an_unknown_check_is_met_with_the_nearest(run: Run, shop: Path, check: str) -> None:
    run("new", "--story", STORY)
    assert run("answer", 1, check, "no").stdout == f"case 1: {check} answered no\n"
    assert [(line.check, line.result) for line in kept(shop).case().answer] == [(check, "no")]
    with pytest.raises(NotFoundError, match=f"Did you mean {check}"):
        run("answer", 1, check + "x", "no")
    assert run("answer", 1, check, "blue").exit_code == 2


def test_a_case_is_closed_listed_reopened_and_undone(run: Run, shop: Path) -> None:
    run("new", "--story", STORY)
    run("new", "--title", "Second", "--story", "it split")
    assert "it was belt_slack" in run("close", 1, "--cause", "belt_slack", "--note", "38 Hz").stdout
    assert kept(shop).outcome.note == "38 Hz"
    assert "Second" in run("list").stdout
    assert "sideways" not in run("list").stdout
    assert "it was belt_slack" in run("list", "--status", "closed").stdout
    assert "waits for our check" in run("reopen", 1).stdout
    assert "(reopened) is taken back" in run("undo", 1).stdout
    assert kept(shop).outcome.cause == "belt_slack"
    assert "the plate slid" in run("close", 2, "--other", "the plate slid").stdout
    assert run("list").stderr == "no open cases\n"


def test_closing_needs_a_known_cause_or_words(run: Run) -> None:
    run("new", "--story", STORY)
    with pytest.raises(NotFoundError, match="Did you mean belt_slack"):
        run("close", 1, "--cause", "belt_slak")
    with pytest.raises(InputError, match="what it turned out to be"):
        run("close", 1)


def test_the_list_as_json_is_one_document(run: Run) -> None:
    run("new", "--story", "öäü <b>", "--title", "T")
    (listed,) = json.loads(run("list", "--json").stdout)
    assert (listed["number"], listed["title"], listed["status"], listed["outcome"]) == (1, "T", "open", None)
    assert json.loads(run("list", "--json", "--status", "closed").stdout) == []


def test_the_shop_named_on_the_line_comes_before_the_environments(run: Run, tmp_path: Path) -> None:
    run("new", "--story", STORY, "--shop", tmp_path / "other")
    assert run("list", "--json").stdout.strip() == "[]"
    assert kept(tmp_path / "other").number == 1


def test_show_works_the_case_up_keeps_the_answer_and_moves_with_a_check(run: Run, shop: Path) -> None:
    run(
        "new",
        "--story",
        "The layers shifted to the left at 18 mm. I heard loud clicking.",
        "--printer",
        "corexy",
    )
    first = json.loads(run("show", 1, "--json").stdout)
    assert first["format"] == "beadwright.diagnosis/1"
    from beadwright import __version__

    with Store.open(find_shop(shop)) as store:
        assert json.loads(store.kept_diagnosis(1, __version__)) == first
    run("answer", 1, first["next_checks"][0]["id"], "yes")
    second = json.loads(run("show", 1, "--json").stdout)
    odds = [{one["id"]: one["probability"] for one in answer["causes"]} for answer in (first, second)]
    assert odds[0] != odds[1]
    assert "case 1, open since" in run("show", 1).stdout


def test_a_failure_is_one_sentence_on_stderr_and_an_exit_code(shop: Path) -> None:
    found = subprocess.run(
        [sys.executable, "-m", "beadwright", "case", "show", "9"], capture_output=True, text=True, timeout=120
    )
    assert found.returncode == 2
    assert found.stdout == ""
    assert found.stderr == "beadwright: there is no case 9. `beadwright case list` shows those there are.\n"


def test_nothing_heavy_is_imported_before_a_command_runs() -> None:
    heavy = ("sqlalchemy", "alembic", "pydantic", "numpy")
    asked = f"import sys, beadwright.cli.case; print([m for m in {heavy} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, timeout=120)
    assert found.stdout == "[]\n", found.stderr
