"""Every entry of a part on its corrected shape, with how far it moved, and what a person must look
at before it is trusted again."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.carry.nearest import ByNearest
from mapper.job.carry.through import ByPlane, ByStation, Carrier, chart_at, sort_of
from mapper.job.entry import Entry, Outline, kind_of
from mapper.job.outlines import cut, outline_of
from mapper.job.pieces import cut_at_seams
from mapper.surface.clip import clean, difference, intersection, union
from mapper.surface.clip import whole as whole_of
from mapper.surface.geometry import Geometry
from mapper.surface.place import flat_at_space, space_of
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

Renamed = dict[tuple[str, str], str]

KEEPS = ("places", "stations")
MOST_SHIFT = 2.0  # mm along the sheet, and
MOST_AREA = 1.0  # % of area, that an entry may move by without being looked at again
LEAST_SHARE = 1e-3  # of an outline: less of it on a panel is not "on" it
ALL_BUT = 1e-4  # of a sheet: an outline that leaves out less than that is on all of it
OWN_SIZE = ("finding", "marking")  # things on the metal: they do not grow with the bay they lie in
SMALL = 150.0  # mm: so small a thing is carried by its middle, with its own size
OFF, SIGNED, WORDS = "off the sheet", "signed", "in words"


@dataclass(frozen=True, eq=False)
class Move:
    """One entry on the corrected shape.

    before: as it was; after: as it would be stored, the same where it stays as it is. shift: mm
    along the new surface from where each corner was in space to where it comes, the largest; None
    where nothing is drawn or nothing of it is on the new sheet. area: change of its area, %; None
    for points and lines. panels: names before and after. corners_off: corners without a place on
    the new sheet. stays: "", "off the sheet", "signed" (never moved) or "in words" (no outline).
    whole: it is all of one or several sheets before and after, however their edges moved.
    """

    before: Entry
    after: Entry
    shift: float | None = None
    area: float | None = None
    panels: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    corners_off: int = 0
    stays: str = ""
    whole: bool = False

    @property
    def other_panel(self) -> bool:
        """Whether it lies on other panels than before."""
        return set(self.panels[0]) != set(self.panels[1])

    @property
    def doubtful(self) -> bool:
        """Whether a person must look at it before its place is trusted again."""
        if self.stays:
            return self.stays == OFF
        if self.whole and not self.other_panel:
            return False
        far = self.shift is not None and self.shift > MOST_SHIFT
        other = self.area is not None and abs(self.area) > MOST_AREA
        return far or other or self.other_panel or self.corners_off > 0


def carrier(old: Geometry, new: Geometry, skin_name: str, keep: str) -> Carrier | None:
    """What takes places of a skin of one shape to another; None where that has no such skin.

    keep: "places" (between rib, seam, spar and edge) or "stations" (station and % chord, or flat
    measures). Skins of different sorts, and imported meshes, go by the nearest point in space.
    Raises MapperError for another word.
    """
    if keep not in KEEPS:
        raise MapperError(f"What to keep is {keep!r}.", f"Allowed: {' or '.join(KEEPS)}.")
    one, other = old.skin(skin_name), _same_skin(old, new, skin_name)
    if other is None:
        return None
    sort = sort_of(one)
    if sort != sort_of(other) or sort == "mesh":
        return ByNearest(one, other)
    return ByPlane(one, other, keep) if sort == "plane" else ByStation(old, new, one, other, keep)


def _same_skin(old: Geometry, new: Geometry, name: str) -> Skin | None:
    for skin in new.skins:
        if skin.name == name:
            return skin
    return new.skins[0] if len(old.skins) == len(new.skins) == 1 else None


def same_face(one: Skin, other: Skin, face: str) -> str | None:
    """The face of the other skin that goes by that name, else by its place; None without one."""
    if face in other.face_names:
        return face
    number = one.face_names.index(face)
    return other.face_names[number] if number < len(other.face_names) else None


def moves(
    before: Book, after: Book, part_id: str, keep: str, *, sealed: Collection[str] = ()
) -> tuple[Move, ...]:
    """What becomes of every entry of a part when its shape is corrected; () without entries.

    before: the book as it is; after: the same with the part on its new geometry version and with
    the positions and items of that. sealed: ids of entries that a signature covers. Entries with a
    place in words stay. An entry left behind on an earlier version is carried from that.
    """
    digest = after.part(part_id).geometry
    geometry = after.geometries[digest]
    names: dict[str, Renamed] = {}
    carriers: dict[tuple[str, str], Carrier | None] = {}
    found = []
    for entry in before.entries_of(part_id):
        if entry.outline is None:
            found.append(Move(entry, entry, stays=WORDS))
        elif entry.id in sealed:
            found.append(Move(entry, entry, stays=SIGNED))
        else:
            old = before.geometries[entry.geometry]
            key = (entry.geometry, entry.outline.skin)
            if key not in carriers:
                carriers[key] = carrier(old, geometry, entry.outline.skin, keep)
            if entry.geometry not in names:
                names[entry.geometry] = renamed(old, geometry, keep)
            known = names[entry.geometry]
            move = _carried(entry, old, geometry, digest, carriers[key], after, known)
            before_names = tuple(
                names[entry.geometry].get((entry.outline.skin, name), name)
                for name in move.panels[0]
            )
            found.append(_marked(replace(move, panels=(before_names, move.panels[1]))))
    return tuple(found)


def renamed(old: Geometry, new: Geometry, keep: str) -> Renamed:
    """Panels that are the same sheet under another name: (skin, old name) to new name.

    A panel without a name of its own is called after its stations, and they may have been wrong.
    The same sheet is one of which more than three quarters, carried over, lie on the other and make
    up as much of it: two sheets drawn as one are neither. {} where every panel keeps its name.
    """
    there = {(p.skin, p.name) for p in new.panels}
    known = {(p.skin, p.name) for p in old.panels}
    found: Renamed = {}
    for panel in old.panels:
        if (panel.skin, panel.name) in there:
            continue
        by, other = carrier(old, new, panel.skin, keep), _same_skin(old, new, panel.skin)
        if by is None or other is None:
            continue
        carried = clean(by.shape(panel.flat))
        for candidate in new.panels:
            if candidate.skin != other.name or (candidate.skin, candidate.name) in known:
                continue
            shared = intersection(carried, candidate.flat).area
            if 4.0 * shared > 3.0 * max(carried.area, candidate.flat.area):
                found[panel.skin, panel.name] = candidate.name
    return found


def _carried(
    entry: Entry,
    old: Geometry,
    new: Geometry,
    digest: str,
    by: Carrier | None,
    after: Book,
    names: Renamed,
) -> Move:
    outline = entry.outline
    if outline is None:
        return Move(entry, entry, stays=WORDS)
    one, other = old.skin(outline.skin), _same_skin(old, new, outline.skin)
    face = None if other is None else same_face(one, other, outline.face)
    if by is None or other is None or face is None:
        return _left(entry, old)
    way = _own_way(entry, outline, by)
    try:
        shape, whole = _on_new(outline, old, new, other, by, names, way)
        drawn = outline_of(new, other.name, face, shape)
    except MapperError:
        # Said by an empty shape, and by an outline that lies in an opening or beyond the edge.
        return _left(entry, old)
    corners = shapely.get_coordinates(outline.shape)
    landed = by.points(corners) if way is None else way(corners)
    off = int((~np.isfinite(landed).all(axis=1)).sum())
    area = None
    if outline.region == "area" and outline.drawn_area > 0:
        area = 100.0 * (drawn.drawn_area / outline.drawn_area - 1.0)
    panels = (panels_of(old, outline), panels_of(new, drawn))
    computed = {f.name for f in kind_of(entry.kind).fields if f.computed}
    carried = replace(
        entry,
        outline=drawn,
        pieces=(),
        geometry=digest,
        values={k: v for k, v in entry.values.items() if k not in computed},
    )
    return Move(
        entry,
        _recut(after, carried),
        shift=_shift(one, other, corners, landed),
        area=area,
        panels=panels,
        corners_off=0 if whole else off,
        whole=whole,
    )


Way = Callable[[Array], Array]


def _own_way(entry: Entry, outline: Outline, by: Carrier) -> Way | None:
    """How a small thing moves to the new flat map, (K, 2) to (K, 2), all of it alike; None for what
    is carried corner by corner.

    Its middle goes where the carrier takes it, and it turns as its corners do on the whole (the
    orthogonal Procrustes problem): another flat map may lie turned or face the other way.
    """
    small = outline.region == "area" and _extent(outline.shape) <= SMALL
    if entry.kind not in OWN_SIZE or not small:
        return None
    middle = shapely.get_coordinates(shapely.centroid(outline.shape))
    corners = shapely.get_coordinates(outline.shape)
    there, landed = by.points(middle), by.points(corners)
    if not (np.isfinite(there).all() and np.isfinite(landed).all()):
        return None
    left, _, right = np.linalg.svd((corners - middle).T @ (landed - there))
    turn = left @ right
    return lambda xy: np.asarray((xy - middle) @ turn + there)


def _on_new(
    outline: Outline,
    old: Geometry,
    new: Geometry,
    other: Skin,
    by: Carrier,
    names: Renamed,
    way: Way | None,
) -> tuple[BaseGeometry, bool]:
    """The shape of an outline on the new flat map, and whether it is whole sheets and no more.

    Openings cut what was drawn and are no part of it: where one moved, its old hole is filled. A
    sheet that was covered from edge to edge is so again. way: of a small thing, which keeps its
    own size; None for others.
    """
    if outline.region != "area":
        return by.shape(outline.shape), False
    if way is not None:
        return shapely.transform(outline.shape, way), False
    rest: BaseGeometry = outline.shape
    sheets: list[BaseGeometry] = []
    there = {(p.skin, p.name): p.flat for p in new.panels}
    for was, panel in _sheets_of(old, outline.skin):
        name = names.get((outline.skin, panel), panel)
        # A skin without panels is one sheet, as large as its edge.
        now = there.get((other.name, name)) if panel else whole_of(other)
        if now is not None and _covers(rest, was):
            sheets.append(now)
            rest = difference(rest, was)
    if sheets and rest.area <= ALL_BUT * outline.shape.area:
        return union(*sheets), True
    carried = by.shape(_undrilled(old, outline.skin, rest))
    return (union(carried, *sheets) if sheets else carried), False


def _sheets_of(geometry: Geometry, skin: str) -> list[tuple[BaseGeometry, str]]:
    """Flat regions and names of the sheets of a skin; all of one without panels goes by ""."""
    found: list[tuple[BaseGeometry, str]] = [
        (p.flat, p.name) for p in geometry.panels if p.skin == skin
    ]
    if found:
        return found
    holes = [o.flat for o in geometry.openings if o.skin == skin]
    return [(difference(whole_of(geometry.skin(skin)), union(*holes)), "")]


def _covers(shape: BaseGeometry, sheet: BaseGeometry) -> bool:
    return bool(difference(sheet, shape).area <= ALL_BUT * sheet.area)


def _extent(shape: BaseGeometry) -> float:
    x0, y0, x1, y1 = shape.bounds
    return float(max(x1 - x0, y1 - y0))


def _undrilled(old: Geometry, skin: str, shape: BaseGeometry) -> BaseGeometry:
    """What was drawn, with the openings that it surrounds as if they were not there."""
    openings = (o.flat for o in old.openings if o.skin == skin)
    holes = [flat for flat in openings if _surrounds(shape, flat)]
    return union(shape, *holes) if holes else shape


def _surrounds(shape: BaseGeometry, hole: BaseGeometry) -> bool:
    """Whether a ring of a shape runs round a hole, on its edge."""
    rings = (r for p in shapely.get_parts(shape) for r in p.interiors)
    return any(
        shapely.Polygon(ring).symmetric_difference(hole).area <= 1e-2 * hole.area for ring in rings
    )


def _left(entry: Entry, old: Geometry) -> Move:
    outline = entry.outline
    panels = () if outline is None else panels_of(old, outline)
    return Move(entry, entry, panels=(panels, ()), stays=OFF)


def _marked(move: Move) -> Move:
    """The move with its entry told to be unconfirmed, and why, where it is doubtful."""
    if not move.doubtful:
        return move
    words = f"{reasons(move)} when the shape was corrected"
    return replace(move, after=replace(move.after, unconfirmed=words))


def reasons(move: Move) -> str:
    """How an entry moved, in words: "moved 3.1 mm, area +1.4 %, from a to b"."""
    if move.stays == OFF:
        return "nothing of it was on the new sheet"
    words = [] if move.shift is None else [f"moved {move.shift:.1f} mm"]
    if move.area is not None and abs(move.area) > MOST_AREA:
        words.append(f"area {move.area:+.1f} %")
    if move.other_panel:
        names = ["; ".join(p) or "no panel" for p in move.panels]
        words.append(f"from {names[0]} to {names[1]}")
    if move.corners_off:
        words.append("partly off the sheet")
    return ", ".join(words) or "moved"


def panels_of(geometry: Geometry, outline: Outline) -> tuple[str, ...]:
    """Names of the panels an outline lies on, more than a thousandth of it; () without panels."""
    try:
        cuts = cut_at_seams(geometry, outline)
    except MapperError:
        return ()
    sizes = [g.area or g.length or float(shapely.get_num_geometries(g)) for _, g in cuts]
    least = LEAST_SHARE * sum(sizes)
    return tuple(name for (name, _), size in zip(cuts, sizes) if name and size > least)


def _recut(book: Book, entry: Entry) -> Entry:
    """The entry with its pieces, on the sheets of the day it was recorded."""
    try:
        return cut(book, entry)
    except MapperError:
        # A position is known from a later day than the entry: the sheet that is there now.
        return cut(book, entry, date.today())


def _shift(one: Skin, other: Skin, corners: Array, landed: Array) -> float | None:
    """The largest way (mm) along the new surface from where a corner was to where it came.

    From the point of the new surface nearest to where the corner was in space; on one chart along
    the flat map, from chart to chart straight through space.
    """
    good = np.isfinite(landed).all(axis=1)
    space = space_of(one, corners)
    good &= np.isfinite(space).all(axis=1)
    if not good.any():
        return None
    was, _ = flat_at_space(other, space[good])
    now = landed[good]
    flat = np.linalg.norm(now - was, axis=1)
    through = np.linalg.norm(space_of(other, now) - space_of(other, was), axis=1)
    same = chart_at(other, now) == chart_at(other, was)
    # At the trailing edge, and on the edge of a chart, the nearest point may be one of the other
    # side or chart, far off on the flat map and beside it in space.
    way = np.where(same & (flat <= 2.0 * through + 1e-3), flat, through)
    return float(np.nanmax(way)) if np.isfinite(way).any() else None
