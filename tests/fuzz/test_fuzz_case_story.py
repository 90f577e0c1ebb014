"""The fuzz targets over a fixed set of mutated inputs: every run of the suite exercises them a little."""

from __future__ import annotations

import importlib.util
import random
from collections.abc import Callable
from pathlib import Path

import pytest

CASE = """[case]
title = "a"
[printer]
nozzle_mm = 0.4
[settings]
"Lüfter" = "50 %"
[[sign]]
id = "x"
"""
STORY = """No stringing, PETG at 240/80 — I think it's the belts.
Keine Fäden? 0,2 mm: 5 °C
Bed = 60
"""
SEEDS = {"fuzz_case": CASE.encode(), "fuzz_story": STORY.encode()}


def target(name: str) -> Callable[[bytes], None]:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    found: Callable[[bytes], None] = module.one_input
    return found


@pytest.mark.parametrize("name", list(SEEDS))
def test_mutated_inputs_do_not_crash(name: str) -> None:
    one_input, dice = target(name), random.Random(7)
    for _ in range(150):
        data = bytearray(SEEDS[name])
        for _ in range(dice.randrange(1, 8)):
            place = dice.randrange(len(data))
            change = dice.randrange(3)
            if change == 0:
                data[place] = dice.randrange(256)
            elif change == 1:
                del data[place : place + dice.randrange(1, 6)]
            else:
                data[place:place] = bytes(dice.choices(b'[]{}="\\\n\r\x00,.#:\xff\xf0\x9f', k=dice.randrange(1, 5)))
            data = data or bytearray(b"x")
        one_input(bytes(data))
