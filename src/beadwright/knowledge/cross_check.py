"""What must hold between the tables of knowledge: links lead somewhere, all is reachable, no circles."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from beadwright.errors import KnowledgeError
from beadwright.knowledge.model import Cause, Condition

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

TESTS = ("equals", "one_of", "above", "below")
FREE_SOURCES = ("Practice", "memory")  # common practice; from memory, page not seen


def cross_check(knowledge: Knowledge) -> None:
    """Raise KnowledgeError on the first contradiction between tables."""
    _check_references(knowledge)
    _check_sources(knowledge)
    _check_circles(knowledge, "cause", {key: cause.leads_to for key, cause in knowledge.causes.items()})
    _check_circles(knowledge, "sign", {key: sign.implies for key, sign in knowledge.signs.items()})
    _check_causes(knowledge)
    _check_signs(knowledge)
    _check_checks(knowledge)
    _check_remedies(knowledge)


def _references(knowledge: Knowledge) -> Iterator[tuple[str, str, str, Iterable[str], str]]:
    """Yield (table, id, key, ids named there, table they must be in)."""
    for key, cause in knowledge.causes.items():
        yield "cause", key, "signs", cause.signs, "sign"
        yield "cause", key, "leads_to", cause.leads_to, "cause"
        yield "cause", key, "remedies", cause.remedies, "remedy"
        yield "cause", key, "cautions", cause.cautions, "caution"
        yield "cause", key, "excludes", cause.excludes, "cause"
    for key, sign in knowledge.signs.items():
        yield "sign", key, "implies", sign.implies, "sign"
    for key, check in knowledge.checks.items():
        yield "check", key, "sign", () if check.sign is None else (check.sign,), "sign"
        yield "check", key, "yes", check.yes, "cause"
        yield "check", key, "cautions", check.cautions, "caution"
    for key, remedy in knowledge.remedies.items():
        yield "remedy", key, "cures", remedy.cures, "cause"
        yield "remedy", key, "may_worsen", remedy.may_worsen, "sign"
        yield "remedy", key, "cautions", remedy.cautions, "caution"


def _tables(knowledge: Knowledge) -> dict[str, Mapping[str, object]]:
    return {
        "cause": knowledge.causes,
        "sign": knowledge.signs,
        "check": knowledge.checks,
        "remedy": knowledge.remedies,
        "caution": knowledge.cautions,
    }


def _check_references(knowledge: Knowledge) -> None:
    tables = _tables(knowledge)
    for table, key, name, ids, target in _references(knowledge):
        for other in ids:
            if other not in tables[target]:
                where = f"{knowledge.where(table, key)} {name}"
                raise KnowledgeError(f"there is no {target} '{other}'", where=where, fix=f"Add it to the {target}s")


def _check_sources(knowledge: Knowledge) -> None:
    known = {*FREE_SOURCES, *knowledge.sources}
    for table, entries in _tables(knowledge).items():
        for key, entry in entries.items():
            source = getattr(entry, "source", "Practice")
            if source not in known:
                where = f"{knowledge.where(table, key)} source"
                raise KnowledgeError(f"there is no source '{source}'", where=where, fix="Add it to sources.toml")


def _check_circles(knowledge: Knowledge, table: str, links: Mapping[str, Iterable[str]]) -> None:
    done: set[str] = set()

    def visit(key: str, path: tuple[str, ...]) -> None:
        if key in path:
            circle = " → ".join([*path[path.index(key) :], key])
            raise KnowledgeError(f"links run in a circle: {circle}", where=knowledge.where(table, key), fix="Cut one")
        if key in done:
            return
        for other in links[key]:
            visit(other, (*path, key))
        done.add(key)

    for key in links:
        visit(key, ())


def reached_signs(causes: Mapping[str, Cause], key: str) -> set[str]:
    """Return the signs that a cause brings about, itself or through what it leads to."""
    signs = set(causes[key].signs)
    for other in causes[key].leads_to:
        signs |= reached_signs(causes, other)
    return signs


def _check_causes(knowledge: Knowledge) -> None:
    touched = {cause for check in knowledge.checks.values() for cause in check.yes}
    looked_at = {check.sign for check in knowledge.checks.values()}
    effects = {other for cause in knowledge.causes.values() for other in cause.leads_to}
    for key, cause in knowledge.causes.items():
        where = knowledge.where("cause", key)
        if cause.mechanism != (cause.prior == 0.0):
            raise KnowledgeError("a mechanism has prior 0, a root cause more", where=where, fix="Mend one of the two")
        if cause.mechanism and key not in effects:
            raise KnowledgeError("no cause leads to this mechanism", where=where, fix="Link it from a cause")
        if not reached_signs(knowledge.causes, key):
            raise KnowledgeError("it brings about no sign", where=where, fix="Give it signs, or a mechanism with some")
        if not cause.remedies:
            raise KnowledgeError("it has no remedy", where=where, fix="Name at least one")
        if key not in touched and not looked_at & set(cause.signs):
            raise KnowledgeError("no check bears on it", where=where, fix="Add a check that does")
        for remedy in cause.remedies:
            if key not in knowledge.remedies[remedy].cures:
                found = f"remedy '{remedy}' does not cure it"
                raise KnowledgeError(found, where=f"{where} remedies", fix=f"Add it to the cures of '{remedy}'")
        for condition in cause.context:
            _check_condition(condition, f"{where} context")


def _check_condition(condition: Condition, where: str) -> None:
    given = [name for name in TESTS if getattr(condition, name) is not None]
    if len(given) != 1:
        found = f"the condition on '{condition.fact}' has {len(given)} tests"
        raise KnowledgeError(found, where=where, fix=f"Give exactly one of {', '.join(TESTS)}")


def _check_signs(knowledge: Knowledge) -> None:
    reached = {sign for cause in knowledge.causes.values() for sign in cause.signs}
    while more := {other for sign in reached for other in knowledge.signs[sign].implies} - reached:
        reached |= more
    for key, sign in knowledge.signs.items():
        where = knowledge.where("sign", key)
        if key not in reached:
            raise KnowledgeError("no cause brings it about", where=where, fix="Link it from a cause")
        if not sign.ask.strip().endswith("?"):
            raise KnowledgeError("it has no question", where=f"{where} ask", fix="Ask the sender in plain words")
        for language, phrases in sign.phrases:
            for phrase in phrases:
                if phrase != phrase.lower() or phrase != " ".join(phrase.split()) or not phrase:
                    found = f"'{phrase}' is not in lower case with single spaces"
                    raise KnowledgeError(found, where=f"{where} phrases.{language}", fix="Write it so")


def _check_checks(knowledge: Knowledge) -> None:
    for key, check in knowledge.checks.items():
        if (check.sign is None) == (not check.yes):
            found = "a check either settles one 'sign' or has a 'yes' of its own"
            raise KnowledgeError(found, where=knowledge.where("check", key), fix="Give exactly one of the two")


def _check_remedies(knowledge: Knowledge) -> None:
    for key, remedy in knowledge.remedies.items():
        if not remedy.cures:
            raise KnowledgeError("it cures nothing", where=knowledge.where("remedy", key), fix="Name what it cures")
        for change in remedy.change:
            if sum(way is not None for way in (change.rule, change.to, change.by, change.factor)) != 1:
                where = f"{knowledge.where('remedy', key)} change.{change.fact}"
                raise KnowledgeError("a change has one way to its number", where=where, fix="rule, to, by or factor")
