"""Tells a virtual case as a story: sentences of our own in four languages, and at times a wrong theory."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from beadwright.virtual.fault import Rng
from beadwright.virtual.healthy import material
from beadwright.virtual.observe import Told

LANGUAGES = {"en": 0.45, "de": 0.25, "fr": 0.15, "es": 0.15}
WRONG_THEORY = 0.2  # share of stories with a theory of the sender's, drawn regardless of the truth

OPENINGS = {
    "en": ("", "Hello, ", "Help please: ", "Printed a bracket last night. ", "Second try and the same. "),
    "de": ("", "Hallo, ", "Bitte um Hilfe: ", "Gestern einen Halter gedruckt. ", "Zweiter Versuch, wieder nichts. "),
    "fr": ("", "Bonjour, ", "J'ai besoin d'aide : ", "Imprimé un support hier. "),
    "es": ("", "Hola, ", "Necesito ayuda: ", "Ayer imprimí un soporte. "),
}
THEORIES = {
    "en": ("I think the filament is wet.", "My guess is the belts are loose.", "A friend says it is the nozzle."),
    "de": (
        "Ich denke, das Filament ist feucht.",
        "Ich vermute, die Riemen sind locker.",
        "Ein Freund meint, es ist die Düse.",
    ),
    "fr": ("Je pense que le filament est humide.", "À mon avis les courroies sont détendues."),
    "es": ("Creo que el filamento está húmedo.", "Supongo que las correas están flojas."),
}
WITH = {
    "en": ("Material is {m}.", "{m}, nozzle at {n:.0f} °C."),
    "de": ("Material ist {m}.", "{m}, Düse auf {n:.0f} °C."),
    "fr": ("Matière : {m}.", "{m}, buse à {n:.0f} °C."),
    "es": ("El material es {m}.", "{m}, boquilla a {n:.0f} °C."),
}


@cache
def phrasebook() -> dict[str, dict[str, list[str]]]:
    """Return sentences by sign and language."""
    return tomllib.loads((Path(__file__).parent / "words.toml").read_text("utf-8"))


def story_of(told: Told, rng: Rng) -> str:
    """Return the report in words. Signs without a sentence, and denials, are left out; nothing else is."""
    language = str(rng.choice(list(LANGUAGES), p=list(LANGUAGES.values())))
    book = phrasebook()
    said = [str(rng.choice(book[name][language])) for name, present, _ in told.signs if present and name in book]
    rng.shuffle(said)
    sentences = [text[:1].upper() + text[1:] + "." for text in said]
    polymer, nozzle = told.material.get("polymer"), told.settings.get("nozzle_temp_c")
    if polymer is not None:
        with_heat = nozzle is not None and rng.random() < 0.7
        sentences.append(WITH[language][with_heat].format(m=material(polymer).abbreviation, n=nozzle or 0))
    if rng.random() < WRONG_THEORY:
        sentences.append(str(rng.choice(THEORIES[language])))
    return str(rng.choice(OPENINGS[language])) + " ".join(sentences)
