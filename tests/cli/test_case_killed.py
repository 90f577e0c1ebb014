"""`beadwright case add` killed in the middle: every exhibit that was printed as held is held, whole."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from beadwright.shop.location import find_shop
from beadwright.shop.store import Store

FILES = 24
KILLS = 5


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_what_case_add_acknowledged_survives_a_kill(tmp_path: Path) -> None:
    chance = random.Random(20)
    location = find_shop(tmp_path / "shop", environment={})
    with Store.open(location) as store:
        store.new_case('[case]\nstory = "the corner lifted"')
    for turn in range(KILLS):
        folder = tmp_path / str(turn)
        folder.mkdir()
        files = [folder / f"{turn}-{n}.bin" for n in range(FILES)]
        for file in files:
            file.write_bytes(chance.randbytes(300_000))
        held = _add_and_kill(tmp_path / "shop", files, after_lines=chance.randrange(1, FILES - 2))
        with Store.open(location) as store:
            kept = {one.name: one for one in store.get(1).exhibits}
            assert store.verify().is_sound
            for name, sha256 in held:
                assert kept[name].sha256 == sha256
                assert store.exhibit_path(sha256).read_bytes() == (folder / name).read_bytes()


def _add_and_kill(shop: Path, files: list[Path], after_lines: int) -> list[tuple[str, str]]:
    command = [sys.executable, "-m", "beadwright", "case", "add", "1", *map(str, files), "--shop", str(shop)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as adding:
        assert adding.stdout
        lines = [adding.stdout.readline() for _ in range(after_lines)]
        adding.kill()
        lines += adding.stdout.readlines()
    told = [re.search(r"holds (\S+) \(.*SHA-256 ([0-9a-f]{64})\)", line) for line in lines if line.endswith("\n")]
    assert 1 <= len(told) < len(files)  # it really was killed in the middle
    return [(found[1], found[2]) for found in told if found]
