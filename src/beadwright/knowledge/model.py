"""The shapes of the trade's knowledge: causes, signs, checks, remedies, cautions, materials, sources, terms.

The tables under `knowledge/` are data that people may add to; `load.py` reads and cross-checks them.
Probabilities are between 0 and 1, weights in bits (log2 of odds ratios), prices in minutes and money units.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Family = Literal[
    "motion", "hot end", "filament", "first layer", "cooling", "settings", "file", "support", "model",
    "electronics", "surroundings", "handling", "looks",
]  # fmt: skip
LivesIn = Literal["printer", "filament", "file", "model", "environment", "handling"]
Probability = Annotated[float, Field(ge=0.0, le=1.0)]


class Entry(BaseModel):
    """Common to all tables: closed shape, immutable, knows its own id and source."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    source: str = "Practice"


class Condition(BaseModel):
    """A fact that moves a cause's prior odds; exactly one test of `equals`, `one_of`, `above`, `below`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    fact: str
    equals: str | bool | float | None = None
    one_of: tuple[str, ...] | None = None
    above: float | None = None
    below: float | None = None
    bits: float  # added to the cause's log odds when the test holds
    else_bits: float = 0.0  # added when the fact is known and the test fails
    text: str  # the reason as a person would say it, when it holds


class Cause(Entry):
    """What went wrong. `signs` and `leads_to` are noisy-OR links: the chance that this cause alone brings it about."""

    name: str
    family: Family
    lives_in: LivesIn
    prior: Probability  # chance that a failed print has this as a root cause; 0 for a pure mechanism
    mechanism: bool = False  # never a root: only reached through another cause's `leads_to`
    text: str  # what happens and why, two or three sentences in plain words
    told: tuple[str, ...] = ()  # how senders tell of it, in their own words and languages
    signs: dict[str, Probability] = {}
    leads_to: dict[str, Probability] = {}
    context: tuple[Condition, ...] = ()
    remedies: tuple[str, ...] = ()  # in order of preference
    cautions: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()  # causes that cannot be true at once with this one


class Phrases(BaseModel):
    """How people say a sign, by language (BCP 47 primary tag, `mul`: several mixed).

    Word patterns: `*` ends a stem, `_` is any one word. With `&`, groups of alternatives (parted by `|`) of
    which one each must stand near the others, in any order: "belt*|riemen & loose|locker".
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    en: tuple[str, ...] = ()
    de: tuple[str, ...] = ()
    fr: tuple[str, ...] = ()
    es: tuple[str, ...] = ()
    it: tuple[str, ...] = ()
    nl: tuple[str, ...] = ()
    pl: tuple[str, ...] = ()
    pt: tuple[str, ...] = ()
    mul: tuple[str, ...] = ()


class Sign(Entry):
    """Something observable about the print or the machine."""

    name: str
    text: str  # what one sees, one sentence, so that two people would agree on it
    leak: Probability  # chance of seeing it on a failed print whose cause is none of the modelled ones
    report_when_present: Probability = 0.5  # chance that a sender mentions it unasked when it is there
    ask: str  # the question to the sender, plain words, answer yes or no
    phrases: Phrases = Phrases()
    implies: tuple[str, ...] = ()  # broader signs that are then present too


class Check(Entry):
    """Something a person can do to learn more. Either it looks at one `sign`, or it has a result of its own (`yes`)."""

    name: str
    text: str  # how to do it, in order, with what to look for
    effort: Literal["ask", "look", "tool", "part", "reprint"]
    minutes: float = Field(gt=0)
    money: float = Field(default=0.0, ge=0)
    sign: str | None = None  # the sign it settles
    reliability: Probability = 0.95  # chance that the answer is right, when it settles a sign
    yes: dict[str, Probability] = {}  # cause -> chance of "yes" brought about by that cause alone
    leak: Probability = 0.05  # chance of "yes" with none of those causes
    yes_means: str = ""  # what a "yes" looks like
    no_means: str = ""
    facts: tuple[str, ...] = ()  # facts that make asking needless
    cautions: tuple[str, ...] = ()


class Change(BaseModel):
    """A setting that a remedy moves. `rule` names a formula in `remedy/`; else `to`, `by` or `factor` is fixed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    fact: str
    rule: str | None = None
    to: float | None = None
    by: float | None = None
    factor: float | None = None


class Remedy(Entry):
    """A change, with side effects and cautions."""

    name: str
    text: str
    minutes: float = Field(gt=0)
    money: float = Field(default=0.0, ge=0)
    change: tuple[Change, ...] = ()
    cures: dict[str, Probability] = {}  # cause -> chance that it is gone afterwards
    may_worsen: tuple[str, ...] = ()  # sign ids
    cautions: tuple[str, ...] = ()


class Caution(Entry):
    """A warning that leads where it applies."""

    level: Literal["care", "stop"]
    text: str


class Term(Entry):
    """A named quantity: one nomenclature for code, columns, case files, JSON and labels."""

    name: str  # label for people
    unit: str  # "mm", "°C", "mm/s", "%", "1" for counts and ratios
    kind: Literal["number", "numbers", "text", "flag"] = "number"
    group: Literal["printer", "material", "setting", "file", "measured"] = "setting"  # where it is written down
    range: tuple[float, float] | None = None  # plausible values, both ends included
    one_of: tuple[str, ...] | None = None
    default: float | str | None = None
    words: tuple[str, ...] = ()  # how settings pages say it, any language, lower case
    text: str = ""


class Number(BaseModel):
    """A material number: value and/or span, with source and doubt."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    value: float | None = None
    min: float | None = None
    max: float | None = None
    source: tuple[str, ...]
    doubt: Literal["medium", "high"] | None = None
    note: str = ""
    how: str = ""

    @property
    def best(self) -> float:
        """The value, or the middle of the span."""
        if self.value is not None:
            return self.value
        if self.min is None or self.max is None:
            raise ValueError("a number needs a value, or both ends of a span")
        return (self.min + self.max) / 2


class Source(Entry):
    """Where a number comes from and how sure that is. Its id is the tag cited beside the number, `Crank1975`."""

    id: str = Field(pattern=r"^[A-Za-z][A-Za-z0-9]*$")
    status: Literal["verified", "memory", "derived", "practice"]
    mark: str
    note: str = ""
