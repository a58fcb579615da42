"""Which bay a piece of inner structure lies in, decided by where it is.

A bay is the room between two ribs (frames) and two spars (longerons), under both sides of the
skin; a part without any is one bay. A piece lies in a bay when some of it stands clear of the
lines that bound the bay; what follows such a line bounds the bays on both sides of it, as a rib
does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from mapper.job.partfile.enteredkeys import ENTERED
from mapper.job.partfile.naming import unique
from mapper.surface.clip import EMPTY
from mapper.surface.geometry import Geometry
from mapper.surface.place import flat_of, place_of
from mapper.surface.skin import Skin
from mapper.surface.within import is_flat_sheet, spread_over, within

Array = NDArray[np.float64]

LINE = 5.0  # mm along the skin: as near as that to a bay's bound a piece lies on the bound
ROUGH = 0.2  # mm by which regions are made simpler to look them up
LEAST = 0.02  # of a piece: less than this of it in a bay comes from rounding and is left out
SAMPLES = 600  # points a piece is looked at in
STEP = 10.0  # mm between the points of a line
BOUNDING = ("rib", "spar", "frame", "longeron")
LINES = (*BOUNDING, "stringer")
WHOLE = "whole part"


@dataclass(frozen=True)
class Lies:
    """One piece of inner structure in one part.

    piece: its name; kind: "part", "web" (a flat skin of the part itself, a closed end too) or a
    line's kind; parent and skin: the part and the skin whose bays they are. inside: the bays it
    lies in, each with the share (0 to 1) of the piece that stands in it, in the order of the part's
    bays; bounds: those it only touches, along a line that bounds them. outside: share of it that
    lies outside the part.
    """

    piece: str
    kind: str
    parent: str
    skin: str
    inside: tuple[tuple[str, float], ...]
    bounds: tuple[str, ...]
    outside: float = 0.0


@dataclass(frozen=True, eq=False)
class Room:
    """One bay in space: its name and the region of the skin, mm, that closes it on all sides."""

    name: str
    flat: MultiPolygon


@lru_cache(maxsize=128)
def rooms_of(geometry: Geometry) -> tuple[Room, ...]:
    """The bays of a part in space, in the order of its bays: upper and lower pieces of skin at the
    same stations and % chord are one. WHOLE, with an empty region, where it has no ribs or spars.
    """
    bays = [bay for bay in geometry.bays if not bay.flat.is_empty]
    if not bays:
        return (Room(WHOLE, EMPTY),)
    skin = geometry.skin(bays[0].skin)
    tree = shapely.STRtree([bay.flat for bay in bays])
    middles = shapely.get_coordinates([bay.flat.representative_point() for bay in bays])
    places = place_of(skin, middles)
    across = np.full(len(bays), -1)
    if np.isfinite(places.chord).any():
        other = flat_of(skin, places.station, places.chord, ~places.upper)
        there = np.flatnonzero(np.isfinite(other).all(axis=1))
        across[there] = tree.nearest(shapely.points(other[there]))
    rooms: list[Room] = []
    for k, bay in enumerate(bays):
        mate = int(across[k])
        # Both must see each other, or a cell that reaches round an edge would swallow its
        # neighbours.
        if mate in (-1, k) or across[mate] != k:
            rooms.append(Room(_both_sides(bay.name), bay.flat))
        elif k < mate:
            joined = MultiPolygon([*bay.flat.geoms, *bays[mate].flat.geoms])
            rooms.append(Room(_common(bay.name, bays[mate].name), joined))
    names = unique(room.name for room in rooms)
    return tuple(Room(name, room.flat) for name, room in zip(names, rooms))


def _both_sides(name: str) -> str:
    """The name of a bay that reaches round an edge, without the word that says so."""
    side, *rest = name.split(", ", 1)
    return rest[0] if rest and side in ("nose", "upper and lower") else name


def _common(one: str, other: str) -> str:
    """ "rib 1 to rib 2" from "upper, rib 1 to rib 2" and "lower, rib 1 to rib 2"."""
    first, second = one.split(", ", 1), other.split(", ", 1)
    same = len(first) == len(second) == 2 and first[1] == second[1]
    return first[1] if same else f"{one} and {other}"


def _home(geometry: Geometry) -> Skin:
    """The skin whose bays a part's are."""
    return geometry.skin(geometry.bays[0].skin) if geometry.bays else geometry.skins[0]


