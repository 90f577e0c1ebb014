"""The schema: made by migrations alone, brought up to date at opening, with rows and without."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text

from beadwright.errors import StoreError
from beadwright.shop.database import Database, make_folder
from beadwright.shop.location import ShopLocation, find_shop
from beadwright.shop.models import Table
from beadwright.shop.store import Store
from beadwright.shop.upgrade import HEAD, MIGRATIONS, alembic_config, bring_up_to_date

WHEN = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
FIRST_ROWS = Path(__file__).parent / "rows_0001.sql"
RELEASED = ("0001",)  # every schema that ever left the house


def at_schema(location: ShopLocation, schema: str) -> Database:
    make_folder(location)
    database = Database(location)
    bring_up_to_date(database, WHEN, to=schema)
    return database


def test_the_newest_migration_is_the_one_that_opening_goes_to() -> None:
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory.from_config(alembic_config())
    assert scripts.get_current_head() == HEAD == RELEASED[-1]
    assert len(list(scripts.walk_revisions())) == len(list((MIGRATIONS / "versions").glob("v*.py"))) == len(RELEASED)


def test_the_migrations_make_exactly_the_tables_that_the_models_read(location: ShopLocation) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    database = at_schema(location, HEAD)
    with database.read() as tx:
        context = MigrationContext.configure(tx.connection(), opts={"compare_type": True})
        assert compare_metadata(context, Table.metadata) == []
    database.close()


@pytest.mark.parametrize("schema", RELEASED)
def test_a_shop_of_any_released_schema_without_rows_opens(location: ShopLocation, schema: str) -> None:
    at_schema(location, schema).close()
    with Store.open(location) as store:
        assert store.list_cases() == []
        assert store.new_case('[case]\nstory = "it warped"').number == 1


def test_a_shop_of_the_first_schema_with_rows_keeps_them_all(location: ShopLocation) -> None:
    database = at_schema(location, "0001")
    with database.begin() as tx:
        for statement in FIRST_ROWS.read_text().split(";\n"):
            tx.execute(text(statement.replace(":", "\\:")))
        for table in ("cases", "exhibits", "events", "outcomes") * (not location.is_file):
            tx.execute(text(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), 9)"))  # ids were given by hand
    database.close()
    with Store.open(location) as store:
        first, second = store.list_cases()
        assert (first.number, first.status, first.outcome.cause, first.outcome.was_right) == (
            1,
            "closed",
            "belt_slack",
            True,
        )
        assert (second.number, second.status, second.waits_for, second.exhibits[0].bytes) == (
            2,
            "open",
            "the sender",
            5,
        )
        assert second.case().answer[0].check == "pluck_belts"
        assert store.kept_diagnosis(2, "0.1.0") == '{"causes": []}'
        assert store.undo(2).case().answer == ()
        assert store.new_case('[case]\nstory = "the next"').number == 3


def test_opening_twice_changes_nothing(tmp_path) -> None:
    location = find_shop(tmp_path, {})
    Store.open(location).dispose()
    before = location.database.read_bytes()
    Store.open(location).dispose()
    assert location.database.read_bytes() == before


def test_an_upgrade_that_fails_leaves_the_database_as_it_was(location: ShopLocation, monkeypatch) -> None:
    from alembic import op

    true, made = op.create_table, []

    def failing(name: str, *columns, **options):
        made.append(name)
        if name == "outcomes":
            raise RuntimeError("half-way")
        return true(name, *columns, **options)

    monkeypatch.setattr(op, "create_table", failing)
    with pytest.raises(RuntimeError):
        Store.open(location)
    assert made[:2] == ["shop", "cases"]
    monkeypatch.undo()
    with Store.open(location) as store:  # had tables been left behind, they would be in the way
        assert store.list_cases() == []


def test_a_shop_written_by_a_newer_version_is_left_alone(location: ShopLocation) -> None:
    with Store.open(location) as store, store.begin() as tx:
        tx.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(StoreError, match=r"newer version of this program \(schema 9999\)"):
        Store.open(location)


def test_a_database_of_something_else_is_left_alone(location: ShopLocation) -> None:
    make_folder(location)
    database = Database(location)
    with database.begin() as tx:
        tx.execute(text("CREATE TABLE recipes (id INTEGER)"))
    database.close()
    with pytest.raises(StoreError, match="tables of something else"):
        Store.open(location)


def test_a_file_that_is_no_database_is_left_alone(tmp_path) -> None:
    (tmp_path / "shop.sqlite").write_bytes(b"a shopping list, most likely\n" * 100)
    with pytest.raises(StoreError, match=r"shop\.sqlite is not a shop's database"):
        Store.open(find_shop(tmp_path, {}))
    assert (tmp_path / "shop.sqlite").read_bytes().startswith(b"a shopping list")


def test_a_damaged_database_is_said_to_be_damaged(tmp_path) -> None:
    location = find_shop(tmp_path, {})
    with Store.open(location) as store:
        for turn in range(30):
            store.new_case(f'[case]\nstory = "case {turn} {"x" * 500}"')
    content = bytearray(location.database.read_bytes())
    with sqlite3.connect(location.database) as connection:
        page = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'cases'").fetchone()[0]
        size = connection.execute("PRAGMA page_size").fetchone()[0]
    connection.close()
    content[(page - 1) * size : page * size] = b"\xff" * size
    location.database.write_bytes(content)
    with Store.open(location) as store, pytest.raises(StoreError, match=r"damaged.*last backup"):
        store.list_cases()
