"""The size of a shift as a story gives it: "0.8 mm in x and 0.8 in y", "2 mm, only in x"."""

from __future__ import annotations

import re

from beadwright.exhibits.story_text import Sentence
from beadwright.facts import Fact, Origin
from beadwright.knowledge.quantity import parse_number

_ABOUT_SHIFT = re.compile(
    r"shift|offset|moved|jump|slip|versatz|versetz|verschob|d[ée]cal|desplaz|corri|spost", re.IGNORECASE
)
_NUMBER = r"(-?\d{1,4}(?:[.,]\d{1,4})?)\s*(?:mm|millimet\w+)?"
_IN = (
    r"[\s,]*(?:(?:only|nur|seulement|solo|just|in|along|on|en|sur|nach|lungo|auf|l['’]axe|the|der|el|eje|axis|achse)"
    r"\s*)*"
)
_AXIS = r"([xy])(?![\w])"
_AND = r"\s*(?:axis|achse)?\s*(?:and|und|et|e|/|,|&|\+)\s*(?:also\s*)?"
_EACH = re.compile(rf"{_NUMBER}{_IN}\b{_AXIS}", re.IGNORECASE)
_BOTH = re.compile(rf"{_NUMBER}{_IN}(?:both\s*)?\b{_AXIS}{_AND}(?:in\s*|en\s*)?{_AXIS}", re.IGNORECASE)
_ONLY = re.compile(r"\b(?:only|nur|seulement|solo|uniquement|just)\b", re.IGNORECASE)


def shift_fact(sentence: Sentence, text: str) -> Fact | None:
    """Return the shift along both axes, None when the sentence leaves one open.

    The sign of a stated amount is kept; "only in x" makes the other axis zero.
    """
    said = text[sentence.start : min(sentence.end + 3, len(text))]
    if not _ABOUT_SHIFT.search(said):
        return None
    amounts: dict[str, float] = {}
    both = _BOTH.search(said)
    if both and both[2].lower() != both[3].lower():
        amounts = dict.fromkeys(("x", "y"), parse_number(both[1])[0])
    else:
        amounts = {axis.lower(): parse_number(number)[0] for number, axis in _EACH.findall(said)}
    if len(amounts) == 1 and _ONLY.search(said):
        amounts = {"x": 0.0, "y": 0.0, **amounts}
    if len(amounts) != 2:
        return None
    where = f"the story: '{' '.join(said.split())[:80]}'"
    return Fact("shift_mm", (amounts["x"], amounts["y"]), Origin.STORY, where)
