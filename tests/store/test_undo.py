"""Undo takes back one's own latest action, and never anybody else's work."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mapper.job.entry import Entry
from mapper.job.plain import to_plain
from mapper.job.records import Assembly, Job, Lot, Part, Person
from mapper.store import undo as undoing
from mapper.store.errors import Refused, StaleRecord, UndoRefused
from mapper.store.shop import Store
from tests.store.makers import ANN, BEN, JOB, drawn, entry, shape


def add(store: Store, *keys: str, by: str = ANN, note: str = "") -> None:
    with store.act(by, f"add {' '.join(keys)}") as action:
        for key in keys:
            action.add(entry(key, note=note))


def note(store: Store, key: str, text: str, by: str = ANN) -> None:
    with store.act(by, f"note {text}") as action:
        action.change(replace(store.get(Entry, key), note=text))


def test_undo_and_redo_of_an_addition_a_change_and_a_removal(store: Store) -> None:
    with store.act(ANN, "drawn") as action:
        digest = action.add_geometry(shape())
        action.add(drawn("e", digest))
    first = to_plain(store.get(Entry, "e"))
    note(store, "e", "two")
    second = to_plain(store.get(Entry, "e"))
    with store.act(ANN, "wrong") as action:
        action.remove(store.get(Entry, "e"))

    def says(plain: dict[str, object]) -> bool:
        return to_plain(store.get(Entry, "e")) | {"version": 0} == plain | {"version": 0}

    assert store.undo(ANN).rows[0].words == "undo: wrong"
    assert says(second)
    assert store.undo(ANN).rows[0].words == "undo: note two"
    assert says(first)
    store.undo(ANN)
    assert store.find(Entry, "e") is None
    assert store.geometry(digest).part == "Outer wing"
    for words, plain in (("drawn", first), ("note two", second)):
        assert store.redo(ANN).rows[0].words == f"redo: {words}"
        assert says(plain)
    store.redo(ANN)
    assert store.find(Entry, "e") is None
    with pytest.raises(UndoRefused, match="nothing to redo"):
        store.redo(ANN)
    assert store.verify().sound


def test_versions_only_ever_rise_so_an_old_copy_stays_stale(store: Store) -> None:
    add(store, "e")
    old = store.get(Entry, "e")
    store.undo(ANN)
    store.redo(ANN)
    assert store.get(Entry, "e").version > old.version
    with pytest.raises(StaleRecord), store.act(ANN, "late") as action:
        action.change(replace(old, note="late"))


def test_redo_holds_until_ones_next_action(store: Store) -> None:
    add(store, "e")
    store.undo(ANN)
    add(store, "other", by=BEN)
    store.redo(ANN)
    store.undo(ANN)
    add(store, "f")
    with pytest.raises(UndoRefused, match="nothing to redo"):
        store.redo(ANN)
    store.undo(ANN)
    assert [e.id for e in store.book(JOB).entries] == ["other"]


def test_one_undoes_ones_own_actions_alone(store: Store) -> None:
    add(store, "mine")
    add(store, "theirs", by=BEN)
    store.undo(ANN)
    assert [e.id for e in store.book(JOB).entries] == ["theirs"]


def test_undo_is_refused_with_both_versions_where_another_changed_the_record(store: Store) -> None:
    add(store, "e", note="one")
    note(store, "e", "two", by=BEN)
    head = store.head()
    with pytest.raises(UndoRefused, match=r"Ben.*note two") as refused:
        store.undo(ANN)
    assert (refused.value.mine.note, refused.value.stored.note) == ("one", "two")
    assert store.head() == head
    with store.act(BEN, "away") as action:
        action.remove(store.get(Entry, "e"))
    with pytest.raises(UndoRefused, match="removed"):
        store.undo(ANN)


def test_what_another_changed_and_took_back_is_no_change(store: Store) -> None:
    add(store, "e", note="one")
    note(store, "e", "two", by=BEN)
    store.undo(BEN)
    store.undo(ANN)
    assert store.find(Entry, "e") is None


def test_what_another_set_to_the_same_again_is_theirs_now(store: Store) -> None:
    add(store, "e", note="one")
    note(store, "e", "two")
    note(store, "e", "three", by=BEN)
    note(store, "e", "two", by=BEN)
    with pytest.raises(UndoRefused, match="Ben"):
        store.undo(ANN)


def test_redo_is_refused_where_another_changed_the_record_since(store: Store) -> None:
    add(store, "e", note="one")
    note(store, "e", "two")
    store.undo(ANN)
    note(store, "e", "three", by=BEN)
    with pytest.raises(UndoRefused, match="Ben"):
        store.redo(ANN)


def test_undo_is_refused_where_others_built_on_what_would_go(store: Store) -> None:
    with store.act(ANN, "fin") as action:
        action.add(Assembly("a", JOB, "Fin"))
        action.add(Part("p", JOB, "a", "Rudder"))
    with store.act(BEN, "finding") as action:
        action.add(replace(entry("e"), part_id="p"))
    with pytest.raises(Refused, match="1 x entry"):
        store.undo(ANN)
    assert store.find(Part, "p") is not None


def test_undo_in_one_job_leaves_the_others_alone(store: Store) -> None:
    with store.act(ANN, "second job") as action:
        action.add(Job("job-2", "Other"))
        action.add(Assembly("a2", "job-2", "Fin"))
    add(store, "e")
    with store.act(ANN, "in the second job") as action:
        action.add(Assembly("b2", "job-2", "Tailplane"))
    assert store.undo(ANN, JOB).rows[0].words == "undo: add e"
    assert store.find(Assembly, "b2") is not None
    assert store.redo(ANN, JOB).rows[0].words == "redo: add e"


def test_undo_in_one_job_never_jumps_over_ones_own_later_change_of_the_same(store: Store) -> None:
    with store.act(ANN, "lot and entry") as action:
        action.add(Lot("l", "Stripper", "L7"))
        action.add(entry("e"))
    with store.act(ANN, "lot") as action:
        action.change(replace(store.get(Lot, "l"), note="opened"))
    assert store.undo(ANN, JOB).rows[0].words == "undo: lot"
    assert store.undo(ANN, JOB).rows[0].words == "undo: lot and entry"


def test_an_undo_sent_twice_undoes_once(store: Store) -> None:
    add(store, "e")
    add(store, "f")
    first = store.undo(ANN, action_id="u-1")
    again = store.undo(ANN, action_id="u-1")
    assert again.repeated
    assert again.rows == first.rows
    assert store.find(Entry, "e") is not None


def test_a_new_shop_has_nothing_to_undo_but_its_setting_up(store: Store) -> None:
    store.undo(ANN)
    for by in (ANN, BEN):
        with pytest.raises(UndoRefused, match="nothing to undo"):
            store.undo(by)
    assert [p.name for p in store.people()] == ["Ann"]


def test_nothing_reaches_through_a_signature(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    # No record is a signature yet: a lot stands for one that covers every entry.
    monkeypatch.setitem(undoing.SEALS, "lot", lambda plain: ["e"])
    add(store, "e")
    with store.act(BEN, "signed") as action:
        action.add(Lot("l", "Signature", "1"))
    with pytest.raises(UndoRefused, match="signature"):
        store.undo(ANN)
    assert store.undo(BEN).rows[0].words == "undo: signed"


def test_shared_records_can_be_taken_back_too(store: Store) -> None:
    with store.act(ANN, "hire") as action:
        action.add(Person("cyd", "Cyd"))
    store.undo(ANN)
    assert store.find(Person, "cyd") is None
    store.redo(ANN)
    assert store.get(Person, "cyd").name == "Cyd"


def test_a_shape_alone_is_nothing_to_undo(store: Store) -> None:
    add(store, "e")
    with store.act(ANN, "shape alone") as action:
        action.add_geometry(shape())
    # Shapes are kept for good: what is taken back is the action before.
    assert store.undo(ANN).rows[0].words == "undo: add e"