@lru_cache(maxsize=128)
def _rough(geometry: Geometry) -> tuple[shapely.STRtree, Any]:
    """The rooms, and all lines that bound them, a little simpler: there is LINE to spare."""
    home = _home(geometry).name
    bounds = [
        line.flat
        for line in geometry.lines
        if line.kind in BOUNDING and line.skin == home and not line.flat.is_empty
    ]
    lines = shapely.simplify(shapely.union_all(bounds), ROUGH)
    shapely.prepare(lines)
    flats = shapely.simplify([room.flat for room in rooms_of(geometry)], ROUGH)
    return shapely.STRtree(flats), lines


def _counted(geometry: Geometry, sides: list[Array]) -> tuple[Array, Array]:
    """(R,) how many points stand in each room clear of its bounds, and how many touch it, for
    points seen from places (K, 2) on one or two sides of the skin."""
    tree, lines = _rough(geometry)
    count = len(sides[0])
    touched = np.zeros((count, len(tree.geometries)), np.bool_)
    bound = np.zeros(count, np.bool_)
    for places in sides:
        known = np.flatnonzero(np.isfinite(places).all(axis=1))
        points = shapely.points(places[known])
        asked, room = tree.query(points, predicate="dwithin", distance=LINE)
        touched[known[asked], room] = True
        bound[known] |= shapely.dwithin(lines, points, LINE)
        # Under an opening, wider than LINE: the room whose skin it is cut from.
        bare = known[~np.isin(np.arange(len(known)), asked)]
        if len(bare):
            touched[bare, tree.nearest(shapely.points(places[bare]))] = True
    clear = touched & ~bound[:, None] & (touched.sum(axis=1) == 1)[:, None]
    return clear.sum(axis=0), touched.sum(axis=0)


def _lies(
    geometry: Geometry, piece: str, kind: str, sides: list[Array], outside: float, whole: int
) -> Lies:
    """What is said of a piece of `whole` points, of which those inside are seen from `sides`."""
    home = _home(geometry).name
    rooms = rooms_of(geometry)
    if rooms[0].name == WHOLE:
        share = 1.0 - outside
        said = ((WHOLE, share),) if share >= LEAST else ()
        return Lies(piece, kind, geometry.part, home, said, (), outside)
    clear, touched = (n / max(whole, 1) for n in _counted(geometry, sides))
    inside = tuple((r.name, float(c)) for r, c in zip(rooms, clear) if c >= LEAST)
    bounds = tuple(r.name for r, c, n in zip(rooms, clear, touched) if c < LEAST and n - c >= LEAST)
    return Lies(piece, kind, geometry.part, home, inside, bounds, outside)


def _seen(geometry: Geometry, piece: str, kind: str, points: Array) -> Lies:
    """What is said of a piece that points (K, 3) of the part's frame are spread over."""
    home = _home(geometry)
    others = [skin for skin in geometry.skins if skin is not home]
    found = within(home, points, others)
    outside = 1.0 - float(found.inside.mean()) if len(points) else 1.0
    both = [found.flat[found.inside, 0], found.flat[found.inside, 1]]
    return _lies(geometry, piece, kind, both, outside, len(points))


def placed(geometry: Geometry, points: Array) -> Array:
    """Points (K, 3) mm of a part's own frame in the frame it is placed in."""
    return geometry.placement.origin + points @ geometry.placement.rotation.T


def spots(geometry: Geometry) -> Array:
    """Points (K, 3) mm spread over a part, in the frame it is placed in; one point, the place it
    was given, for a part whose area was entered and that has no shape."""
    if geometry.shape in ENTERED:
        return geometry.placement.origin[None].copy()
    return placed(geometry, _own_spots(geometry))


@lru_cache(maxsize=256)
def _own_spots(geometry: Geometry) -> Array:
    points = spread_over(geometry.skins, SAMPLES)
    points.setflags(write=False)
    return points


