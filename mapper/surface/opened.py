"""What is left of a skin's triangles beside its openings.

Where an opening's outline is a line of the mesh (`lined`), that is all which do not fill it. Where
it is not (skins stored before there were such lines, openings that reach to the edge of a chart),
the triangles that its outline crosses are cut up; the pieces keep their triangle's own metric, so
lengths along the sheet stay what they were. Thin pieces may come out; the ways followed over them
(trace.py, windows.py) do not mind.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from mapper.late import Late

if TYPE_CHECKING:
    from scipy import spatial
else:
    spatial = Late("scipy.spatial")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

FINE = 1e-6  # mm: new corners lie on this grid
SAME = 3e-6  # mm: as near as that two corners are one
# mm by which lines of the mesh, or the outline cut, may leave an opening's; the second where there
# would be too many triangles.
ROUGH = (0.02, 0.05)
ACROSS = 2e-3  # mm: as near as that cuts of a glued side from both charts are one

Cut = tuple[Array, Array, Ints, Ints, Ints]


def cut_out(
    flat: Array, lay: Array, vertex: Ints, chart: Ints, edges: Ints, openings: BaseGeometry
) -> Cut:
    """Triangles (flat, lay, vertex, chart, glued sides; see `intrinsic.Net`) without the openings.

    openings: polygons of the flat plane, mm. Triangles inside fall away, crossed ones are cut up.
    """
    keep = np.ones(len(flat), np.bool_)
    crossing: list[BaseGeometry] = []
    for part in shapely.get_parts(openings):
        fill = filling(flat, part)
        if fill is None:
            crossing.append(part)
        else:
            keep[fill] = False
    if crossing:
        return _cut_up(flat, lay, vertex, chart, edges, shapely.union_all(crossing), keep)
    return flat[keep], lay[keep], vertex[keep], chart[keep], edges[keep]


def filling(flat: Array, part: BaseGeometry) -> NDArray[np.intp] | None:
    """Numbers of the triangles (flat corners (M, 3, 2), mm) that fill an opening; None where one
    lies on both sides of its outline by more than ROUGH."""
    # An opening is small beside a skin: the rest of the triangles are not made into polygons.
    near = in_box(flat, part)
    outlines = shapely.polygons(flat[near])
    shapely.prepare(part)
    touched = shapely.intersects(part, outlines)
    near, outlines = near[touched], outlines[touched]
    size = shapely.area(outlines)
    common = size.copy()
    crossed = ~shapely.covers(part, outlines)
    common[crossed] = shapely.area(shapely.intersection(outlines[crossed], part))
    outside = size - common
    inside = outside < common
    strip = max(ROUGH) * shapely.length(outlines)
    if (np.minimum(common, outside) > 0.5 * strip).any():
        return None
    # A hole smaller than a triangle leaves all of them outside: it has no lines.
    missing = abs(float((common + outside)[inside].sum()) - part.area)
    return np.asarray(near[inside]) if missing <= max(ROUGH) * part.length else None


def in_box(flat: Array, part: BaseGeometry, reach: float = 0.0) -> NDArray[np.intp]:
    """Numbers of the triangles (flat corners (M, 3, 2)) whose boxes come within `reach` mm of that
    of a shape."""
    left, low, right, high = np.array(part.bounds) + reach * np.array([-1.0, -1.0, 1.0, 1.0])
    clear = (flat[..., 0].min(axis=1) > right) | (flat[..., 0].max(axis=1) < left)
    clear |= (flat[..., 1].min(axis=1) > high) | (flat[..., 1].max(axis=1) < low)
    return np.flatnonzero(~clear)


def _cut_up(
    flat: Array,
    lay: Array,
    vertex: Ints,
    chart: Ints,
    edges: Ints,
    openings: BaseGeometry,
    keep: NDArray[np.bool_],
) -> Cut:
    """Of the triangles to keep, those that openings cross cut up, those inside left out."""
    openings = shapely.set_precision(openings.simplify(ROUGH[0]), FINE)
    outlines = shapely.polygons(flat)
    tree = shapely.STRtree(outlines)
    touched = np.unique(tree.query(shapely.get_parts(openings), predicate="intersects")[1])
    shapely.prepare(openings)
    inside = touched[shapely.covers(openings, outlines[touched])]
    crossed = np.setdiff1d(
        touched[shapely.area(shapely.intersection(outlines[touched], openings)) > 1e-9], inside
    )
    crossed = crossed[keep[crossed]]
    keep[inside] = False
    keep[crossed] = False
    if not len(crossed):
        return flat[keep], lay[keep], vertex[keep], chart[keep], edges[keep]
    pieces, parent = _pieces(outlines, crossed, openings)
    number, side = _corners(flat, lay, vertex, edges, pieces, parent)
    turned = _affine(flat[parent], lay[parent])
    step = pieces - flat[parent][:, :1]
    new_lay = lay[parent][:, :1] + np.einsum("kij,knj->kni", turned, step)
    return (
        np.concatenate([flat[keep], pieces]),
        np.concatenate([lay[keep], new_lay]),
        np.concatenate([vertex[keep], number]),
        np.concatenate([chart[keep], chart[parent]]),
        np.concatenate([edges[keep], side]),
    )


def _affine(flat: Array, lay: Array) -> Array:
    """(K, 2, 2) from steps on the flat map to steps in the triangle's frame."""
    f = np.stack([flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]], axis=-1)
    e = np.stack([lay[:, 1] - lay[:, 0], lay[:, 2] - lay[:, 0]], axis=-1)
    return np.asarray(e @ np.linalg.inv(f))


