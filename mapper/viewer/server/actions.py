"""One action of a person, from the page to the store: what was typed and drawn becomes entries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import shapely

from mapper.errors import MapperError
from mapper.estimate.met import rule_lines
from mapper.job.book import Book
from mapper.job.entry import Entry, Outline, PhotoUse, Place, kind_of
from mapper.job.naming import pick
from mapper.job.outlines import checked_sense, cut, new_entry
from mapper.job.plain import from_plain
from mapper.job.values import own_choices, parse_pairs
from mapper.store.action import Answer
from mapper.store.errors import NoSuchRecord, RepeatedAction
from mapper.store.history import HistoryRow, clock_words
from mapper.store.remap import accepted
from mapper.units import Units
from mapper.viewer.server.drawn import Where
from mapper.viewer.server.guards import Guards
from mapper.viewer.server.live import LiveBook
from mapper.viewer.server.mirror import mirrored_shape
from mapper.viewer.server.models import ActionGiven, EntryGiven, Step
from mapper.viewer.server.where import outline_from

_BY_ENTRY = ("kept", "mirror")


class Stale(MapperError):
    """Drawn on a shape of the part that has been corrected since. entry_id: the entry that was to
    be changed, "" for a new one."""

    entry_id = ""


class Gone(MapperError):
    """An entry that was to be changed or removed, and is not there any more."""


@dataclass(frozen=True)
class Drawing:
    """What outlines are worked out from: the book, its entries, units of messages, and the locks
    that are held while a shape is looked at (what it keeps prepared is for one thread at a time).
    """

    book: Book
    entries: Mapping[str, Entry]
    units: Units
    guards: Guards

    def outline(self, part_id: str, where: Where) -> Outline:
        """The outline on a part's present shape."""
        part = self.book.part(part_id)
        if not part.geometry:
            raise MapperError(
                f"The part {part.name!r} has no shape.",
                "An outline is drawn on a part with a shape.",
                "Say in words where it is.",
            )
        if where.shape not in ("", part.geometry):
            raise Stale(
                f"The shape of {part.name!r} was corrected after this was drawn.",
                "An outline is drawn on the present shape.",
                "Look at the part as it is now, and draw it again.",
            )
        with self.guards.of(part.geometry):
            geometry = self.book.geometries[part.geometry]

            def kept(shape: Any) -> Any:
                return self._of_entry(shape, where, part_id)

            return outline_from(geometry, where, kept, self.units)

    def _of_entry(self, shape: Any, where: Where, part_id: str) -> Any:
        entry = self.entries.get(shape.entry)
        if entry is None or entry.outline is None:
            raise MapperError(
                f"There is no entry {shape.entry!r} with an outline.",
                "What is kept or mirrored is the outline of an entry of this job.",
                "Draw it.",
            )
        there, here = self.book.part(entry.part_id), self.book.part(part_id)
        if entry.geometry != there.geometry:
            raise Stale(
                f"The {entry.kind} was drawn on an earlier shape of {there.name!r}.",
                "An outline is drawn on the present shape.",
                "Look at the part as it is now, and draw it again.",
            )
        if entry.outline.skin != where.skin:
            raise MapperError(
                f"The {entry.kind} lies on the {entry.outline.skin!r}.",
                f"This outline is on the {where.skin!r}.",
                "An entry lies on one skin.",
            )
        if shape.type == "mirror":
            geometries = self.book.geometries
            return mirrored_shape(
                geometries[there.geometry], geometries[here.geometry], entry.outline.shape
            )
        if there.id != here.id:
            raise MapperError(
                f"The {entry.kind} is on {there.name!r}, and this outline on {here.name!r}.",
                "Kept is the outline of an entry of the same part.",
            )
        return entry.outline.shape


