"""Reading a case file: TOML, or JSON with the same keys. Written by hand for us, so read strictly.

All that is wrong is told at once, each with its line where that can be found, and what would do.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError

from beadwright.case.model import AnswerLine, Case, Dried, ExhibitLine, Section, SignLine, TrialLine
from beadwright.errors import CaseError
from beadwright.knowledge.terms import nearest

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

MOST_BYTES = 5_000_000
MOST_PROBLEMS = 10
# a key of twenty parts is no case's; the TOML decoder takes quadratic time over very long ones
_LONG_KEY = re.compile(r"(?:^|[\[{,])[ \t]*(?:[\w\"'-]{1,200}[ \t]*\.[ \t]*){20}", re.MULTILINE)
_TABLES: dict[str, type[Section]] = {
    "sign": SignLine,
    "answer": AnswerLine,
    "trial": TrialLine,
    "exhibit": ExhibitLine,
    "dried": Dried,
}


class CaseProblemsError(CaseError):
    """What is wrong in one case file: `problems` holds the first as sentences, `more` counts the rest."""

    def __init__(self, problems: list[str], where: str, more: int = 0) -> None:
        self.problems = tuple(problems)
        self.more = more
        super().__init__("\n".join([*problems, *([f"and {more} more"] if more else [])]), where=where)


def read_case(source: Path | str, name: str | None = None, *, knowledge: Knowledge | None = None) -> Case:
    """Return the case in a file (a Path) or in text.

    `name` is what errors call it. With `knowledge`, the ids of signs and checks are held against it.
    Raises CaseError: unreadable, too large, no UTF-8, no TOML or JSON, unknown keys, values out of range.
    """
    where = name or (source.name if isinstance(source, Path) else "the case")
    text = _file_text(source, where) if isinstance(source, Path) else source
    if len(text) > MOST_BYTES:
        raise CaseError(f"{len(text)} characters are more than the {MOST_BYTES} a case may have", where=where)
    return check_case(_parse(text, where), where, text=text, knowledge=knowledge)


def check_case(
    raw: dict[str, Any], where: str = "the case", *, text: str = "", knowledge: Knowledge | None = None
) -> Case:
    """Return the case that a table states; raises CaseError telling all that is wrong in it.

    `text` is the source, for line numbers.
    """
    try:
        case = Case.model_validate(raw)
    except ValidationError as error:
        found = error.errors(include_url=False)
        problems = list(dict.fromkeys(_sentence(dict(one), text) for one in found[:MOST_PROBLEMS]))
        raise CaseProblemsError(problems, where, more=max(0, len(found) - MOST_PROBLEMS)) from None
    if knowledge is not None and (problems := list(_unknown_ids(case, knowledge))):
        raise CaseProblemsError(problems[:MOST_PROBLEMS], where, more=max(0, len(problems) - MOST_PROBLEMS))
    return case


def _file_text(path: Path, where: str) -> str:
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise CaseError(f"cannot be opened: {error.strerror or error}", where=where, fix="Name a case file") from error
    if len(data) > MOST_BYTES:
        raise CaseError(
            f"more than {MOST_BYTES} bytes, too large for a case",
            where=where,
            fix="Hand exhibits in as files",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CaseError(
            f"line {line} holds bytes that are no UTF-8", where=where, fix="Save it as UTF-8 text"
        ) from error


def _parse(text: str, where: str) -> dict[str, Any]:
    as_json = text.lstrip("\ufeff \t\r\n").startswith("{")
    if not as_json and (long_key := _LONG_KEY.search(text)):
        line = text.count("\n", 0, long_key.end()) + 1
        raise CaseError(f"line {line} holds a key of many parts", where=where, fix="See `beadwright schema case`")
    try:
        raw = _json(text) if as_json else tomllib.loads(text.removeprefix("\ufeff"))
    except RecursionError as error:
        raise CaseError("tables are nested too deeply", where=where, fix="See `beadwright schema case`") from error
    except ValueError as error:  # both decoders' errors are ValueErrors that name the line
        kind = "JSON" if as_json else "TOML"
        raise CaseError(f"no valid {kind}: {_line_first(str(error))}", where=where, fix="Mend that line") from error
    return raw


def _json(text: str) -> dict[str, Any]:
    def no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        table = dict(pairs)
        if len(table) != len(pairs):
            keys = [key for key, _ in pairs]
            twice = next(key for key in keys if keys.count(key) > 1)
            raise ValueError(f"the key {twice!r} is given twice")
        return table

    def no_constant(word: str) -> Any:
        raise ValueError(f"the word {word} is no number")

    raw = json.loads(text, object_pairs_hook=no_twins, parse_constant=no_constant)
    if not isinstance(raw, dict):
        raise ValueError("the outermost value must be an object")
    return raw


def _line_first(message: str) -> str:
    """Put the line of a decoder's message first: "Invalid value (at line 3, column 5)"."""
    found = re.search(r"line (\d+),? column \d+", message)
    said = re.sub(r"\s*[(:]\s*(?:at )?line \d+.*$", "", message)
    said = said.replace("(at end of document)", "at the end")[:200]
    said = said[:1].lower() + said[1:] if said[1:2].islower() else said
    return f"line {found[1]}, {said}" if found else said


