"""The trade's knowledge, read from its tables, validated, cross-checked and kept for the life of the process.

The tables are data that people extend without touching code, so the loader is strict: a link to
nothing, a sign that no cause can bring about, a circle of causes or a remedy that cures nothing is an
error that names file, table and key.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from beadwright.errors import KnowledgeError
from beadwright.files import read_toml
from beadwright.knowledge.cross_check import cross_check
from beadwright.knowledge.model import Cause, Caution, Check, Entry, Remedy, Sign, Source

HERE = Path(__file__).parent
KINDS: dict[str, tuple[str, type[Entry]]] = {  # table name -> where it lives, its shape
    "cause": ("causes/*.toml", Cause),
    "sign": ("signs.toml", Sign),
    "check": ("checks.toml", Check),
    "remedy": ("remedies.toml", Remedy),
    "caution": ("cautions.toml", Caution),
    "source": ("sources.toml", Source),
}
READ_ELSEWHERE = ("terms.toml",)  # and materials/: other loaders of this folder own them

Raw = dict[str, Any]
Tables = dict[str, dict[str, tuple[str, Raw]]]  # table -> id -> file, keys
E = TypeVar("E", bound=Entry)


@dataclass(frozen=True)
class Knowledge:
    """All tables by id, in the order of the files. `files` tells where each entry was (last) written."""

    causes: dict[str, Cause]
    signs: dict[str, Sign]
    checks: dict[str, Check]
    remedies: dict[str, Remedy]
    cautions: dict[str, Caution]
    sources: dict[str, Source]
    files: dict[tuple[str, str], str]  # (table, id) -> file

    def where(self, table: str, key: str) -> str:
        """Return "signs.toml: [sign.stringing]"."""
        return f"{self.files.get((table, key), 'knowledge')}: [{table}.{key}]"


def load_knowledge(extra: Path | None = None) -> Knowledge:
    """Return the shipped tables, with those of the folder `extra` merged over them; cached per process.

    `extra` has the same layout. A new id adds an entry; a known id overrides key by key, and maps of links
    (`signs`, `leads_to`, `yes`, `cures`, `phrases`) merge link by link.
    Raises KnowledgeError naming file, table and key.
    """
    return _load(None if extra is None else extra.resolve())


@cache
def _load(extra: Path | None) -> Knowledge:
    tables = _read_folder(HERE)
    if extra is not None:
        tables = _overlaid(tables, _read_folder(extra))
    knowledge = Knowledge(
        causes=_entries("cause", Cause, tables),
        signs=_entries("sign", Sign, tables),
        checks=_entries("check", Check, tables),
        remedies=_entries("remedy", Remedy, tables),
        cautions=_entries("caution", Caution, tables),
        sources=_entries("source", Source, tables),
        files={(table, key): file for table, found in tables.items() for key, (file, _) in found.items()},
    )
    cross_check(knowledge)
    return knowledge


@cache
def _read_shipped() -> Tables:
    return _read_tables(HERE)


def _read_folder(folder: Path) -> Tables:
    """Return what stands in one folder; the shipped one is parsed once per process."""
    if folder == HERE:
        return _read_shipped()
    if not folder.is_dir():
        raise KnowledgeError("there is no such folder", where=str(folder), fix="Name a folder that holds tables")
    known = {place for place, _ in KINDS.values()} | set(READ_ELSEWHERE)
    for stray in sorted(folder.glob("*.toml")):
        if stray.name not in known:
            fix = f"Call it one of {', '.join(sorted(known))}"
            raise KnowledgeError("no table of that name is read", where=str(stray), fix=fix)
    return _read_tables(folder)


def _read_tables(folder: Path) -> Tables:
    tables: Tables = {}
    for table, (place, _) in KINDS.items():
        found = tables.setdefault(table, {})
        for path in sorted(folder.glob(place)):
            name = path.name if folder == HERE else str(path)
            for key, entry in _read_file(path, table).items():
                if key in found:
                    told = f"[{table}.{key}] stands already in {found[key][0]}"
                    raise KnowledgeError(told, where=str(path), fix="Keep one of them")
                found[key] = (name, entry)
    return tables


def _overlaid(below: Tables, above: Tables) -> Tables:
    """Return `below` with the entries of `above` added or merged in; both stay as they are."""
    result: Tables = {}
    for table, entries in below.items():
        result[table] = dict(entries)
        for key, (file, entry) in above[table].items():
            old = entries[key][1] if key in entries else {}
            result[table][key] = (file, _merged(old, entry))
    return result


def _read_file(path: Path, table: str) -> dict[str, Raw]:
    """Return the entries of one file: `[<table>.<id>]` and nothing else."""
    try:
        content = read_toml(path)
    except OSError as error:
        raise KnowledgeError(f"cannot be opened: {error.strerror}", where=str(path), fix="Give a file") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise KnowledgeError(f"not readable as TOML: {error}", where=str(path), fix="Mend that place") from error
    names = {table, "sources"} if table == "source" else {table}
    for name, entries in content.items():
        if name not in names or not isinstance(entries, dict):
            raise KnowledgeError(f"'{name}' is not expected here", where=str(path), fix=f"Use [{table}.<id>] tables")
        for key, entry in entries.items():
            if not isinstance(entry, dict):
                found = f"{name}.{key} is a value, not a table"
                raise KnowledgeError(found, where=str(path), fix=f"Write it as [{table}.{key}] with keys below")
    return {key: entry for entries in content.values() for key, entry in entries.items()}


def _merged(old: Raw, new: Raw) -> Raw:
    both = {key: {**old[key], **new[key]} for key in new if _is_map(old.get(key)) and _is_map(new[key])}
    return {**old, **new, **both}


def _is_map(value: object) -> bool:
    return isinstance(value, dict)


def _entries(table: str, shape: type[E], tables: Tables) -> dict[str, E]:
    """Return validated entries of one table, or raise on the first that does not fit its shape."""
    found: dict[str, E] = {}
    for key, (file, entry) in tables[table].items():
        try:
            found[key] = shape.model_validate({"id": key, **entry})
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            name = ".".join(str(step) for step in first["loc"])
            shown = "" if isinstance(first["input"], dict) else f" (found {first['input']!r})"
            where = f"{file}: [{table}.{key}] {name}"
            raise KnowledgeError(first["msg"] + shown, where=where, fix=_fix(shape, name)) from error
    return found


def _fix(shape: type[Entry], name: str) -> str:
    """Name the known keys when the key itself is unknown."""
    if name.split(".")[0] in shape.model_fields:
        return "Give a value of that kind"
    return f"Known keys are {', '.join(key for key in shape.model_fields if key != 'id')}"
