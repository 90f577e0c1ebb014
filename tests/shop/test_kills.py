"""Killed at any moment, beside another writer, on a full disk, in a read-only folder: nothing lost.

Processes are real here; `test_exhibits.py` has the same failures one system call at a time.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from beadwright.shop.location import find_shop
from beadwright.shop.store import Store

RIG = Path(__file__).parents[2] / "benchmarks" / "kills.py"
CASE = '[case]\nstory = "the corner of the tern bracket lifted"'
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="needs Linux's limits and namespaces")


def run(*command: object, **options) -> subprocess.CompletedProcess[str]:
    given = {"text": True, "capture_output": True, "timeout": 300} | options
    return subprocess.run([sys.executable, "-W", "error", *map(str, command)], **given)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_forty_kills_lose_nothing_that_was_acknowledged() -> None:
    found = run(RIG, "--kills", 40)
    assert found.returncode == 0, found.stdout + found.stderr
    counts = json.loads(found.stdout)
    assert (counts["kills"], counts["lost"], counts["unsound"]) == (40, 0, 0)
    assert counts["acknowledged"] >= 10


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_the_kills_would_be_noticed_if_acknowledging_came_first() -> None:
    found = run(RIG, "--kills", 15, "--early")
    assert found.returncode == 1, found.stderr
    assert json.loads(found.stdout)["lost"] > 0


WRITER = """
import sys
from beadwright.shop.location import find_shop
from beadwright.shop.store import Store
with Store.open(find_shop(sys.argv[1])) as store:
    for turn in range(12):
        store.new_case(f'[case]\\ntitle = "{sys.argv[2]} {turn}"')
        store.add_exhibit(1, f"{sys.argv[2]}.bin", f"{sys.argv[2]} {turn}".encode())
        store.answer(1, f"check_{sys.argv[2]}_{turn}", "yes")
"""


def test_two_processes_writing_at_once_lose_nothing(tmp_path) -> None:
    location = find_shop(tmp_path, {})
    with Store.open(location) as store:
        store.new_case(CASE)
    writers = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), name], stderr=subprocess.PIPE, text=True)
        for name in ("left", "right")
    ]
    for writer in writers:
        _, complaints = writer.communicate(timeout=300)
        assert writer.returncode == 0, complaints
    with Store.open(location) as store:
        row = store.get(1)
        assert row.revision == 1 + 2 * 2 * 12
        assert len(row.exhibits) == len({one.name for one in row.exhibits}) == len(row.case().answer) == 24
        assert sorted(one.number for one in store.list_cases()) == list(range(1, 26))
        assert store.verify().is_sound


OPENER = """
import sys
from beadwright.shop.location import find_shop
from beadwright.shop.store import Store
sys.stdin.read(1)
with Store.open(find_shop(sys.argv[1])) as store:
    store.new_case('[case]\\ntitle = "x"')
"""


def test_four_processes_may_all_be_first(tmp_path) -> None:
    openers = [
        subprocess.Popen([sys.executable, "-c", OPENER, str(tmp_path)], stdin=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(4)
    ]
    for opener in openers:
        assert opener.stdin is not None
        opener.stdin.write(b"x")
        opener.stdin.flush()
    for opener in openers:
        _, complaints = opener.communicate(timeout=300)
        assert opener.returncode == 0, complaints.decode()
    with Store.open(find_shop(tmp_path, {})) as store:
        assert [row.number for row in store.list_cases()] == [1, 2, 3, 4]


REFUSED = """
import os, sys
from pathlib import Path
from beadwright.errors import StoreError
from beadwright.shop.location import find_shop
from beadwright.shop.store import Store
elsewhere, shop, what = sys.argv[1:]
with Store.open(find_shop(elsewhere)) as store:  # imports all there is to import while we may still read it
    store.new_case('[case]\\nstory = "warm"')
    store.add_exhibit(1, "warm.jpg", b"warm")
if os.getuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    with Store.open(find_shop(shop)) as store:
        if what == "exhibit":
            store.add_exhibit(1, "new.jpg", b"new")
        else:
            store.answer(1, "pluck_belts", "yes")
    print("no failure")
