"""`store.begin`, the one way to write. Read the names in order: they are its specification."""

from __future__ import annotations

import threading

import pytest
from sqlalchemy import select, text

from beadwright.errors import StoreError
from beadwright.shop.location import ShopLocation
from beadwright.shop.models import CaseRecord
from beadwright.shop.store import Store

STORY = '[case]\nstory = "the lid came out oval"'


def rename(store: Store, title: str, then: type[BaseException] | None = None) -> None:
    with store.begin() as tx:
        tx.scalars(select(CaseRecord)).one().title = title
        tx.flush()
        if then is not None:
            raise then


def test_what_a_block_wrote_is_there_when_it_ends(store: Store, location: ShopLocation) -> None:
    store.new_case(STORY)
    rename(store, "renamed")
    with Store.open(location) as other:
        assert other.get(1).title == "renamed"


@pytest.mark.parametrize("failure", [ValueError, KeyboardInterrupt, SystemExit])
def test_a_block_that_raises_leaves_everything_as_it_was(store: Store, failure: type[BaseException]) -> None:
    before = store.new_case(STORY)
    with pytest.raises(failure):
        rename(store, "half-way", then=failure)
    assert store.get(1) == before


def test_the_failure_that_ended_a_block_is_passed_on_as_it_was(store: Store) -> None:
    failure = RuntimeError("mine")
    with pytest.raises(RuntimeError) as caught, store.begin():
        raise failure
    assert caught.value is failure


def test_after_a_failed_block_the_store_goes_on(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.begin():
        raise ZeroDivisionError
    assert store.new_case(STORY).number == 1


def test_an_act_that_fails_half_way_leaves_no_event_and_no_revision(store: Store) -> None:
    before = store.new_case(STORY)
    with pytest.raises(Exception, match="blue"):
        store.answer(1, "pluck_belt", "blue")
    assert store.get(1) == before
    assert [event.kind for event in store.events(1)] == ["opened"]


def test_a_case_whose_exhibit_cannot_be_read_is_not_opened_and_its_number_not_used(store: Store, tmp_path) -> None:
    from beadwright.shop.store import Handed

    with pytest.raises(Exception, match="cannot be read"):
        store.new_case(STORY, exhibits=[Handed(b"good", "a.jpg"), Handed(tmp_path / "gone.jpg", "gone.jpg")])
    assert store.list_cases() == []
    assert store.new_case(STORY).number == 1


def test_a_reader_sees_the_state_before_while_a_writer_is_half_way(store: Store) -> None:
    store.new_case(STORY)
    with store.begin() as tx:
        tx.scalars(select(CaseRecord)).one().title = "half-way"
        tx.flush()
        seen: list[str] = []
        reader = threading.Thread(target=lambda: seen.append(store.get(1).title))
        reader.start()
        reader.join()
    assert seen == ["the lid came out oval"]
    assert store.get(1).title == "half-way"


def test_a_second_writer_waits_and_gives_up_with_a_sentence(tmp_path) -> None:
    from beadwright.shop.location import find_shop

    where = find_shop(tmp_path, environment={})
    with Store.open(where) as first, Store.open(where, busy_timeout_s=0.05) as second:
        with first.begin(), pytest.raises(StoreError, match=r"another program is writing.*Try again"):
            second.new_case(STORY)
        assert second.new_case(STORY).number == 1


def test_every_sqlite_connection_flushes_at_commit_and_minds_foreign_keys(tmp_path) -> None:
    """synchronous 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous"""
    from beadwright.shop.location import find_shop

    with Store.open(find_shop(tmp_path, environment={})) as store, store.begin() as tx:
        found = {name: tx.execute(text(f"PRAGMA {name}")).scalar() for name in
                 ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")}  # fmt: skip
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 10_000}
