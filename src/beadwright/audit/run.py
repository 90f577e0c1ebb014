"""Ask every rule."""

from __future__ import annotations

from collections.abc import Mapping

from beadwright.facts import Facts
from beadwright.knowledge.material_shapes import Material

from . import (
    cooling,
    course,
    first_layer,
    flow,
    gear,
    heat,
    limits,
    overhang,
    retraction,
    shell,
    stand,
    support,
    travel,
)
from .ask import Context, Rule
from .claims import differing_claims
from .findings import Audit, Finding, Quiet, Where

RULES: tuple[Rule, ...] = (
    *heat.RULES,
    *flow.RULES,
    *cooling.RULES,
    *first_layer.RULES,
    *shell.RULES,
    *support.RULES,
    *travel.RULES,
    *retraction.RULES,
    *limits.RULES,
    *overhang.RULES,
    *stand.RULES,
    *course.RULES,
    *gear.RULES,
)
_GRAVEST_FIRST = {"danger": 0, "fault": 1, "warn": 2, "note": 3}


def run_audit(facts: Facts, material: Material | None = None, places: Mapping[str, Where] | None = None) -> Audit:
    """Ask every rule. `material` None: rules that need a polymer's window are not asked, nothing is guessed.

    `places` says where in the file each measured fact was read. Findings come gravest first.
    """
    context = Context(material, places or {})
    findings: list[Finding] = []
    quiet: list[Quiet] = []
    not_asked: list[str] = []
    for rule in RULES:
        answer = rule(facts, context)
        if isinstance(answer, Finding):
            findings.append(answer)
        elif isinstance(answer, Quiet):
            quiet.append(answer)
        else:
            not_asked.append(rule.__name__)
    findings.extend(differing_claims(facts, context))
    findings.sort(key=lambda finding: _GRAVEST_FIRST[finding.level])
    return Audit(tuple(findings), tuple(quiet), tuple(not_asked))
