"""A field on the flat plane whose flow out of an outline is what lies on the surface inside it.

Let rho be the true amount (area, mass, moment ...) per mm2 of the flat map. A field V with
div V = rho turns the integral of rho over a region into one closed line integral along the outline,
so the cost does not grow with the triangles inside. V is built once per skin and density:

* the *mean* of rho in each triangle by the lowest-order Raviart-Thomas field: edge fluxes by a
  breadth-first tree over neighbouring triangles, each handing all it has gathered to its parent;
* the *linear and quadratic* rest of rho, which has no mean, by six interior fields, of each pair
  of corners i, j: lambda_i lambda_j (2 x - v_i - v_j) and lambda_i lambda_j (v_j - v_i). They have
  no normal component on any edge, so that they need no bookkeeping between triangles (div of them
  spans exactly the quadratics without mean).

The triangulation is that of the skin's charts and an apron of triangles where nothing lies, which
fills a box round the charts and every hole in them; the tree is rooted in one more triangle outside
the box, where no outline reaches. Outlines may therefore leave the sheet.

Raviart and Thomas, "A mixed finite element method for 2nd order elliptic problems" (1977), from
memory; the divergences below are worked out from the definition and tested.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.clip import FARTHEST, finite, only_polygons
from mapper.surface.ground import ground_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import walk
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    walk = Late("mapper.surface.walk")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]
Density = Callable[[Array], Array]

MARGIN = 0.5  # the box reaches this part of the sheet's size beyond it


def _seven_points() -> tuple[Array, Array]:
    """Shares (7, 3) and weights (7,) of the rule exact to degree 5 on a triangle (Radon, 1948)."""
    root = np.sqrt(15.0)
    shares = [[1 / 3, 1 / 3, 1 / 3]]
    weights = [9 / 40]
    for sign in (-1.0, 1.0):
        near = (6 + sign * root) / 21
        for corner in range(3):
            point = [near, near, near]
            point[corner] = 1 - 2 * near
            shares.append(point)
            weights.append((155 + sign * root) / 1200)
    return np.array(shares), np.array(weights)


SHARES, WEIGHTS = _seven_points()


def _bubble_divergences(shares: Array) -> Array:
    """(K, 6): 2 |T| div of the interior fields / (2 |T|) at barycentric shares (K, 3): of the three
    pairs i, i + 1 the first field, then of each the second.

    From (x - v_e) . grad lambda_i = lambda_i - delta_ie and div x = 2.
    """
    after = np.roll(shares, -1, axis=1)
    return np.concatenate([8 * shares * after - shares - after, shares - after], axis=1)


def _projector() -> Array:
    """(6, 7): from a density's values at the seven points to the bubbles' strengths.

    Weighted least squares of least norm: the divergences of the six fields have five dimensions,
    those of the quadratics without mean.
    """
    root = np.sqrt(WEIGHTS)[:, None]
    return np.asarray(np.linalg.pinv(root * _bubble_divergences(SHARES), rcond=1e-10) * root.T)


PROJECTOR = _projector()


@dataclass(frozen=True, eq=False)
class Plane:
    """The plane of a skin filled with triangles: its own first, then the apron, then the sink.

    xy (N, 2), tri (T, 3): the triangles; corners (T, 6): their corners x, y, x, y, x, y; across
    (T, 3): see `_across`; own: how many are the skin's. frame (8,): the least x and y of the grid
    of seeds and the size of its cells, then x0, y0, x1, y1 of the box that the triangles fill, mm.
    """

    xy: Array
    tri: Ints
    corners: Array
    across: Ints
    order: Ints
    towards: Ints
    seeds: Ints
    frame: Array
    own: int

    @property
    def box(self) -> Array:
        return self.frame[4:]


@dataclass(frozen=True, eq=False)
class Field:
    """A field whose divergence is a density on the plane; total: what lies on the whole skin.

    strength (T, 9): flux through each edge, then a sixth of the strengths of the six bubbles.
    """

    plane: Plane
    strength: Array
    total: float


_PLANES: WeakKeyDictionary[Skin, Plane] = WeakKeyDictionary()
_AREAS: WeakKeyDictionary[Skin, Field] = WeakKeyDictionary()
_POINTS: WeakKeyDictionary[Skin, dict[int, Array]] = WeakKeyDictionary()


def _across(tri: Ints) -> Ints:
    """(T, 3) 4 times the triangle across each edge (edge k lies opposite corner k) and that edge's
    number there, -1 where there is none.

    Raises MapperError if more than two triangles meet in an edge.
    """
    ends = np.stack([np.roll(tri, -1, axis=1), np.roll(tri, -2, axis=1)], axis=-1).reshape(-1, 2)
    ends = np.sort(ends, axis=1).astype(np.int64)
    key = ends[:, 0] * (int(tri.max()) + 1) + ends[:, 1]
    order = np.argsort(key, kind="stable")
    same = key[order[1:]] == key[order[:-1]]
    if np.any(same[1:] & same[:-1]):
        raise MapperError(
            "More than two triangles of this skin meet in one edge.",
            "A skin is a sheet: at most two may.",
            "Rebuild the skin from its part file.",
        )
    out = np.full(len(key), -1, np.int32)
    one, two = order[:-1][same], order[1:][same]
    out[one], out[two] = two // 3 * 4 + two % 3, one // 3 * 4 + one % 3
    return out.reshape(-1, 3)


def _loops(tri: Ints, across: Ints) -> list[Ints]:
    """The closed rings of vertices round a mesh, the mesh on their left."""
    where, edge = np.nonzero(across < 0)
    start = tri[where, (edge + 1) % 3]
    stop = tri[where, (edge + 2) % 3]
    if len(np.unique(start)) != len(start):
        raise MapperError(
            "Two corners of this skin's outline touch on the flat map.",
            "An outline may not meet itself.",
            "Rebuild the skin from its part file.",
        )
    after = dict(zip(start.tolist(), stop.tolist()))
    loops = []
    while after:
        first, here = after.popitem()
        loop = [first]
        while here != first:
            loop.append(here)
            here = after.pop(here)
        loops.append(np.array(loop, np.int32))
    return loops


def _signed(ring: Array) -> float:
    """Twice the area inside a ring, negative where it runs clockwise."""
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _corners(box: Array) -> Array:
    return np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]])


def _apron(flat: Array, parts: list[Polygon], box: Array) -> tuple[Array, Ints]:
    """Corners (4, 2) of the box and triangles that fill the parts, whose corners are those and
    vertices of the mesh; the box's corners are counted on from the mesh's."""
    corners = _corners(box)
    pieces = [g for p in parts for g in shapely.constrained_delaunay_triangles(p).geoms]
    points = np.concatenate([flat, corners])
    number = {(x, y): i for i, (x, y) in enumerate(points.tolist())}
    ends = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]
    tri = np.array([number[x, y] for x, y in ends.reshape(-1, 2).tolist()], np.int32).reshape(-1, 3)
    a, b, c = points[tri[:, 0]], points[tri[:, 1]], points[tri[:, 2]]
    turned = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) < (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    tri[turned] = tri[turned][:, ::-1]
    return corners, tri


def plane_of(skin: Skin) -> Plane:
    """The filled plane of a skin, made once.

    Raises MapperError if the skin's flat triangles overlap, are turned over or leave gaps.
    """
    plane = _PLANES.get(skin)
    if plane is None:
        plane = _PLANES[skin] = _make_plane(skin)
    return plane


def _make_plane(skin: Skin) -> Plane:
    skin = ground_of(skin)
    flat = np.ascontiguousarray(skin.flat, np.float64)
    own = np.ascontiguousarray(skin.triangles, np.int32)
    a, b, c = flat[own[:, 0]], flat[own[:, 1]], flat[own[:, 2]]
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    if not len(own) or not np.all(twice > 0):
        raise MapperError(
            f"{int(np.sum(~(twice > 0)))} triangles of skin {skin.name!r} are turned over or have "
            "no area on the flat map.",
            "Every triangle must lie the same way up, counter-clockwise.",
            "Rebuild the skin from its part file.",
        )
    used = flat[own]
    low, high = used.min(axis=(0, 1)), used.max(axis=(0, 1))
    reach = MARGIN * float(np.max(high - low))
    box = np.concatenate([low - reach, high + reach])
    loops = _loops(own, _across(own))
    outline = Polygon(_corners(box), [flat[loop] for loop in loops if _signed(flat[loop]) > 0])
    if not outline.is_valid:
        raise MapperError(
            f"The charts of skin {skin.name!r} overlap or touch on the flat map "
            f"({shapely.is_valid_reason(outline)}).",
            "Charts lie apart, each in one piece.",
            "Rebuild the skin from its part file.",
        )
    holes = [Polygon(flat[loop]) for loop in loops if _signed(flat[loop]) < 0]
    corners, apron = _apron(flat, [outline, *holes], box)
    count = len(flat)
    beyond = np.array([[0.5 * (box[0] + box[2]), box[1] - 1e-3 * reach]])
    sink = np.array([[count, count + 4, count + 1]], np.int32)
    tri = np.concatenate([own, apron, sink])
    across = _across(tri)
    xy = np.concatenate([flat, corners, beyond])
    order, towards = walk.breadth_first(across, len(tri) - 1)
    if np.any(order < 0) or int(np.sum(across < 0)) != 5:
        raise MapperError(
            f"The flat map of skin {skin.name!r} has gaps or overlaps.",
            "Triangles meet in whole edges.",
            "Rebuild the skin from its part file.",
        )
    side = int(np.clip(np.sqrt(len(own) / 4), 4, 128))
    cell = (high - low) / side
    beside, across = _side_by_side(xy[tri].reshape(-1, 6), across)
    seeds = walk.seed_grid(beside, across, low, cell, side, side)
    frame = np.concatenate([low, cell, box])
    return Plane(xy, tri, beside, across, order, towards, seeds, frame, len(own))


def _side_by_side(corners: Array, across: Ints) -> tuple[Array, Ints]:
    """The same two arrays, both of a triangle in one line of the processor's cache (64 bytes)."""
    memory = np.zeros(len(corners) * 64 + 64, np.uint8)
    line = memory[-memory.ctypes.data % 64 :][: len(corners) * 64].reshape(-1, 64)
    one, two = line[:, :48].view(np.float64), line[:, 48:60].view(np.int32)
    one[:], two[:] = corners, across
    return one, two


