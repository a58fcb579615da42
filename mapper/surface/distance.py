"""True distances along the sheet: shortest ways that cross glued chart edges and go round openings.

Exact on the net of the sheet (`windows`): between places, from a place to lines, and from the
outline of a region or along a line to lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.brush import beside, stand
from mapper.surface.clip import finite
from mapper.surface.hub import inside
from mapper.surface.intrinsic import Net, net_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import trace, windows
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    trace, windows = Late("mapper.surface.trace"), Late("mapper.surface.windows")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

BESIDE = 1.0  # mm beside a chart's edge: lines on the exact rim still belong to the triangle there
HAIR = 1e-4  # mm: more than rounding takes a line off the triangles it lies in
BEND = 1e-9  # rad; see windows.spread
STEP = 1.0  # mm between the points of an outline that ways start from
MOST_STARTS = 2000


@dataclass(frozen=True, eq=False)
class Pieces:
    """Lines cut up by the triangles of a net, ready to be asked how far they are.

    face_start (M + 1,): the pieces of triangle m are face_start[m] to face_start[m + 1]; segment
    (K, 4): their ends in its frame; owner (K,): number of the line; count: how many lines.
    """

    face_start: Ints
    segment: Array
    owner: Ints
    count: int


def between(skin: Skin, a: ArrayLike, b: ArrayLike, openings: BaseGeometry | None = None) -> float:
    """The shortest distance (mm) along a skin between two flat points (2,).

    inf where no way leads from one to the other. Raises MapperError for a point off the sheet.
    """
    net = net_of(skin, openings)
    start, end = stand(skin, net, a), stand(skin, net, b)
    face_start = np.zeros(len(net.vertex) + 1, np.int32)
    face_start[int(end.triangle[0]) + 1 :] = 1
    pieces = Pieces(face_start, np.tile(end.place, 2), np.zeros(1, np.int32), 1)
    return float(_ask(net, start.triangle, start.place, pieces, np.full(1, np.inf))[0])


def to_lines(
    skin: Skin,
    start: ArrayLike,
    lines: Sequence[BaseGeometry] | Pieces,
    openings: BaseGeometry | None = None,
    known: Array | None = None,
) -> Array:
    """The shortest distance (L,) mm along a skin from a flat point (2,) to each of L lines.

    lines: in the skin's flat plane (lines or points), or as made by `pieces_of`. known (L,):
    lengths of ways already found; only shorter ones are looked for. inf where a line is empty or no
    way leads to it. Raises MapperError for a point off the sheet.
    """
    net = net_of(skin, openings)
    cut = lines if isinstance(lines, Pieces) else pieces_of(net, lines)
    hub = stand(skin, net, start)
    return _ask(net, hub.triangle, hub.place, cut, _known(known, cut.count))


def from_shape(
    skin: Skin,
    shape: BaseGeometry,
    lines: Sequence[BaseGeometry] | Pieces,
    openings: BaseGeometry | None = None,
    known: Array | None = None,
) -> Array:
    """The shortest distance (L,) mm along a skin from a shape's edge or line to each of L lines.

    shape: points, lines, or polygons (their outlines) of the flat plane. Ways start at points of it
    no more than a millimetre apart (a 2,000th of it, if it is longer than 2 m). Otherwise as
    `to_lines`; what of the shape is off the sheet does not count, and MapperError is raised when
    all of it is.
    """
    finite(shape)
    net = net_of(skin, openings)
    cut = lines if isinstance(lines, Pieces) else pieces_of(net, lines)
    edge = shape.boundary if "Polygon" in shape.geom_type else shape
    step = max(STEP, edge.length / MOST_STARTS)
    points = shapely.get_coordinates(shapely.segmentize(edge, step) if edge.length > 0 else edge)
    found, shares = trace.locate(net.flat, net.start, net.cells, net.low, net.size, points)
    good = (found >= 0) & (beside(net, found, shares) <= 0.0)
    if not good.any():
        raise MapperError(
            f"The shape lies nowhere on the sheet of skin {skin.name!r}.",
            "A shape on the skin's flat map, outside its openings, is allowed.",
        )
    return _ask(net, *inside(net, found[good], shares[good]), cut, _known(known, cut.count))


def _known(known: Array | None, count: int) -> Array:
    return np.full(count, np.inf) if known is None else np.array(known, dtype=np.float64)


def _ask(net: Net, sources: Ints, places: Array, pieces: Pieces, best: Array) -> Array:
    """The least (L,) of what is known and of the ways from places (S, 2) in triangles (S,)."""
    if pieces.count == 0 or len(pieces.owner) == 0:
        return best
    # A line without pieces would keep the search going to the sheet's end.
    there = np.zeros(pieces.count, np.bool_)
    there[pieces.owner] = True
    renumber = np.cumsum(there) - 1
    asked = best[there]
    windows.spread(
        net.vertex, net.lay, net.opp, net.back, net.turning, net.corner,
        sources, places, np.inf, pieces.face_start, pieces.segment,
        renumber[pieces.owner].astype(np.int32), asked, BEND,
    )  # fmt: skip
    best[there] = asked
    return best


def pieces_of(net: Net, lines: Sequence[BaseGeometry]) -> Pieces:
    """Lines and points of the flat plane cut up by the triangles of a net.

    On the exact rim of a chart they lie a little beside its outermost triangles: up to a millimetre
    they belong to them.
    """
    ends, owner = _straight_pieces(lines)
    low, high = ends.min(axis=1), ends.max(axis=1)
    u, v = net.flat[:, 1] - net.flat[:, 0], net.flat[:, 2] - net.flat[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    # A share falls by 1 over the triangle's height above that side.
    outer = (net.opp < 0) | (net.seam >= 0)
    sides = np.linalg.norm(np.roll(net.flat, -1, axis=1) - np.roll(net.flat, 1, axis=1), axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):  # slivers without height
        least = np.where(outer, -BESIDE * sides / double[:, None], -1e-9)
    asked, hit = _candidates(net, np.asarray(outer.any(axis=1)), low, high)
    u, v, double, least = u[hit], v[hit], double[hit], least[hit]
    shares = np.empty((len(hit), 2, 3))
    for k in range(2):
        r = ends[asked, k] - net.flat[hit, 0]
        shares[:, k, 1] = (r[:, 0] * v[:, 1] - r[:, 1] * v[:, 0]) / double
        shares[:, k, 2] = (u[:, 0] * r[:, 1] - u[:, 1] * r[:, 0]) / double
        shares[:, k, 0] = 1.0 - shares[:, k, 1] - shares[:, k, 2]
    at, rise = shares[:, 0] - least, shares[:, 1] - shares[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        cross = -at / rise
    first = np.where(rise > 0.0, cross, np.where((rise == 0.0) & (at < 0.0), np.inf, 0.0))
    last = np.where(rise < 0.0, cross, 1.0)
    t0, t1 = np.maximum(first.max(axis=1), 0.0), np.minimum(last.min(axis=1), 1.0)
    good = np.flatnonzero(t0 <= t1)
    order = good[np.argsort(hit[good], kind="stable")]
    faces = hit[order]
    parts = []
    for t in (t0, t1):
        share = shares[order, 0] + t[order, None] * (shares[order, 1] - shares[order, 0])
        parts.append(np.einsum("kc,kcx->kx", share, net.lay[faces]))
    face_start = np.searchsorted(faces, np.arange(len(net.vertex) + 1)).astype(np.int32)
    segment = np.ascontiguousarray(np.concatenate(parts, axis=1))
    return Pieces(face_start, segment, owner[asked[order]].astype(np.int32), len(lines))


def _candidates(
    net: Net, outermost: NDArray[np.bool_], low: Array, high: Array
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Straight pieces (H,), known by the corners (K, 2) of their boxes, and triangles (H,) that may
    hold a part of them. Only an outermost triangle reaches beside itself: towards a tip, where
    hundreds lie within a millimetre, any other would be asked in vain for every piece there."""
    boxes = shapely.box(*net.flat.min(axis=1).T, *net.flat.max(axis=1).T)
    asked, hit = [], []
    for rows, reach in ((outermost, BESIDE), (~outermost, HAIR)):
        which = np.flatnonzero(rows)
        one, other = shapely.STRtree(boxes[which]).query(
            shapely.box(*(low - reach).T, *(high + reach).T), predicate="intersects"
        )
        asked.append(one)
        hit.append(which[other])
    return np.concatenate(asked), np.concatenate(hit)


def _straight_pieces(lines: Sequence[BaseGeometry]) -> tuple[Array, NDArray[np.intp]]:
    """(K, 2, 2) ends of the straight pieces of lines and points, and (K,) whose they are."""
    ends: list[Array] = []
    owner: list[int] = []
    for number, line in enumerate(lines):
        for part in _simple(line):
            points = shapely.get_coordinates(part)
            pairs = np.stack([points[:-1], points[1:]], axis=1)
            if len(points) == 1:
                pairs = np.stack([points, points], axis=1)
            ends.append(pairs)
            owner += [number] * len(pairs)
    if not ends:
        return np.zeros((0, 2, 2)), np.zeros(0, np.intp)
    return np.concatenate(ends), np.array(owner, np.intp)


def _simple(shape: BaseGeometry) -> list[BaseGeometry]:
    """Points and single lines of a shape; polygons give their outlines."""
    if "Polygon" in shape.geom_type:
        shape = shape.boundary
    parts: list[BaseGeometry] = []
    for part in shapely.get_parts(shape):
        nested = part.geom_type.startswith("Multi") or part.geom_type == "GeometryCollection"
        parts += _simple(part) if nested or "Polygon" in part.geom_type else [part]
    return [p for p in parts if not p.is_empty]
