"""Which polymer a story says was printed: "PETG at 240", "switched from PLA to ABS", "PLA prints fine"."""

from __future__ import annotations

from beadwright.exhibits.story_text import Sentence
from beadwright.facts import Fact, Origin

_LONGEST_NAME = 3
# short symbols that are everyday words or abbreviations of something else unless written large
_ONLY_LARGE = frozenset({"pc", "pp", "pa", "pei", "pom", "pva", "pvb", "pet", "peek", "cpe", "pct", "pmma"})
_SURFACES = frozenset(
    {"sheet", "plate", "bed", "film", "platte", "surface", "plateau", "coated", "textured", "glue", "stick"}
)
_FINE = frozenset(
    {
        "fine",
        "ok",
        "okay",
        "perfect",
        "perfectly",
        "great",
        "good",
        "well",
        "gut",
        "problemlos",
        "super",
        "bien",
        "perfekt",
        "works",
        "parfait",
        "bene",
    }
)
_AWAY = frozenset(
    {
        "from",
        "von",
        "de",
        "desde",
        "da",
        "not",
        "no",
        "kein",
        "keine",
        "pas",
        "unlike",
        "than",
        "als",
        "never",
    }
)


def material_facts(sentences: list[Sentence], text: str) -> tuple[list[Fact], list[str]]:
    """Return the polymer and filler that the story says, and a note when it names several."""
    found: dict[tuple[str, str | None], str] = {}
    for sentence in sentences:
        for start, end, polymer, filler in _named(sentence, text):
            where = " ".join(text[max(sentence.start, start - 30) : min(end + 20, sentence.end)].split())
            found.setdefault((polymer, filler), f"the story: '{where}'")
    polymers = {polymer for polymer, _ in found}
    if len(polymers) > 1:
        return [], [f"the story names several polymers ({', '.join(sorted(polymers))}); say which was printed"]
    facts = []
    for (polymer, filler), where in sorted(found.items(), key=lambda entry: entry[0][1] is None):
        facts.append(Fact("polymer", polymer, Origin.STORY, where))
        if filler:
            facts.append(Fact("filler", filler, Origin.STORY, where))
        break
    return facts, []


def _named(sentence: Sentence, text: str) -> list[tuple[int, int, str, str | None]]:
    from beadwright.knowledge.material_names import match_material, polymer_names

    names, words, tokens = polymer_names(), sentence.words(), sentence.tokens
    found = []
    at = 0
    while at < len(words):
        length = next(
            (n for n in range(_LONGEST_NAME, 0, -1) if " ".join(words[at : at + n]) in names and at + n <= len(words)),
            0,
        )
        raw = text[tokens[at].start : tokens[at].end]
        if (
            length
            and not (length == 1 and words[at] in _ONLY_LARGE and not raw.isupper())
            and _printed(words, at, length)
        ):
            last = min(at + length + 2, len(words))
            matched = match_material(text[tokens[at].start : tokens[last - 1].end])
            if matched is not None:
                found.append((tokens[at].start, tokens[at + length - 1].end, *matched))
        at += max(length, 1)
    return found


def _printed(words: list[str], at: int, length: int) -> bool:
    """Return whether a named polymer is the one in question: not the sheet, not the one that prints fine."""
    after = words[at + length : at + length + 4]
    before = words[max(0, at - 2) : at]
    if after[:1] and after[0] in _SURFACES:
        return False
    return not (_FINE & set(after)) and not (_AWAY & set(before))
