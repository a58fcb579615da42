"""Builds the invented shop in a folder, through the same functions that everybody uses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import replace
from datetime import datetime, timedelta
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from demo.airframe import ASSEMBLIES, PARTS, PARTS_MADE, Made, part_file
from demo.cast import FINISH_SYSTEMS, JOB, LOTS, PEOPLE, SHOP, made_id
from demo.outlines import shape_of, traced
from demo.photos import MM_PER_PIXEL, PICTURES, picture
from demo.story.row import Lettering, Ref, Row, Words, at
from demo.story.story import ROWS
from mapper.job.book import Book
from mapper.job.entry import Entry, PhotoUse, Place
from mapper.job.outlines import new_entry, outline_of
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.plain import from_plain, to_plain
from mapper.job.records import Assembly, Part
from mapper.store.action import Action
from mapper.store.parts import AddedPart, add_part
from mapper.store.shop import Store, create
from mapper.surface.skin import Skin
from mapper.surface.version import from_bytes, to_bytes

Progress = Callable[[str, int, int], None]
Drawn = dict[int, dict[str, Any]]  # entries as plain records, by the number of their row


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
    clock = Clock(at("2025-09-08 08:00"))
    rows = sorted(enumerate(ROWS), key=lambda numbered: numbered[1].when)
    # Two at once: shapes do not lean on each other, nor do places drawn on them, and a machine has
    # two cores at least. What is stored is stored by this process alone, in the story's order.
    with (
        ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool,
        create(folder, SHOP, PEOPLE["mirl"], now=clock, action_id=made_id("shop", "new")) as store,
    ):
        _cast(store)
        drawing = _parts(store, pool, progress)
        drawn: Drawn = {}
        for done, (number, row) in enumerate(rows, 1):
            name, coming = drawing[row.part]
            if number not in drawn:
                drawn.update(coming.result())
            clock.now = row.when + timedelta(seconds=7)
            entry = from_plain(Entry, drawn.pop(number))
            words, action_id = f"{row.kind} on {name}", made_id("action", entry.id)
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
        for name in ASSEMBLIES:
            action.add(_assembly(name))


def _assembly(name: str) -> Assembly:
    return Assembly(made_id("assembly", name), JOB.id, name, ASSEMBLIES.index(name))


def _parts(
    store: Store, pool: ProcessPoolExecutor, progress: Progress
) -> dict[str, tuple[str, Future[Drawn]]]:
    """Add every part; by its code its name, and what becomes of its rows of the story on it."""
    shapes = [pool.submit(_shape, made) for made in PARTS_MADE]
    drawing = {}
    for done, (made, coming) in enumerate(zip(PARTS_MADE, shapes, strict=True), 1):
        name, text, shape = coming.result()
        part = Part(
            made_id("part", made.code), JOB.id, made_id("assembly", made.assembly), name,
            code=made.code, part_file=text, note=made.note,
        )  # fmt: skip
        action_id = made_id("action", "part", made.code)
        with store.act(PEOPLE["mirl"], f"new part {name}", action_id) as action:
            added = add_part(action, JOB, part.assembly_id, part, from_bytes(shape), JOB.opened)
        rows = {number: row for number, row in enumerate(ROWS) if row.part == made.code}
        drawing[made.code] = name, pool.submit(_drawn, made.assembly, added, shape, rows)
        progress("parts", done, len(PARTS_MADE))
    return drawing


def _shape(made: Made) -> tuple[str, str, bytes]:
    """A part's name, the text of its part file and its shape's bytes."""
    text = part_file(made)
    spec = read_text(text, PARTS)
    return spec.part, text, to_bytes(build(spec))


def _drawn(assembly: str, added: AddedPart, shape: bytes, rows: Mapping[int, Row]) -> Drawn:
    """The entries of one part by their numbers, as plain records."""
    part = added.part
    shapes = {part.geometry: from_bytes(shape)}
    book = Book(
        SHOP, JOB, (), (_assembly(assembly),), (part,), added.positions, added.items,
        (), (), (), (), shapes, {},
    )  # fmt: skip
    return {number: to_plain(_entry(book, part, row, number)) for number, row in rows.items()}


def _entry(book: Book, part: Part, row: Row, number: int) -> Entry:
    geometry = book.geometries[part.geometry]
    skin = geometry.skin(row.skin) if row.skin else geometry.skins[0]
    common: dict[str, Any] = {
        "values": {name: _value(value, skin) for name, value in row.values.items()},
        "entry_id": made_id("entry", row.key or str(number)),
        "by": PEOPLE[row.who].id,
        "device_time": row.when,
        "state": row.state,
        "deferred_to": row.until,
        "note": row.note,
    }
    if isinstance(row.where, Words):
        return new_entry(book, part.id, row.kind, place=Place(row.where.words), **common)
    face = row.face or skin.face_names[0]
    outline = outline_of(geometry, skin.name, face, shape_of(geometry, skin, row.where))
    return new_entry(book, part.id, row.kind, outline=outline, **common)


def _photos(action: Action, row: Row) -> tuple[PhotoUse, ...]:
    if row.key not in PICTURES:
        return ()
    photo = action.add_photo(
        JOB.id, picture(*PICTURES[row.key]), photo_id=made_id("photo", row.key), taken=row.when
    )
    return (PhotoUse(photo.id, "Drawn for the demonstration, not a photograph.", MM_PER_PIXEL),)


def _value(value: Any, skin: Skin) -> Any:
    """A value with every Ref replaced by the id it stands for, and every lettering traced."""
    if isinstance(value, Ref):
        table: Mapping[str, Any] = {
            "person": PEOPLE, "lot": LOTS, "finish system": FINISH_SYSTEMS,
        }.get(value.kind, {})  # fmt: skip
        return table[value.key].id if table else made_id("entry", value.key)
    if isinstance(value, Lettering):
        return traced(skin, value)
    if isinstance(value, tuple):
        return tuple(_value(v, skin) for v in value)
    if isinstance(value, dict):
        return {name: _value(v, skin) for name, v in value.items()}
    return value
