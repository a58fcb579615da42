"""Builds the invented shop in a folder, through the same functions that everybody uses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from demo.cast import (
    ASSEMBLIES,
    FINISH_SYSTEMS,
    JOB,
    LOTS,
    PARTS,
    PARTS_MADE,
    PEOPLE,
    SHOP,
    made_id,
    part_file,
)
from demo.photos import MM_PER_PIXEL, PICTURES, picture
from demo.story.row import (
    Box,
    Corners,
    Disc,
    FlatCorners,
    Ref,
    Row,
    Spots,
    Trace,
    Where,
    Whole,
    Words,
    at,
)
from demo.story.story import ROWS
from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.entry import Entry, PhotoUse, Place
from mapper.job.outlines import new_entry, outline_of
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.records import Assembly, Part
from mapper.store.action import Action
from mapper.store.parts import add_part
from mapper.store.shop import Store, create
from mapper.surface import region
from mapper.surface.geometry import Geometry, Panel
from mapper.surface.place import flat_of
from mapper.surface.skin import Skin

Progress = Callable[[str, int, int], None]


class Clock:
    """The shop's clock: it stands where the story puts it, so that every run is the same."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def __call__(self) -> datetime:
        return self.now


def build_shop(folder: Path, progress: Progress = lambda stage, done, total: None) -> None:
    """Make the invented shop in a new or empty folder: people, lots, parts, entries.

    progress(stage, done, total) is called as it goes. Raises MapperError where the folder holds
    something already.
    """
    clock = Clock(at("2025-09-08", "08:00"))
    numbers = {id(row): number for number, row in enumerate(ROWS)}
    rows = sorted(ROWS, key=lambda row: row.when)
    with create(folder, SHOP, PEOPLE["mirl"], now=clock, action_id=made_id("shop", "new")) as store:
        _cast(store)
        _parts(store, progress)
        book = store.book(JOB.id)
        parts = {made.key: book.part(made_id("part", made.key)) for made in PARTS_MADE}
        for done, row in enumerate(rows, 1):
            clock.now = row.when + timedelta(seconds=7)
            part = parts[row.part]
            entry = _entry(book, part, row, numbers[id(row)])
            words = f"{row.kind} on {part.name}"
            action_id = made_id("action", entry.id)
            with store.act(PEOPLE[row.who], words, action_id, device_time=row.when) as action:
                action.add(replace(entry, photos=_photos(action, row)))
            progress("entries", done, len(rows))


def _cast(store: Store) -> None:
    with store.act(PEOPLE["mirl"], "people, lots and the job", made_id("action", "cast")) as action:
        for person in list(PEOPLE.values())[1:]:
            action.add(person)
        for lot in LOTS.values():
            action.add(lot)
        action.add(JOB)
        for system in FINISH_SYSTEMS.values():
            action.add(system)
        for order, name in enumerate(ASSEMBLIES):
            action.add(Assembly(made_id("assembly", name), JOB.id, name, order))


def _parts(store: Store, progress: Progress) -> None:
    for done, made in enumerate(PARTS_MADE, 1):
        text = part_file(made)
        spec = read_text(text, PARTS)
        geometry = build(spec)
        part = Part(
            made_id("part", made.key), JOB.id, made_id("assembly", made.assembly), spec.part,
            code=made.code, part_file=text, note=made.note,
        )  # fmt: skip
        action_id = made_id("action", "part", made.key)
        with store.act(PEOPLE["mirl"], f"new part {spec.part}", action_id) as action:
            add_part(action, JOB, part.assembly_id, part, geometry, JOB.opened)
        progress("parts", done, len(PARTS_MADE))


def _entry(book: Book, part: Part, row: Row, number: int) -> Entry:
    geometry = book.geometries[part.geometry]
    common: dict[str, Any] = {
        "values": {name: _value(value) for name, value in row.values.items()},
        "entry_id": _entry_id(row, number),
        "by": PEOPLE[row.who].id,
        "device_time": row.when,
        "state": row.state,
        "note": row.note,
    }
    if isinstance(row.where, Words):
        return new_entry(book, part.id, row.kind, place=Place(row.where.words), **common)
    skin = geometry.skin(row.skin) if row.skin else geometry.skins[0]
    face = skin.face_names[0] if row.face == "outer" else row.face
    outline = outline_of(geometry, skin.name, face, _shape(geometry, skin, row.where))
    return new_entry(book, part.id, row.kind, outline=outline, **common)


def _photos(action: Action, row: Row) -> tuple[PhotoUse, ...]:
    if row.key not in PICTURES:
        return ()
    photo = action.add_photo(
        JOB.id, picture(*PICTURES[row.key]), photo_id=made_id("photo", row.key), taken=row.when
    )
    return (PhotoUse(photo.id, "Drawn for the demonstration, not a photograph.", MM_PER_PIXEL),)


def _entry_id(row: Row, number: int) -> str:
    return made_id("entry", row.key or str(number))


def _value(value: Any) -> Any:
    """A value with every Ref replaced by the id it stands for."""
    if isinstance(value, Ref):
        table: Mapping[str, Any] = {
            "person": PEOPLE, "lot": LOTS, "finish system": FINISH_SYSTEMS,
        }.get(value.kind, {})  # fmt: skip
        return table[value.key].id if table else made_id("entry", value.key)
    if isinstance(value, tuple):
        return tuple(_value(v) for v in value)
    if isinstance(value, dict):
        return {name: _value(v) for name, v in value.items()}
    return value


def _shape(geometry: Geometry, skin: Skin, where: Where) -> Any:
    """The region, line or points in the skin's flat plane that the story means."""
    if isinstance(where, Box):
        return region.box(skin, stations=where.stations, chord=where.chord, side=where.side)
    if isinstance(where, Whole):
        return _panel(geometry, where.panel).flat if where.panel else region.whole(skin)
    if isinstance(where, Disc):
        centre = _flat(skin, ((where.station, where.chord),), where.side)[0]
        return region.disc(skin, centre, where.radius)
    if isinstance(where, Spots):
        return shapely.MultiPoint(_flat(skin, where.at, where.side))
    if isinstance(where, Trace):
        return shapely.MultiLineString([_flat(skin, where.through, where.side)])
    if isinstance(where, Corners):
        return region.polygon(skin, _flat(skin, where.at, where.side))
    if isinstance(where, FlatCorners):
        return region.polygon(skin, np.asarray(where.at, float))
    raise TypeError(f"{where!r} has no outline")


def _flat(skin: Skin, places: tuple[tuple[float, float], ...], side: str) -> Any:
    stations, chords = np.asarray(places, float).T
    return flat_of(skin, stations, chords, np.full(len(stations), side != "lower"))


def _panel(geometry: Geometry, name: str) -> Panel:
    for panel in geometry.panels:
        if panel.name == name:
            return panel
    raise MapperError(
        f"{geometry.part} has no panel {name!r}.",
        f"It has {', '.join(p.name for p in geometry.panels)}.",
    )
