"""One action, one transaction: what is stored, what is refused; refusing stores nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from mapper.errors import MapperError
from mapper.job.entry import Entry, PhotoUse
from mapper.job.plain import same
from mapper.job.records import Assembly, FinishSystem, Item, Job, Lot, Part, Person
from mapper.store.errors import NoSuchRecord, Refused, RepeatedAction, StaleRecord, StoreError
from mapper.store.history import clock_words
from mapper.store.shop import Store, create
from tests.store.makers import ANN, BEN, ITEM, JOB, PART, POSITION, WING, drawn, entry, shape


def add(store: Store, *records: object, by: str = ANN) -> None:
    with store.act(by, "add") as action:
        for record in records:
            action.add(record)


def test_what_is_added_is_read_again_as_it_was_told(store: Store) -> None:
    with store.act(ANN, "pitting") as action:
        digest = action.add_geometry(shape())
        told = action.add(drawn("e", digest))
    found = store.get(Entry, "e")
    assert same(found, told)
    assert (found.version, found.by) == (1, ANN)
    assert found.server_time is not None
    assert store.geometry(digest).part == "Outer wing"
    assert store.find(Entry, "another") is None


def test_times_keep_their_offset_and_the_servers_clock_is_its_own(store: Store) -> None:
    east = timezone(timedelta(hours=5, minutes=30))
    moment = datetime(2024, 5, 1, 7, 15, 30, 250, tzinfo=east)
    forged = datetime(1999, 1, 1, tzinfo=UTC)
    with store.act(ANN, "pitting", device_time=moment) as action:
        action.add(entry("e", server_time=forged))
    found, row = store.get(Entry, "e"), store.history(limit=1)[0]
    assert found.device_time == moment
    assert found.device_time.utcoffset() == row.device_time.utcoffset() == timedelta(hours=5.5)
    assert found.server_time == row.server_time != forged
    assert row.server_time.utcoffset() == timedelta(0)


def test_how_far_a_devices_clock_was_off_is_kept_and_under_the_hash(store: Store) -> None:
    with store.act(ANN, "pitting", "off", clock_offset_ms=-7_200_000.4) as action:
        action.add(entry("late"))
    with store.act(ANN, "pitting", "right", clock_offset_ms=59_000) as action:
        action.add(entry("right"))
    with store.act(ANN, "pitting", "never") as action:
        action.add(entry("never-compared"))
    store.undo(ANN, clock_offset_ms=90_000)
    assert [r.clock_offset_ms for r in store.history(limit=4)] == [90_000, None, 59_000, -7_200_000]
    assert store.clocks_off(JOB) == {"late": -7_200_000}
    assert store.clocks_off("another job") == {}
    assert store.verify().sound
    # A repetition with another offset is the same action: the clock is no part of what was asked.
    again = store.act(ANN, "pitting", "right", clock_offset_ms=7)
    again.add(entry("right"))
    with again:
        pass
    assert again.answer.repeated
    database = store.folder / "shop.sqlite"
    for change in ("clock_offset_ms = 1", "clock_offset_ms = NULL"):
        with closing(sqlite3.connect(database)) as other:
            other.execute(f"UPDATE history SET {change} WHERE action_id = 'off'")
            other.commit()
        verdict = store.verify()
        assert not verdict.sound and "changed after it was recorded" in verdict.problems[0]


@pytest.mark.parametrize("offset", [float("nan"), float("inf"), 1e14])
def test_an_offset_that_no_clock_has_is_refused(store: Store, offset: float) -> None:
    with pytest.raises(StoreError, match="clock offset"):
        store.act(ANN, "pitting", clock_offset_ms=offset)


@pytest.mark.parametrize(
    ("offset", "words"),
    [
        (None, ""),
        (60_000, ""),
        (-61_000, "device's clock 1 min behind"),
        (7_200_000, "device's clock 120 min ahead"),
        (-10_800_000, "device's clock 3 h behind"),
        (86_400_000 * 400, "device's clock 400 days ahead"),
    ],
)
def test_a_clock_is_told_where_it_was_off_by_more_than_a_minute(
    offset: float | None, words: str
) -> None:
    assert clock_words(offset) == words


def test_a_change_makes_the_next_version_and_a_history_row_with_both(store: Store) -> None:
    add(store, entry("e", note="one"))
    with store.act(BEN, "measured") as action:
        told = action.change(replace(store.get(Entry, "e"), note="two"))
    assert same(store.get(Entry, "e"), told)
    row = store.history(record_id="e", limit=1)[0]
    assert (row.op, row.by, row.words, row.mode) == ("change", BEN, "measured", "act")
    assert row.before is not None and row.after is not None
    assert (row.before["note"], row.after["note"]) == ("one", "two")
    assert (row.before["version"], row.after["version"]) == (1, 2)
    assert store.get(Entry, "e").by == ANN


def test_a_stale_change_is_refused_with_both_versions(store: Store) -> None:
    add(store, entry("e", note="one"))
    old = store.get(Entry, "e")
    with store.act(BEN, "measured") as action:
        action.change(replace(old, note="two"))
    head = store.head()
    with pytest.raises(StaleRecord, match=r"Ben.*measured") as refused:  # noqa: SIM117
        with store.act(ANN, "mine") as action:
            action.add(entry("other"))
            action.change(replace(old, note="three"))
    assert (refused.value.mine.note, refused.value.stored.note) == ("three", "two")
    assert '"three" given, "two" stored' in str(refused.value)
    assert store.head() == head
    assert store.find(Entry, "other") is None


def test_an_error_inside_stores_nothing(store: Store) -> None:
    head = store.head()
    with pytest.raises(ZeroDivisionError), store.act(ANN, "half") as action:
        action.add(entry("e"))
        _ = 1 / 0
    assert (store.head(), store.find(Entry, "e")) == (head, None)


def test_the_same_action_again_is_answered_as_before(store: Store) -> None:
    def send(note: str = "one") -> object:
        with store.act(ANN, "pitting", "action-1") as action:
            action.add(entry("e", note=note))
            action.add(Lot(action.new_id(), "Stripper", "L7"))
        return action.answer

    first = send()
    add(store, entry("between"))
    again = send()
    assert (first.repeated, again.repeated) == (False, True)
    assert (again.head, again.rows) == (first.head, first.rows)
    assert len(store.lots()) == 1
    with pytest.raises(RepeatedAction, match=r"Then: 'pitting'.*Now: 'pitting'") as refused:
        send("two")
    assert refused.value.stored == first.rows
    assert store.get(Entry, "e").note == "one"


def test_the_same_id_for_another_person_or_other_words_is_refused(store: Store) -> None:
    with store.act(ANN, "pitting", "action-1") as action:
        action.add(entry("e"))
    for by, words in ((BEN, "pitting"), (ANN, "other words")):
        with pytest.raises(RepeatedAction), store.act(by, words, "action-1") as action:
            action.add(entry("e"))
    with pytest.raises(RepeatedAction):
        store.undo(ANN, action_id="action-1")


def test_an_action_without_changes_writes_nothing(store: Store) -> None:
    head = store.head()
    with store.act(ANN, "nothing") as action:
        pass
    assert (action.answer.rows, store.head()) == ((), head)


def test_an_id_is_never_used_twice(store: Store) -> None:
    add(store, entry("e", note="one"))
    with pytest.raises(Refused, match="already") as refused:
        add(store, entry("e", note="two"))
    assert refused.value.stored.note == "one"
    with store.act(ANN, "wrong") as action:
        action.remove(store.get(Entry, "e"))
    with pytest.raises(Refused, match="was removed"):
        add(store, entry("e"))
    with pytest.raises(Refused, match="already"):
        add(store, entry("f"), entry("f"))


@pytest.mark.parametrize(
    ("record", "lost"),
    [
        (Assembly("a", "no-job", "Fin"), "job 'no-job'"),
        (Part("p", JOB, "no-assembly", "Rib"), "assembly 'no-assembly'"),
        (Part("p", JOB, WING, "Rib", geometry="f" * 64), "geometry 'f+'"),
        (replace(entry("e"), part_id="no-part"), "part 'no-part'"),
        (replace(entry("e"), by="nobody"), "person 'nobody'"),
        (replace(entry("e"), photos=(PhotoUse("no-photo"),)), "photo 'no-photo'"),
        (Item("i", "no-position", "Sheet"), "position 'no-position'"),
        (
            replace(entry("e", kind="application"), values={"lot": "no-lot"}),
            "lot 'no-lot'",
        ),
    ],
)
def test_a_reference_to_nothing_is_refused_by_name(store: Store, record: object, lost: str) -> None:
    head = store.head()
    with pytest.raises(NoSuchRecord, match=lost):
        add(store, record)
    assert store.head() == head


def test_who_acts_must_be_one_of_the_shops_people(store: Store) -> None:
    with pytest.raises(NoSuchRecord, match="person with the id 'nobody'"):
        add(store, Lot("l", "Stripper", "L7"), by="nobody")
    assert store.lots() == ()


def test_what_is_referred_to_stays(store: Store) -> None:
    add(store, Lot("l", "Stripper", "L7"))
    add(store, replace(entry("e", kind="application"), values={"lot": "l"}))
    for cls, key, by in ((Part, PART, "entry"), (Lot, "l", "refers"), (Person, ANN, "history")):
        with pytest.raises(Refused, match=by), store.act(ANN, "remove") as action:
            action.remove(store.get(cls, key))
    with store.act(ANN, "remove both") as action:
        action.remove(store.get(Entry, "e"))
        action.remove(store.get(Lot, "l"))
    assert store.verify().sound


def test_two_parts_of_a_job_do_not_share_a_tag_code(store: Store) -> None:
    with pytest.raises(Refused, match="'LW-01' is on 'Outer wing'"):
        add(store, Part("p", JOB, WING, "Rib", code="LW-01"))
    add(store, Part("p", JOB, WING, "Rib"), Part("q", JOB, WING, "Other rib"))


def test_jobs_are_never_tied_together(store: Store) -> None:
    add(
        store,
        Job("job-2", "Other"),
        Assembly("a2", "job-2", "Fin"),
        Part("p2", "job-2", "a2", "Rudder"),
    )
    for record in (
        Part("p", "job-2", WING, "Rib"),
        replace(entry("e"), job_id="job-2"),
        replace(entry("e"), part_id="p2"),
    ):
        with pytest.raises(StoreError, match="another job"):
            add(store, record)
    with pytest.raises(StoreError, match="another job"), store.act(ANN, "move") as action:
        action.change(replace(store.get(Part, "p2"), job_id=JOB))
    assert store.book(JOB).job.name == "Two-seater"
    assert [p.id for p in store.book("job-2").parts] == ["p2"]


def test_two_sheets_are_never_in_one_place_on_one_day(store: Store) -> None:
    new = Item("i2", POSITION, "New sheet", since=date(2024, 6, 1))
    with pytest.raises(MapperError, match="same day"):
        add(store, new)
    with store.act(ANN, "new sheet") as action:
        action.add(new)
        action.change(replace(store.get(Item, ITEM), until=date(2024, 6, 1)))
    assert len(store.book(JOB).items) == 2


def test_text_that_is_no_text_and_words_that_are_none_are_refused(store: Store) -> None:
    with pytest.raises(StoreError, match="no words"):
        store.act(ANN, "  ")
    with pytest.raises(StoreError, match="half of a character"), store.act(ANN, "\udc80") as action:
        action.add(entry("e"))
    with pytest.raises(StoreError, match="version 3"), store.act(ANN, "x") as action:
        action.add(entry("e", version=3))
    with pytest.raises(StoreError, match="version 0"), store.act(ANN, "x") as action:
        action.change(entry("e"))
    with pytest.raises(StoreError, match="A str was given"), store.act(ANN, "x") as action:
        action.add("text")
    with store.act(ANN, "x") as action:
        pass
    with pytest.raises(StoreError, match="finished"):
        action.add(entry("e"))


def test_any_text_comes_back(store: Store) -> None:
    note = "𝔘 emoji 🛠️, tabs\tand\nlines, \x00 and ' \" \\ ; DROP"
    add(store, entry("e", note=note))
    assert store.get(Entry, "e").note == note
    assert store.verify().sound


def test_a_book_is_whole_ordered_and_of_its_own_job(store: Store) -> None:
    early, late = (datetime(2024, 1, day, tzinfo=UTC) for day in (1, 2))
    with store.act(ANN, "fill") as action:
        digest = action.add_geometry(shape())
        action.add(Assembly("fin", JOB, "Fin", order=0))
        action.add(Part("rib", JOB, WING, "a rib", geometry=digest))
        action.add(FinishSystem("f", JOB, "White over grey", coats=({"kind": "enamel"},)))
        action.add(replace(drawn("late", digest), device_time=late))
        action.add(entry("early", device_time=early))
    book = store.book(JOB)
    assert [e.id for e in book.entries] == ["early", "late"]
    assert [p.name for p in book.parts] == ["a rib", "Outer wing"]
    assert [a.name for a in book.assemblies] == ["Fin", "Left wing"]
    assert list(book.geometries) == [digest]
    assert book.geometries[digest].shape == "plate"
    assert book.head == store.head()
    with pytest.raises(NoSuchRecord, match="'Two-seater'"):
        store.book("no-job")


def test_a_new_shop_is_empty_and_its_folder_must_be(store: Store, tmp_path: Path) -> None:
    shop, person = store.shop(), Person("p", "Ann")
    with pytest.raises(StoreError, match="holds something"):
        create(store.folder, replace(shop, version=0), person)
    (tmp_path / "empty").mkdir()
    with create(tmp_path / "empty", replace(shop, version=0), person) as fresh:
        assert (fresh.jobs(), fresh.lots(), len(fresh.people())) == ((), (), 1)
        assert fresh.verify().sound


def test_a_shop_that_cannot_be_made_leaves_nothing(tmp_path: Path, store: Store) -> None:
    bad = Person("p", "Ann", version=4)
    with pytest.raises(StoreError, match="version 4"):
        create(tmp_path / "x" / "y", replace(store.shop(), version=0), bad)
    assert not (tmp_path / "x" / "y").exists()