def _pieces(
    outlines: NDArray[np.object_], crossed: NDArray[np.intp], openings: BaseGeometry
) -> tuple[Array, NDArray[np.intp]]:
    """Triangles (K, 3, 2), counter-clockwise, that fill what is left of the crossed ones, and (K,)
    which one each came from. Lines are noded once for all, so neighbours share their corners."""
    lines = [*shapely.boundary(outlines[crossed]), *shapely.get_parts(openings.boundary)]
    noded = shapely.union_all(lines, grid_size=FINE)
    faces = np.array(shapely.get_parts(shapely.polygonize(shapely.get_parts(noded))))
    middle = shapely.point_on_surface(faces)
    shapely.prepare(openings)
    faces, middle = (x[~shapely.intersects(openings, middle)] for x in (faces, middle))
    asked, hit = shapely.STRtree(outlines[crossed]).query(middle, predicate="intersects")
    # A point on two outlines to rounding is taken once.
    asked, once = np.unique(asked, return_index=True)
    found: list[Array] = []
    owner: list[int] = []
    for face, home in zip(faces[asked], crossed[hit[once]]):
        corners = shapely.get_coordinates(face)
        if len(corners) == 4 and not face.interiors:
            parts = [corners[:3]]
        else:
            cut = shapely.get_parts(shapely.constrained_delaunay_triangles(face))
            parts = [shapely.get_coordinates(p)[:3] for p in cut if isinstance(p, Polygon)]
        found += parts
        owner += [int(home)] * len(parts)
    pieces = np.array(found).reshape(-1, 3, 2)
    u, v = pieces[:, 1] - pieces[:, 0], pieces[:, 2] - pieces[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    pieces[double < 0.0] = pieces[double < 0.0][:, ::-1]
    whole = np.abs(double) > 0.0
    return pieces[whole], np.array(owner, np.intp)[whole]


def _corners(
    flat: Array, lay: Array, vertex: Ints, edges: Ints, pieces: Array, parent: NDArray[np.intp]
) -> tuple[Ints, Ints]:
    """(K, 3) corner numbers of the pieces, new ones where they are new, and their glued sides."""
    points = pieces.reshape(-1, 2)
    grid, which = np.unique(np.round(points / FINE).astype(np.int64), axis=0, return_inverse=True)
    which = np.ravel(which)
    old = np.unique(parent)
    away, near = spatial.cKDTree(flat[old].reshape(-1, 2)).query(grid * FINE)
    first = int(vertex.max()) + 1
    number = np.where(away <= SAME, vertex[old].ravel()[near], first + np.arange(len(grid)))
    number = number[which].reshape(-1, 3)
    # How far each corner lies off each side of its parent, mm.
    base = flat[parent]
    off = np.empty((len(pieces), 3, 3))
    for k in range(3):
        a, b = base[:, None, (k + 1) % 3], base[:, None, (k + 2) % 3]
        u, r = b - a, pieces - a
        off[:, :, k] = (u[..., 0] * r[..., 1] - u[..., 1] * r[..., 0]) / np.linalg.norm(u, axis=-1)
    on = np.abs(off) <= SAME
    side = np.full((len(pieces), 3), -1, np.int32)
    for k in range(3):
        for c in range(3):
            both = on[:, (c + 1) % 3, k] & on[:, (c + 2) % 3, k]
            side[both, c] = edges[parent[both], k]
    _meet_across(lay, vertex, edges, flat, pieces, parent, on, number, first)
    return number.astype(np.int32), side


def _meet_across(
    lay: Array,
    vertex: Ints,
    edges: Ints,
    flat: Array,
    pieces: Array,
    parent: NDArray[np.intp],
    on: NDArray[np.bool_],
    number: NDArray[np.intp],
    first: int,
) -> None:
    """Gives new corners on a glued side the number of those that cut it from the other chart."""
    cuts: dict[tuple[int, int], list[tuple[float, int]]] = {}
    for row, corner, k in np.argwhere(on & (edges[parent] >= 0)[:, None, :]):
        if number[row, corner] < first:
            continue
        m = parent[row]
        a, b = (k + 1) % 3, (k + 2) % 3
        if vertex[m, a] > vertex[m, b]:
            a, b = b, a
        way = flat[m, b] - flat[m, a]
        share = float((pieces[row, corner] - flat[m, a]) @ way / (way @ way))
        long = float(np.linalg.norm(lay[m, b] - lay[m, a]))
        key = (int(vertex[m, a]), int(vertex[m, b]))
        cuts.setdefault(key, []).append((share * long, int(number[row, corner])))
    same: dict[int, int] = {}
    for places in cuts.values():
        places.sort()
        for (low, one), (high, two) in pairwise(places):
            if one != two and high - low <= ACROSS:
                same[two] = same.get(one, one)
    for old, new in same.items():
        number[number == old] = new
