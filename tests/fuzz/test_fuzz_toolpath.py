"""The toolpath reader's fuzz target on a fixed set of inputs; needs no fuzzer."""

from __future__ import annotations

import random

import pytest

from fuzz.fuzz_toolpath import SEEDS, check, mutated


@pytest.mark.parametrize("seed", SEEDS)
def test_seeds(seed: bytes) -> None:
    check(seed)


def test_mutations() -> None:
    rng = random.Random(7)
    for _ in range(400):
        check(mutated(rng))


def test_each_cut_of_a_file() -> None:
    for seed in SEEDS:
        for length in range(len(seed)):
            check(seed[:length])
