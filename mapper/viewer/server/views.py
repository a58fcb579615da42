"""Records as the page reads them: every word and number by the functions that command line and
report use, nothing worked out anew."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from mapper.job import telling
from mapper.job.book import Book
from mapper.job.entry import Entry, Outline, kind_of
from mapper.job.fields import Field
from mapper.job.naming import label
from mapper.job.records import Job, Part, Person
from mapper.job.values import missing, show, told
from mapper.surface.geometry import Geometry
from mapper.surface.measure import length
from mapper.units import Units, count_of
from mapper.viewer.server.guards import Guards
from mapper.viewer.server.models import (
    EntryView,
    JobView,
    OutlineView,
    PartView,
    PersonView,
    PhotoUseView,
    ReferenceView,
)

# Outlines are sent for drawing, lines two pixels wide: what a change starts from stays here.
COARSE = 0.005  # mm
DIGITS = 3
OFF = "removed part"  # the kind of entry that says a part is off the airframe
INNER = ("rib", "spar web")  # shapes that a skin hides

Numbers = Mapping[str, float]  # of a part at a glance (`glance.py`)


def person_view(person: Person) -> PersonView:
    return PersonView(id=person.id, name=person.name)


def job_view(job: Job) -> JobView:
    return JobView(id=job.id, name=job.name, airframe=job.airframe, owner=job.owner)


def polygons_of(shape: BaseGeometry) -> list[Any]:
    """A shape's coordinates as the page takes them: polygons of rings, or one list of lines, or one
    ring of points."""
    if shape.geom_type == "MultiPoint":
        return [[_ring(shape)]]
    parts = shapely.get_parts(shapely.simplify(shape, COARSE))
    if shape.geom_type == "MultiLineString":
        return [[_ring(line) for line in parts]]
    return [[_ring(r) for r in (p.exterior, *p.interiors)] for p in parts]


def _ring(shape: BaseGeometry) -> list[Any]:
    return shapely.get_coordinates(shape).round(DIGITS).tolist()


def outline_view(
    outline: Outline, digest: str, geometry: Geometry | None, units: Units, guards: Guards
) -> OutlineView:
    """An outline for the page. digest, geometry: the version it was drawn on, which is only looked
    at for the length of lines."""
    words = units.show(outline.drawn_area, "mm2")
    if outline.region == "line" and geometry is not None:
        with guards.of(digest):
            words = units.show(length(geometry.skin(outline.skin), outline.shape), "mm")
    elif outline.region == "point":
        words = count_of(len(outline.shape.geoms), "point")
    return OutlineView(
        skin=outline.skin,
        face=outline.face,
        region=outline.region,
        shape=digest,
        polygons=polygons_of(outline.shape),
        area_mm2=outline.drawn_area,
        area_words=words,
    )


def value_words(f: Field, value: Any, units: Units, names: Mapping[str, str]) -> str:
    """One value for a reader, as `mapper show` prints it."""
    if f.type == "records":
        return "\n".join(
            "; ".join(
                f"{g.label} {told(g, record[g.name], units, names=names)}"
                for g in f.of
                if g.name in record
            )
            for record in value
        )
    if f.computed:
        return units.show(value, f.unit)
    if f.type == "shape":
        return count_of(len(value.geoms), "outline")
    return told(f, value, units, names=names)


def where_words(entry: Entry, book: Book, units: Units, guards: Guards) -> str:
    """Where an entry is, as the command line says it."""
    anchors = None if entry.outline is None else entry.outline.anchors
    if anchors is None or np.isfinite(anchors[:, 1]).any():
        # On a wing the outline says it all: nobody who looks at the shape is waited for.
        return telling.where(entry, units)
    with guards.of(entry.geometry):
        return telling.where(entry, units, book.geometries)


def entry_view(
    entry: Entry,
    book: Book,
    units: Units,
    names: Mapping[str, str],
    guards: Guards,
    clock: str = "",
) -> EntryView:
    """An entry for the page. clock: how far that of the device was off, in words."""
    fields = [f for f in kind_of(entry.kind).fields if entry.values.get(f.name) is not None]
    photos = {p.id: p.digest for p in book.photos} if entry.photos else {}
    outline = None
    if entry.outline is not None:
        geometry = book.geometries[entry.geometry] if entry.region == "line" else None
        outline = outline_view(entry.outline, entry.geometry, geometry, units, guards)
    return EntryView(
        id=entry.id,
        part_id=entry.part_id,
        kind=entry.kind,
        version=entry.version,
        state=entry.state,
        deferred_to=None if entry.deferred_to is None else entry.deferred_to.isoformat(),
        note=entry.note,
        by=entry.by,
        by_name=book.person_name(entry.by),
        device_time="" if entry.device_time is None else entry.device_time.isoformat(),
        server_time=None if entry.server_time is None else entry.server_time.isoformat(),
        outline=outline,
        place="" if entry.place is None else entry.place.words,
        where=where_words(entry, book, units, guards),
        title=telling.summary(entry, units, names) or entry.kind,
        told={f.name: value_words(f, entry.values[f.name], units, names) for f in fields},
        typed={f.name: show(f, entry.values[f.name], units) for f in fields if not f.computed},
        missing=[f.name for f in missing(entry)],
        photos=[
            PhotoUseView(
                photo_id=use.photo_id,
                caption=use.caption,
                mm_per_pixel=use.mm_per_pixel,
                href=f"/api/photos/{photos[use.photo_id]}" if use.photo_id in photos else "",
            )
            for use in entry.photos
        ],
        unconfirmed=bool(entry.unconfirmed)
        or (entry.outline is not None and entry.geometry != book.part(entry.part_id).geometry),
        doubt=telling.doubt(entry, units),
        clock=clock,
    )


@dataclass(frozen=True)
class Tally:
    """What entries say about parts: open findings by part id; where what was taken off is kept, by
    the tag code in small letters."""

    open_findings: Mapping[str, int]
    kept_at: Mapping[str, str]


def tally_of(entries: Iterable[Entry]) -> Tally:
    """The tally of a job's entries."""
    found: Counter[str] = Counter()
    off: dict[str, str] = {}
    for entry in entries:
        if entry.state == "closed":
            continue
        if entry.kind == "finding":
            found[entry.part_id] += 1
        elif entry.kind == OFF and "tag_code" in entry.values:
            code = str(entry.values["tag_code"]).strip().casefold()
            off[code] = str(entry.values.get("where_now", ""))
    return Tally(found, off)


