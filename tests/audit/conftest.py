"""What audit tests share: from a specimen's text to measured facts, and to findings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from beadwright.audit.file_facts import FileFacts, facts_from_file
from beadwright.facts import Fact, Facts, Origin
from beadwright.motion.limits import limits_from
from beadwright.motion.plan import plan
from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath


def told(**values: Any) -> Facts:
    """Facts as a person would have typed them."""
    return Facts(Fact(name, value, Origin.CLAIM, "[settings]") for name, value in values.items())


def measured(text: str | bytes, known: Facts | None = None) -> FileFacts:
    data = text.encode() if isinstance(text, str) else text
    toolpath = read_toolpath(data, name="part.gcode")
    return facts_from_file(toolpath, find_layers(toolpath), plan(toolpath, limits_from(toolpath, known)), known)


@pytest.fixture(scope="session")
def measure() -> Callable[..., FileFacts]:
    return measured


@pytest.fixture(scope="session")
def tell() -> Callable[..., Facts]:
    return told


@pytest.fixture(scope="session")
def value_of() -> Callable[[FileFacts, str], Any]:
    def value(found: FileFacts, name: str) -> Any:
        fact = Facts(found.facts).best(name)
        return None if fact is None else fact.value

    return value
