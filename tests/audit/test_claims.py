"""What a file says of itself against what it does; the specimens write any claim, true or not."""

from __future__ import annotations

import pytest

from beadwright.audit.claims import claims_from
from beadwright.audit.run import run_audit
from beadwright.exhibits.toolpath_file import look
from beadwright.facts import Fact, Facts, Origin
from beadwright.knowledge.material_table import load_materials
from beadwright.toolpath.read import read_toolpath
from specimens.toolpaths import box

TRUE = {
    "bottom layers": 4, "top layers": 4, "layer height": "0.2 mm", "wall count": 2, "fill density": "20 %",
    "bed temperature": 60, "nozzle temperature": 210, "retraction length": "0.8 mm", "material": "PLA",
}  # fmt: skip


def differing(spec) -> dict[str, tuple[float, float]]:
    result = look(spec.data, name="part.gcode", materials=load_materials())
    return {f.text.split(":")[0]: (f.window[0], f.value) for f in result.audit.findings if f.rule == "claim_differs"}


def test_true_claims_become_facts_with_their_line_and_no_finding():
    spec = box((30, 26, 4), claims=TRUE)
    facts = {fact.name: fact for fact in claims_from(read_toolpath(spec.data, name="part.gcode"))}
    assert facts["bottom_solid_layers"].value == 4
    assert facts["polymer"].value == "pla"
    assert facts["layer_height_mm"].value == pytest.approx(0.2)
    assert {fact.origin for fact in facts.values()} == {Origin.CLAIM}
    line = next(n for n, text in enumerate(spec.text.splitlines(), 1) if text.startswith("; bottom layers"))
    assert f"line {line}" in facts["bottom_solid_layers"].where
    assert differing(spec) == {}


@pytest.mark.parametrize(
    ("claim", "value", "laid", "says"),
    [
        ("bottom layers", 4, {"bottom_solid_layers": 2}, ("Solid layers at the bottom", 4, 2)),
        ("top layers", 6, {"top_solid_layers": 3}, ("Solid layers at the top", 6, 3)),
        ("wall count", 4, {"wall_lines": 2}, ("Beads per wall", 4, 2)),
        ("fill density", 40, {"infill_percent": 15}, ("Infill density", 40, 15)),
        ("bed temperature", 80, {"bed_temp_c": 60}, ("Bed temperature", 80, 60)),
        ("retraction length", 3, {"retraction_mm": 0.8}, ("Retraction length", 3, 0.8)),
    ],
)
def test_a_claim_the_beads_contradict_is_found(claim, value, laid, says):
    name, claimed, measured = says
    found = differing(box((30, 26, 4), claims={claim: value}, **laid))
    assert set(found) == {name}
    assert found[name][0] == pytest.approx(claimed)
    assert found[name][1] == pytest.approx(measured, rel=0.08)


def test_fewer_layers_than_claimed_weigh_on_the_cause(measure):
    found = measure(box((30, 26, 4), bottom_solid_layers=2).data)
    page = Facts([Fact("bottom_solid_layers", 4.0, Origin.CLAIM, "[settings]")])
    audit = run_audit(page.also(found.facts), None, found.places)
    one = next(f for f in audit.findings if f.rule == "claim_differs")
    assert one.level == "warn"
    assert one.bears_on == ("bottom_too_thin",)
    assert "claimed 4" in one.text
    assert "laid 2" in one.text
    assert one.clears
    assert [conflict.name for conflict in page.also(found.facts).conflicts()] == ["bottom_solid_layers"]


def test_a_claim_is_not_taken_for_a_measurement():
    result = look(box((24, 20, 3), claims={"nozzle temperature": 250}).data, name="part.gcode")
    assert result.facts.number("nozzle_temp_c") == 210
    assert ("nozzle_temp_c", 250.0) in {(row.name, row.value) for row in result.look.claims}
