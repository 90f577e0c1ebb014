"""The nomenclature and its matching; conversions against their definitions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadwright.knowledge.names import name_words, split_unit
from beadwright.knowledge.quantity import UNITS, convert, parse_quantity
from beadwright.knowledge.terms import as_flag, load_terms, match_term, nearest, out_of_range

TERMS = load_terms()
SUFFIXES = {
    "_mm": "mm",
    "_c": "°C",
    "_percent": "%",
    "_mm_s": "mm/s",
    "_mm_s2": "mm/s²",
    "_mm3_s": "mm³/s",
    "_deg": "°",
    "_hz": "Hz",
    "_g": "g",
    "_days": "d",
}


def test_units_ride_in_the_names() -> None:
    for term in TERMS.values():
        suffix = max((one for one in SUFFIXES if term.id.endswith(one)), key=len, default=None)
        if suffix is not None and term.id != "retractions_on_10_mm":  # a count, on a length
            assert term.unit == SUFFIXES[suffix], term.id


def test_every_unit_is_known_and_every_number_has_a_range() -> None:
    for term in TERMS.values():
        assert term.unit in UNITS, term.id
        if term.kind in ("number", "numbers"):
            assert term.range is not None, term.id
            assert term.range[0] < term.range[1], term.id


def test_defaults_are_plausible() -> None:
    for term in TERMS.values():
        if term.default is not None:
            assert out_of_range(term, term.default) == "", term.id


def test_every_way_to_say_a_setting_leads_back_to_it() -> None:
    """A phrase shared by a length and a speed ("retraction") may go to either; no other term may take it."""
    astray = []
    for term in TERMS.values():
        if term.group in ("setting", "printer") and term.kind == "number":
            assert term.range is not None
            middle = term.default if isinstance(term.default, float | int) else sum(term.range) / 2
            for phrase in (term.name, *term.words):
                match = match_term(phrase, term.unit if term.unit != "1" else None, middle)
                if match is None or match.term.id != term.id:
                    astray.append((phrase, term.id, match and match.term.id))
    assert astray == []


@pytest.mark.parametrize(
    ("name", "value", "term", "expected"),
    [
        ("Düsentemperatur", "215 °C", "nozzle_temp_c", 215.0),
        ("Print temp (°F)", 419, "nozzle_temp_c", 215.0),
        ("nozzleTemp", 215, "nozzle_temp_c", 215.0),
        ("noozle temp", 215, "nozzle_temp_c", 215.0),
        ("Heizbett", "60°C", "bed_temp_c", 60.0),
        ("Layer height", "0,2 mm", "layer_height_mm", 0.2),
        ("Layer heigth", "0.01 in", "layer_height_mm", 0.254),
        ("first layer height", "0.25", "first_layer_height_mm", 0.25),
        ("Travel speed", "9000 mm/min", "travel_speed_mm_s", 150.0),
        ("retraction", "0.8 mm", "retraction_mm", 0.8),
        ("retraction", "40 mm/s", "retraction_mm_s", 40.0),
        ("Fan", "0.5", "fan_percent", 50.0),
        ("fan_percent", 0.5, "fan_percent", 0.5),
        ("bottom layers", "4", "bottom_solid_layers", 4.0),
        ("acceleration", "1,200 mm/s²", "accel_mm_s2", 1200.0),
        ("Filament diameter", "1,75 mm", "filament_diameter_mm", 1.75),
        ("Velocidad del ventilador", "100 %", "fan_percent", 100.0),
        ("Vitesse d'impression", "60 mm/s", "speed_mm_s", 60.0),
        ("Kinematics", "CoreXY", "kinematics", "corexy"),
    ],
)
def test_names_are_matched_by_words_and_unit(name: str, value: float | str, term: str, expected: float | str) -> None:
    match = match_term(name, None, value)
    assert match is not None
    assert match.term.id == term
    assert match.value == (pytest.approx(expected) if isinstance(expected, float) else expected)
    assert match.note == ""


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("gap fill speed", 80),
        ("bridge angle", 25),
        ("infill pattern", "grid"),
        ("support angle", 45),
        ("wurst", 12),
        ("skirt distance", 3),
        ("raft angle", 3),
        ("bottom layers", "0.8 mm"),
        ("layer height", "20 °C"),
        ("", 1),
        ("bed", "red"),
    ],
)
def test_what_means_something_else_is_not_matched(name: str, value: float | str) -> None:
    assert match_term(name, None, value) is None


def test_a_misread_value_keeps_its_name_and_says_why() -> None:
    match = match_term("Nozzle temperature", None, "2100 °C")
    assert match is not None
    assert "expected a value from 120 to 500 °C" in match.note


def test_conversions_by_definition() -> None:
    """The inch is 25.4 mm exactly and °C = (°F - 32) / 1.8: NIST SP 811 (2008), appendix B (from memory)."""
    assert convert(1.0, "in", "mm") == 25.4
    assert convert(212.0, "°F", "°C") == pytest.approx(100.0, abs=1e-9)
    assert convert(-40.0, "°F", "°C") == pytest.approx(-40.0, abs=1e-9)
    assert convert(273.15, "K", "°C") == pytest.approx(0.0, abs=1e-9)
    assert convert(60.0, "mm/min", "mm/s") == pytest.approx(1.0)
    assert convert(1.0, "mm", "°C") is None


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.floats(-1e4, 1e4))
def test_conversion_there_and_back(one: str, two: str, value: float) -> None:
    there = convert(value, one, two)
    if there is not None and not (one == "°" and two == "°C"):
        back = convert(there, two, one)
        assert back == pytest.approx(value, rel=1e-6, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "low", "high", "unit"),
    [
        ("0,2 mm", 0.2, 0.2, "mm"),
        ("190–220 °C", 190, 220, "°C"),
        ("~ 50%", 50, 50, "%"),
        ("419 º F", 419, 419, "°F"),
        (".4", 0.4, 0.4, None),
        ("1.234,5 mm", 1234.5, 1234.5, "mm"),
        ("3000 mm/min", 3000, 3000, "mm/min"),
        ("−2 mm", -2, -2, "mm"),
    ],
)
def test_written_amounts(text: str, low: float, high: float, unit: str | None) -> None:
    found = parse_quantity(text)
    assert found is not None
    assert (found.low, found.high, found.unit) == (low, high, unit)


@pytest.mark.parametrize("text", ["", "mm", "12 furlongs", "1 2 3", "v1.2", "9" * 400])
def test_what_is_no_amount(text: str) -> None:
    assert parse_quantity(text) is None


def test_nearest_and_flags() -> None:
    assert nearest("belt_pich_mm", TERMS) == "belt_pitch_mm"
    assert nearest("zzzz", TERMS) is None
    assert [as_flag(word) for word in ("oui", "Nein", "1", "vielleicht")] == [True, False, True, None]


def test_name_words_and_units() -> None:
    assert name_words("Temperatur der Düse") == ["temperatur", "duse"]
    assert split_unit("bed [°C]") == ("bed  ", "°C")


@given(
    st.text(max_size=80),
    st.one_of(st.none(), st.text(max_size=20)),
    st.one_of(st.text(max_size=20), st.floats(), st.booleans()),
)
def test_any_name_is_matched_or_not(name: str, unit: str | None, value: float | str | bool) -> None:
    match = match_term(name, unit, value)
    assert match is None or 0 < match.score <= 1
