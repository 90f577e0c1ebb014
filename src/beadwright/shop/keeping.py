"""Looking after a shop: sweeping up what a kill left behind, reading everything again to see it is sound."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import select

from beadwright.errors import StoreError
from beadwright.shop.database import Database
from beadwright.shop.exhibits import ExhibitFolder
from beadwright.shop.models import CaseRecord, ExhibitRecord
from beadwright.shop.rows import Damage, Swept, Verified

LEFTOVER_AGE = timedelta(days=1)


def sweep(database: Database, folder: ExhibitFolder, now: datetime) -> Swept:
    """Remove unfinished files older than a day; report kept bytes that no case holds, and leave them.

    Younger ones may be in the middle of being written. Ages that a clock set back makes negative count as
    young.
    """
    try:
        removed = [part.name for part in folder.parts() if _is_old(part, now) and _remove(part)]
        held = {sha256 for sha256, _ in _holders(database)}
        orphans = [one for one in folder.hashes() if one not in held and _is_old(folder.path(one), now)]
    except OSError as failure:
        raise StoreError(
            f"the exhibits cannot be swept: {failure.strerror or failure}",
            where=str(folder.folder),
            fix="Make the folder writable",
        ) from failure
    return Swept(tuple(sorted(removed)), tuple(sorted(orphans)))


def verify(database: Database, folder: ExhibitFolder) -> Verified:
    """Read every exhibit again and hold it against its hash; ask the database to check itself."""
    cases: dict[str, set[int]] = defaultdict(set)
    for sha256, number in _holders(database):
        cases[sha256].add(number)
    damaged, total = [], 0
    for sha256, numbers in sorted(cases.items()):
        total += _size(folder.path(sha256))
        damage = _damage(folder, sha256, tuple(sorted(numbers)))
        if damage is not None:
            damaged.append(damage)
    return Verified(len(cases), total, tuple(damaged), database.check())


def _holders(database: Database) -> list[tuple[str, int]]:
    query = select(ExhibitRecord.sha256, CaseRecord.number).join(CaseRecord, CaseRecord.id == ExhibitRecord.case_id)
    with database.read() as tx:
        return [(sha256, number) for sha256, number in tx.execute(query)]


def _damage(folder: ExhibitFolder, sha256: str, cases: tuple[int, ...]) -> Damage | None:
    try:
        found = folder.hash_again(sha256)
    except OSError:
        return Damage(sha256, "unreadable", cases)
    if found is None:
        return Damage(sha256, "missing", cases)
    return None if found == sha256 else Damage(sha256, "changed", cases)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _is_old(path: Path, now: datetime) -> bool:
    try:
        return now.timestamp() - path.stat().st_mtime > LEFTOVER_AGE.total_seconds()
    except FileNotFoundError:  # whoever wrote it finished meanwhile
        return False


def _remove(part: Path) -> bool:
    part.unlink(missing_ok=True)
    return True
