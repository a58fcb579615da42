"""What is recorded on a part, sorted by skin, panel and face, as regions ready to be measured.

Outlines are shapely geometries in a skin's flat plane; areas go through the skin's own measure.
Sheets that were replaced take their pieces with them: a retired piece is not counted here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from typing import Any, TypeVar

import shapely
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from mapper.job.book import Book
from mapper.job.entry import Entry
from mapper.surface import measure
from mapper.surface.geometry import Geometry, Panel
from mapper.surface.region import difference, intersection, union, whole
from mapper.surface.skin import Skin

T = TypeVar("T")
NOTHING = MultiPolygon()
SLIVER = 1e-3  # mm: what is narrower than twice this is rounding to the grid of outlines
# mm, and share of the whole: what is narrower and less than that is what two outlines of one edge
# leave between them (a seam carried over to a corrected shape, a box drawn up to a rib). No tape
# measures it and nobody strips it, so it is no work of its own.
NARROW, SMALL = 1.0, 0.01
WHOLE = "whole skin"  # the panel's name on a skin without seams or named panels
_EARLIEST = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, eq=False)
class Drawn:
    """What one entry has outlined on one face: the live region (or lines, or points)."""

    entry: Entry
    shape: BaseGeometry

    def value(self, name: str, otherwise: Any = None) -> Any:
        """The entry's value of that name, or `otherwise` where there is none."""
        return self.entry.values.get(name, otherwise)

    @property
    def region(self) -> str:
        """ "area", "line" or "point"."""
        return {2: "area", 1: "line"}.get(int(shapely.get_dimensions(self.shape)), "point")


@dataclass(frozen=True, eq=False)
class PanelFace:
    """One face of one panel: where every row of a table belongs. region: openings taken off."""

    skin: Skin
    panel: str
    face: str
    region: MultiPolygon
    sheet: Panel | None = None

    @property
    def where(self) -> tuple[str, str, str]:
        """(skin, panel, face): names for a row."""
        return (self.skin.name, self.panel, self.face)


