"""The case file's JSON Schema (draft 2020-12), with the nomenclature's ranges and words written into it."""

from __future__ import annotations

from typing import Any

from beadwright.case.model import Case, Dried
from beadwright.knowledge.model import Term
from beadwright.knowledge.terms import load_terms


def case_schema() -> dict[str, Any]:
    """Return the JSON Schema of a case file."""
    schema = Case.model_json_schema()
    for name, definition in schema["$defs"].items():
        for key, entry in definition.get("properties", {}).items():
            term = load_terms().get(Dried.terms.get(key, key) if name == "Dried" else key)
            if term is not None:
                _describe(entry, term)
    for section in ("settings", "measured"):
        schema["properties"][section]["description"] = (
            "Names as the page or the person says them; matched to trade terms by words and unit."
        )
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "beadwright case"}


def _describe(entry: dict[str, Any], term: Term) -> None:
    unit = "" if term.unit == "1" else f" [{term.unit}]"
    entry["title"] = term.name
    entry["description"] = f"{term.name}{unit}. {term.text}".strip()
    for option in entry.get("anyOf", [entry]):
        if term.one_of is not None and option.get("type") == "string":
            option["enum"] = list(term.one_of)
            option.pop("maxLength", None)
        numbers = option.get("prefixItems", [option])
        for number in numbers:
            if term.range is not None and number.get("type") == "number":
                number["minimum"], number["maximum"] = term.range
