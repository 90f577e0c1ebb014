"""What a remedy's rule is given, and what it answers.

A rule is a pure function `Ask -> Target | None`: the value to change to with the reason as a clause that goes
on after "because", a reason without a value where the change is no number, or None where the facts do not
carry a number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from beadwright.facts import Facts
from beadwright.knowledge.material_shapes import Material


@dataclass(frozen=True)
class Ask:
    """The case as one rule sees it: all facts, the material if known, and the setting to be moved."""

    facts: Facts
    material: Material | None
    fact: str

    @property
    def now(self) -> float | None:
        """The present value of the setting."""
        return self.facts.number(self.fact)

    def number(self, name: str, default: float | None = None) -> float | None:
        return self.facts.number(name, default)

    def given(self, name: str, default: float) -> float:
        """A fact, or a stated default."""
        value = self.facts.number(name)
        return default if value is None else value


@dataclass(frozen=True)
class Target:
    """The value to go to, None where the change is no number, and why."""

    value: float | None
    why: str


Rule = Callable[[Ask], Target | None]


def unless_there(ask: Ask, value: float, why: str, slack: float = 1e-9) -> Target | None:
    """Return the target, or None when the setting is already there within `slack`."""
    now = ask.now
    return None if now is not None and abs(now - value) <= slack else Target(value, why)


def raise_to(ask: Ask, value: float, why: str) -> Target | None:
    """Return the target when it lies above the present value, or that is unknown."""
    now = ask.now
    return None if now is not None and value <= now + 1e-9 else Target(value, why)


def lower_to(ask: Ask, value: float, why: str) -> Target | None:
    """Return the target when it lies below the present value, or that is unknown."""
    now = ask.now
    return None if now is not None and value >= now - 1e-9 else Target(value, why)
