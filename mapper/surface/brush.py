"""The brush: what lies within a distance of a point, measured along the sheet.

A fan of straight lines over the net of the sheet (`trace`): their ends are the disc's outline. They
go on over glued chart edges and end at closed ones. Where a closed edge sticks into the disc, such
as an opening's, what lies in its shadow is reached by ways that bend about the edge's corners: from
each of them another fan goes out, as long as what is left there of the radius, the distance to the
corner being exact (`windows`). Lines that meet again behind a tube or a nose count once: the pieces
are united on each chart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.clip import EMPTY, GRID, clean, clip, difference, rims, sheets, union
from mapper.surface.edges import TOUCH
from mapper.surface.fan import Fan, jump, rays_for, reach_of
from mapper.surface.hub import INSIDE, Hub, hub_inside, hubs_at_corner
from mapper.surface.intrinsic import Net, net_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import ring, trace, windows
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    ring = Late("mapper.surface.ring")
    trace, windows = Late("mapper.surface.trace"), Late("mapper.surface.windows")

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

NOTHING = 2e-7  # of a disc: what lies behind one corner and is less is left out
BESIDE = 0.05  # mm: openings are made simpler by less before they are cut out
SHADOW = 3e-4  # rad of corners sticking into a disc below which the shadow behind them is nothing
NO_PIECES = np.zeros((0, 4)), np.zeros(0, np.int32), np.zeros(0)


def stand(skin: Skin, net: Net, point: ArrayLike, what: str = "point") -> Hub:
    """Where a flat point (2,) mm is on the net, kept a hair inside its triangle.

    Raises MapperError for what is no point, off the skin, or in an opening of the net.
    """
    at = np.asarray(point, np.float64)
    if at.shape != (2,) or not np.isfinite(at).all():
        raise MapperError(f"A {what} {point!r} was given.", "A flat point x, y in mm is allowed.")
    if not any(shapely.dwithin(rim, Point(at), TOUCH) for rim in rims(skin)):
        raise MapperError(
            f"The {what} ({at[0]:g}, {at[1]:g}) mm is off skin {skin.name!r}.",
            "A point on the skin's flat map is allowed.",
        )
    found, shares = trace.locate(net.flat, net.start, net.cells, net.low, net.size, at[None])
    m = int(found[0])
    if m < 0 or beside(net, found, shares)[0] > 0.0:
        raise MapperError(
            f"The {what} ({at[0]:g}, {at[1]:g}) mm lies where skin {skin.name!r} has no sheet.",
            "A point on the sheet, outside its openings, is allowed.",
        )
    return hub_inside(net, m, shares[0])


def beside(net: Net, found: NDArray[np.int32], shares: Array) -> Array:
    """(K,) by how much (mm) points lie farther beside their triangles than a rim may bulge out
    between corners, or an opening's outline be made simpler; 0 or less for points on the sheet."""
    corner = net.flat[found]
    side = np.linalg.norm(np.roll(corner, -1, axis=1) - np.roll(corner, 1, axis=1), axis=2)
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    off = np.max(-shares * (double[:, None] / side), axis=1)
    return np.asarray(off - net.bulge[net.chart[found]] - BESIDE)


def fan_disc(
    skin: Skin, centre: ArrayLike, radius: float, openings: BaseGeometry | None = None
) -> MultiPolygon:
    """The points of a skin within a distance of one along the sheet, on any skin.

    centre: (2,) flat mm on the sheet; radius: mm; openings: region of the flat plane without sheet,
    which ways go round. The fan's chord polygon has the area of the circle. Raises MapperError for
    a centre off the sheet, values that are no numbers, and a radius that is not positive.
    """
    if not np.isfinite(radius) or radius <= 0:
        raise MapperError(
            f"A disc about {centre!r} of radius {radius:g} mm was given.",
            "A flat point x, y and a radius above 0 are allowed.",
        )
    net = net_of(skin, openings)
    plain = _plain_disc(skin, net, centre, radius)
    if plain is not None:
        return plain
    place = stand(skin, net, centre, "disc's centre")
    pieces, met = Fan(skin, net, place, radius).pieces()
    if met.size:
        pieces += _behind(skin, net, place, radius, met)
    region = _united(skin, pieces)
    if met.size and openings is not None and not openings.is_empty:
        region = difference(region, openings)
    return region