def part_view(part: Part, tally: Tally, at_a_glance: Numbers, facts: Mapping[str, Any]) -> PartView:
    """A part for the page. at_a_glance: areas by state, {} while they are being worked out; facts:
    what follows from its shape alone, {} likewise or without one."""
    off = tally.kept_at.get(part.code.casefold()) if part.code else None
    return PartView(
        id=part.id,
        name=part.name,
        code=part.code,
        assembly_id=part.assembly_id,
        note=part.note,
        shape=part.geometry,
        mirror_id=str(facts.get("mirror_id", "")),
        removed=off is not None,
        kept_at=off or "",
        area_mm2=float(facts.get("area_mm2", 0.0)),
        tolerance_percent=float(facts.get("tolerance_percent", 0.0)),
        faces_mm2=at_a_glance.get("faces_mm2", 0.0),
        stripped_mm2=at_a_glance.get("stripped_mm2", 0.0),
        inspected_mm2=at_a_glance.get("inspected_mm2", 0.0),
        open_findings=tally.open_findings.get(part.id, 0),
        inner=facts.get("shape") in INNER,
    )


def references_of(book: Book) -> dict[str, list[ReferenceView]]:
    """What values may refer to besides entries, by kind of record, in words."""
    rows: dict[str, Any] = {
        "person": book.people,
        "lot": book.lots,
        "finish system": book.finish_systems,
    }
    return {
        kind: [ReferenceView(id=r.id, words=label(r)) for r in records]
        for kind, records in rows.items()
    }


def entry_reference(entry: Entry, book: Book, where: str) -> ReferenceView:
    """An entry as what a value may refer to. where: its place in words."""
    on = label(book.part(entry.part_id))
    return ReferenceView(id=entry.id, words=f"{entry.kind}, {on}: {where}")
