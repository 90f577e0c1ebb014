"""What a person, a story or an instrument says, before it is turned into evidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class SignObservation:
    """A sign reported present or absent; `confidence` 0.5 says nothing, 1 is certain."""

    id: str
    present: bool
    confidence: float = 0.95
    origin: str = "the case"  # "the case", "the story", "a photo", …
    phrase: str = ""  # the words that said so


@dataclass(frozen=True)
class Answer:
    """The result of a check."""

    check: str
    result: Literal["yes", "no", "unsure"]


@dataclass(frozen=True)
class Trial:
    """One print attempt; an empty name means not known."""

    printer: str = ""
    spool: str = ""
    file: str = ""
    surroundings: str = ""
    defect: bool = True


@dataclass(frozen=True)
class Hint:
    """A cause that the sender's words sound like, without a sign in them; the hint in bits."""

    cause: str
    bits: float
    words: str = ""
