"""Toolpath files that are odd, damaged or made to hurt, each of any length; all invented.

`FILES[name](n)` returns the bytes of a file with about n of whatever is too many in it. Each is one of two sorts: it
can be looked at, or it is refused in a sentence.
"""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Callable

HEAD = b"G21\nG90\nM83\nM140 S60\nM109 S210\nG0 Z0.2 F6000\nG1 X5 E1 F600\n"
SQUARE = b"G1 X20 Y0 E.7\nG1 X20 Y20 E.7\nG1 X0 Y20 E.7\nG1 X0 Y0 E.7\n"


def each(line: str, n: int) -> bytes:
    """HEAD, a square, and `line` n times with k counting up."""
    body = "\n".join(line.format(k=k, z=0.2 + 0.01 * k, side=k % 2, tool=k % 300, kelvin=200 + k % 50, fine=k * 1e-7)
                     for k in range(n))  # fmt: skip
    return HEAD + SQUARE + body.encode() + b"\n" + SQUARE


def layers(n: int, height: float = 0.2) -> bytes:
    """n squares, one over the other."""
    body = "".join(f"G0 Z{height * (k + 1):.4f}\n" + SQUARE.decode() for k in range(n))
    return HEAD + body.encode()


def zipped(n: int) -> bytes:
    """A container with a toolpath in it, as models are exchanged (ISO/IEC 21320-1), renamed."""
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inside/plate.gcode", layers(n))
    return box.getvalue()


