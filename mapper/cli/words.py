"""Records in words: where an entry is, what it says in short, and everything about one record."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mapper.cli.desk import Desk


def where(desk: Desk, entry: Any) -> str:
    """Where an entry is, in short: its place in words, or side, stations and % chord."""
    from mapper.job import telling

    return telling.where(entry, desk.units, desk.book.geometries)


def summary(desk: Desk, entry: Any) -> str:
    """The first few values of an entry in one line; its note where it has none."""
    from mapper.job import telling

    return telling.summary(entry, desk.units, desk.names())


def details(desk: Desk, what: str, record: Any) -> Iterator[tuple[str, str]]:
    """(label, text) of everything a record holds, in the shop's units."""
    from mapper.units import count_of

    yield "id", record.id
    yield "version", str(record.version)
    if what == "entry":
        yield from _entry(desk, record)
        return
    names = desk.names()
    for f in fields(record):
        value = getattr(record, f.name)
        if f.name in ("id", "version") or value in ("", None, ()):
            continue
        name = f.name.removesuffix("_id").replace("_", " ")
        if f.name == "coats":
            yield from coat_lines(desk, value)
        elif f.name == "settings":
            for key, setting in sorted(value.items()):
                yield f"setting {key}", _setting(setting)
        elif f.name == "part_file":
            yield name, count_of(len(value.splitlines()), "line")
        elif f.name.endswith("_id"):
            rows = {x.id: x.name for x in (*desk.book.assemblies, *desk.book.positions, desk.job)}
            yield name, names.get(value) or rows.get(value, value)
        else:
            yield name, str(value)
    if what == "part":
        yield from _part(desk, record)


def _setting(value: Any) -> str:
    from mapper.job.plain import thawed

    return str(thawed(value))


def coat_lines(desk: Desk, coats: Any) -> Iterator[tuple[str, str]]:
    """(number, words) of each coat of a stack, outermost first."""
    from mapper.job.kinds.shared import COAT_FIELDS
    from mapper.job.values import told

    for number, coat in enumerate(coats, 1):
        texts = [told(g, coat.get(g.name), desk.units) for g in COAT_FIELDS]
        yield f"coat {number}", ", ".join(t for t in texts if t)


def _part(desk: Desk, part: Any) -> Iterator[tuple[str, str]]:
    from mapper.job.outlines import sheet_area

    if not part.geometry:
        return
    geometry = desk.book.geometries[part.geometry]
    tolerance = geometry.tolerance
    yield "measured by", f"{tolerance.how}, areas ± {tolerance.percent:g} % (95 % half-width)"
    for skin in geometry.skins:
        area = sheet_area(geometry, skin.name)
        shown = desk.units.with_tolerance(area, "mm2", tolerance.percent)
        yield f"{skin.name}, one face", f"{shown}, faces {' and '.join(skin.face_names)}"
    yield "panels", "; ".join(p.name for p in geometry.panels)
    yield from _bays(desk, part)
    yield "entries", str(len(desk.book.entries_of(part.id)))
    yield from _remaining(desk, part.id)


def _bays(desk: Desk, part: Any) -> Iterator[tuple[str, str]]:
    """Where a part lies in others, and what lies in its own bays."""
    from mapper.job.bays import contents_of, housed
    from mapper.job.inner import WHOLE, lies_words

    where = housed(desk.book, part.id)
    parent = desk.book.geometries[part.geometry].attached_to
    if parent and not where:
        yield "attached to", f"{parent}, of which this job has no shape"
    for one in where:
        yield "lies", lies_words(one.lies).removeprefix("lies ")
    for bay in contents_of(desk.book, part.id):
        if bay.inside:
            held = ", ".join(bay.inside)
            yield "inside", held if bay.bay == WHOLE else f"{bay.bay}: {held}"


def _remaining(desk: Desk, part_id: str, entry: Any = None) -> Iterator[tuple[str, str]]:
    """What depths leave of the sheet, of one entry or of all of a part that have one."""
    from mapper.corrosion import wording
    from mapper.corrosion.defects import defects_of
    from mapper.corrosion.depths import depth_table
    from mapper.corrosion.settings import counting_of

    defects = {d.id: [e.id for e in d.seen] for d in defects_of(desk.book, part_id)}
    rows = [
        row
        for row in depth_table(desk.book, part_id).to_dict("records")
        if row["depth_mm"] is not None and (entry is None or entry.id in defects[row["finding"]])
    ]
    for row in rows:
        name = "remaining" if entry is not None else f"remaining {row['entry'][:8]}"
        beside = wording.detail(row, desk.units)
        yield name, wording.in_short(row, desk.units) + (f" ({beside})" if beside else "")
    if rows:
        factor = counting_of(desk.shop.settings).factor
        yield "", f"{wording.how(factor)} {wording.DECISION}"


