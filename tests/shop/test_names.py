"""Names from outside: shown, never followed."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadwright.shop.names import LONGEST_NAME_BYTES, display_name, plain_text, unique_name
from beadwright.shop.store import Store

HOSTILE = {
    "../../etc/passwd": "passwd",
    "/etc/shadow": "shadow",
    "C:\\Windows\\system.ini": "system.ini",
    "..": "unnamed",
    ".": "unnamed",
    "": "unnamed",
    "/": "unnamed",
    "nul\0byte.jpg": "nul\ufffdbyte.jpg",
    "two\nlines\t.jpg": "two lines .jpg",
    "tern\u202egpj.exe": "terngpj.exe",
    "zero\u200bwidth.jpg": "zerowidth.jpg",
    "CON": "_CON",
    "aux.gcode": "_aux.gcode",
    "console.log": "console.log",
    "a:b|c?.jpg": "a_b_c_.jpg",
    ".hidden": "hidden",
    "half \udcff surrogate": "half \ufffd surrogate",
    "שלום.jpg": "שלום.jpg",
    "フィラメント.jpg": "フィラメント.jpg",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_become_plain_ones(name: str) -> None:
    assert display_name(name) == HOSTILE[name]


@pytest.mark.parametrize("name", [*HOSTILE, "x" * 5000 + ".gcode", "é" * 5000, "." * 500])
def test_an_exhibit_of_any_name_is_kept_under_its_hash_alone(store: Store, name: str, tmp_path) -> None:
    store.new_case('[case]\nstory = "it bent"')
    kept = store.add_exhibit(1, name, b"bytes")
    assert store.get(1).exhibits == (kept,)
    assert store.exhibit_path(kept.sha256).read_bytes() == b"bytes"
    assert [path.name for path in store.exhibits.folder.rglob("*") if path.is_file()] == [kept.sha256[2:]]
    assert store.get(1).case().exhibit[0].file == kept.name


def test_a_long_name_keeps_its_ending() -> None:
    short = display_name("ü" * 5000 + ".gcode")
    assert short.endswith("….gcode")
    assert len(short.encode()) <= LONGEST_NAME_BYTES


@given(st.text(alphabet=st.characters(exclude_categories=())))
def test_every_display_name_is_fit_to_be_a_file_name(name: str) -> None:
    shown = display_name(name)
    assert shown
    assert shown == shown.strip(". ")
    assert not set(shown) & set('/\\<>:"|?*\0')
    assert not any(unicodedata.category(char) in ("Cc", "Cf", "Cs") for char in shown)
    assert len(shown.encode()) <= LONGEST_NAME_BYTES
    assert display_name(shown) == shown


@given(st.lists(st.sampled_from(["a.jpg", "a (2).jpg", "a", ".jpg"]), max_size=12))
def test_names_made_unique_are_unique(names: list[str]) -> None:
    taken: list[str] = []
    for name in names:
        taken.append(unique_name(name, taken))
    assert len(set(taken)) == len(names)


@given(st.text(alphabet=st.characters(exclude_categories=())))
def test_plain_text_can_be_encoded_and_keeps_its_length(text: str) -> None:
    plain = plain_text(text)
    assert len(plain) == len(text)
    assert "\0" not in plain.encode().decode()
