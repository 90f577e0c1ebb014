"""Named quantities with provenance: what audit rules and priors ask for, wherever the value came from.

A fact is named as the nomenclature page names it (`nozzle_temp_c`, `flow_mm3_s`, `bottom_solid_layers`), unit in the
name. Several sources may speak of one quantity; the better origin wins and disagreement stays visible.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum

Value = float | str | bool | tuple[float, ...]


class Origin(IntEnum):
    """Where a fact comes from, worst first: the larger wins."""

    DEFAULT = 0  # stated default
    STORY = 1  # said in the story
    CLAIM = 2  # claimed in settings or in the file's comments
    RECORD = 3  # typed into the case's printer, material or measured table, or known to the shop
    FILE = 4  # measured in the toolpath file
    MEASURED = 5  # measured on the print or the machine


ORIGIN_WORDS = {
    Origin.DEFAULT: "default",
    Origin.STORY: "said in the story",
    Origin.CLAIM: "claimed in the settings",
    Origin.RECORD: "on record",
    Origin.FILE: "measured in the file",
    Origin.MEASURED: "measured",
}


@dataclass(frozen=True)
class Fact:
    """One value of one named quantity from one source."""

    name: str
    value: Value
    origin: Origin
    where: str = ""  # "part.gcode line 812", "[settings]", "the story: '… at 210'"
    u: float | None = None  # standard uncertainty, in the unit of the name; None when not stated

    @property
    def number(self) -> float:
        """The value as a float; TypeError for text."""
        if isinstance(self.value, bool | int | float):
            return float(self.value)
        raise TypeError(f"{self.name} is {self.value!r}, not a number")


@dataclass(frozen=True)
class Conflict:
    """Two sources that disagree on one quantity by more than their uncertainty allows."""

    name: str
    used: Fact
    other: Fact

    @property
    def text(self) -> str:
        def say(fact: Fact) -> str:
            value = f"{fact.value:g}" if isinstance(fact.value, float | int) else str(fact.value)
            return f"{value} ({fact.where or ORIGIN_WORDS[fact.origin]})"

        return f"{self.name}: {say(self.used)} against {say(self.other)}; the first is used"


class Facts:
    """An immutable collection of facts, several per name allowed.

    >>> facts = Facts([Fact("fan_percent", 100.0, Origin.CLAIM), Fact("fan_percent", 0.0, Origin.FILE)])
    >>> facts.number("fan_percent")
    0.0
    >>> [conflict.name for conflict in facts.conflicts()]
    ['fan_percent']
    """

    def __init__(self, facts: Iterable[Fact] = ()) -> None:
        self._by_name: dict[str, list[Fact]] = {}
        for fact in facts:
            self._by_name.setdefault(fact.name, []).append(fact)
        for entries in self._by_name.values():
            entries.sort(key=lambda fact: -fact.origin)  # stable: first said wins among equals

    def __iter__(self) -> Iterator[Fact]:
        for entries in self._by_name.values():
            yield from entries

    def __contains__(self, name: str) -> bool:
        return name in self._by_name

    def names(self) -> tuple[str, ...]:
        return tuple(self._by_name)

    def best(self, name: str) -> Fact | None:
        """Return the fact of the best origin, or None."""
        entries = self._by_name.get(name)
        return entries[0] if entries else None

    def number(self, name: str, default: float | None = None) -> float | None:
        """Return the best value as a float, `default` when nothing numeric is known."""
        fact = self.best(name)
        if fact is None or isinstance(fact.value, str | tuple):
            return default
        return float(fact.value)

    def text(self, name: str, default: str | None = None) -> str | None:
        """Return the best value as text, `default` when nothing is known or it is a number."""
        fact = self.best(name)
        return fact.value if fact is not None and isinstance(fact.value, str) else default

    def also(self, more: Iterable[Fact]) -> Facts:
        """Return a new collection with `more` added."""
        return Facts([*self, *more])

    def conflicts(self, relative: float = 0.05) -> tuple[Conflict, ...]:
        """Return disagreements between non-default sources, beyond `relative` and two standard uncertainties."""
        found = []
        for name, entries in self._by_name.items():
            used = entries[0]
            for other in entries[1:]:
                if other.origin != used.origin and other.origin > Origin.DEFAULT and _differ(used, other, relative):
                    found.append(Conflict(name, used, other))
                    break
        return tuple(found)


def _differ(one: Fact, two: Fact, relative: float) -> bool:
    if isinstance(one.value, str) or isinstance(two.value, str):
        return str(one.value).lower() != str(two.value).lower()
    if isinstance(one.value, tuple) or isinstance(two.value, tuple):
        return one.value != two.value
    allowed = relative * max(abs(one.value), abs(two.value)) + 2 * ((one.u or 0.0) ** 2 + (two.u or 0.0) ** 2) ** 0.5
    return bool(abs(one.value - two.value) > allowed)