@lru_cache(maxsize=1024)
def lies_in(piece: Geometry, parent: Geometry, in_its_frame: bool = False) -> Lies:
    """Where a part lies in another one.

    in_its_frame: the piece's placement is in the parent's own frame, not in the aircraft's. All of
    a piece that lies outside has `inside` and `bounds` empty and `outside` 1.
    """
    points = spots(piece)
    if not in_its_frame:
        points = (points - parent.placement.origin) @ parent.placement.rotation
    return _seen(parent, piece.part, "part", points)


@lru_cache(maxsize=256)
def own_structure(geometry: Geometry) -> tuple[Lies, ...]:
    """Where a part's own ribs, spars, frames, longerons and stringers, and the webs that are skins
    of their own, lie in its bays; lines first, in the order of the part. () without any."""
    return (*_lines(geometry), *_webs(geometry))


def _lines(geometry: Geometry) -> Iterator[Lies]:
    home = _home(geometry).name
    for line in geometry.lines:
        if line.kind not in LINES or line.skin != home or line.flat.is_empty:
            continue
        even = shapely.segmentize(line.flat, STEP)
        # Middles, so that no point is the end on an edge of the sheet.
        middles = [
            0.5 * (p[1:] + p[:-1]) for p in map(shapely.get_coordinates, shapely.get_parts(even))
        ]
        points = np.concatenate(middles)
        yield _lies(geometry, line.name, line.kind, [points], 0.0, len(points))


def _webs(geometry: Geometry) -> Iterator[Lies]:
    home = _home(geometry)
    for skin in geometry.skins:
        if skin is not home and is_flat_sheet(skin):
            yield _seen(geometry, skin.name, "web", spread_over([skin], SAMPLES))


def listed(names: Iterable[str]) -> str:
    """ "a", "a and b", "a, b and c"; "" for none."""
    found = list(names)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} and {found[-1]}"


def bay_list(names: Iterable[str]) -> str:
    """Bays in short: those with the same bounds across are named once for all, three and more in a
    row by the first and last bound.

    "rib 3 to rib 4 and rib 4 to rib 5, front spar to rear spar"; "rib 1 to rib 6 (5 bays)".
    """
    across: dict[str, list[str]] = {}
    for name in names:
        along, *rest = name.split(", ", 1)
        across.setdefault(along, []).append(rest[0] if rest else "")
    words = []
    rests = {along: tuple(sorted(found)) for along, found in across.items()}
    for same in dict.fromkeys(rests.values()):
        said = listed(_runs([along for along, rest in rests.items() if rest == same]))
        if len(same) > 1:
            said += f" ({'; '.join(same)})"
        elif same[0]:
            said += f", {same[0]}"
        words.append(said)
    return "; ".join(words)


def _runs(names: list[str]) -> list[str]:
    """ "a to b", "b to c", "c to d" as "a to d (3 bays)"; shorter runs as they are."""
    out: list[list[str]] = []
    for name in names:
        if out and out[-1][-1].rpartition(" to ")[2] == name.partition(" to ")[0]:
            out[-1].append(name)
        else:
            out.append([name])
    said: list[str] = []
    for run in out:
        if len(run) < 3:
            said += run
        else:
            ends = run[0].partition(" to ")[0], run[-1].rpartition(" to ")[2]
            said.append(f"{ends[0]} to {ends[1]} ({len(run)} bays)")
    return said


def lies_words(lies: Lies, *, percent: Callable[[float], str] | None = None) -> str:
    """Where a piece lies, in words, without its own name.

    "lies in bay rib 3 to rib 4, front spar to rear spar of right wing". percent writes a share (by
    default in whole per cent); shares are told where part of the piece lies outside.
    """
    write = percent or (lambda share: f"{100.0 * share:.0f} %")
    if not lies.inside and not lies.bounds:
        return f"lies outside {lies.parent}"
    words = []
    names = [name for name, _ in lies.inside]
    if names == [WHOLE]:
        words.append(
            f"lies in {lies.parent}, which has no ribs, spars or frames: all of it is one bay"
        )
    elif names:
        words.append(f"lies in bay{'s' if len(names) > 1 else ''} {bay_list(names)}")
    if lies.bounds:
        words.append(f"bounds {bay_list(lies.bounds)}")
    said = ", ".join(words) if names == [WHOLE] else f"{', '.join(words)} of {lies.parent}"
    return f"{said}; {write(lies.outside)} of it lies outside" if lies.outside > LEAST else said
