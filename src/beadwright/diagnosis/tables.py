"""The knowledge tables in the shape that the reasoning reads them, worked out once per set of tables."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING

from beadwright.diagnosis.network import Network
from beadwright.diagnosis.shifts import sign_links
from beadwright.errors import NotFoundError

if TYPE_CHECKING:
    from beadwright.knowledge.load import Knowledge

CAUSES_PER_PRINT = 1.25  # root causes of a failed print on average: mostly one; judgement, no source
KIND_SHARE = 0.1  # a cause listing only the broad sign brings about each special kind of it this much as often

STRAY_RANGE = (0.015, 0.2)  # judgement, no source


class Tables:
    """A network, and for each sign its links, its broader signs and how common it is."""

    def __init__(self, knowledge: Knowledge) -> None:
        if not knowledge.causes:
            raise NotFoundError("the knowledge tables hold no cause", fix="give at least one table of causes")
        self.knowledge = knowledge
        self._direct: dict[str, dict[str, float]] = {}
        for name, cause in knowledge.causes.items():
            for sign, chance in cause.signs.items():
                self._direct.setdefault(sign, {})[name] = chance
        self._links: dict[tuple[str, str | None], dict[str, float]] = {}

    @cached_property
    def network(self) -> Network:
        return Network.from_causes(self.knowledge.causes, causes_per_print=CAUSES_PER_PRINT)

    @cached_property
    def broader(self) -> Mapping[str, frozenset[str]]:
        """All signs that a sign implies, over any number of steps."""
        return {name: frozenset(self._above(name)) for name in self.knowledge.signs}

    def _above(self, sign: str) -> set[str]:
        found: set[str] = set()
        waiting = list(self.knowledge.signs[sign].implies)
        while waiting:
            name = waiting.pop()
            if name not in found and name in self.knowledge.signs:
                found.add(name)
                waiting += self.knowledge.signs[name].implies
        return found

    def links(self, sign: str, kinematics: str | None = None) -> dict[str, float]:
        """Return the chance of `sign` by cause, with what the kind of machine decides put in."""
        key = (sign, kinematics)
        if key not in self._links:
            links = dict(self._direct.get(sign, {}))
            for broad in sorted(self.broader[sign]):
                for name, chance in self._direct.get(broad, {}).items():
                    links.setdefault(name, KIND_SHARE * chance)
            known = sign_links(kinematics).get(sign, {})
            self._links[key] = links | {n: p for n, p in known.items() if n in self.knowledge.causes}
        return self._links[key]

    @cached_property
    def prevalence(self) -> Mapping[str, float]:
        """How often a failed print shows a sign, chains left out."""
        common = {}
        for name, sign in self.knowledge.signs.items():
            absent = 1 - sign.leak
            for cause, chance in self._direct.get(name, {}).items():
                absent *= 1 - self.knowledge.causes[cause].prior * chance
            common[name] = 1 - absent
        return common

    def stray(self, sign: str) -> float:
        """Return the chance that a cause outside the tables brings a sign about: as often as others do."""
        low, high = STRAY_RANGE
        return float(min(max(self.prevalence[sign], low), high))


_built: list[Tables] = []


def tables_of(knowledge: Knowledge) -> Tables:
    """Return the tables of `knowledge`, kept as long as the same object is in use."""
    if not _built or _built[0].knowledge is not knowledge:
        _built[:] = [Tables(knowledge)]
    return _built[0]