def _plain_disc(skin: Skin, net: Net, centre: ArrayLike, radius: float) -> MultiPolygon | None:
    """The disc of a fan whose lines all stay on one chart and meet nothing, a plain ring: most that
    a brush paints. None for any other, and for what is no centre."""
    at = np.asarray(centre, np.float64)
    if at.shape != (2,):
        return None
    found, shares = trace.locate(net.flat, net.start, net.cells, net.low, net.size, at[None])
    start = int(found[0])
    if start < 0 or shares.min() < -INSIDE:
        return None
    known, count = ring.unfolding_of(net), rays_for(radius)
    points, apart, double = ring.ends(
        known.across, known.apex, net.lay, net.flat, start, shares[0], INSIDE,
        count, radius * reach_of(count), GRID,
    )  # fmt: skip
    if double <= 0.0 or apart > jump(net, start, radius, 2.0 * np.pi / count):
        return None
    disc = shapely.multipolygons([shapely.polygons(points)])
    if not (disc.is_valid and any(sheet.contains(disc) for sheet in sheets(skin))):
        return None
    return cast(MultiPolygon, disc)


def shadowed(skin: Skin, centre: ArrayLike, radius: float) -> bool:
    """Whether a corner of the sheet's own edge sticks into a disc: something lies behind it.

    Not of a disc well inside one chart; a centre off the sheet has no shadow.
    """
    at = Point(np.asarray(centre, np.float64))
    if any(rim.contains(at) and rim.exterior.distance(at) > radius for rim in rims(skin)):
        return False
    if not any(rim.distance(at) <= TOUCH for rim in rims(skin)):
        return False
    net = net_of(skin)
    if np.maximum(net.turning[net.at_edge], 0.0).sum() <= SHADOW:
        return False
    met = Fan(skin, net, stand(skin, net, centre, "disc's centre"), radius).pieces()[1]
    return _sticking_in(net, met) > SHADOW


def _sticking_in(net: Net, met: NDArray[np.int32]) -> float:
    """By how much (rad) the corners of closed sides that were met turn into the sheet, in all."""
    sides = net.vertex[met // 3]
    rows = np.arange(len(met))
    corners = np.unique([sides[rows, (met % 3 + turn) % 3] for turn in (1, 2)])
    return float(np.maximum(net.turning[corners], 0.0).sum())


def _united(skin: Skin, pieces: list[BaseGeometry]) -> MultiPolygon:
    if not pieces:
        return EMPTY
    if len(pieces) == 1:
        # A ring whose corners are rounded to the grid needs no more, if it is still one.
        rounded = shapely.transform(pieces[0], lambda xy: np.round(xy / GRID) * GRID)
        plain = isinstance(rounded, Polygon) and rounded.is_valid
        return clip(skin, MultiPolygon([rounded]) if plain else clean(pieces[0]))
    return clip(skin, union(*pieces))


def _behind(
    skin: Skin, net: Net, place: Hub, radius: float, met: NDArray[np.int32]
) -> list[BaseGeometry]:
    """What lies behind the corners of closed edges that stick into a disc."""
    if _sticking_in(net, met) <= SHADOW:
        return []
    distance = from_point(net, place, radius)
    behind = 0.5 * np.maximum(net.turning, 0.0) * np.maximum(radius - distance, 0.0) ** 2
    rounds = np.flatnonzero(net.at_edge & (behind > NOTHING * np.pi * radius**2))
    pieces: list[BaseGeometry] = []
    for v in rounds.tolist():
        for hub in hubs_at_corner(net, v, distance):
            pieces += Fan(skin, net, hub, radius - float(distance[v])).pieces()[0]
    return pieces


def from_point(net: Net, place: Hub, limit: float) -> Array:
    """Exact distances (N,) mm of the net's corners from a point; inf beyond the limit."""
    distance, _ = windows.spread(
        net.vertex, net.lay, net.opp, net.back, net.turning, net.corner,
        place.triangle, place.place, limit,
        np.zeros(len(net.vertex) + 1, np.int32), *NO_PIECES, 1e-9,
    )  # fmt: skip
    return distance