def _amounts(skin: Skin, number: int, density: Density | None) -> tuple[Array, Array]:
    """What lies on each triangle of a chart (M,), and 2 |T| rho at its seven points (M, 7).

    On a stretched map parameters are affine in a triangle; the values come from the exact surface
    and are scaled to the exact area of the patch. Elsewhere the area is the flat one, and the
    points are found through the map.
    """
    chart = skin.charts[number]
    rows = slice(chart.first, chart.last)
    corners = skin.triangles[rows]
    if chart.flat_map.isometric:
        a, b, c = (skin.flat[corners[:, k]] for k in range(3))
        twice = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
        values = np.repeat(twice[:, None], 7, axis=1)
    else:
        at = np.einsum("gc,mcd->mgd", SHARES, skin.param[corners])
        along_s, along_t = chart.patch.partials(at[..., 0], at[..., 1])
        stretch = np.linalg.norm(np.cross(along_s, along_t), axis=-1)
        mean = stretch @ WEIGHTS
        whole = mean > 0
        scale = np.where(whole, 2 * skin.patch_area[rows] / np.where(whole, mean, 1.0), 0.0)
        values = scale[:, None] * stretch
    if density is not None:
        places = _places(skin, number)
        given = np.asarray(density(places), np.float64)
        if given.shape != (len(places),) or not np.all(np.isfinite(given)):
            raise MapperError(
                f"The density gave an answer of shape {given.shape} or values that are no numbers.",
                "It takes points (K, 3) in mm and gives K finite numbers per mm2.",
            )
        values = values * given.reshape(-1, 7)
    return 0.5 * values @ WEIGHTS, values


