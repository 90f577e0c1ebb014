"""Chances and names as they read inside a sentence, said one way everywhere."""

from __future__ import annotations


def percent(chance: float) -> str:
    """Say a chance without false precision; never 0 % or 100 %, which nothing here can be.

    >>> percent(0.613), percent(0.997), percent(0.002)
    ('61 %', 'over 99 %', 'under 1 %')
    """
    if chance > 0.99:
        return "over 99 %"
    return "under 1 %" if chance < 0.01 else f"{100 * chance:.0f} %"


def lower_first(name: str) -> str:
    """Return a name as it reads inside a sentence: the first letter lowered unless the word is an abbreviation.

    >>> lower_first("Layers shifted"), lower_first("PLA strings")
    ('layers shifted', 'PLA strings')
    """
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]