except StoreError as failure:
    print(failure)
"""


@linux_only
@pytest.mark.parametrize("what", ["exhibit", "answer"])
def test_a_shop_that_may_only_be_read_stays_as_it_was(tmp_path, what: str) -> None:
    with tempfile.TemporaryDirectory() as name:  # reachable by the user that the process becomes
        shop = Path(name)
        with Store.open(find_shop(shop, {})) as store:
            before = store.new_case(CASE)
        for path in [*shop.rglob("*"), shop]:
            path.chmod(0o555 if path.is_dir() else 0o444)
        try:
            found = run("-c", REFUSED, tmp_path / "elsewhere", shop, what)
        finally:
            for path in [shop, *shop.rglob("*")]:
                path.chmod(0o755 if path.is_dir() else 0o644)
        assert found.returncode == 0, found.stderr
        assert name in found.stdout
        assert "cannot be" in found.stdout
        assert "writable" in found.stdout or "may write" in found.stdout
        with Store.open(find_shop(shop, {})) as store:
            assert store.get(1) == before
            assert list(store.exhibits.parts()) == list(store.exhibits.hashes()) == []


FILLED = """
import sys
from beadwright.errors import StoreError
from beadwright.shop.location import find_shop
from beadwright.shop.store import Store
said, complaints = [], []
with Store.open(find_shop(sys.argv[1])) as store:
    store.new_case('[case]\\nstory = "the disk runs full"')
    try:
        store.add_exhibit(1, "big.jpg", b"x" * 8_000_000)
    except StoreError as failure:
        complaints.append(str(failure))
    try:
        for turn in range(100_000):
            store.answer(1, f"check_{turn}", "yes")
            said.append(turn)
    except StoreError as failure:
        complaints.append(str(failure))
    assert [line.check for line in store.get(1).case().answer] == [f"check_{turn}" for turn in said]
    assert not list(store.exhibits.parts()) and not list(store.exhibits.hashes())
    assert store.verify().is_sound
print(len(said), *complaints, sep="\\n")
"""


@linux_only
def test_a_disk_that_really_runs_full_keeps_what_was_acknowledged(tmp_path) -> None:
    """A file system of 2 MB, in a mount namespace of its own, where the machine lets us make one."""
    mount = 'mount -t tmpfs -o size=2m tmpfs "$0" && exec "$@"'
    command = ["unshare", "--mount", "--map-root-user", "sh", "-c", mount, str(tmp_path)]
    try:
        possible = subprocess.run([*command, "true"], capture_output=True).returncode == 0
    except FileNotFoundError:
        possible = False
    if not possible:
        pytest.skip("this machine lets us make no file system")
    found = subprocess.run(
        [*command, sys.executable, "-W", "error", "-c", FILLED, str(tmp_path)],
        capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    count, exhibit, answer = found.stdout.splitlines()
    assert int(count) > 10
    assert "no room to keep 'big.jpg'" in exhibit
    assert "disk is full" in answer


LIMITED = """
import resource, sys
from beadwright.errors import StoreError
from beadwright.shop.location import find_shop
from beadwright.shop.store import Store
with Store.open(find_shop(sys.argv[1])) as store:
    store.new_case('[case]\\nstory = "files may not grow"')
    resource.setrlimit(resource.RLIMIT_FSIZE, (3_000_000, 3_000_000))
    try:
        store.add_exhibit(1, "big.jpg", b"x" * 8_000_000)
    except StoreError as failure:
        print(failure)
    print(store.add_exhibit(1, "small.jpg", b"small").sha256)
"""


@linux_only
def test_a_limit_on_file_size_is_met_half_way_through_a_file(tmp_path) -> None:
    found = run("-c", LIMITED, tmp_path)
    assert found.returncode == 0, found.stderr
    complaint, sha256 = found.stdout.splitlines()
    assert "no room to keep 'big.jpg'" in complaint
    assert sha256 == hashlib.sha256(b"small").hexdigest()
    with Store.open(find_shop(tmp_path, {})) as store:
        assert list(store.exhibits.hashes()) == [sha256]
        assert not list(store.exhibits.parts())
