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

The triangulation is that of the skin's charts and an apron about them (`filled`), the root of the
tree outside of all. Outlines may therefore leave the sheet.

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
from mapper.surface.filled import Plane, inside_box, plane_of
from mapper.surface.ground import ground_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import tree, walk
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    tree, walk = Late("mapper.surface.tree"), Late("mapper.surface.walk")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]
Density = Callable[[Array], Array]


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
class Field:
    """A field whose divergence is a density on the plane; total: what lies on the whole skin.

    strength (T, 9): flux through each edge, then a sixth of the strengths of the six bubbles.
    """

    plane: Plane
    strength: Array
    total: float


_AREAS: WeakKeyDictionary[Skin, Field] = WeakKeyDictionary()
_POINTS: WeakKeyDictionary[Skin, dict[int, Array]] = WeakKeyDictionary()


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
    strength[:, :3] = tree.edge_fluxes(plane.across, plane.order, plane.towards, amount)
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


ONE_POLYGON = np.zeros((0, 3), np.int32)  # rings are told by where they close


def outflow(field: Field, region: BaseGeometry) -> float:
    """What lies inside a valid Polygon or MultiPolygon; 0.0 for an empty one.

    Raises MapperError for coordinates that are no numbers or too large, as `clip.finite`.
    """
    plane = field.plane
    points = shapely.get_coordinates(region)
    one = isinstance(region, Polygon) or shapely.get_num_geometries(region) == 1
    total, became = walk.flow(
        plane.corners, plane.across, plane.numbers, plane.links, plane.seeds, plane.frame,
        field.strength, points, ONE_POLYGON if one else _rings(region), FARTHEST,
    )  # fmt: skip
    if became == walk.BEYOND:
        return outflow(field, only_polygons(inside_box(plane, region)))
    if became == walk.NO_NUMBER:
        finite(region)
    return float(total)
