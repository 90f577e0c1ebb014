"""The examples in the models' docstrings hold."""

import doctest
import importlib
import pkgutil

import pytest

import beadwright.physics

MODULES = sorted(module.name for module in pkgutil.iter_modules(beadwright.physics.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name: str) -> None:
    module = importlib.import_module(f"beadwright.physics.{name}")
    result = doctest.testmod(module)
    assert result.failed == 0
    assert result.attempted > 0 or name == "arguments"
