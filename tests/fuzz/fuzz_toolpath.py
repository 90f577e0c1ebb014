"""Fuzz target of the toolpath reader: any bytes give columns that hold together, or one clear refusal.

    python tests/fuzz/fuzz_toolpath.py -max_total_time=60

Needs atheris; `check` is also run on a fixed set of inputs by `test_fuzz_toolpath.py`.
"""

from __future__ import annotations

import random
import sys

import numpy as np

from beadwright.errors import ToolpathError
from beadwright.toolpath.layers import find_layers
from beadwright.toolpath.read import read_toolpath

SEEDS = (
    b"G90\nM82\nG1 X10 Y5 Z.2 E1 F1200\nG2 X0 Y0 I-5 J0 E2 ; arc\nG92 E0\nM104 S200 T1\n",
    b"N1 G91 G1 X1e-3 E-1*55\r\nG28 X Y\r\nM83\rG20\nT1\nG10\nG11\nG4 P5\n(open\nM2\nG1 X1\n",
    b"M117 text {x}\n%\n/G1 X1\nSTART a=1\nG1 Xnan E1e308 Y\xff\xfe\0\0\nM106 S.5\nM203 X99999\nM200 D1.75\n",
    b"g1x+0. 1 2y7e.1\nG3 R-5 X1 Y1\nG18 G2 X1 I1\nM220 S0\nM221 S50\nM205 J.1\nM0\nM600\nQ1 U2 E1E2\n",
)


def check(data: bytes) -> None:
    """Raise AssertionError where reading `data` breaks a promise of `read_toolpath`."""
    try:
        toolpath = read_toolpath(data, piece=max(16, len(data) // 3))
    except ToolpathError:
        return
    count = len(toolpath)
    ends = np.stack([toolpath.x, toolpath.y, toolpath.z, toolpath.e])
    assert ends.shape == (4, count)
    assert np.isfinite(ends).all()
    assert (toolpath.feed > 0).all()
    assert toolpath.kind.max(initial=0) <= 4
    assert (np.diff(toolpath.line) >= 0).all()
    assert 1 <= toolpath.line[0] <= toolpath.line[-1] <= toolpath.lines
    assert all(1 <= problem.line <= toolpath.lines for problem in toolpath.problems)
    for name in vars(toolpath.events):
        table = getattr(toolpath.events, name)
        assert ((table.move >= 0) & (table.move <= count)).all()
        assert np.isfinite(table.value).all()
    layers = find_layers(toolpath)
    assert layers.index.shape == (count,)
    assert layers.index.max(initial=-1) < len(layers.z_mm)


def mutated(rng: random.Random) -> bytes:
    """Return seeds shuffled, cut and dirtied, as a fuzzer would."""
    lines = b"\n".join(rng.sample(SEEDS, 2)).split(b"\n") * rng.randrange(1, 4)
    rng.shuffle(lines)
    data = bytearray(rng.choice([b"\n", b"\r\n", b" ", b"\r"]).join(lines))
    for _ in range(rng.randrange(12)):
        place = rng.randrange(len(data))
        data[place : place + rng.randrange(4)] = rng.randbytes(rng.randrange(4))
    return bytes(data)


def target(data: bytes) -> None:
    """Check `data`, and what it makes of the seeds: the kernel is compiled, so no coverage guides there."""
    check(data)
    check(mutated(random.Random(data)))


if __name__ == "__main__":
    import atheris

    atheris.Setup(sys.argv, target)
    atheris.Fuzz()