def act(live: LiveBook, given: ActionGiven, guards: Guards) -> Answer:
    """Store an action, or answer as before where it was stored already.

    guards: what is held while shapes are looked at, and while it is stored. Raises MapperError for
    what cannot be, StaleRecord where an entry was changed since, RepeatedAction where the id was
    used for something else, DiskRefused and ShopBusy; then nothing was stored.
    """
    with live.lock:
        drawing = Drawing(live.book, dict(live.entries), Units(given.units), guards)
    rows = live.store.history(action_id=given.id)[::-1]
    if rows:
        check_same(live, given, rows, drawing)
        return Answer(given.id, True, rows[-1].hash, rows)
    action = live.store.act(
        given.by,
        given.words,
        given.id,
        device_time=given.device_time,
        clock_offset_ms=given.clock_offset_ms,
    )
    made = dict(drawing.entries)
    drawing = replace(drawing, entries=made)
    lost = [s for s in given.steps if s.op != "add" and s.entry.id not in made]
    for step in given.steps:
        try:
            entry = entry_of(drawing, given, step)
        except Stale as error:
            error.entry_id = step.entry.id
            raise
        if step.op == "add":
            made[entry.id] = action.add(entry)
        elif step.op == "change":
            made[entry.id] = action.change(entry)
        else:
            action.remove(entry)
            made.pop(entry.id, None)
    try:
        with guards.writing, action:
            pass
    except NoSuchRecord as error:
        if not lost:
            raise
        raise Gone(error.given, error.allowed, error.to_do) from error
    return action.answer


def entry_of(drawing: Drawing, given: ActionGiven, step: Step) -> Entry:
    """The entry that a step adds, changes or removes."""
    told = step.entry
    if step.op == "add":
        return _new(drawing, given, told)
    base = drawing.entries.get(told.id)
    if base is None:
        # The store says who removed it, and when.
        return Entry(
            told.id,
            drawing.book.job.id,
            told.part_id,
            told.kind,
            place=Place("gone"),
            version=told.version or 1,
        )
    if step.op == "remove":
        return replace(base, version=told.version)
    if base.version != told.version:
        # The store says what differs; nothing needs to be drawn for that.
        return _changed(drawing, given, base, replace_where(told, None), told.version)
    return _changed(drawing, given, base, told, told.version)


def replace_where(told: EntryGiven, where: Where | None) -> EntryGiven:
    """The same with another place."""
    return told.model_copy(update={"where": where})


def _new(drawing: Drawing, given: ActionGiven, told: EntryGiven) -> Entry:
    kind = kind_of(told.kind)
    outline = None if told.where is None else drawing.outline(told.part_id, told.where)
    values = values_of(drawing, given, told)
    with drawing.guards.of(drawing.book.part(told.part_id).geometry):
        return new_entry(
            drawing.book,
            told.part_id,
            kind.name,
            outline=outline,
            place=Place(told.place.strip()) if told.place.strip() else None,
            values={name: value for name, value in values.items() if value is not None},
            when=given.device_time,
            entry_id=told.id,
            by=given.by,
            device_time=given.device_time,
            state=told.state,
            deferred_to=told.deferred_to,
            note=told.note,
            photos=photos_of(told),
        )


def _changed(
    drawing: Drawing, given: ActionGiven, base: Entry, told: EntryGiven, version: int
) -> Entry:
    if (base.kind, base.part_id) != (told.kind, told.part_id):
        part = drawing.book.part(base.part_id)
        raise MapperError(
            f"The {base.kind} on {part.name!r} would become a {told.kind!r}, or lie elsewhere.",
            "An entry stays of its kind and on its part.",
            "Record another entry, and remove this one.",
        )
    values = {**base.values, **values_of(drawing, given, told)}
    place = base.place
    if told.place.strip() != ("" if place is None else place.words):
        place = Place(told.place.strip()) if told.place.strip() else None
    changed: dict[str, Any] = {
        "place": place,
        "values": {name: value for name, value in values.items() if value is not None},
        "state": told.state,
        "deferred_to": told.deferred_to,
        "note": told.note,
        "photos": photos_of(told),
        "version": version,
    }
    if told.where is not None:
        computed = {f.name for f in kind_of(base.kind).fields if f.computed}
        changed["values"] = {k: v for k, v in changed["values"].items() if k not in computed}
        changed["outline"] = drawing.outline(base.part_id, told.where)
        changed["geometry"] = drawing.book.part(base.part_id).geometry
        changed["pieces"], changed["unconfirmed"] = (), ""
    elif told.confirmed:
        # On the person's word, as `mapper confirm` takes it; with another outline it is settled.
        changed["unconfirmed"] = accepted(drawing.book, base).unconfirmed
    entry = replace(base, **changed)
    with drawing.guards.of(entry.geometry):
        if told.where is not None:
            entry = cut(drawing.book, entry)
        checked_sense(drawing.book, entry)
    return entry


def photos_of(told: EntryGiven) -> tuple[PhotoUse, ...]:
    """The photos of an entry."""
    return tuple(PhotoUse(p.photo_id, p.caption, p.mm_per_pixel) for p in told.photos)


