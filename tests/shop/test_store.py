"""What the store keeps of a case, and what each act does to it."""

from __future__ import annotations

import io
import threading
from datetime import UTC, date, datetime, timedelta

import pytest

from beadwright.errors import CaseChangedError, CaseError, InputError, NotFoundError, StoreError
from beadwright.shop.location import ShopLocation
from beadwright.shop.store import Handed, Store

CASE = """
[case]
title = "Hinge pin, third try"
story = "went sideways at about 18 mm, clicking before that"
opened = 2026-02-27

[settings]
nozzle_temp_c = 215
"""


def test_a_case_comes_back_as_it_was_handed_in(store: Store) -> None:
    row = store.new_case(CASE)
    assert (row.number, row.title, row.opened, row.status) == (
        1,
        "Hinge pin, third try",
        date(2026, 2, 27),
        "open",
    )
    assert (row.waits_for, row.revision, row.outcome) == ("our check", 1, None)
    assert row.case().settings == {"nozzle_temp_c": 215}
    assert store.get(1) == row


def test_a_case_without_title_or_date_takes_its_first_words_and_the_day(store: Store) -> None:
    row = store.new_case('[case]\nstory = "one two three four five six seven eight nine ten eleven"')
    assert row.title == "one two three four five six seven eight nine …"
    assert row.opened == date(2026, 3, 2)


def test_a_wrong_case_file_opens_nothing(store: Store) -> None:
    with pytest.raises(CaseError):
        store.new_case("[case]\nstorry = 1")
    assert store.list_cases() == []


def test_cases_are_listed_oldest_first_by_status(store: Store) -> None:
    for day in (5, 3, 4):
        store.new_case(f'[case]\ntitle = "{day}"\nopened = 2026-01-0{day}')
    store.close(2, text="nothing was wrong")
    assert [row.title for row in store.list_cases()] == ["3", "4", "5"]
    assert [row.title for row in store.list_cases("open")] == ["4", "5"]
    assert [row.title for row in store.list_cases("closed")] == ["3"]


def test_a_case_that_is_not_there_is_named(store: Store) -> None:
    for act in (store.get, store.events, store.undo, store.reopen):
        with pytest.raises(NotFoundError, match="no case 7"):
            act(7)
    with pytest.raises(NotFoundError, match="no case 7"):
        store.add_exhibit(7, "a.jpg", b"")
    assert not list(store.exhibits.hashes())


def test_a_later_answer_or_sign_takes_the_earlier_ones_place(store: Store) -> None:
    store.new_case(CASE)
    store.answer(1, "pluck_belts", "no")
    store.answer(1, "turn_pulley", "unsure")
    store.answer(1, "pluck_belts", "yes")
    store.set_sign(1, "layer_shift", True, 0.7)
    row = store.set_sign(1, "layer_shift", False, 1)
    case = row.case()
    assert [(line.check, line.result) for line in case.answer] == [
        ("pluck_belts", "yes"),
        ("turn_pulley", "unsure"),
    ]
    assert [(line.id, line.present, line.confidence) for line in case.sign] == [("layer_shift", False, 1.0)]


def test_trials_measured_values_and_story_are_merged_and_the_rest_stays(store: Store) -> None:
    store.new_case(CASE)
    store.add_trial(1, {"printer": "left", "defect": True})
    store.add_trial(1, {"printer": "right", "defect": False})
    store.set_measured(1, {"wall_mm": 0.9, "shift_mm": [2.0, -2.0]})
    store.set_measured(1, {"wall_mm": None})
    row = store.edit_story(1, "it was the lid after all")
    case = row.case()
    assert [line.defect for line in case.trial] == [True, False]
    assert list(case.measured) == ["shift_mm"]
    assert (row.story, row.title) == ("it was the lid after all", "Hinge pin, third try")
    assert case.settings == {"nozzle_temp_c": 215}
    assert row.revision == 6


