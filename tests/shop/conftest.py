"""A fresh shop for every test: SQLite always; PostgreSQL too where BEADWRIGHT_TEST_POSTGRES names a server.

The address must let its user make databases, e.g. postgresql://postgres@127.0.0.1:5432/postgres.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from beadwright.shop.location import ShopLocation, find_shop
from beadwright.shop.store import Store

SERVER = os.environ.get("BEADWRIGHT_TEST_POSTGRES", "")
Make = Callable[[], Store]


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def move(self, **by: float) -> None:
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(params=["sqlite", "postgresql"] if SERVER else ["sqlite"])
def location(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[ShopLocation]:
    if request.param == "sqlite":
        yield find_shop(tmp_path / "shop", environment={})
        return
    import psycopg

    name = f"beadwright_{uuid.uuid4().hex}"
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {name}")
    try:
        yield find_shop(SERVER.rpartition("/")[0] + f"/{name}", environment={}, data_folder=tmp_path)
    finally:
        with psycopg.connect(SERVER, autocommit=True) as server:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def store(location: ShopLocation, clock: Clock) -> Iterator[Store]:
    with Store.open(location, clock=clock) as opened:
        yield opened