def _entry(desk: Desk, entry: Any) -> Iterator[tuple[str, str]]:
    from mapper.job.entry import kind_of
    from mapper.job.telling import doubt
    from mapper.job.values import missing, told
    from mapper.store.history import clock_words
    from mapper.units import count_of

    units, book, names = desk.units, desk.book, desk.names()
    yield "part", book.part(entry.part_id).name
    yield "where", where(desk, entry)
    if entry.place is not None and entry.place.point is not None:
        yield "point", ", ".join(units.told(v, "mm") for v in entry.place.point)
    if entry.outline is not None:
        yield "skin and face", f"{entry.outline.skin}, {entry.outline.face}"
        items = {i.id: i.name for i in book.items}
        for piece in entry.pieces:
            size = units.show(piece.area, "mm2") if piece.area else entry.region
            yield "on", f"{items.get(piece.item_id, piece.item_id)}: {size}"
        if entry.geometry != book.part(entry.part_id).geometry:
            yield "shape", f"drawn on an earlier version of the shape, {entry.geometry[:12]}"
    if entry.unconfirmed:
        yield "place", f"unconfirmed: {doubt(entry, units)}"
    yield "state", entry.state + (f" to {entry.deferred_to}" if entry.deferred_to else "")
    for f in kind_of(entry.kind).fields:
        if f.name not in entry.values:
            continue
        value = entry.values[f.name]
        if f.type == "records":
            for number, record in enumerate(value, 1):
                texts = [
                    f"{g.label} {told(g, record[g.name], units, names=names)}"
                    for g in f.of
                    if g.name in record
                ]
                yield f"{f.label} {number}", "; ".join(texts)
        elif f.computed:
            yield f.label, f"{units.show(value, f.unit)} (worked out)"
        elif f.type == "shape":
            yield f.label, count_of(len(value.geoms), "outline")
        else:
            yield f.label, told(f, value, units, names=names)
    for use in entry.photos:
        scale = f", {use.mm_per_pixel:g} mm per pixel" if use.mm_per_pixel else ""
        yield "photo", f"{use.caption or 'no caption'} ({use.photo_id[:8]}){scale}"
    if entry.note:
        yield "note", entry.note
    yield "recorded by", book.person_name(entry.by)
    for name in ("device_time", "server_time"):
        moment = getattr(entry, name)
        if moment is not None:
            yield name.replace("_", " "), moment.isoformat(sep=" ", timespec="seconds")
    off = clock_words(desk.store.clocks_off(entry.job_id).get(entry.id))
    if off:
        yield "clock", f"{off} when it was recorded"
    if entry.kind == "finding":
        yield from _remaining(desk, entry.part_id, entry)
    left = missing(entry)
    if left:
        yield "to complete", ", ".join(f.label for f in left)


def kind_lines() -> Iterator[str]:
    """The kinds of entry, one to a line, with what each is for."""
    import pandas as pd

    from mapper.cli.table import to_text
    from mapper.job.kinds import KINDS

    rows = [
        {"kind": k.name, "may be": ", ".join(sorted(k.regions)), "what it is for": k.help}
        for k in KINDS.values()
    ]
    yield to_text(pd.DataFrame(rows, dtype=object), shutil.get_terminal_size((80, 24)).columns)


def field_lines(kind: str, shop: Path | None) -> Iterator[str]:
    """The fields of a kind as a table, made from the same list that checks them.

    With a shop at hand its units and its own choices are shown, else metric ones.
    """
    import pandas as pd

    from mapper.cli.table import folded, to_text
    from mapper.errors import MapperError
    from mapper.job.entry import kind_of
    from mapper.job.values import allowed, own_choices
    from mapper.units import Units

    found = kind_of(kind.strip() if " " in kind.strip() else kind.strip().replace("-", " "))
    units, own = Units("metric"), lambda f: ()
    try:
        from mapper.cli.desk import Desk

        with Desk(shop) as desk:
            units, record = desk.units, desk.shop
        own = lambda f: own_choices(record, found.name, f)  # noqa: E731
    except MapperError:
        if shop is not None:
            raise
    width = shutil.get_terminal_size((80, 24)).columns
    yield from folded(f"{found.name}: {found.help}", width)
    yield f"May be: {', '.join(sorted(found.regions))}."
    rows = []
    for f in found.fields:
        takes = "worked out by the program" if f.computed else allowed(f, units, own(f))
        rows.append({"field": f.name, "takes": takes, "what it is for": _purpose(f)})
        rows += [
            {"field": f"  {g.name}", "takes": allowed(g, units), "what it is for": g.help}
            for g in f.of
        ]
    yield to_text(pd.DataFrame(rows, dtype=object), width)
    yield "* goes on the to-complete list while it is missing, where it applies."


def _purpose(f: Any) -> str:
    return f"{f.label}{' *' if f.expected else ''}: {f.help}"
