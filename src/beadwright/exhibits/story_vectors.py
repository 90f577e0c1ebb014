"""Meeting a sign by meaning where no phrase of the lexicon fits: vectors of a general-purpose encoder.

A clause is compared with prototypes of every sign and with background talk ("I bought this printer last
year"); it speaks of a sign only when it is close to one and clearly closer than to the background.
Thresholds were set on the labelled stories in `tests/exhibits/stories.toml`; they are kept high: a wrong
sign costs more than a missed one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from beadwright.exhibits.story_encoder import encoder, vectors_of
from beadwright.exhibits.story_text import Sentence, Token, find_any
from beadwright.knowledge.model import Sign

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Vectors = NDArray[np.float32]

CLOSE = 0.58  # cosine from which a clause may speak of a sign
CLEAR = 0.15  # by how much it must be closer to the sign than to any background talk
MOST_CLAUSES = 40
_FEWEST_WORDS = 3
_LANGUAGES = ("en", "de", "fr", "es")
_PER_LANGUAGE = {"en": 2}

BACKGROUND = (
    "hello, can you please help me",
    "thanks in advance",
    "I bought this printer last year",
    "what should I do",
    "my settings are standard",
    "the first layer looks good",
    "it printed fine before",
    "everything else is fine",
    "I changed the nozzle and cleaned the bed",
    "I use this printer every day",
    "the part is a bracket for a customer",
    "I have attached a photo and the file",
    "the filament is new",
    "I have tried everything",
    "nothing has changed",
    "the print took five hours",
    "I dried the filament for six hours",
    "I levelled the bed again",
    "see the picture",
    "it is a corexy machine with a direct extruder",
    "printing at 210 degrees with the bed at 60",
    "I am new to printing",
    "it looks terrible and I am frustrated",
    "the print failed again",
    "this is the third attempt",
    "please advise",
    "Guten Tag, bitte um Hilfe",
    "ich habe den Drucker letztes Jahr gekauft",
    "danke im Voraus",
    "sonst ist alles gut",
    "bonjour, pouvez-vous m'aider",
    "j'ai acheté l'imprimante l'année dernière",
    "merci d'avance",
    "tout le reste va bien",
    "hola, necesito ayuda",
    "compré la impresora el año pasado",
    "gracias de antemano",
    "lo demás está bien",
)


def clauses_worth_asking(sentences: Sequence[Sentence]) -> list[tuple[int, int]]:
    """Return character spans of clauses that say something of a part or a machine, at most `MOST_CLAUSES`.

    A denied, past or contented clause is left out: likeness does not see a "not".
    """
    spans = [span for sentence in sentences for span in _spans(sentence)]
    return spans[:MOST_CLAUSES]


def _spans(sentence: Sentence) -> list[tuple[int, int]]:
    words = sentence.words()
    if any(find_any(table, _LANGUAGES, words) for table in ("negation", "past", "against", "content")):
        return []
    by_clause: dict[int, list[Token]] = {}
    for token in sentence.tokens:
        by_clause.setdefault(token.clause, []).append(token)
    return [
        (tokens[0].start, tokens[-1].end)
        for tokens in by_clause.values()
        if _tells(said := [token.text for token in tokens]) and find_any("matter", _LANGUAGES, said)
    ]


def _tells(words: list[str]) -> bool:
    return sum(word.isalpha() and len(word) > 2 for word in words) >= _FEWEST_WORDS


def likeness_by_vectors(said: Sequence[str], signs: Mapping[str, Sign]) -> list[tuple[str, float] | None]:
    """Return, per clause, the sign it most likely speaks of with a confidence from 0.55 to 0.75, or None."""
    import numpy as np

    model = encoder()
    if model is None or not signs:
        return [None] * len(said)
    names, prototypes, background = _prototypes(signs, model)
    vectors = np.asarray(model.encode(list(said)), dtype=np.float32)
    close = vectors @ prototypes.T
    plain = (vectors @ background.T).max(axis=1)
    found: list[tuple[str, float] | None] = []
    for row, nothing in zip(close, plain, strict=True):
        best = int(row.argmax())
        score = float(row[best])
        told = score >= CLOSE and score - float(nothing) >= CLEAR
        found.append((names[best], confidence(score)) if told else None)
    return found


def confidence(cosine: float) -> float:
    """Map a cosine from `CLOSE` to 1 onto 0.55 to 0.75.

    >>> confidence(CLOSE), confidence(1.0)
    (0.55, 0.75)
    """
    share = (cosine - CLOSE) / (1 - CLOSE)
    return round(0.55 + 0.2 * min(max(share, 0.0), 1.0), 3)


def prototype_texts(signs: Mapping[str, Sign]) -> list[tuple[str, str]]:
    """Return (sign id, text): its name, what one sees, and its longest phrases; the encoder sees to other
    languages.
    """
    texts = []
    for sign in signs.values():
        texts += [(sign.id, sign.name), (sign.id, sign.text)]
        for language, most in _PER_LANGUAGE.items():
            phrases = sorted(getattr(sign.phrases, language), key=lambda phrase: -len(phrase.split()))
            texts += [(sign.id, phrase.replace("*", "").replace("_", "two")) for phrase in phrases[:most]]
    return texts


def _prototypes(signs: Mapping[str, Sign], model: Any) -> tuple[tuple[str, ...], Vectors, Vectors]:
    return _encoded(tuple(prototype_texts(signs)), model)


def _encoded(texts: tuple[tuple[str, str], ...], model: Any) -> tuple[tuple[str, ...], Vectors, Vectors]:
    """Return vectors of the prototypes and of the background."""
    vectors = vectors_of([text for _, text in texts] + list(BACKGROUND), model)
    return tuple(name for name, _ in texts), vectors[: len(texts)], vectors[len(texts) :]