@dataclass(frozen=True, eq=False)
class PartRegions:
    """All that is recorded on one part, by skin and face; measured once each.

    geometry None: the part has no shape, and every list is empty.
    """

    book: Book
    part_id: str
    geometry: Geometry | None
    _areas: dict[tuple[str, bytes], float] = field(default_factory=dict)
    _kept: dict[tuple[Any, ...], Any] = field(default_factory=dict)
    _clipped: dict[tuple[str, str, str, str], list[Drawn]] = field(default_factory=dict)

    @cached_property
    def panels(self) -> tuple[PanelFace, ...]:
        """Every face of every panel, in the part's order; a skin without panels is one panel."""
        if self.geometry is None:
            return ()
        faces = []
        for skin in self.geometry.skins:
            sheets: list[tuple[str, MultiPolygon, Panel | None]] = [
                (p.name, p.flat, p) for p in self.geometry.panels if p.skin == skin.name
            ]
            if not sheets:
                holes = [o.flat for o in self.geometry.openings if o.skin == skin.name]
                region = difference(whole(skin), union(*holes)) if holes else whole(skin)
                sheets = [(WHOLE, region, None)]
            for face in skin.face_names:
                faces += [PanelFace(skin, name, face, flat, sheet) for name, flat, sheet in sheets]
        return tuple(faces)

    @cached_property
    def _live(self) -> dict[tuple[str, str, str], tuple[list[Drawn], STRtree]]:
        """Entries with an outline by (kind, skin, face), in order of work, with an index."""
        retired = {i.id for i in self.book.items if i.until is not None}
        sorted_in: dict[tuple[str, str, str], list[Drawn]] = {}
        for entry in self.book.entries_of(self.part_id):
            if entry.outline is None:
                continue
            shape = entry.outline.shape
            gone = [p.shape for p in entry.pieces if p.item_id in retired]
            if gone:
                shape = shapely.difference(shape, shapely.union_all(gone))
            if shape.is_empty:
                continue
            key = (entry.kind, entry.outline.skin, entry.outline.face)
            sorted_in.setdefault(key, []).append(Drawn(entry, shape))
        for drawn in sorted_in.values():
            drawn.sort(key=lambda d: worked_at(d.entry))
        return {k: (v, STRtree([d.shape for d in v])) for k, v in sorted_in.items()}

    def on(self, kind: str, face: PanelFace) -> list[Drawn]:
        """Entries of a kind clipped to one face of a panel, in the order of the work.

        What only touches the panel, or reaches into it by less than the grid of outlines, is left
        out: an area drawn up to a seam is not on the next sheet.
        """
        key = (kind, *face.where)
        if key not in self._clipped:
            self._clipped[key] = self._clip(kind, face)
        return list(self._clipped[key])

    def _clip(self, kind: str, face: PanelFace) -> list[Drawn]:
        found = self._live.get((kind, face.skin.name, face.face))
        if found is None:
            return []
        drawn, index = found
        clipped = []
        for i in sorted(index.query(face.region, predicate="intersects")):
            one = drawn[i]
            shape = _inside(one, face.region)
            if not shape.is_empty:
                clipped.append(Drawn(one.entry, shape))
        return clipped

    def whole_of(self, kind: str) -> list[tuple[str, str, Drawn]]:
        """(skin, face, what was drawn) of every entry of a kind, not clipped to a panel."""
        return [
            (skin, face, one)
            for (of, skin, face), (drawn, _) in self._live.items()
            if of == kind
            for one in drawn
        ]

    def area(self, skin: Skin, region: MultiPolygon) -> float:
        """True area in mm2; 0 for an empty region. The same region is measured once."""
        if region.is_empty:
            return 0.0
        key = (skin.name, shapely.to_wkb(region))
        if key not in self._areas:
            self._areas[key] = float(measure.area(skin, region))
        return self._areas[key]

    def kept(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        """What `make` gave the first time for that key: regions are cut once for all tables."""
        if key not in self._kept:
            self._kept[key] = make()
        found: T = self._kept[key]
        return found

    def perimeter(self, skin: Skin, region: MultiPolygon) -> float:
        """True length in mm of a region's outline; 0 for an empty region."""
        return 0.0 if region.is_empty else float(measure.perimeter(skin, region))

    @cached_property
    def stray(self) -> tuple[Entry, ...]:
        """Entries outlined on a skin or face that the part's present shape does not have."""
        if self.geometry is None:
            return tuple(e for e in self.book.entries_of(self.part_id) if e.outline is not None)
        faces = {(s.name, f) for s in self.geometry.skins for f in s.face_names}
        return tuple(
            e
            for e in self.book.entries_of(self.part_id)
            if e.outline is not None and (e.outline.skin, e.outline.face) not in faces
        )

    @cached_property
    def on_earlier_shape(self) -> tuple[Entry, ...]:
        """Entries drawn on an earlier version of the shape: counted where they were drawn."""
        now = self.book.part(self.part_id).geometry
        return tuple(
            e
            for e in self.book.entries_of(self.part_id)
            if e.outline is not None and e.geometry and e.geometry != now
        )


def regions_of(book: Book, part_id: str) -> PartRegions:
    """What is recorded on a part. MapperError for a part that is not in the book.

    The same book gives the same object every time: ledger, findings and estimate ask for the same
    pieces, which are cut and measured once. It goes when the book goes.
    """
    # Kept on the book itself: a table by book would hold books that hold their regions for ever.
    shelf: dict[str, PartRegions] = vars(book).setdefault("_regions", {})
    if part_id not in shelf:
        shelf[part_id] = PartRegions(book, part_id, book.geometry_of(part_id))
    return shelf[part_id]


def together(drawn: Iterable[Drawn]) -> MultiPolygon:
    """The union of areas: nothing counts twice. Lines and points add nothing; none: empty."""
    shapes = [d.shape for d in drawn if d.region == "area"]
    return union(*shapes) if shapes else NOTHING


def rest_of(region: MultiPolygon, covered: MultiPolygon) -> MultiPolygon:
    """What of a region is not covered, without the slivers along edges that two outlines of one
    line leave: they are neither work nor a place nobody looked at."""
    return no_slivers(difference(region, covered), region.area)


def no_slivers(region: MultiPolygon, whole: float) -> MultiPolygon:
    """A region without pieces that are rounding, and without those narrower than NARROW that are
    less than SMALL of `whole` (flat mm2): a small thing drawn for itself stays as it is."""
    return MultiPolygon(
        [
            p
            for p in region.geoms
            if not _narrow(p, NARROW / 2 if p.area < SMALL * whole else SLIVER)
        ]
    )


def _narrow(piece: Polygon, half: float) -> bool:
    """Whether nothing of a piece is farther than `half` (mm) from its edge."""
    # As wide as that it certainly is where its area is more than its edge sweeps; buffers are dear.
    if piece.area > half * piece.length:
        return False
    return bool(shapely.buffer(piece, -half).is_empty)


def _inside(drawn: Drawn, region: MultiPolygon) -> BaseGeometry:
    """What of an entry lies inside a region, of the same dimension as it was drawn."""
    if drawn.region == "area":
        return no_slivers(intersection(drawn.shape, region), drawn.shape.area)
    shape = shapely.intersection(drawn.shape, region)
    if drawn.region == "point":
        return shape
    lines = [p for p in shapely.get_parts(shape) if p.length > 2 * SLIVER]
    return shapely.MultiLineString(lines)


def worked_at(entry: Entry) -> datetime:
    """When the work was done: its stop or start or date as recorded, else when it was entered."""
    values: Any = entry.values
    for name in ("stop", "start", "done_at", "on"):
        when = values.get(name)
        if isinstance(when, datetime):
            return when
    return entry.device_time or entry.server_time or _EARLIEST