def values_of(drawing: Drawing, given: ActionGiven, told: EntryGiven) -> dict[str, Any]:
    """Values by field name from what was typed, None for one to be taken off."""
    kind = kind_of(told.kind)
    book = drawing.book
    rows: dict[str, Iterable[Any]] = {
        "person": book.people,
        "lot": book.lots,
        "finish system": book.finish_systems,
        "entry": drawing.entries.values(),
    }
    return parse_pairs(
        kind,
        [f"{name}={text}" for name, text in told.values.items()],
        drawing.units,
        find=lambda what, wanted: pick(what, rows[what], wanted).id,
        own=lambda f: own_choices(book.shop, kind.name, f),
        zone=given.device_time.tzinfo,
    )


def check_same(
    live: LiveBook, given: ActionGiven, rows: tuple[HistoryRow, ...], drawing: Drawing
) -> None:
    """Nothing where the action stored under this id is the one that is given again; RepeatedAction,
    showing both, where it is another.

    Compared is what the person said: who, words, time, steps, values, places, photos. An outline is
    drawn again where the shape and what it was made from are still the same.
    """
    of_entries = [row for row in rows if row.kind == "entry"]
    same = (
        rows[0].mode == "act"
        and rows[0].by == given.by
        and rows[0].words == given.words.strip()
        and rows[0].device_time == given.device_time
        and [(r.op, r.record_id) for r in of_entries] == [(s.op, s.entry.id) for s in given.steps]
        and len(of_entries) == len(rows)
    )
    if same:
        pairs = zip(of_entries, given.steps, strict=True)
        same = all(_says(drawing, given, step, row) for row, step in pairs)
    if not same:
        now = ", ".join(f"{s.op} {s.entry.kind} {s.entry.id[:8]}" for s in given.steps[:4])
        then = ", ".join(f"{r.op} {r.kind} {r.record_id[:8]}" for r in rows[:4])
        who = live.names().get(rows[0].by, rows[0].by)
        raise RepeatedAction(
            f"The action id {given.id!r} was used before for something else. Then: "
            f"{rows[0].words!r} by {who} ({then}). Now: {given.words!r} ({now}).",
            "An id belongs to one action; the same action may be sent again with it.",
            "Send this one with a new id.",
            mine=given,
            stored=rows,
        )


def _says(drawing: Drawing, given: ActionGiven, step: Step, row: HistoryRow) -> bool:
    if step.op == "remove" or row.after is None:
        return step.op == "remove" and row.after is None
    told, then = step.entry, from_plain(Entry, row.after)
    values = values_of(drawing, given, told)
    same = (
        (then.kind, then.part_id, then.state) == (told.kind, told.part_id, told.state)
        and (then.deferred_to, then.note) == (told.deferred_to, told.note)
        and not (told.confirmed and then.unconfirmed)
        and then.photos == photos_of(told)
        and ("" if then.place is None else then.place.words) == told.place.strip()
        and all(then.values.get(name) == value for name, value in values.items())
    )
    if not same or told.where is None:
        return same and (step.op != "add" or then.outline is None)
    outline = then.outline
    if outline is None or (outline.skin, outline.face) != (told.where.skin, told.where.face):
        return False
    moved = then.geometry != drawing.book.part(then.part_id).geometry
    if moved or any(shape.type in _BY_ENTRY for shape in told.where.shapes):
        return True
    return bool(
        shapely.equals_exact(drawing.outline(told.part_id, told.where).shape, outline.shape)
    )


def notes_of(live: LiveBook, given: ActionGiven, answer: Answer) -> list[str]:
    """What a person should know besides: rules that what was done meets, notes of the store, and a
    clock that is off."""
    notes = [*_rules(live, answer), *answer.notes]
    off = clock_words(given.clock_offset_ms)
    if off and not answer.repeated:
        notes.append(
            f"When this was recorded, the {off}: the time recorded is the device's, and how far it "
            "was off is kept beside it."
        )
    return notes


def _rules(live: LiveBook, answer: Answer) -> list[str]:
    found = []
    for row in answer.rows if not answer.repeated else ():
        with live.lock:
            entry = live.entries.get(row.record_id)
            geometry = entry and live.book.geometries.get(entry.geometry)
        if entry is not None and row.op != "remove":
            lines = tuple(rule_lines(entry, geometry, live.units))
            found += ["\n".join(lines)] if lines else []
    return found
