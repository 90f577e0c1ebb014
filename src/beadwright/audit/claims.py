"""What a file's comments claim, as facts, and claims held against what was measured.

Names are matched by trade words and unit, as a settings page's are; what is not understood is left alone. A claim never
overrules what the beads say: where both speak and differ, that is a finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from beadwright.facts import ORIGIN_WORDS, Fact, Facts, Origin
from beadwright.knowledge.material_names import match_material
from beadwright.knowledge.terms import Match, load_terms, match_term
from beadwright.toolpath.columns import Toolpath
from beadwright.toolpath.declared import Claim, declared

from .ask import PRACTICE, Context
from .findings import Finding, Level

MOST_CLAIMS = 400  # that are matched; a file that declares more says the rest in vain
MOST_WORDS = 6
SURE = 0.7  # score from which a name is taken for a term: no person looks at it before it counts
GROUPS = ("setting", "printer", "material")


@dataclass(frozen=True)
class Held:
    """How a claim is held against the beads: allowed difference, and what it bears on where more or less is laid."""

    absolute: float
    relative: float
    less: str
    more: str
    counts: bool = False


PROFILE = "machine_profile_wrong"
HELD = {
    "bottom_solid_layers": Held(0.5, 0.0, "bottom_too_thin", PROFILE, counts=True),
    "top_solid_layers": Held(0.5, 0.0, "top_too_thin", PROFILE, counts=True),
    "wall_lines": Held(0.5, 0.0, "walls_too_thin", PROFILE, counts=True),
    "infill_percent": Held(4.0, 0.15, "infill_too_sparse", PROFILE),
    "layer_height_mm": Held(0.005, 0.03, PROFILE, "layer_too_thick"),
    "first_layer_height_mm": Held(0.005, 0.03, "nozzle_starts_too_low", "nozzle_starts_too_high"),
    "line_width_mm": Held(0.02, 0.15, "fed_too_little", "fed_too_much"),
    "nozzle_temp_c": Held(2.0, 0.0, "nozzle_too_cold", "nozzle_too_hot"),
    "bed_temp_c": Held(2.0, 0.0, "bed_too_cold", "bed_too_hot"),
    "fan_percent": Held(12.0, 0.0, "cooling_too_weak", "cooling_too_strong"),
    "retraction_mm": Held(0.05, 0.1, "retraction_too_little", "retraction_too_much"),
    "support_gap_mm": Held(0.06, 0.3, "support_gap_too_small", "support_gap_too_large"),
    "brim_mm": Held(1.5, 0.3, "small_foothold", PROFILE),
}


def claims_from(toolpath: Toolpath) -> tuple[Fact, ...]:
    """Return what the file's comments declare and a term understands, the surest name a quantity."""
    best: dict[str, tuple[float, Fact]] = {}
    for claim in declared(toolpath)[:MOST_CLAIMS]:
        for score, fact in _understood(claim, toolpath.name):
            if score > best.get(fact.name, (0.0, fact))[0]:
                best[fact.name] = (score, fact)
    return tuple(fact for _, fact in best.values())


def _understood(claim: Claim, file: str) -> Iterator[tuple[float, Fact]]:
    if len(claim.name_text.split()) > MOST_WORDS:
        return
    match = match_term(claim.name_text, None, claim.value_text) or match_term(
        claim.name_text.replace("_", " "), None, claim.value_text
    )
    if match is None or match.note or match.score < SURE or match.term.group not in GROUPS:
        return
    where = f"{file}, line {claim.line}: {claim.name_text} = {claim.value_text}"[:160]
    if match.term.id != "polymer":
        yield match.score, Fact(match.term.id, match.value, Origin.CLAIM, where)
        return
    yield from _polymer(match, where)


def _polymer(match: Match, where: str) -> Iterator[tuple[float, Fact]]:
    known = match_material(str(match.value))
    if known is None:
        return
    polymer, filler = known
    yield match.score, Fact("polymer", polymer, Origin.CLAIM, where)
    if filler:
        yield match.score, Fact("filler", filler, Origin.CLAIM, where)


def differing_claims(facts: Facts, context: Context) -> tuple[Finding, ...]:
    """Return a finding for each claim, of the file or of a settings page, that the beads contradict."""
    found = []
    for name, held in HELD.items():
        every = [fact for fact in facts if fact.name == name and isinstance(fact.value, int | float)]
        measured = next((fact for fact in every if fact.origin == Origin.FILE), None)
        claim = next((fact for fact in every if fact.origin == Origin.CLAIM), None)
        if measured is None or claim is None:
            continue
        off = measured.number - claim.number
        if abs(off) > held.absolute + held.relative * abs(claim.number):
            found.append(_differs(name, held, measured, claim, context))
    return tuple(found)


def _differs(name: str, held: Held, measured: Fact, claim: Fact, context: Context) -> Finding:
    term = load_terms()[name]
    unit = "" if term.unit == "1" else f" {term.unit}"
    less = measured.number < claim.number
    said, laid = f"{claim.number:g}{unit}", f"{measured.number:.3g}{unit}"
    text = (
        f"{term.name[0].upper()}{term.name[1:]}: claimed {said} ({claim.where or ORIGIN_WORDS[claim.origin]}), "
        f"{'laid' if held.counts else 'measured'} {laid}."
    )
    level: Level = "warn" if held.counts and less else "note"
    return Finding(
        "claim_differs", level, round(measured.number, 4), term.unit, (claim.number, claim.number), PRACTICE, text,
        (held.less if less else held.more,), context.where(name), None if level == "warn" else 0.4,
        f"{ORIGIN_WORDS[measured.origin]} ({measured.where})", f"the file exported anew with {term.name} {said}",
    )  # fmt: skip
