"""The material tables hold together, and names as people type them lead to the right entry."""

from __future__ import annotations

import doctest
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadwright.errors import KnowledgeError, NotFoundError
from beadwright.knowledge import material_names, material_shapes, material_table
from beadwright.knowledge.material_names import find_material, match_material
from beadwright.knowledge.material_shapes import Material
from beadwright.knowledge.material_table import (
    load_fillers,
    load_materials,
    load_nozzle_metals,
    read_entry,
    tags_in,
)

FOLDER = Path(material_table.__file__).parent / "materials"


@pytest.mark.parametrize("module", [material_names, material_shapes])
def test_examples_hold(module: object) -> None:
    result = doctest.testmod(module)  # type: ignore[arg-type]
    assert result.attempted > 0
    assert result.failed == 0


def test_everyday_and_engineering_polymers_are_there() -> None:
    everyday = {"pla", "petg", "abs", "asa", "tpu_95a", "pa6", "pa12", "pc", "pp", "hips", "pva", "peek"}
    assert everyday <= set(load_materials())
    assert set(load_fillers()) == {"carbon_fibre", "glass_fibre", "wood", "metal", "glow"}
    assert {"brass", "hardened_steel", "ruby"} <= set(load_nozzle_metals())


@pytest.mark.parametrize("key", load_materials())
def test_temperatures_stand_in_the_order_that_physics_demands(key: str) -> None:
    material = load_materials()[key]
    assert material.drying.temp_c <= material.drying.max_c < material.core_target_c.best
    assert material.core_target_c.best < material.nozzle_temp_c.max
    assert material.bed_temp_c.max < material.nozzle_temp_c.min
    assert material.glass_transition_c.best < material.core_target_c.best
    if material.melting_c is not None:
        assert material.glass_transition_c.best < material.melting_c.best < material.nozzle_temp_c.typical
    if material.decomposition_c is not None:
        assert material.decomposition_c.from_c >= material.nozzle_temp_c.min


@pytest.mark.parametrize("key", load_materials())
def test_numbers_are_of_plastics(key: str) -> None:
    material = load_materials()[key]
    assert 850 < material.density_kg_m3.best < 1500
    assert 0.1 < material.conductivity_w_m_k.best < 0.4  # handbooks: unfilled polymers 0.1-0.4 W/(m K)
    assert 3e-8 < material.melt_diffusivity_m2_s < 2e-7
    assert 1e-14 < material.water_diffusivity_m2_s.best < 1e-10
    assert material.max_flow_mm3_s.melt_zone_20mm > material.max_flow_mm3_s.melt_zone_12mm
    if material.moisture_saturation_percent is not None:
        assert material.moisture_50rh_percent.best < material.moisture_saturation_percent.best


def test_density_of_polyamide_and_acetal_agrees_with_the_book() -> None:
    # R. J. Crawford, Plastics Engineering, 3rd ed. 1998, Table 1.8: PA66 1140, acetal 1410, PEI 1270, PEEK
    # 1300 kg/m³
    materials = load_materials()
    found = {key: materials[key].density_kg_m3.best for key in ("pa66", "pom", "pei", "peek")}
    assert found == {"pa66": 1140, "pom": 1410, "pei": 1270, "peek": 1300}


def test_source_tags_are_listed_and_material_sources_are_cited() -> None:
    listed = tomllib.loads((FOLDER.parent / "sources.toml").read_text("utf-8"))["source"]
    cited = {
        tag
        for table in (load_materials(), load_fillers(), load_nozzle_metals())
        for entry in table.values()
        for tag in tags_in(entry)
    }
    here = Path(__file__).parents[1]
    places = [
        *FOLDER.parents[1].rglob("*.py"),
        *FOLDER.parents[1].rglob("*.toml"),
        *here.rglob("outside/*.py"),
    ]
    text = "\n".join(path.read_text("utf-8") for path in places if path.name != "sources.toml")
    for tag in listed:
        assert tag in cited or f"[{tag}]" in text or f'"{tag}"' in text, f"{tag} is listed and never cited"
    assert cited <= set(listed)


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("PETG", ("petg", None)),
        (" pet-g ", ("petg", None)),
        ("nylon", ("pa6", None)),
        ("PLA+", ("pla", None)),
        ("PA6-CF", ("pa6", "carbon_fibre")),
        ("PA12 GF30", ("pa12", "glass_fibre")),
        ("PETGCF", ("petg", "carbon_fibre")),
        ("carbon fibre nylon", ("pa6", "carbon_fibre")),
        ("wood-filled PLA", ("pla", "wood")),
        ("PC+ABS", ("pc_abs", None)),
        ("PC/ABS", ("pc_abs", None)),
        ("soft TPU", ("tpu_85a", None)),
        ("TPU 95A black", ("tpu_95a", None)),
        ("tpu_95a", ("tpu_95a", None)),
        ("Nylon 6/6", ("pa66", None)),
        ("glow in the dark PLA", ("pla", "glow")),
        ("PS-HI", ("hips", None)),  # ISO 1043-1 symbol, from memory
    ],
)
def test_names_as_people_type_them(typed: str, expected: tuple[str, str | None]) -> None:
    assert find_material(typed) == expected


def test_every_name_leads_back_to_its_entry() -> None:
    for key, material in load_materials().items():
        for name in (key, material.name, material.abbreviation, *material.also):
            assert find_material(name)[0] == key, name


def test_unknown_name_is_told_with_the_nearest() -> None:
    with pytest.raises(NotFoundError, match="Did you mean petg"):
        find_material("PETGG")
    assert match_material("granite") is None
    assert match_material("") is None


@settings(deadline=None)  # other work shares the cores
@given(st.text(max_size=60))
def test_any_text_is_answered_or_refused(text: str) -> None:
    found = match_material(text)
    if found is None:
        with pytest.raises(NotFoundError, match="no polymer is called"):
            find_material(text)
    else:
        assert found[0] in load_materials()
        assert found[1] is None or found[1] in load_fillers()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("typical = 240,", "typical = 340,", "lies outside"),
        ("density_kg_m3 = {", "density = {", "density"),
        ('source = ["DesignGuidePETG"] }\nspecific', "source = [] }\nspecific", "no_melting_point"),
        ("min = 225", "min = ", "not readable as TOML"),
    ],
)
def test_a_damaged_entry_is_refused_with_its_place(tmp_path: Path, old: str, new: str, message: str) -> None:
    text = (FOLDER / "petg.toml").read_text("utf-8")
    assert old in text
    path = tmp_path / "petg.toml"
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(KnowledgeError, match=message) as caught:
        read_entry(path, Material)
    assert str(path) in str(caught.value)


def test_flow_limit_follows_the_melt_zone() -> None:
    limit = load_materials()["petg"].max_flow_mm3_s
    assert limit.at(12) == limit.melt_zone_12mm
    assert limit.at(20) == limit.melt_zone_20mm
    assert 0 < limit.at(2) < limit.at(6) < limit.at(30)
