"""What a report asks a book again and again: whose item, which panel, which number on the map."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.estimate.regions import WHOLE, regions_of
from mapper.job.book import Book
from mapper.job.entry import Entry, Outline, Piece
from mapper.job.records import Assembly, Part, Photo
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Skin

# A line or point this near to a panel's edge (mm) belongs to both panels.
NEAR = 0.01
# Less overlap than this (mm2) with a panel is rounding at its seam.
LEAST = 0.5
UNPLACED = "Parts without an assembly"


@dataclass(frozen=True, eq=False)
class Sheet:
    """One page of the report: a panel of a skin, seen on one face.

    A skin without panels is one panel named WHOLE, and its region is empty: everything is on it.
    """

    part: Part
    geometry: Geometry
    skin: Skin
    panel: str
    face: str
    region: MultiPolygon

    @cached_property
    def cut(self) -> dict[Entry, tuple[BaseGeometry, ...]]:
        """What `shapes_on` has found: entries are frozen, and known by their identity."""
        return {}

    @property
    def where(self) -> tuple[str, str, str]:
        """Skin, panel and face, as the tables of numbers name them."""
        return self.skin.name, self.panel, self.face

    @property
    def name(self) -> str:
        """What a reader calls it: "Lower inboard, outer face"."""
        return f"{self.title}, {self.face} face"

    @property
    def title(self) -> str:
        """The panel, with its skin where that says more."""
        if self.panel == WHOLE:
            return self.skin.name
        if len(self.geometry.skins) > 1 and self.skin.name not in self.panel:
            return f"{self.skin.name}: {self.panel}"
        return self.panel


class Lookup:
    """A book with its indexes, built once per report; what lies on a panel is found once."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.number = {entry.id: str(i) for i, entry in enumerate(book.entries, 1)}
        self.entry = {entry.id: entry for entry in book.entries}
        self.person = {person.id: person for person in book.people}
        self.photo: dict[str, Photo] = {photo.id: photo for photo in book.photos}
        self.part = {part.id: part for part in book.parts}
        self.lot = {lot.id: lot for lot in book.lots}
        self.finish = {system.id: system for system in book.finish_systems}
        self._sheets: dict[str, tuple[Sheet, ...]] = {}
        self._on: dict[tuple[str, str, str, str], frozenset[str]] = {}

    def by(self, person_id: str) -> str:
        """The name of a person; "not recorded" for none, the id for one the book does not have."""
        if not person_id:
            return "not recorded"
        person = self.person.get(person_id)
        return person.name if person else person_id

    def named(self, record_id: str) -> str:
        """A record in words ("entry 12", a lot, a finish system, a person), or the id itself."""
        if record_id in self.number:
            return f"entry {self.number[record_id]}"
        if record_id in self.lot:
            lot = self.lot[record_id]
            return " ".join(w for w in (lot.product, lot.number and f"lot {lot.number}") if w)
        if record_id in self.finish:
            return self.finish[record_id].name
        return self.person[record_id].name if record_id in self.person else record_id

    def geometry(self, part: Part) -> Geometry | None:
        """The part's current shape, or None where it has none."""
        return self.book.geometries.get(part.geometry) if part.geometry else None

    def entries(self, part: Part) -> tuple[Entry, ...]:
        """The entries on a part, in order of their numbers."""
        return tuple(e for e in self.book.entries if e.part_id == part.id)

    def assemblies(self) -> tuple[tuple[Assembly | None, tuple[Part, ...]], ...]:
        """Every assembly with its parts, in order; parts of none come last under None."""
        rows: list[tuple[Assembly | None, tuple[Part, ...]]] = [
            (a, tuple(p for p in self.book.parts if p.assembly_id == a.id))
            for a in self.book.assemblies
        ]
        known = {a.id for a in self.book.assemblies}
        lost = tuple(p for p in self.book.parts if p.assembly_id not in known)
        return (*rows, (None, lost)) if lost else tuple(rows)

    def sheets(self, part: Part) -> tuple[Sheet, ...]:
        """The panels of a part, each once per face; none where it has no shape."""
        if part.id not in self._sheets:
            self._sheets[part.id] = self._find_sheets(part)
        return self._sheets[part.id]

    def _find_sheets(self, part: Part) -> tuple[Sheet, ...]:
        geometry = self.geometry(part)
        if geometry is None:
            return ()
        faces = regions_of(self.book, part.id).panels
        first = {(f.skin.name, f.panel): i for i, f in reversed(tuple(enumerate(faces)))}
        # Panel by panel, its faces one after the other.
        faces = tuple(sorted(faces, key=lambda f: first[f.skin.name, f.panel]))
        return tuple(
            Sheet(part, geometry, f.skin, f.panel, f.face, f.region if f.sheet else MultiPolygon())
            for f in faces
        )

    def on_sheet(self, sheet: Sheet, entries: Iterable[Entry]) -> tuple[Entry, ...]:
        """Those of a part's entries that touch that panel on that face."""
        key = (sheet.part.id, *sheet.where)
        if key not in self._on:
            mine = self.entries(sheet.part)
            self._on[key] = frozenset(e.id for e in mine if shapes_on(sheet, e))
        return tuple(e for e in entries if e.id in self._on[key])

    def nowhere(self, part: Part) -> tuple[Entry, ...]:
        """Entries on a part that no page of it shows: at a place in words, or off every panel."""
        sheets = self.sheets(part)
        return tuple(
            e for e in self.entries(part) if not any(self.on_sheet(s, (e,)) for s in sheets)
        )

    def replaced(self, entry: Entry) -> bool:
        """Whether every sheet the entry was drawn on has been taken out since."""
        out = {i.id for i in self.book.items if i.until is not None}
        return bool(entry.pieces) and all(p.item_id in out for p in entry.pieces)


def drawn(entry: Entry) -> tuple[Piece, ...] | tuple[Outline, ...]:
    """What of an entry lies on sheets: its pieces, or its outline where it was not cut up."""
    if entry.pieces:
        return entry.pieces
    return (entry.outline,) if entry.outline is not None else ()


def shapes_on(sheet: Sheet, entry: Entry) -> tuple[BaseGeometry, ...]:
    """The shapes of an entry inside that panel on that face (a whole skin without panels); cut out
    once, however many maps, pictures and tables ask."""
    if entry not in sheet.cut:
        sheet.cut[entry] = tuple(_cut(sheet, entry))
    return sheet.cut[entry]


def _cut(sheet: Sheet, entry: Entry) -> Iterator[BaseGeometry]:
    # A piece may itself be no more than rounding at a seam: the whole entry is what it counts by.
    whole = sum(piece.shape.area for piece in drawn(entry))
    for piece in drawn(entry):
        if piece.skin != sheet.skin.name or piece.face != sheet.face or piece.shape.is_empty:
            continue
        if sheet.region.is_empty:
            yield piece.shape
        elif piece.shape.area > 0:
            inside = piece.shape.intersection(sheet.region)
            if inside.area > min(LEAST, 0.01 * whole):
                yield inside
        elif piece.shape.distance(sheet.region) <= NEAR:
            inside = piece.shape.intersection(sheet.region.buffer(NEAR))
            # A line that ends at a seam is not on the panel beyond it; a point has no length.
            if not piece.shape.length or inside.length > min(1.0, 0.01 * piece.shape.length):
                yield inside
