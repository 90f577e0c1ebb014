"""The material tables, read once per process and checked: one file an entry, so that adding a polymer is
adding a file."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from beadwright.errors import KnowledgeError
from beadwright.files import read_toml
from beadwright.knowledge.material_shapes import Filler, Material, NozzleMetal

__all__ = [
    "Filler",
    "Material",
    "NozzleMetal",
    "load_fillers",
    "load_materials",
    "load_nozzle_metals",
    "read_entry",
    "tags_in",
]

HERE = Path(__file__).parent
Shape = TypeVar("Shape", bound=BaseModel)


@cache
def load_materials() -> dict[str, Material]:
    """Return the polymers by key, sorted. Raises KnowledgeError naming file and key."""
    return _load(HERE / "materials", Material)


@cache
def load_fillers() -> dict[str, Filler]:
    """Return the fillers by key, sorted."""
    return _load(HERE / "fillers", Filler)


@cache
def load_nozzle_metals() -> dict[str, NozzleMetal]:
    """Return the nozzle materials by key, sorted."""
    return _load(HERE / "nozzle_metals", NozzleMetal)


def read_entry(path: Path, shape: type[Shape]) -> Shape:
    """Return one file as its shape, the file's name being the key; KnowledgeError says what does not fit."""
    try:
        content = read_toml(path)
        return shape.model_validate({"key": path.stem, **content})
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise KnowledgeError(f"not readable as TOML: {error}", where=str(path), fix="Mend that place") from error
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(step) for step in first["loc"]) or "the entry"
        raise KnowledgeError(f"{key}: {first['msg']}", where=str(path), fix="Compare with its neighbours") from error


def tags_in(entry: BaseModel) -> Iterator[str]:
    """Yield every source tag cited anywhere in an entry."""
    yield from _tags(entry.model_dump())


def _tags(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "source":
                yield from inner
            else:
                yield from _tags(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _tags(inner)


@cache
def _known_tags() -> frozenset[str]:
    # Only the names are needed here: reading the table's headings is far quicker than parsing it.
    text = (HERE / "sources.toml").read_text(encoding="utf-8")
    return frozenset(line[8:-1] for line in text.splitlines() if line.startswith("[source."))


def _load(folder: Path, shape: type[Shape]) -> dict[str, Shape]:
    found = {}
    for path in sorted(folder.glob("*.toml")):
        entry = read_entry(path, shape)
        for tag in tags_in(entry):
            if tag not in _known_tags():
                raise KnowledgeError(
                    f"source '{tag}' is cited but not listed", where=str(path), fix="Add it to sources.toml"
                )
        found[path.stem] = entry
    return found
