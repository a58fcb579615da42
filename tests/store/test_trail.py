"""What the history says of who decided, who corrected a shape, and who confirmed places."""

from __future__ import annotations

from dataclasses import replace

from mapper.job.entry import Entry
from mapper.job.records import Part
from mapper.job.trail import Trail
from mapper.store.shop import Store
from mapper.store.trail import trail_of
from tests.store.makers import ANN, BEN, JOB, PART, drawn, entry, shape


def change(store: Store, by: str, words: str, key: str, **more: object) -> None:
    with store.act(by, words) as action:
        action.change(replace(store.get(Entry, key), **more))


def test_nobody_wrote_anything_yet(store: Store) -> None:
    assert trail_of(store, JOB) == Trail()
    assert trail_of(store, "no such job") == Trail()


def test_who_last_wrote_a_disposition_down(store: Store) -> None:
    decided = {"disposition": 'as the manual says, with "quotes"', "disposed_by": BEN}
    with store.act(ANN, "added") as action:
        action.add(entry("a", values=decided))
        action.add(entry("b", note='{"unconfirmed":"x","disposition":1}'))
    assert trail_of(store, JOB).decided["a"].by == ANN
    change(store, BEN, "said again", "a", values=decided | {"licence": "L 1"})
    change(store, ANN, "a note", "a", note="something else")
    found = trail_of(store, JOB)
    assert (found.decided["a"].by, found.decided["a"].words) == (BEN, "said again")
    assert list(found.decided) == ["a"]
    assert found.changed["a"].words == "a note" and "b" not in found.changed


def test_a_corrected_shape_and_who_confirmed_the_places(store: Store) -> None:
    with store.act(ANN, "drawn") as action:
        first = action.add_geometry(shape())
        action.change(replace(store.get(Part, PART), geometry=first))
        for key in ("a", "b", "c"):
            action.add(drawn(key, first))
    assert trail_of(store, JOB).corrections == ()  # its first shape is no correction
    with store.act(BEN, "corrected") as action:
        second = action.add_geometry(shape("Outer wing, again"))
        action.change(replace(store.get(Part, PART), geometry=second))
        for key in ("a", "b", "c"):
            moved = replace(store.get(Entry, key), geometry=second, unconfirmed="moved 3.0 mm")
            action.change(moved)
    found = trail_of(store, JOB)
    (one,) = found.corrections
    assert (one.part_id, one.written.by, one.carried) == (PART, BEN, 3)
    assert found.settled == {}
    change(store, ANN, "confirmed", "a", unconfirmed="")
    again = replace(drawn("b", second, 12).outline)
    change(store, BEN, "drawn again", "b", unconfirmed="", outline=again)
    found = trail_of(store, JOB)
    assert {k: (s.written.by, s.drawn_again) for k, s in found.settled.items()} == {
        "a": (ANN, False),
        "b": (BEN, True),
    }
    store.undo(ANN)
    found = trail_of(store, JOB)
    assert list(found.settled) == ["b"]
    assert found.changed == {}  # to be carried, confirmed and put in doubt again is no change


def test_a_correction_taken_back_is_none(store: Store) -> None:
    with store.act(ANN, "shape") as action:
        first = action.add_geometry(shape())
        action.change(replace(store.get(Part, PART), geometry=first))
    for words in ("one", "two"):
        with store.act(ANN, words) as action:
            digest = action.add_geometry(shape(words))
            action.change(replace(store.get(Part, PART), geometry=digest))
    store.undo(ANN)
    assert [c.written.words for c in trail_of(store, JOB).corrections] == ["one"]
    store.redo(ANN)
    assert len(trail_of(store, JOB).corrections) == 2
