"""Bring a database to the present schema. Alembic is imported only when there is something to do."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, insert, inspect, select, text

from beadwright.errors import StoreError
from beadwright.shop.database import Database
from beadwright.shop.models import ShopRecord

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0001"  # the newest migration; a test holds it against the folder
MIGRATIONS = Path(__file__).parent / "migrations"
_ONE_AT_A_TIME = 0x62656164  # any fixed number: PostgreSQL's lock that upgrades of a shop take


def bring_up_to_date(database: Database, when: datetime, to: str = HEAD) -> None:
    """Upgrade to the schema `to`, in one transaction, one process at a time.

    StoreError when the database belongs to something else or to a newer version of this program.
    """
    with database.read() as tx:
        if _schema(tx.connection()) == to:
            return
    with database.begin() as tx:
        connection = tx.connection()
        if not database.location.is_file:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ONE_AT_A_TIME})
        if _schema(connection) != to:  # nobody did it while we waited
            _upgrade(database, connection, to)
        if tx.execute(select(ShopRecord.id)).first() is None:
            tx.execute(insert(ShopRecord).values(id=1, last_number=0, made_at=when))


def alembic_config(connection: Connection | None = None) -> Config:
    """Return Alembic's configuration for the packaged migrations."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _schema(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def _upgrade(database: Database, connection: Connection, to: str) -> None:
    from alembic import command
    from alembic.script import ScriptDirectory

    config = alembic_config(connection)
    now = _schema(connection)
    known = [script.revision for script in ScriptDirectory.from_config(config).walk_revisions()]
    if now is not None and now not in known:
        raise StoreError(
            f"the shop was last written by a newer version of this program (schema {now})",
            where=database.location.name,
            fix="Install that version, or put an older backup in its place",
        )
    if now is None and inspect(connection).get_table_names():
        raise StoreError(
            "the database holds tables of something else",
            where=database.location.name,
            fix="Name an empty database, or another folder",
        )
    command.upgrade(config, to)
