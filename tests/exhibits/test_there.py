"""What happens there: places as people name them, changes known by construction, and the JSON against its schema."""

from __future__ import annotations

import json
import re
from itertools import pairwise

import jsonschema
import pytest
from scipy.stats import binom

from beadwright.errors import InputError
from beadwright.exhibits.place import parse_marks, parse_place
from beadwright.exhibits.there import _tail, there_schema, what_happens
from beadwright.exhibits.toolpath_file import look
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.material_table import load_materials
from specimens.toolpaths import box, table, vase

SCHEMA = there_schema()
PLA = Facts([Fact("polymer", "pla", Origin.RECORD, "the case")])


def at_layer(text: str, layer: int, line: str) -> str:
    mark = re.search(rf"; layer {layer + 1} at height", text)
    assert mark is not None
    return text[: mark.start()] + line + "\n" + text[mark.start() :]


def looked(text: str, facts: Facts | None = PLA):
    return look(text.encode(), name="part.gcode", facts=facts, materials=load_materials())


def asked(result, *places: str):
    page = what_happens(result, [parse_place(place) for place in places])
    document = json.loads(json.dumps(page.model_dump(), allow_nan=False))
    jsonschema.validate(document, SCHEMA)
    return page


TALL = box((24, 24, 10), top_solid_layers=4).text


@pytest.fixture(scope="module")
def changed():
    """Cooler and with less air from layer 31 (1-based, z 6.2 mm) on."""
    return looked(at_layer(TALL, 30, "M104 S190\nM106 S64"))


@pytest.mark.parametrize(
    ("text", "clock", "value"),
    [
        ("18.2mm", "z", 18.2),
        ("18,2 mm", "z", 18.2),
        ("18.2", "z", 18.2),
        ("z:3", "z", 3.0),
        ("height: 3mm", "z", 3.0),
        ("layer:61", "layer", 61.0),
        ("LINE:14210", "line", 14210.0),
        ("time:1h12m", "s", 4320.0),
        ("time:1h 2m 3s", "s", 3723.0),
        ("time:12min", "s", 720.0),
        ("time:1.5h", "s", 5400.0),
        ("time:90", "s", 90.0),
    ],
)
def test_places_as_people_name_them(text, clock, value):
    place = parse_place(text)
    assert (place.clock, place.value) == (clock, pytest.approx(value))


@pytest.mark.parametrize(
    "text",
    ["", "here", "layer:", "layer:1.5", "layer:0", "layer:3mm", "line:-4", "time:", "time:soon", "nan", "1e9", "z:∞"],
)
def test_no_place_at_all(text):
    with pytest.raises(InputError, match=r"18\.2mm"):
        parse_place(text)


def test_marks():
    assert [place.value for place in parse_marks("3.1,5.4, 7.7")] == [3.1, 5.4, 7.7]
    with pytest.raises(InputError):
        parse_marks(" , ")


@pytest.mark.parametrize("place", ["6.2mm", "6.1mm", "layer:31"])
def test_a_command_at_a_known_height_comes_first(changed, place):
    row = asked(changed, place).places[0]
    assert row.at.layer == 31
    assert row.at.z_mm == (6.0, 6.2)
    first = row.changes[0]
    assert (first.name, first.layer, first.before, first.after, first.like) == ("nozzle_c", 31, 210.0, 190.0, 1)
    assert "210 to 190 °C" in first.text
    assert "the only such command in 50 layers" in first.text
    names = [change.name for change in row.changes]
    assert names.index("fan_percent") < 4
    assert "core_c" in names
    assert "speed_mm_s" in {steady.name for steady in row.steady}
    assert all(a.bits - 0.5 * abs(a.away) >= b.bits - 0.5 * abs(b.away) for a, b in pairwise(row.changes))


def test_all_clocks_lead_to_the_same_place(changed):
    at = asked(changed, "layer:31").places[0].at
    middle = sum(at.seconds) / 2
    by_time, by_line = asked(changed, f"time:{middle:.1f}", f"line:{at.lines[0] + 3}").places
    assert by_time.at == by_line.at == at
    command = asked(changed, "layer:31").places[0].changes[0]
    assert changed.toolpath.lines > command.line > 0
    assert (at_layer(TALL, 30, "M104 S190").splitlines())[command.line - 1] == "M104 S190"


def test_a_quiet_place_says_so_and_points_to_what_is_near(changed):
    row = asked(changed, "layer:26").places[0]
    assert all(change.bits < 4 for change in row.changes)
    assert row.nearby
    assert row.nearby[0].name == "nozzle_c"
    assert row.nearby[0].away == 5


def test_the_first_solid_layer_over_infill(changed):
    row = asked(changed, "layer:47").places[0]
    assert any("irst solid layer over infill" in change.text for change in row.changes)
    share = next(change for change in row.changes if change.name == "share_solid_raster")
    assert share.before < 5 < 70 < share.after


def test_an_overhang_begins():
    row = asked(looked(table(support=False).text), "layer:21").places[0]
    assert any("an overhang begins" in change.text for change in row.changes[:4])


def test_pause_and_tool_change():
    result = looked(at_layer(at_layer(TALL, 12, "M0"), 20, "T1"))
    pause, tool = asked(result, "layer:13", "layer:21").places
    assert pause.changes[0].name == "pause"
    assert "A pause (line" in pause.changes[0].text
    assert "tool_change" in {change.name for change in tool.changes}


def test_what_several_marks_have_in_common():
    """The fan drops at three heights; marks at those heights share it, and little else."""
    text = TALL
    for layer in (12, 24, 36):
        text = at_layer(at_layer(text, layer + 1, "M106 S255"), layer, "M106 S0")
    page = asked(looked(text), "2.6", "5.0", "7.4")
    assert page.common
    assert page.common[0].name == "fan_percent"
    assert page.common[0].places == 3
    assert page.common[0].expected < 1
    quiet = asked(looked(TALL), "3.0", "5.0", "7.0")
    assert quiet.common == ()


def test_the_chance_of_so_many_is_binomial():
    """Poisson binomial with equal chances is the binomial of a reference library."""
    for hits in range(6):
        assert _tail(hits, [0.3] * 5) == pytest.approx(float(binom.sf(hits - 1, 5, 0.3)))


def test_no_material_no_heat():
    page = asked(looked(TALL, None), "5mm")
    assert page.not_reckoned
    assert not any(c.name in ("core_c", "weld_index") for p in page.places for c in (*p.changes, *p.steady))


@pytest.mark.parametrize("place", ["99mm", "layer:51", "line:999999", "time:99h"])
def test_places_outside_the_print_say_what_lies_in_it(changed, place):
    with pytest.raises(InputError, match=r"does not lie in the print.*between|from 1 to 50"):
        what_happens(changed, parse_place(place))


def test_a_file_without_layers():
    with pytest.raises(InputError, match="lays no bead"):
        what_happens(
            looked("G21\nG90\nM104 S200\nG1 X10 Y10 F3000\nG1 X20 E5\nG1 E-5\n" * 0 + "G1 X1 F600\nG1 E3\n"), []
        )


@pytest.mark.parametrize("spec", [vase(), box((12, 12, 0.2)), box((12, 12, 3), cut_short=0.6)])
def test_other_shapes_of_file(spec):
    result = looked(spec.text)
    page = asked(result, "layer:1", f"layer:{len(result.layers)}")
    assert len(page.places) == 2
