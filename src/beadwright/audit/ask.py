"""What a rule is given and how it answers.

A rule is a pure function `(facts, context) -> Finding | Quiet | None`: a finding, "asked and found nothing",
or None when a fact it needs is missing. It asks for facts by name and does not care whether a file, a
settings page or a story gave them; the finding's `origin` says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from beadwright.facts import ORIGIN_WORDS, Fact, Facts
from beadwright.knowledge.material_shapes import Material

from .findings import Finding, Level, Quiet, Where, say_range

PRACTICE = "Practice"


@dataclass(frozen=True)
class Context:
    """What is known beside the facts."""

    material: Material | None = None
    places: Mapping[str, Where] = field(default_factory=dict)  # fact name -> where it was measured in the file

    def where(self, name: str, fact: Fact | None = None) -> Where:
        """The place of a fact; nowhere when the fact in use was not measured in the file."""
        return self.places.get(name, Where())


Rule = Callable[[Facts, Context], Finding | Quiet | None]


@dataclass(frozen=True)
class Window:
    """An expected range, None where open, with the source that gives it."""

    low: float | None
    high: float | None
    source: str = PRACTICE

    @property
    def ends(self) -> tuple[float | None, float | None]:
        return (self.low, self.high)

    def say(self, unit: str) -> str:
        """Say the window.

        >>> Window(190, 230).say("°C"), Window(3, None).say("layers")
        ('190–230 °C', 'at least 3 layers')
        """
        if self.low is not None and self.high is not None:
            return f"{self.low:g}–{self.high:g} {unit}".rstrip()
        return (f"at least {self.low:g} {unit}" if self.low is not None else f"at most {self.high:g} {unit}").rstrip()


def origin(fact: Fact) -> str:
    """Say where a fact comes from.

    >>> from beadwright.facts import Origin
    >>> origin(Fact("fan_percent", 30.0, Origin.CLAIM, "[settings]"))
    'claimed in the settings ([settings])'
    """
    words = ORIGIN_WORDS[fact.origin]
    return f"{words} ({fact.where})" if fact.where else words


def number(facts: Facts, name: str) -> float | None:
    """The best value of a fact as a float, None when nothing numeric is known."""
    return facts.number(name)


def where_text(where: Where) -> str:
    """Say a place in a sentence, with a leading comma; empty when it is not known.

    >>> where_text(Where(layers=(2, 40))), where_text(Where())
    (', layers 2–40', '')
    """
    if where.layers:
        return f", {say_range('layer', where.layers)}"
    return f", {say_range('line', where.lines)}" if where.lines else ""


@dataclass(frozen=True)
class Speaker:
    """Writes findings and quiets of one rule about one fact."""

    rule: str
    fact: Fact
    context: Context
    window: Window
    unit: str
    bears_on: tuple[str, ...]

    @property
    def value(self) -> float:
        return self.fact.number

    def find(
        self, level: Level, text: str, bits: float | None = None, *, clears: str = "", at: str | None = None
    ) -> Finding:
        """A finding about the fact, placed where it was measured, or where the fact named `at` was."""
        where = self.context.where(at or self.fact.name)
        clears = clears or self.change()
        return Finding(
            self.rule, level, round(self.value, 4), self.unit, self.window.ends, self.window.source, text,
            self.bears_on, where, bits, origin(self.fact), clears,
        )  # fmt: skip

    def change(self) -> str:
        """The change into the window, in words; "" where nothing known to be settable is asked for."""
        from beadwright.knowledge.terms import load_terms

        term = load_terms().get(self.fact.name)
        if term is None or term.group not in ("setting", "printer") or self.window.ends == (None, None):
            return ""
        return f"{term.name}: {self.window.say(self.unit)}"

    def quiet(self, text: str, bits: float = -1.0) -> Quiet:
        return Quiet(self.rule, self.bears_on, bits, text)


def speaker(
    rule: str, name: str, facts: Facts, context: Context, window: Window, unit: str, bears_on: tuple[str, ...]
) -> Speaker | None:
    """Return the rule's speaker, None when the fact is not known as a number."""
    fact = facts.best(name)
    if fact is None or not isinstance(fact.value, bool | int | float):
        return None
    return Speaker(rule, fact, context, window, unit, bears_on)