FILES: dict[str, Callable[[int], bytes]] = {
    # too many of one thing
    "tool changes": lambda n: each("T{tool}", n),
    "tool changes with beads": lambda n: each("T{tool}\nG1 X{side} E.1", n),
    "tools that are none": lambda n: each("T999999999\nT-1\nT1.5", n),
    "temperatures": lambda n: each("M104 S{kelvin}", n),
    "temperatures of many tools": lambda n: each("M104 T{tool} S{kelvin}\nT{tool}\nG1 X{side} E.1", n),
    "fans": lambda n: each("M106 P{tool} S{side}\nG1 X{side} E.01", n),
    "comments": lambda n: each("; wall {k}", n),
    "comments and moves": lambda n: each("; part {k} infill\nG1 X{side} E.01", n),
    "claims in comments": lambda n: each("; layer height {k} = {k}", n),
    "accelerations": lambda n: each("M204 S{kelvin}\nM205 X{kelvin}\nG1 X{side} E.01", n),
    "pauses and dwells": lambda n: each("M0\nG4 S1\nG1 X{side} E.01", n),
    "long dwells": lambda n: each("G4 S1000000000\nG4 P1000000000\nG1 X{side} E.01", n),
    "position resets": lambda n: each("G92 X{k} Y{k} Z{k} E{k}\nG1 X{side} E.01", n),
    "mode changes": lambda n: each("G91\nG1 X1 E.01\nG90\nG20\nG21", n),
    "checksums alone": lambda n: each("*{tool}", n),
    "numbered lines without words": lambda n: each("N{k}*{side}", n),
    "empty lines": lambda n: HEAD + SQUARE + b"\n" * n + SQUARE,
    "carriage returns": lambda n: HEAD + SQUARE + b"\r" * n + SQUARE,
    "blanks": lambda n: HEAD + b" " * n + SQUARE,
    "arcs": lambda n: each("G2 X{side} Y0 I0.5 J0 E.1", n),
    "full circles": lambda n: each("G3 X0 Y0 I3 J0 E1", n),
    "arcs of huge radius": lambda n: each("G2 X{side} Y0 R900000000 E.1\nG3 X{side} Y9 I1E8 J1E8 E.1", n),
    "arcs of no radius": lambda n: each("G2 X{side} Y0 I0 J0 E.1\nG2 X{side} R0 E.1\nG3 I0 J0 E.1", n),
    "layers": lambda n: layers(n),
    "layers of a hair": lambda n: each("G1 Z{z:.4f} X{side} E.01", n),
    "layers of no height": lambda n: each("G0 Z0\nG1 X{side} Y9 E.01", n),
    "rising and sinking": lambda n: each("G0 Z{side}\nG1 X{kelvin} E.01", n),
    "all at one point": lambda n: each("G1 X0 Y0 E.01", n),
    "standing moves": lambda n: each("G1 X0 Y0", n),
    "retractions alone": lambda n: each("G1 E-1", n),
    "retractions and back": lambda n: each("G1 E-1\nG1 E1", n),
    "beads of nothing": lambda n: each("G1 X{side} E.0000000001", n),
    "beads of too much": lambda n: each("G1 X{side} E900000000", n),
    "hair moves": lambda n: each("G91\nG1 X.0000001 E.0000001", n),
    "hair moves onward": lambda n: each("G1 X{fine:.7f} E.0000001", n),
    "no feed": lambda n: each("G1 X{side} E.01 F0", n),
    "feed below nothing": lambda n: each("G1 X{side} E.01 F-600", n),
    "feed beyond reason": lambda n: each("G1 X{side} E.01 F1000000000", n),
    "feed of a hair": lambda n: each("G1 X{kelvin} Y{side} E.01 F.000001", n),
    "spread over a field": lambda n: each("G1 X{k}000 Y{k}000 E.01", n),
    "spread over a world": lambda n: each("G1 X-999999999 Y{side} E.01\nG1 X999999999 Y999999999 E9", n),
    "high as a world": lambda n: each("G1 Z999999999 E.01\nG1 X{side} Z-999999999 E.01", n),
    "each layer elsewhere": lambda n: each("G0 X{k}00 Y-{k}00 Z{z:.2f}\nG1 Y0 E9", n),
    "numbers too large": lambda n: each("G1 X1e308 Y-1e+308 E1e308 Z1e999\nG1 X{k}e300", n),
    "numbers too small": lambda n: each("G1 X1e-308 Y-0 Z1e-999 E1e-308\nG1 X-0.0 Y+0 E-0", n),
    "numbers that are none": lambda n: each("G1 Xnan Yinf Z-inf Enan Fnan\nM104 Snan\nG4 Pinf", n),
    "temperatures beyond reason": lambda n: each("M104 S999999999\nM140 S-999999999\nG1 X{side} E.01", n),
    "limits beyond reason": lambda n: each("M201 X1e9 Y.000000001\nM203 X.0001 E1E9\nG1 X{side} E.01", n),
    "percentages beyond reason": lambda n: each("M220 S{k}99999\nM221 S.000001\nG1 X{side} E.01", n),
    "macros": lambda n: each("{{if x > {k}}} MACRO_{k} A=1 B='two'", n),
    "letters alone": lambda n: each("A B C D X Y Z", n),
    "unknown words": lambda n: each("M{k} P{k}\nG{k} X1", n),
    # odd texts
    "comments in comments": lambda n: HEAD + SQUARE + b"(" * n + b"x" + b")" * n + b"\n" + SQUARE,
    "comments not closed": lambda n: each("G1 X{side} (not closed E.1", n),
    "closed and never opened": lambda n: each("G1 X{side} E.1 ) )", n),
    "zeros at the end": lambda n: HEAD + SQUARE + b"\0" * n,
    "zeros in between": lambda n: HEAD + SQUARE + b"\0" * n + b"\n" + SQUARE,
    "one long line": lambda n: HEAD + b"G1 " + b"X1 Y1 E.1 " * (n // 10) + b"\n" + SQUARE,
    "one long comment": lambda n: HEAD + SQUARE + b";" + b"long " * (n // 5) + b"\n" + SQUARE,
    "one long number": lambda n: HEAD + b"G1 X" + b"9" * n + b" E1\n" + b"G1 X." + b"1" * n + b" E1\n" + SQUARE,
    "one long word": lambda n: HEAD + SQUARE + b"A" * n + b"\n" + SQUARE,
    "bytes of every kind": lambda n: HEAD + SQUARE + bytes(range(128, 256)) * (n // 128) + b"\n" + SQUARE,
    "packed well": lambda n: gzip.compress(each("G1 X{side} E.01", n)),
    "packed and cut": lambda n: gzip.compress(each("G1 X{kelvin} Y{side} E.01", n))[:-200],
}
REFUSED: dict[str, tuple[Callable[[int], bytes], str]] = {
    "UTF-16": (lambda n: layers(n).decode().encode("utf-16"), "UTF-16"),
    "UTF-16 without a mark": (lambda n: layers(n).decode().encode("utf-16-le"), "UTF-16"),
    "UTF-16, high byte first": (lambda n: layers(n).decode().encode("utf-16-be"), "UTF-16"),
    "zeros": (lambda n: b"\0" * n, "zero bytes"),
    "nothing": (lambda n: b"", "empty"),
    "a container": (zipped, "ZIP"),
    "a picture": (lambda n: b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * (n // 256 + 1), "picture"),
    "a document": (lambda n: b"%PDF-1.7\n" + b"1 0 obj\n" * n, "PDF"),
    "no moves": (lambda n: b"; nothing but words\n" * n, "no moves"),
    "no filament": (lambda n: b"G1 X1 F600\nG1 Y1\n" * n, "none of them feeds filament"),
    "packed nothing": (lambda n: gzip.compress(b""), "empty"),
    "packed and damaged": (lambda n: gzip.compress(layers(n))[:12] + b"\xff" * 50, "gzip"),
    "packed twice": (lambda n: gzip.compress(gzip.compress(layers(n))), "gzip file inside a gzip file"),
    "packed noise": (lambda n: gzip.compress(bytes(range(256)) * n), "binary"),
}
