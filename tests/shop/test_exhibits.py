"""Bytes on the disk: found by what they are, all there or not there at all."""

from __future__ import annotations

import errno
import hashlib
import io
import os
from datetime import timedelta

import pytest

from beadwright.errors import ExhibitError, StoreError
from beadwright.shop.exhibits import CHUNK_BYTES, ExhibitFolder
from beadwright.shop.store import Handed, Store

CASE = '[case]\nstory = "it split along the layers"'


@pytest.fixture
def folder(tmp_path) -> ExhibitFolder:
    return ExhibitFolder(tmp_path / "exhibits")


def files_in(folder: ExhibitFolder) -> list[str]:
    return sorted(str(path.relative_to(folder.folder)) for path in folder.folder.rglob("*") if path.is_file())


def test_the_name_on_the_disk_is_the_sha_256_of_the_bytes(folder: ExhibitFolder) -> None:
    """The digest of "abc" is the first example that NIST gives for SHA-256 with FIPS 180-4."""
    kept = folder.keep(b"abc", "abc.txt")
    assert kept.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert files_in(folder) == [f"ba/{kept.sha256[2:]}"]
    assert folder.path(kept.sha256).read_bytes() == b"abc"


@pytest.mark.parametrize("size", [0, 1, CHUNK_BYTES - 1, CHUNK_BYTES, CHUNK_BYTES + 1, 3 * CHUNK_BYTES + 7])
def test_path_bytes_and_stream_are_kept_alike_and_once(folder: ExhibitFolder, tmp_path, size: int) -> None:
    content = bytes(range(256)) * (size // 256) + b"x" * (size % 256)
    (tmp_path / "part.gcode").write_bytes(content)
    for source in (content, io.BytesIO(content), tmp_path / "part.gcode"):
        kept = folder.keep(source, "part.gcode")
        assert (kept.sha256, kept.bytes) == (hashlib.sha256(content).hexdigest(), size)
    assert len(files_in(folder)) == 1


def test_one_byte_over_the_limit_is_refused_and_leaves_nothing(folder: ExhibitFolder) -> None:
    folder.keep(b"x" * 100, "fits.bin", limit_bytes=100)
    with pytest.raises(ExhibitError, match=r"big\.bin: is larger than"):
        folder.keep(b"y" * 101, "big.bin", limit_bytes=100)
    assert len(files_in(folder)) == 1


def test_an_endless_stream_ends_at_the_limit(folder: ExhibitFolder) -> None:
    with pytest.raises(ExhibitError), open("/dev/zero", "rb") as endless:
        folder.keep(endless, "zero", limit_bytes=5 * CHUNK_BYTES)
    assert files_in(folder) == []


def test_what_is_no_file_is_refused_without_waiting(folder: ExhibitFolder, tmp_path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for wrong in (tmp_path, tmp_path / "pipe"):
        with pytest.raises(ExhibitError, match="is not a file"):
            folder.keep(wrong, "wrong")
    for wrong in (tmp_path / "gone", tmp_path / "n\0l"):
        with pytest.raises(ExhibitError, match="cannot be read"):
            folder.keep(wrong, "wrong")


def test_a_source_that_fails_half_way_leaves_nothing(folder: ExhibitFolder) -> None:
    class Torn(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            if self.tell() > 0:
                raise OSError(errno.EIO, "Input/output error")
            return super().read(size)

    with pytest.raises(ExhibitError, match="Input/output error"):
        folder.keep(Torn(b"x" * 3 * CHUNK_BYTES), "torn.jpg")
    assert files_in(folder) == []


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EIO])
@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
def test_a_disk_that_refuses_at_any_step_gives_a_sentence_and_leaves_nothing(
    store: Store, monkeypatch, code: int, step: str
) -> None:
    before = store.new_case(CASE, exhibits=[Handed(b"there already", "a.jpg")])
    kept = files_in(store.exhibits)
    true = getattr(os, step)
    calls = []

    def refusing(*given):
        calls.append(given)
        if len(calls) == (2 if step == "write" else 1):  # the second chunk: something was written before
            raise OSError(code, os.strerror(code))
        return true(*given)

    monkeypatch.setattr(os, step, refusing)
    with pytest.raises(StoreError) as caught:
        store.add_exhibit(1, "big.jpg", b"x" * 3 * CHUNK_BYTES)
    monkeypatch.undo()
    assert os.strerror(code) in str(caught.value)
    assert ("free some space" in str(caught.value).lower()) == (code in (errno.ENOSPC, errno.EDQUOT))
    assert files_in(store.exhibits) == kept
    assert store.get(1) == before
    assert store.add_exhibit(1, "big.jpg", b"x" * 3 * CHUNK_BYTES).bytes == 3 * CHUNK_BYTES


def test_the_same_bytes_in_one_case_are_one_exhibit_in_two_cases_two(store: Store) -> None:
    store.new_case(CASE)
    store.new_case(CASE)
    first = store.add_exhibit(1, "photo.jpg", b"photo")
    again = store.add_exhibit(1, "copy of photo.jpg", b"photo", kind="photo", note="from below")
    assert (again.name, again.kind, again.note) == (first.name, "photo", "from below")
    assert store.add_exhibit(1, "photo.jpg", b"photo").note == "from below"
    store.add_exhibit(2, "photo.jpg", b"photo")
    assert [len(store.get(number).exhibits) for number in (1, 2)] == [1, 1]
    assert len(files_in(store.exhibits)) == 1


def test_the_case_file_names_its_exhibits_as_the_store_does(store: Store) -> None:
    store.new_case(CASE, exhibits=[Handed(b"1", "photo.jpg", note="left"), Handed(b"2", "photo.jpg")])
    store.add_exhibit(1, "photo.jpg", b"3", kind="photo")
    row = store.get(1)
    names = ["photo.jpg", "photo (2).jpg", "photo (3).jpg"]
    assert [one.name for one in row.exhibits] == names
    assert [(line.file, line.kind, line.note) for line in row.case().exhibit] == [
        (names[0], None, "left"), (names[1], None, ""), (names[2], "photo", ""),
    ]  # fmt: skip


def test_a_hash_is_no_path(store: Store) -> None:
    for wrong in ("", "../../etc/passwd", "AB" * 32, "a" * 63, "a" * 64 + "/", "a" * 64 + "\n"):
        with pytest.raises(ValueError):
            store.exhibit_path(wrong)


def test_sweep_removes_what_a_kill_left_a_day_ago_and_only_reports_orphans(store: Store, clock) -> None:
    kept = store.new_case(CASE, exhibits=[Handed(b"held", "a.jpg")]).exhibits[0]
    orphan = store.exhibits.keep(b"nobody's", "b.jpg")
    (store.exhibits.folder / "old.part").write_bytes(b"half")
    (store.exhibits.folder / "young.part").write_bytes(b"half")
    now = clock()
    for path in store.exhibits.folder.rglob("*"):
        age = timedelta(minutes=5) if path.name == "young.part" else timedelta(days=1, minutes=1)
        os.utime(path, times=((now - age).timestamp(),) * 2)
    swept = store.sweep(now)
    assert (swept.removed, swept.orphans) == (("old.part",), (orphan.sha256,))
    assert (store.exhibits.folder / "young.part").exists()
    assert store.exhibit_path(orphan.sha256).exists()
    assert store.exhibit_path(kept.sha256).exists()


def test_verify_finds_every_flipped_bit_and_every_missing_file(store: Store) -> None:
    store.new_case(CASE, exhibits=[Handed(b"sound", "a.jpg"), Handed(b"flipped", "b.jpg"), Handed(b"gone", "c.jpg")])
    store.new_case(CASE, exhibits=[Handed(b"flipped", "b.jpg")])
    assert store.verify().is_sound
    _, flipped, gone = store.get(1).exhibits
    store.exhibit_path(flipped.sha256).write_bytes(b"flippee")
    store.exhibit_path(gone.sha256).unlink()
    verified = store.verify()
    assert not verified.is_sound
    assert verified.database == "ok"
    assert {(one.sha256, one.found, one.cases) for one in verified.damaged} == {
        (flipped.sha256, "changed", (1, 2)), (gone.sha256, "missing", (1,)),
    }  # fmt: skip
    assert store.add_exhibit(2, "c.jpg", b"gone").sha256 == gone.sha256  # handing it in again mends it
    assert [one.found for one in store.verify().damaged] == ["changed"]
