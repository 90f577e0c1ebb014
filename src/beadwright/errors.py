"""What can go wrong, as one tree.

    BeadwrightError
    ├── InputError            something handed in cannot be used           exit code 2
    │   ├── ToolpathError     a toolpath file that is none, or is damaged beyond reading
    │   ├── CaseError         a case file with a wrong key or value
    │   ├── ExhibitError      a photo, log, story … that cannot be opened
    │   ├── KnowledgeError    a knowledge table that contradicts itself
    │   └── NotFoundError     no case, cause, check … of that name
    └── StoreError            the shop's store cannot be read or written   exit code 3
        └── CaseChangedError  someone else changed the case since it was read; nothing was written

Problems *inside* a file that can still be read are values, not exceptions: see `toolpath.columns.Problem`.
A message says where, what was found, and what would do; the object carries the same as fields.
"""

from __future__ import annotations


class BeadwrightError(Exception):
    """Base of all failures that a person can mend; `str()` is one clear sentence or two."""

    exit_code = 1

    def __init__(self, found: str, *, where: str = "", fix: str = "") -> None:
        self.found = found
        self.where = where
        self.fix = fix
        super().__init__(found)

    def __str__(self) -> str:
        sentence = _ended(f"{self.where}: {self.found}" if self.where else self.found)
        return f"{sentence} {_ended(self.fix[0].upper() + self.fix[1:])}" if self.fix else sentence


def _ended(sentence: str) -> str:
    """Return a sentence with one mark at its end.

    >>> _ended("it is empty"), _ended("Did you mean damp?")
    ('it is empty.', 'Did you mean damp?')
    """
    return sentence if sentence.endswith(("?", "!", ".", "…")) else f"{sentence}."


class InputError(BeadwrightError):
    """Something handed in cannot be used."""

    exit_code = 2


class ToolpathError(InputError):
    """A file that is no filament toolpath, or one damaged beyond reading."""


class CaseError(InputError):
    """A case file with a wrong key or value."""


class ExhibitError(InputError):
    """An exhibit that cannot be opened."""


class KnowledgeError(InputError):
    """A knowledge table that contradicts itself."""


class NotFoundError(InputError):
    """No case, cause, check … of that name."""


class StoreError(BeadwrightError):
    """The shop's store cannot be read or written."""

    exit_code = 3


class CaseChangedError(StoreError):
    """Someone else changed the case since it was read; nothing was written and nothing is lost."""
