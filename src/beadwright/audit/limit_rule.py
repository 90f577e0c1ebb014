"""A rule that holds one fact against fixed ends, written down as data.

Most of what a senior operator checks is of this kind: one number, where it is well, where it becomes worth a word, and
what that says about causes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from beadwright.facts import Facts

from .ask import PRACTICE, Context, Window, speaker, where_text
from .findings import Finding, Level, Quiet

When = Callable[[Facts, Context], bool]


@dataclass(frozen=True)
class Limit:
    """Asks `fact` to stay within `low` and `high`; beyond `warn` and `fault`, on either side, it is graver.

    `text` and `clears` may use {value}, {where}, {window}. `when` says whether the rule applies at all.
    """

    rule: str
    fact: str
    unit: str
    bears_on: tuple[str, ...]
    text: str
    clears: str
    low: float | None = None
    high: float | None = None
    warn: float | None = None
    fault: float | None = None
    note_bits: float | None = None
    quiet_bits: float = -0.2
    when: When | None = None

    @property
    def __name__(self) -> str:
        return self.rule

    def __call__(self, facts: Facts, context: Context) -> Finding | Quiet | None:
        if self.when is not None and not self.when(facts, context):
            return None
        window = Window(self.low, self.high, PRACTICE)
        said = speaker(self.rule, self.fact, facts, context, window, self.unit, self.bears_on)
        if said is None:
            return None
        level = self.level(said.value)
        if level is None:
            return said.quiet(f"{self.fact} is {said.value:.3g}", self.quiet_bits)
        words = {
            "value": f"{said.value:.3g}", "window": window.say(self.unit),
            "where": where_text(context.where(self.fact)),
        }  # fmt: skip
        bits = self.note_bits if level == "note" else None
        return said.find(level, self.text.format(**words), bits, clears=self.clears.format(**words))

    def level(self, value: float) -> Level | None:
        """How grave a value is, None inside.

        >>> Limit("r", "f", "mm", (), "", "", high=1, warn=2, fault=3).level(2.5)
        'warn'
        """
        too_low = self.low is not None and value < self.low
        if not too_low and not (self.high is not None and value > self.high):
            return None
        if self.fault is not None and (value <= self.fault if too_low else value >= self.fault):
            return "fault"
        if self.warn is not None and (value <= self.warn if too_low else value >= self.warn):
            return "warn"
        return "note"