@pytest.mark.parametrize(
    "act",
    [
        lambda store: store.answer(1, "pluck_belts", "blue"),
        lambda store: store.set_sign(1, "layer_shift", True, 1.5),
        lambda store: store.add_trial(1, {"printer": "left"}),
        lambda store: store.set_measured(1, {"wall_mm": -1}),
        lambda store: store.wait_for(1, "rain"),
        lambda store: store.close(1),
    ],
)
def test_what_a_case_file_could_not_say_is_refused_and_nothing_changes(store: Store, act) -> None:
    before = store.new_case(CASE)
    with pytest.raises(InputError):
        act(store)
    assert store.get(1) == before


def test_a_case_is_closed_reopened_and_closed_otherwise(store: Store, clock) -> None:
    store.new_case(CASE)
    clock.move(days=3)
    closed = store.close(1, "belt_slack", note="plucked: 38 Hz")
    assert (closed.status, closed.waits_for, closed.outcome.cause) == ("closed", "nothing", "belt_slack")
    assert closed.outcome.closed_at == clock.now
    with pytest.raises(InputError, match="is closed"):
        store.answer(1, "pluck_belts", "yes")
    with pytest.raises(InputError, match="is closed"):
        store.add_exhibit(1, "late.jpg", b"late")
    reopened = store.reopen(1)
    assert (reopened.status, reopened.waits_for, reopened.outcome) == ("open", "our check", None)
    with pytest.raises(InputError, match="open already"):
        store.reopen(1)
    assert store.close(1, text="the plate slid").outcome.text == "the plate slid"


def test_the_outcome_knows_whether_the_kept_answer_was_right(store: Store) -> None:
    store.new_case(CASE)
    store.new_case(CASE)
    store.keep_diagnosis(1, 1, "0.1.0", '{"causes": [{"id": "belt_slack"}, {"id": "axis_play"}]}')
    assert store.close(1, "belt_slack").outcome.was_right is True
    store.reopen(1)
    assert store.close(1, "axis_play").outcome.was_right is False
    assert store.close(2, "axis_play").outcome.was_right is None


def test_a_kept_answer_holds_for_one_revision_and_one_version(store: Store) -> None:
    row = store.new_case(CASE)
    store.keep_diagnosis(1, row.revision, "0.1.0", "{}")
    assert store.kept_diagnosis(1, "0.1.0") == "{}"
    assert store.kept_diagnosis(1, "0.2.0") is None
    later = store.note(1, "a thought")
    assert store.kept_diagnosis(1, "0.1.0") is None
    store.keep_diagnosis(1, later.revision, "0.1.0", '{"causes": []}')
    store.keep_diagnosis(1, row.revision, "0.1.0", "{}")  # a slow worker comes late: the newer answer stays
    assert store.kept_diagnosis(1, "0.1.0") == '{"causes": []}'


def test_undo_takes_back_one_change_after_another_down_to_the_opening(store: Store) -> None:
    states = [store.new_case(CASE)]
    states.append(store.answer(1, "pluck_belts", "yes"))
    store.add_exhibit(1, "photo.jpg", b"photo")
    states.append(store.get(1))
    states.append(store.note(1, "Ida thinks it is the belt", who="Ida"))
    states.append(store.wait_for(1, "a part"))
    states.append(store.close(1, "belt_slack"))
    states.append(store.reopen(1))
    for earlier in reversed(states[:-1]):
        assert said(store.undo(1)) == said(earlier)
    with pytest.raises(InputError, match="nothing left"):
        store.undo(1)
    assert sum(event.undone for event in store.events(1)) == 6


def said(row) -> tuple:
    return (row.case_toml, row.title, row.story, row.status, row.waits_for, row.outcome, row.exhibits)