def _sentence(error: dict[str, Any], text: str) -> str:
    place = list(error["loc"])
    if len(place) > 1 and place[-1] == "[key]":  # pydantic's mark for the key itself; a file may hold such a key too
        place.pop()
    line = _find_line(text, place)
    said = _complaint(error, place)
    gap = "" if said.startswith(":") else " "
    return f"{f'line {line}, ' if line else ''}{_name_place(place)}{gap}{said}"


def _name_place(place: list[Any]) -> str:
    """Name a place as the file writes it: ("sign", 1, "id") is "[[sign]] 2 id"."""
    if not place:
        return "the case"
    head, rest = str(place[0]), place[1:]
    if rest and isinstance(rest[0], int):
        head, rest = f"[[{head}]] {rest[0] + 1}", rest[1:]
    else:
        head = f"[{head}]"
    return " ".join([head, *(str(part)[:60] for part in rest)])


def _complaint(error: dict[str, Any], place: list[Any]) -> str:
    kind, context = error["type"], error.get("ctx", {})
    if kind == "extra_forbidden":
        near = nearest(str(place[-1]), _known_keys(place[:-1]), cutoff=0.5)
        keys = ", ".join(_known_keys(place[:-1]))
        return f"is not a known key; did you mean {near}?" if near else f"is not a known key; known are {keys}"
    if kind == "missing":
        return "is missing and must be given"
    if kind == "value_error":
        return f": {context.get('error', error['msg'])}"
    message = error["msg"][:1].lower() + error["msg"][1:].removeprefix("Input ")
    shown = repr(error.get("input"))
    return f"is {shown if len(shown) <= 60 else shown[:57] + '…'}; {message.removeprefix('input ')}"


def _known_keys(place: list[Any]) -> list[str]:
    """Return the keys allowed at a place."""
    model: type[BaseModel] = Case
    for part in place:
        if isinstance(part, int):
            continue
        if part in _TABLES:
            model = _TABLES[part]
        elif part in Case.model_fields and isinstance(default := Case.model_fields[part].default, BaseModel):
            model = type(default)
    return list(model.model_fields)


def _find_line(text: str, place: list[Any]) -> int | None:
    """Return the 1-based line on which a key stands in TOML; None where it cannot be told."""
    keys = [str(part) for part in place if not isinstance(part, int)]
    if not keys or text.lstrip().startswith("{"):
        return None
    wanted = next((part for part in place if isinstance(part, int)), 0) + 1
    key = re.compile(rf"^\s*\"?{re.escape(keys[-1])}\"?\s*=")
    header = re.compile(rf"^\s*\[\[?\s*\"?{re.escape(keys[0])}\"?\s*\]")
    here, seen, opened = len(keys) == 1, 0, None
    for number, line in enumerate(text.splitlines(), 1):
        if header.match(line):
            seen += 1
            here = seen == wanted or not line.lstrip().startswith("[[")
            opened = number if here else opened
        elif line.lstrip().startswith("["):
            here = False
        elif here and key.match(line):
            return number
    return opened


def _unknown_ids(case: Case, knowledge: Knowledge) -> Iterator[str]:
    for number, sign in enumerate(case.sign, 1):
        if sign.id not in knowledge.signs:
            yield f"[[sign]] {number} id {_unknown(sign.id, list(knowledge.signs), 'signs')}"
    for number, answer in enumerate(case.answer, 1):
        if answer.check not in knowledge.checks:
            yield f"[[answer]] {number} check {_unknown(answer.check, list(knowledge.checks), 'checks')}"


def _unknown(found: str, known: list[str], what: str) -> str:
    near = nearest(found, known, cutoff=0.5)
    return f"{found!r} is not known; " + (f"did you mean {near}?" if near else f"see `beadwright {what}`")
