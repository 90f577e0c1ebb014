"""Kinds of exhibits by their first bytes; signatures from the published formats named beside them."""

from __future__ import annotations

import gzip
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadwright.exhibits.kinds import KINDS, READ_NOW, guess_kind

PNG = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR"  # ISO/IEC 15948 sec. 5.2
STL = b"made here".ljust(80, b"\x00") + struct.pack("<I", 2) + (struct.pack("<12f", *range(12)) + b"\x00\x00") * 2
GCODE = b"; layer height 0.2\nG28\nG1 X10 Y5 F3000\nG1 X20 Y5 E0.4 F1200\nM104 S210\nG1 X20 Y15 E0.8\n"


@pytest.mark.parametrize(
    ("name", "head", "kind"),
    [
        ("a.bin", PNG, "photo"),
        ("a.txt", b"\xff\xd8\xff\xe1....", "photo"),  # ITU-T T.81: SOI, then a marker
        ("settings-page.png", PNG, "settings_picture"),
        ("IMG.HEIC", b"\x00\x00\x00\x18ftypheic", "photo"),  # ISO/IEC 14496-12, ISO/IEC 23008-12
        ("clip.mov", b"\x00\x00\x00\x14ftypqt  ", "video"),
        ("belt.m4a", b"\x00\x00\x00\x1cftypM4A ", "sound"),
        ("belt", b"RIFF\x00\x00\x00\x00WAVEfmt ", "sound"),
        ("belt.ogg", b"OggS\x00\x02", "sound"),  # RFC 3533
        ("part.gcode", GCODE, "toolpath"),
        ("part.txt", GCODE, "toolpath"),
        ("part", b"g1x10y5e.4\ng1x20\n", "toolpath"),
        ("part.gcode.gz", gzip.compress(GCODE, mtime=0), "toolpath"),
        ("part.stl", STL, "mesh"),
        ("part.stl", b"solid part\nfacet normal 0 0 1\nouter loop\n", "mesh"),
        ("part.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "mesh"),
        ("log.csv", b"time,nozzle temp,target\n0,24.1,0\n1,25.3,215\n2,28.0,215\n3,31.9,215\n", "heat_log"),
        ("list.txt", b"Nozzle temperature: 215\nBed: 60\nLayer height: 0.2\n", "settings_text"),
        ("page.csv", b"Layer height;0,2\nBed;60\nSpeed;60\n", "settings_text"),
        (
            "mail.txt",
            b"Hello, my print fell over after an hour and I do not know why.\nCan you help?\n",
            "story",
        ),
        ("what", b"\x00\x01\x02\x03", "unknown"),
        ("empty.xyz", b"", "unknown"),
    ],
)
def test_kinds(name: str, head: bytes, kind: str) -> None:
    assert guess_kind(name, head) == kind


def test_a_bomb_is_only_opened_a_little() -> None:
    packed = zlib.compressobj(9, wbits=31)
    bomb = packed.compress(b"\x00" * 50_000_000) + packed.flush()
    assert guess_kind("bomb.gz", bomb[:65_536]) == "unknown"


def test_what_is_read_now_is_a_kind() -> None:
    assert set(KINDS) > READ_NOW


@given(st.text(max_size=20), st.binary(max_size=300))
def test_anything_has_a_kind(name: str, head: bytes) -> None:
    assert guess_kind(name, head) in KINDS
