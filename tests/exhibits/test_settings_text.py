"""Settings pasted from anywhere: invented pages in several layouts and languages."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadwright.exhibits.settings_text import read_settings_text
from beadwright.facts import Origin

PAGES = {
    "a list": "Nozzle temperature: 215 °C\nBed: 60°C\nLayer height: 0.2 mm\nInfill: 15 %\nSpeed: 60 mm/s\n",
    "a table with units apart": """
| Name | Value | Unit |
|---|---|---|
| Düsentemperatur | 215 | °C |
| Druckbett | 60 | °C |
| Schichthöhe | 0,2 | mm |
| Füllung | 15 | % |
| Druckgeschwindigkeit | 60 | mm/s |
""",
    "semicolons": """température de buse;215
plateau;60
hauteur de couche;0,2
remplissage;15 %
vitesse d'impression;60
""",
    "commas": "temperatura de boquilla,215\ncama,60\naltura de capa,0.2\nrelleno,15%\nvelocidad,60\n",
    "keys": """nozzle_temp_c = 215
bed_temp_c = 60
layer_height_mm = 0.2
infill_percent = 15
speed_mm_s = 60
""",
    "old units": """Print temp (°F)\t419
Bed (°F)\t140
Layer height (in)\t0.007874
Infill\t0.15
Speed\t3600 mm/min
""",
    "value on the next line": """Nozzle temperature
215 °C
Bed temperature
60 °C
Layer height
0.2 mm
Infill
15 %
Print speed
60 mm/s
""",
}


@pytest.mark.parametrize("page", list(PAGES))
def test_the_same_five_settings_however_they_are_written(page: str) -> None:
    read = read_settings_text(PAGES[page], "page.txt")
    values = {fact.name: fact.value for fact in read.facts}
    expected = {
        "nozzle_temp_c": 215,
        "bed_temp_c": 60,
        "layer_height_mm": 0.2,
        "infill_percent": 15,
        "speed_mm_s": 60,
    }
    assert set(values) == set(expected), read.not_understood
    for name, value in expected.items():
        assert values[name] == pytest.approx(value, rel=1e-4), name
    assert all(fact.origin is Origin.CLAIM and fact.where.startswith("page.txt line ") for fact in read.facts)


def test_a_misread_number_is_flagged_not_used() -> None:
    read = read_settings_text("Nozzle temperature: 2100 °C")
    assert read.facts == ()
    assert "expected a value from 120 to 500 °C" in read.not_understood[0]


def test_what_is_no_setting_of_ours_is_listed() -> None:
    read = read_settings_text("Support angle: 45\nSeam position: rear\nLayer height: 0.2\nfoo bar")
    assert [fact.name for fact in read.facts] == ["layer_height_mm"]
    assert len(read.not_understood) == 3


def test_a_first_layer_is_not_every_layer() -> None:
    read = read_settings_text("First layer speed: 20 mm/s\nOuter wall speed: 40 mm/s\nInner wall speed: 90 mm/s")
    assert {fact.name: fact.value for fact in read.facts} == {
        "first_layer_speed_mm_s": 20.0,
        "outer_speed_mm_s": 40.0,
        "inner_speed_mm_s": 90.0,
    }


@given(st.text(max_size=400))
def test_any_text_is_read_without_a_crash(text: str) -> None:
    read = read_settings_text(text)
    assert len(read.facts) <= len(text.splitlines()) + 1


@given(st.lists(st.tuples(st.text(max_size=30), st.text(max_size=12)), max_size=8))
def test_pairs_of_anything_are_read_or_listed(pairs: list[tuple[str, str]]) -> None:
    read_settings_text("\n".join(f"{name}: {value}" for name, value in pairs))