def test_after_an_undo_new_changes_stand_and_are_undone_first(store: Store) -> None:
    store.new_case(CASE)
    store.answer(1, "a_check", "yes")
    store.answer(1, "b_check", "yes")
    store.undo(1)
    store.answer(1, "c_check", "yes")
    assert [line.check for line in store.get(1).case().answer] == ["a_check", "c_check"]
    assert [line.check for line in store.undo(1).case().answer] == ["a_check"]
    assert [line.check for line in store.undo(1).case().answer] == []
    assert [event.kind for event in store.events(1)] == [
        "opened",
        "answered",
        "answered",
        "undo",
        "answered",
        "undo",
        "undo",
    ]


def test_an_exhibit_whose_adding_was_undone_can_be_added_again(store: Store) -> None:
    store.new_case(CASE)
    first = store.add_exhibit(1, "photo.jpg", b"photo")
    assert store.undo(1).exhibits == ()
    again = store.add_exhibit(1, "photo.jpg", b"photo")
    assert (again.name, again.sha256) == (first.name, first.sha256)


def test_who_saw_an_older_state_is_told_and_nothing_is_lost(store: Store) -> None:
    seen = store.new_case(CASE).revision
    store.answer(1, "pluck_belts", "yes", revision=seen)
    for act in (
        lambda: store.answer(1, "turn_pulley", "no", revision=seen),
        lambda: store.close(1, "belt_slack", revision=seen),
        lambda: store.undo(1, revision=seen),
        lambda: store.add_exhibit(1, "late.jpg", b"late", revision=seen),
    ):
        with pytest.raises(CaseChangedError, match="someone else changed the case"):
            act()
    row = store.get(1)
    assert [line.check for line in row.case().answer] == ["pluck_belts"]
    assert row.revision == seen + 1
    assert issubclass(CaseChangedError, StoreError)


def test_a_clock_that_jumps_back_disturbs_no_order(store: Store, clock) -> None:
    store.new_case(CASE)
    clock.move(days=-4000)
    store.answer(1, "pluck_belts", "no")
    clock.move(days=9000)
    store.answer(1, "pluck_belts", "yes")
    clock.move(days=-9000)
    assert [event.kind for event in store.events(1)] == ["opened", "answered", "answered"]
    assert [line.result for line in store.undo(1).case().answer] == ["no"]
    assert store.sweep().removed == ()
    assert store.new_case(CASE).number == 2


def test_moments_come_back_in_utc_whatever_zone_they_were_given_in(store: Store) -> None:
    from datetime import timezone

    there = timezone(timedelta(hours=5, minutes=30))
    store.new_case(CASE, when=datetime(2026, 5, 1, 2, 0, tzinfo=there))
    assert store.get(1).created_at == datetime(2026, 4, 30, 20, 30, tzinfo=UTC)
    assert store.get(1).created_at.tzinfo is UTC


def test_many_threads_of_one_store_lose_nothing(store: Store) -> None:
    store.new_case(CASE)

    def work(worker: int) -> None:
        for turn in range(5):
            store.answer(1, f"check_{worker}_{turn}", "yes")
            store.new_case(f'[case]\ntitle = "{worker} {turn}"', exhibits=[Handed(io.BytesIO(b"same"), "same.bin")])

    threads = [threading.Thread(target=work, args=(worker,)) for worker in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    row = store.get(1)
    assert len({line.check for line in row.case().answer}) == 20
    assert row.revision == 21
    assert sorted(one.number for one in store.list_cases()) == list(range(1, 22))
    assert len(list(store.exhibits.hashes())) == 1


def test_the_shop_is_the_same_after_it_was_closed_and_opened(location: ShopLocation) -> None:
    with Store.open(location) as first:
        kept = first.new_case(CASE, exhibits=[Handed(b"G1 X1", "part.gcode", note="the sliced file")])
    with Store.open(location) as second:
        assert second.get(1) == kept
        assert second.exhibit_path(kept.exhibits[0].sha256).read_bytes() == b"G1 X1"
