"""Sentence vectors: what is asked, what is answered, and what a broken cache does."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from pathlib import Path

import pytest

from beadwright.exhibits import story_encoder
from beadwright.exhibits.story_encoder import _TokenizerOnly
from beadwright.exhibits.story_text import split_sentences
from beadwright.exhibits.story_vectors import CLOSE, clauses_worth_asking, confidence, likeness_by_vectors
from beadwright.files import keep, kept
from beadwright.knowledge.load import load_knowledge
from beadwright.knowledge.model import Sign


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setattr(story_encoder, "cache_folder", lambda: tmp_path / "cache")
    story_encoder.encoder.cache_clear()
    yield tmp_path / "cache"
    story_encoder.encoder.cache_clear()


def few() -> dict[str, Sign]:
    """A few signs: encoding all of them for the first time takes seconds."""
    signs = load_knowledge().signs
    return {
        name: signs[name] for name in ("stringing", "layer_shift", "corner_lifted", "weak_part", "heater_error_shown")
    }


def test_clauses_meet_signs_by_meaning_in_other_words_and_languages(cache: Path) -> None:
    said = [
        "The controller reported a fault of the heating",
        "La impresora mostró un error del calentador",
        "I bought this printer from a neighbour",
        "The weather was nice at the seaside",
    ]
    found = likeness_by_vectors(said, few())
    assert [answer and answer[0] for answer in found[:2]] == ["heater_error_shown"] * 2
    assert found[2:] == [None, None]
    assert all(0.55 <= answer[1] <= 0.75 for answer in found if answer)
    assert {path.suffix for path in cache.iterdir()} == {".npy", ".pickle"}


def test_a_damaged_cache_costs_only_time(cache: Path) -> None:
    said = ["The controller reported a fault of the heating"]
    first = likeness_by_vectors(said, few())
    for path in cache.iterdir():
        path.write_bytes(b"damaged")
    story_encoder.encoder.cache_clear()
    assert likeness_by_vectors(said, few()) == first


def test_a_cache_that_cannot_be_written_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(story_encoder, "cache_folder", lambda: tmp_path / "file" / "cache")
    keep(story_encoder.cache_folder() / "a", b"1")
    assert kept(story_encoder.cache_folder() / "a") is None


def test_a_cached_tokenizer_can_build_nothing_else() -> None:
    import io

    with pytest.raises(pickle.UnpicklingError, match="has no place in a tokenizer"):
        _TokenizerOnly(io.BytesIO(pickle.dumps(Path("x")))).load()


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("The wall resembles a garden after rain", True),
        ("The wall does not resemble a garden", False),
        ("Hello and thanks a lot", False),
        ("The wall is fine here", False),
        ("Wall", False),
    ],
)
def test_only_clauses_about_the_part_are_asked(text: str, asked: bool) -> None:
    assert bool(clauses_worth_asking(split_sentences(text))) is asked


def test_confidence_stays_below_the_lexicon() -> None:
    assert confidence(CLOSE) == 0.55
    assert confidence(1.0) == 0.75