def _places(skin: Skin, number: int) -> Array:
    """The seven points of each triangle of a chart in space (7 M, 3), read-only; made once."""
    known = _POINTS.setdefault(skin, {})
    if number not in known:
        chart = skin.charts[number]
        corners = skin.triangles[chart.first : chart.last]
        at = np.einsum("gc,mcd->mgd", SHARES, skin.param[corners])
        if chart.flat_map.isometric:
            flat = np.einsum("gc,mcd->mgd", SHARES, skin.flat[corners]).reshape(-1, 2)
            found = chart.flat_map.to_param(flat).reshape(at.shape)
            # A point in a sliver between the mesh and a curved edge may be just off the chart.
            at = np.where(np.isfinite(found), found, at)
        places = chart.patch.at(at[..., 0], at[..., 1]).reshape(-1, 3)
        places.setflags(write=False)
        known[number] = places
    return known[number]


def make_field(skin: Skin, charts: tuple[int, ...], density: Density | None = None) -> Field:
    """The field of a density over the named charts of a skin; on other charts nothing lies.

    density: points (K, 3) mm in the part's frame -> (K,) per mm2 of true area; None for 1, the area
    itself. Raises MapperError for a density that gives something else.
    """
    plane = plane_of(skin)
    skin = ground_of(skin)
    amount = np.zeros(len(plane.tri))
    strength = np.zeros((len(plane.tri), 9))
    for number in charts:
        chart = skin.charts[number]
        rows = slice(chart.first, chart.last)
        amount[rows], values = _amounts(skin, number, density)
        rest = values - 2 * amount[rows, None]
        strength[rows, 3:] = rest @ (PROJECTOR.T / 6.0)
    strength[:, :3] = walk.edge_fluxes(plane.across, plane.order, plane.towards, amount)
    return Field(plane, strength, float(amount.sum()))


