"""What changes where: partitions against brute force, steps and commands against files built to have them."""

from __future__ import annotations

import itertools
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.audit.changes import change_points, find_commands, find_steps, noise, steps_of
from beadwright.audit.heat_history import heat_history
from beadwright.audit.layer_series import Series, follow_outline, layer_series
from beadwright.audit.partition import best_partition
from beadwright.facts import Facts
from beadwright.knowledge.material_table import load_materials
from specimens.recipe import Recipe
from specimens.regions import Region
from specimens.toolpaths import Slice, box, build, cone, table

PLA = load_materials()["pla"]


def cost(values: np.ndarray, starts: tuple[int, ...], penalty: float) -> float:
    ends = [0, *starts, len(values)]
    parts = [values[a:b] for a, b in itertools.pairwise(ends)]
    return sum(float(((part - part.mean()) ** 2).sum()) for part in parts) + penalty * (len(parts) - 1)


def by_trying_all(values: np.ndarray, penalty: float) -> float:
    inner = range(1, len(values))
    every = itertools.chain.from_iterable(itertools.combinations(inner, r) for r in range(len(values)))
    return min(cost(values, starts, penalty) for starts in every)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-20, 20).map(lambda v: round(v, 2)), min_size=1, max_size=9),
    st.floats(0.1, 40).map(lambda v: round(v, 2)),
)
def test_the_partition_costs_no_more_than_any_other(values, penalty):
    """Pruned dynamic programming [Killick 2012] against every partition there is."""
    data = np.array(values)
    found = tuple(best_partition(data, penalty).tolist())
    assert list(found) == sorted(set(found))
    assert cost(data, found, penalty) == pytest.approx(by_trying_all(data, penalty), abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_levels_in_noise_are_found_where_they_change(seed):
    random = np.random.default_rng(seed)
    truth = [40, 97, 160]
    levels = np.repeat([0.0, 5.0, -3.0, 2.0], np.diff([0, *truth, 220]))
    found = change_points(levels + random.normal(0, 1, 220), 0.1)
    assert len(found) == 3
    assert np.abs(found - truth).max() <= 1


def test_pure_noise_and_constants_have_no_change():
    random = np.random.default_rng(5)
    assert sum(len(change_points(random.normal(0, 1, 300), 0.1)) for _ in range(20)) <= 1
    assert len(change_points(np.full(300, 7.0), 0.1)) == 0
    assert len(change_points(np.array([np.nan, 3.0]), 0.1)) == 0
    assert len(change_points(np.array([]), 0.1)) == 0


def test_a_few_large_steps_do_not_move_the_noise():
    random = np.random.default_rng(2)
    quiet = random.normal(0, 1, 400)
    jumped = quiet + np.where(np.arange(400) > 200, 500.0, 0.0)
    assert noise(jumped, 0.0) == pytest.approx(noise(quiet, 0.0), rel=0.05)
    assert noise(quiet, 0.0) == pytest.approx(1.0, rel=0.15)


def test_rarity_is_counted():
    values = np.zeros(100)
    values[30:] = 10.0
    values[60:] = 20.0
    values[80:] = 23.0
    steps = {c.layer: c for c in steps_of(Series("a", "it", "", values, 1.0, 5.0))}
    assert set(steps) == {30, 60, 80}
    assert (steps[30].like, steps[60].like, steps[80].like) == (2, 2, 3)
    assert steps[30].layers == 99
    assert steps[30].bits == pytest.approx(math.log2(99 / 2) + math.log2(3))
    assert steps[30].bits > steps[80].bits
    assert (steps[30].before, steps[30].after, steps[30].lasts) == (0, 10, 30)


def test_a_single_unlike_layer_is_seen():
    values = np.full(80, 50.0)
    values[40] = 90.0
    found = steps_of(Series("a", "it", "", values, 0.05, 0.2, relative=True))
    assert [c.layer for c in found] == [40, 41]
    assert found[0].lasts == 1
    assert found[0].step == pytest.approx(math.log(1.8))


# files built to change ----------------------------------------------------------------------------------
def at_layer(text: str, layer: int, line: str) -> str:
    """Put a line before the first move of a layer (0-based), found by the specimen's own comment."""
    mark = re.search(rf"; layer {layer + 1} at height", text)
    assert mark is not None
    return text[: mark.start()] + line + "\n" + text[mark.start() :]


def steps_in(measure, text: str, *, heat: bool = False):
    found = measure(text)
    warm = heat_history(found.moves, Facts(found.facts), PLA) if heat else None
    return find_steps(layer_series(found, warm)), find_commands(found.moves)


TALL = box((24, 24, 10), top_solid_layers=0).text


@pytest.mark.parametrize(
    ("line", "name", "before", "after"),
    [
        ("M220 S50", "speed_mm_s", 80.0, 40.0),
        ("M106 S64", "fan_percent", 100.0, 25.1),
        ("M204 P500 T500", "acceleration_mm_s2", 2000.0, 500.0),
        ("M221 S80", "bead_width_mm", 0.45, 0.45 * 0.8),
    ],
)
def test_a_change_at_a_known_layer_is_found_there(measure, line, name, before, after):
    steps, _ = steps_in(measure, at_layer(TALL, 30, line))
    here = [c for c in steps if c.name == name and c.layer > 8]
    assert len(here) == 1
    assert abs(here[0].layer - 30) <= 1
    assert here[0].before == pytest.approx(before, rel=0.25)
    assert here[0].after / here[0].before == pytest.approx(after / before, rel=0.2)  # corners are taken slower
    assert here[0].like <= 2  # beside it only the end of the first layer


def test_the_most_unusual_comes_first(measure):
    steps, _ = steps_in(measure, at_layer(TALL, 30, "M106 S64"))
    late = [c for c in steps if c.layer > 8]
    assert late[0].name == "fan_percent"


def test_temperature_core_and_weld_follow(measure):
    steps, commands = steps_in(measure, at_layer(TALL, 30, "M104 S190"), heat=True)
    assert [(c.name, c.layer, c.before, c.after) for c in commands if c.name == "nozzle_c"] == [
        ("nozzle_c", 30, 210.0, 190.0)
    ]
    assert commands[0].like == 1
    assert commands[0].line is not None
    for name in ("core_c", "weld_index"):
        mine = [c for c in steps if c.name == name and abs(c.layer - 30) <= 1]
        assert mine, name
        assert mine[0].after < mine[0].before


def test_pause_tool_change_and_next_object(measure):
    text = at_layer(at_layer(TALL, 12, "M0"), 20, "T1")
    _, commands = steps_in(measure, text)
    assert {(c.name, c.layer) for c in commands} >= {("pause", 12), ("tool_change", 20)}
    one, other = box((10, 10, 2), centre_mm=(60, 60)).text, box((10, 10, 2), centre_mm=(140, 140), prime=False).text
    _, commands = steps_in(measure, one + other)
    assert "next_object" in {c.name for c in commands}


def test_what_comes_before_and_after_the_print_is_no_change(measure):
    _, commands = steps_in(measure, TALL)
    assert commands == []


def test_sections_and_overhangs(measure):
    """A pillar of 8 x 16 mm that carries a slab of 30 x 16 mm from layer 20 on, without support."""
    spec = table(support=False)
    steps, _ = steps_in(measure, spec.text)
    overhang = next(c for c in steps if c.name == "overhang_mm2")
    assert overhang.layer == 20
    assert overhang.after == pytest.approx((30 - 8) * 16, rel=0.2)
    inside = next(c for c in steps if c.name == "inside_mm2")
    assert inside.layer == 20
    assert inside.after / inside.before == pytest.approx(30 / 8, rel=0.15)


def test_the_first_solid_layer_over_infill(measure):
    spec = box((30, 30, 6), top_solid_layers=5)
    steps, _ = steps_in(measure, spec.text)
    filled = {c.layer: c for c in steps if c.name == "filling_percent"}
    assert set(filled) == {4, 25}
    assert filled[4].after < 50 < filled[25].after


def test_outline_of_a_cone(measure):
    found = measure(cone(20.0, 5.0, 0.2).text)
    outline = follow_outline(found.moves)
    assert outline is not None
    radius = 10 + 0.2 * np.arange(25)
    assert outline.inside_mm2[1:] == pytest.approx(math.pi * radius[1:] ** 2, rel=0.12)
    growth = np.diff(outline.inside_mm2) / outline.rim_mm[1:]
    assert np.median(growth[3:]) == pytest.approx(0.2 * math.pi / 4, rel=0.35)  # the rim runs along cells: 4/pi longer


def test_where_an_outward_lean_begins(measure):
    """Upright to layer 20, then 0.35 mm further out with each layer."""
    recipe = Recipe(top_solid_layers=0)
    radii = [10 + 0.35 * max(0, k - 19) for k in range(40)]
    discs = [Region(*recipe.centre_mm, 2 * r, 2 * r, r, 72) for r in radii]
    slices = [Slice(((disc, "sparse raster" if k > 3 else "solid raster", 45.0),)) for k, disc in enumerate(discs)]
    steps, _ = steps_in(measure, build(recipe, slices).text)
    lean = [c for c in steps if c.name == "outline_step_mm"]
    assert lean
    assert abs(lean[0].layer - 20) <= 1


def test_a_steady_lean_does_not_look_like_an_event(measure):
    steps, _ = steps_in(measure, cone(16.0, 12.0, 0.15, top_solid_layers=0).text)
    late = [c for c in steps if c.layer > 8 and c.name in ("section_mm2", "inside_mm2", "layer_seconds")]
    assert late
    assert all(c.like >= 5 for c in late)


def test_many_commands_in_a_layer_are_one_event(measure):
    text = TALL
    for _ in range(3):
        text = at_layer(text, 20, "T1\nT0")
    found = [c for c in steps_in(measure, text)[1] if c.name == "tool_change"]
    assert [c.layer for c in found] == [20]


def test_a_very_long_print_is_searched_in_blocks():
    values = np.random.default_rng(1).normal(0, 1, 120_000)
    values[50_000:] += 20.0
    found = steps_of(Series("a", "it", "", values, 0.5, 1.0))
    assert 50_000 in {c.layer for c in found}
    assert len(found) < 20
