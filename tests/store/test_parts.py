"""A part comes with its places and sheets; a replaced sheet keeps what was recorded on it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from mapper.job.records import Item, Part
from mapper.store.errors import NoSuchRecord, StoreError
from mapper.store.parts import AddedPart, add_part, change_geometry, replace_sheet
from mapper.store.shop import Store
from tests.store.makers import ANN, ITEM, JOB, POSITION, WING, drawn, shape

SINCE = date(1951, 6, 1)


def put(store: Store, action_id: str | None = None) -> AddedPart:
    with store.act(ANN, "aileron", action_id) as action:
        part = Part("aileron", JOB, WING, "Aileron", code="LW-02")
        return add_part(action, JOB, WING, part, shape("Aileron", ("inboard", "outboard")), SINCE)


def test_a_part_has_a_place_and_a_sheet_for_the_whole_and_each_panel(store: Store) -> None:
    added = put(store)
    assert [(p.name, p.skin, p.panel) for p in added.positions] == [
        ("Aileron", "", ""),
        ("Aileron, inboard", "skin", "inboard"),
        ("Aileron, outboard", "skin", "outboard"),
    ]
    assert [i.position_id for i in added.items] == [p.id for p in added.positions]
    assert {(i.since, i.until, i.made) for i in added.items} == {(SINCE, None, "original")}
    book = store.book(JOB)
    assert book.part("aileron").geometry in book.geometries
    assert set(added.positions) <= set(book.positions)
    assert set(added.items) <= set(book.items)
    assert store.verify().sound


def test_sent_again_it_is_the_same_part(store: Store) -> None:
    first, again = put(store, "action-1"), put(store, "action-1")
    assert first == again
    assert len(store.book(JOB).positions) == 4


def test_a_part_without_a_shape_has_one_place(store: Store) -> None:
    with store.act(ANN, "tank") as action:
        added = add_part(action, JOB, WING, Part("tank", JOB, WING, "Tank"), None)
    assert (len(added.positions), len(added.items), added.part.geometry) == (1, 1, "")


def test_a_replaced_sheet_ends_where_the_new_one_begins(store: Store) -> None:
    with store.act(ANN, "drawn") as action:
        action.add(drawn("e", action.add_geometry(shape())))
    day = date(2024, 7, 1)
    with store.act(ANN, "new skin") as action:
        new = Item("new", POSITION, "New skin", made="new sheet")
        old, added = replace_sheet(action, store.book(JOB), POSITION, day, new)
    assert (old.id, old.until, added.since, added.until) == (ITEM, day, day, None)
    assert {p.item_id for p in store.book(JOB).entry("e").pieces} == {ITEM}
    store.undo(ANN)
    assert [i.until for i in store.book(JOB).items] == [None]
    assert store.verify().sound


def test_what_cannot_be_replaced_is_said(store: Store) -> None:
    new = Item("new", POSITION, "New skin")
    for position, day, error in (
        ("nowhere", date(2024, 7, 1), NoSuchRecord),
        (POSITION, date(1940, 1, 1), StoreError),
    ):
        with pytest.raises(error), store.act(ANN, "new skin") as action:
            replace_sheet(action, store.book(JOB), position, day, new)
    assert store.find(Item, "new") is None


def test_a_corrected_shape_gets_places_for_its_new_panels(store: Store) -> None:
    put(store)
    with store.act(ANN, "corrected") as action:
        part = store.get(Part, "aileron")
        geometry = shape("Aileron", ("inboard", "outboard", "tip"))
        changed = change_geometry(action, store.book(JOB), part, geometry)
    assert [p.panel for p in changed.positions] == ["tip"]
    assert changed.part == replace(part, geometry=changed.part.geometry, version=2)
    assert len(store.book(JOB).geometries) == 1
    store.undo(ANN)
    assert store.get(Part, "aileron").geometry == part.geometry