def stretched_charts(skin: Skin) -> tuple[int, ...]:
    """Numbers of the charts whose flat map is not the exact development."""
    return tuple(i for i, c in enumerate(skin.charts) if not c.flat_map.isometric)


def area_field(skin: Skin) -> Field:
    """The field of true area over a skin's stretched charts, made once."""
    field = _AREAS.get(skin)
    if field is None:
        field = _AREAS[skin] = make_field(skin, stretched_charts(skin))
    return field


def _rings(region: BaseGeometry) -> Ints:
    """(L, 3) first and last point of each ring in the order of a region's coordinates, and 1, or -1
    for a hole."""
    parts = shapely.get_parts(region)
    rings, part = shapely.get_rings(parts, return_index=True)
    stop = np.cumsum(shapely.get_num_coordinates(rings))
    out = np.empty((len(rings), 3), np.int32)
    out[:, 0] = np.append(0, stop[:-1])
    out[:, 1] = stop - 1
    out[:, 2] = np.where(np.diff(part, prepend=-1) > 0, 1, -1)
    return out


def inside_box(plane: Plane, shape: BaseGeometry) -> BaseGeometry:
    """The shape, cut to the box where it reaches beyond it: nothing lies out there."""
    x0, y0, x1, y1 = shape.bounds
    box = plane.box
    if x0 >= box[0] and y0 >= box[1] and x1 <= box[2] and y1 <= box[3]:
        return shape
    # A hair inside, so that no corner of the cut shape is rounded to beyond the box.
    hair = 1e-9 * float(box[2] - box[0])
    return shapely.intersection(
        shape, shapely.box(box[0] + hair, box[1] + hair, box[2] - hair, box[3] - hair)
    )


def outflow(field: Field, region: BaseGeometry) -> float:
    """What lies inside a valid Polygon or MultiPolygon; 0.0 for an empty one.

    Raises MapperError for coordinates that are no numbers or too large, as `clip.finite`.
    """
    if region.is_empty:
        return 0.0
    plane = field.plane
    points = shapely.get_coordinates(region)
    only = region if region.geom_type == "Polygon" else None
    if only is None and shapely.get_num_geometries(region) == 1:
        only = shapely.get_geometry(region, 0)
    if only is not None and shapely.get_num_interior_rings(only) == 0:
        # One ring, as most outlines drawn: the general way takes longer than the walk.
        rings = np.array([[0, len(points) - 1, 1]], np.int32)
    else:
        rings = _rings(region)
    total, became = walk.flow(
        plane.corners, plane.across, plane.seeds, plane.frame, field.strength, points, rings,
        FARTHEST,
    )  # fmt: skip
    if became == walk.BEYOND:
        return outflow(field, only_polygons(inside_box(plane, region)))
    if became == walk.NO_NUMBER:
        finite(region)
    return float(total)
