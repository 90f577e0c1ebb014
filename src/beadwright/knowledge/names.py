"""How like a phrase a settings page's name is: shared words over all words, each as telling as it is rare.

Pure text; knows nothing of terms. One word can turn a name into another quantity ("first", "outer"), so a
word that only one side has costs more than its weight.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from beadwright.knowledge.quantity import canonical_unit, fold

# Words that carry no distinction on a settings page, folded.
_FILLER_WORDS = """
a an the of for at in on to and per set setting settings value default normal general main printing print mm
de la le les l d du des el los las del der die das dem den fur bei im am von zum zur pour sur en para y et und
i il di da
"""
# Words that turn a name into another quantity, folded.
_TURNING_WORDS = """
first erste ersten premiere primera outer inner inside outline internal aussen aussenwand innen exterieure
interieure interior top bottom upper lower obere untere superieures inferieures superiores inferiores support
stutzstruktur supports soporte travel bridge brucke pont puente skirt raft brim overhang retraction retract
einzug ruckzug acceleration beschleunigung aceleracion jerk speed geschwindigkeit vitesse velocidad
temperature temperatur temperatura chamber bed nozzle fan lufter ventilateur ventilador maximum minimum
number count time width height distance length lift hop gap flow density pattern type angle extra overlap
offset measured expected humidity diameter thickness prime purge wipe regular
"""
# Spellings that mean one word: folded spelling=word.
_SAME_WORDS = """
temp=temperature initial=first hotend=nozzle min=minimum max=maximum 1st=first accel=acceleration vel=speed
velocity=speed dist=distance diam=diameter dia=diameter ext=outer external=outer outside=outer exterior=outer
contour=wall heatbed=bed platform=plate retracting=retraction druckplatte=druckbett 1=first 1ere=premiere
1er=premiere 1a=primera cooling=fan blower=fan
"""
FILLERS = frozenset(_FILLER_WORDS.split())
TURNING = frozenset(_TURNING_WORDS.split())
SAME = dict(pair.split("=") for pair in _SAME_WORDS.split())
SUFFIX_UNITS = {
    "_mm3_s": "mm³/s", "_mm_s2": "mm/s²", "_mm_s": "mm/s", "_mm_min": "mm/min", "_mm": "mm", "_percent": "%",
    "_c": "°C", "_f": "°F", "_hz": "Hz", "_deg": "°", "_inch": "in", "_in": "in", "_hours": "h", "_s": "s",
    "_g": "g", "_days": "d", "_w": "W",
}  # fmt: skip
SLIP = 0.8  # likeness from which an unknown word passes for a slip of a known one
MOST_WORDS = 12


def split_unit(name: str) -> tuple[str, str | None]:
    """Take the unit off a name: "Layer height (mm)", "bed [°C]", "nozzle_temp_c".

    >>> split_unit("Layer height (mm)"), split_unit("nozzle_temp_c"), split_unit("speed")
    (('Layer height  ', 'mm'), ('nozzle_temp', '°C'), ('speed', None))
    """
    bracketed = re.search(r"[(\[]([^()\[\]]{1,24})[)\]]", name)
    if bracketed and canonical_unit(bracketed[1]):
        return name.replace(bracketed[0], " "), canonical_unit(bracketed[1])
    plain = name.strip().casefold()
    for suffix, unit in SUFFIX_UNITS.items():
        if plain.endswith(suffix):
            return plain.removesuffix(suffix), unit
    last = re.search(r"[\s,]+(°\s?[CF]|%|mm/s²?|mm/min|mm)$", name)
    return (name[: last.start()], canonical_unit(last[1])) if last else (name, None)


def name_words(name: str) -> list[str]:
    """Return a name's telling words, folded, spellings joined; all of its words when none is telling.

    >>> name_words("Initial layerHeight of the print")
    ['first', 'layer', 'height']
    """
    words = re.findall(r"[a-z0-9]+", fold(re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)))
    kept = [word for word in words if word not in FILLERS] or words
    return [SAME.get(word, word) for word in kept]


@dataclass(frozen=True)
class PhraseIndex:
    """Phrases by their words; `scores` finds the ids whose phrases a name is like."""

    phrases: tuple[tuple[str, frozenset[str]], ...]  # id, words
    weight: dict[str, float]  # how telling each known word is
    by_word: dict[str, tuple[int, ...]]  # word -> places in `phrases`

    def scores(self, name: str) -> list[tuple[str, float]]:
        """Return ids with their likeness to `name`, 0 to 1, best first."""
        heard = dict(self._known(word) for word in name_words(name)[:MOST_WORDS])
        places = {place for word, like in heard.items() if like for place in self.by_word.get(word, ())}
        best: dict[str, float] = {}
        for place in sorted(places):
            phrase_id, words = self.phrases[place]
            best[phrase_id] = max(best.get(phrase_id, 0.0), self._likeness(heard, words))
        return sorted(best.items(), key=lambda entry: -entry[1])

    def _known(self, word: str) -> tuple[str, float]:
        """Return the known word that `word` is, or is a slip of, and how like it is."""
        if word in self.weight:
            return word, 1.0
        close = get_close_matches(word, self.weight, n=1, cutoff=SLIP) if len(word) > 3 else []
        return (close[0], 0.9) if close else (word, 0.0)

    def _likeness(self, heard: dict[str, float], words: frozenset[str]) -> float:
        shared = sum(self.weight[word] * heard[word] for word in words if word in heard)
        extra = [word for word in heard if word not in words]
        missing = [word for word in words if word not in heard]
        lost = sum(self.weight.get(word, 2.0) for word in extra)
        lost += 0.6 * sum(self.weight[word] for word in missing)
        score = shared / (shared + lost) if shared else 0.0
        if any(word in TURNING for word in extra):
            score *= 0.6
        if any(word in TURNING for word in missing):
            score *= 0.8
        if any(word not in self.weight and len(word) > 3 for word in heard):  # an unknown word may turn it too
            score *= 0.85
        return min(score, 1.0)


def index_phrases(phrases: Iterable[tuple[str, str]]) -> PhraseIndex:
    """Return the index of (id, phrase) pairs; a word is the more telling the fewer ids use it."""
    known = [(phrase_id, frozenset(name_words(phrase))) for phrase_id, phrase in phrases]
    ids_with: dict[str, set[str]] = {}
    by_word: dict[str, list[int]] = {}
    for place, (phrase_id, words) in enumerate(known):
        for word in words:
            ids_with.setdefault(word, set()).add(phrase_id)
            by_word.setdefault(word, []).append(place)
    count = len({phrase_id for phrase_id, _ in known})
    weight = {word: math.log(1 + count / len(ids)) for word, ids in ids_with.items()}
    return PhraseIndex(tuple(known), weight, {word: tuple(places) for word, places in by_word.items()})
