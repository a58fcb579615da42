"""Strokes: what a brush covers on its way, and the outline of a brush that hovers.

A stroke is the union of discs (`region.disc`) along its path, set so closely that its outline lies
within .1 mm of that of all discs about all points of the path: between two discs of radius r, d
apart, the outline dips by r - sqrt(r2 - d2 / 4). Everything within a distance of a line is the
same thing.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.brush import SHADOW, fan_disc, stand
from mapper.surface.clip import EMPTY, clip, finite, rims, union
from mapper.surface.edges import TOUCH, glued_edges
from mapper.surface.intrinsic import net_of
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

DIP = 0.05  # mm: how far the outline may dip between two discs
HOVER = 72  # corners of a hovering brush's outline


def spacing(radius: float) -> float:
    """How far apart (mm) discs of a radius may be for the outline of their union to dip by DIP."""
    dip = min(DIP, 0.5 * radius)
    return float(2.0 * np.sqrt(2.0 * radius * dip - dip * dip))


def stroke(
    skin: Skin,
    path: BaseGeometry | ArrayLike,
    radius: float,
    openings: BaseGeometry | None = None,
) -> MultiPolygon:
    """Everything within a distance of a line, measured along the sheet; round ends.

    path: LineString, MultiLineString or (K, 2) flat mm (one point is a dab); straight between its
    points on the flat map; what lies off the sheet or in an opening carries no brush, so a path may
    leave a chart and come back on another. radius: mm. Empty for an empty path. Raises MapperError
    for values that are no numbers, other shapes, a radius that is not positive, and a path that is
    nowhere on the sheet.
    """
    if not np.isfinite(radius) or radius <= 0:
        raise MapperError(
            f"A stroke of radius {radius:g} mm was given.", "A radius above 0 is allowed."
        )
    line = _line_of(path)
    if line.is_empty:
        return EMPTY
    kept = _on_sheet(skin, line, openings)
    pieces = [p for p in shapely.get_parts(kept) if not p.is_empty]
    if not pieces:
        raise MapperError(
            f"The stroke lies nowhere on the sheet of skin {skin.name!r}.",
            "A path on the skin's flat map, outside its openings, is allowed.",
        )
    out: list[BaseGeometry] = []
    for piece in pieces:
        swept = _swept_flat(skin, piece, radius, openings)
        if swept is not None:
            out.append(swept)
            continue
        places = _stations(piece, spacing(radius))
        out += [fan_disc(skin, at, radius, openings) for at in places]
    return clip(skin, union(*out))


def _line_of(path: BaseGeometry | ArrayLike) -> BaseGeometry:
    if isinstance(path, BaseGeometry):
        shape = path
    else:
        points = np.asarray(path, np.float64)
        points = points[None] if points.shape == (2,) else points
        if points.ndim != 2 or points.shape[1] != 2:
            raise MapperError(
                f"A path of shape {points.shape} was given.",
                "Points, each an x and a y in flat mm, are allowed.",
            )
        if len(points) == 0:
            return LineString()
        shape = LineString(points) if len(points) > 1 else shapely.points(points[0])
    finite(shape)
    allowed = ("LineString", "LinearRing", "MultiLineString", "Point", "MultiPoint")
    if shape.geom_type not in allowed:
        raise MapperError(f"A {shape.geom_type} was given as a path.", "Lines are allowed.")
    return shape


def _on_sheet(skin: Skin, line: BaseGeometry, openings: BaseGeometry | None) -> BaseGeometry:
    # A path along a chart's very edge lies on it within rounding.
    grown = [rim.buffer(TOUCH) for rim in rims(skin)]
    parts: list[BaseGeometry] = []
    for part in shapely.get_parts(line):
        if part.length == 0.0:
            point = shapely.points(shapely.get_coordinates(part)[:1])[0]
            parts += [point] if any(rim.intersects(point) for rim in grown) else []
            continue
        for rim in grown:
            parts += list(shapely.get_parts(shapely.intersection(part, rim)))
    kept = shapely.GeometryCollection([p for p in parts if not p.is_empty])
    if openings is None or openings.is_empty:
        return kept
    open_ = openings.buffer(2 * TOUCH)
    return shapely.GeometryCollection(
        [q for p in shapely.get_parts(kept) for q in shapely.get_parts(p.difference(open_))]
    )


def _swept_flat(
    skin: Skin, piece: BaseGeometry, radius: float, openings: BaseGeometry | None
) -> BaseGeometry | None:
    """The stroke in one go, where it stays on a chart that is flat without stretch and nothing
    sticks into it; None elsewhere."""
    grown = piece.buffer(radius, quad_segs=180)
    if openings is not None and openings.intersects(grown):
        return None
    for number, (chart, rim) in enumerate(zip(skin.charts, rims(skin))):
        if not chart.flat_map.isometric or not rim.intersects(piece):
            continue
        if rim.contains(grown):
            return grown
        for edge in glued_edges(skin):
            for owner, line in ((edge.chart_here, edge.here), (edge.chart_there, edge.there)):
                if owner == number and LineString(line).distance(piece) <= radius:
                    return None
        net = net_of(skin)
        inward = net.at_edge[net.vertex] & (net.turning[net.vertex] > 0.0)
        inward &= (net.chart == number)[:, None]
        near = shapely.dwithin(shapely.points(net.flat[inward]), piece, radius)
        corners = np.unique(net.vertex[inward][near])
        if net.turning[corners].sum() > SHADOW:
            return None
        parts = shapely.get_parts(shapely.intersection(grown, rim))
        return shapely.union_all([p for p in parts if p.distance(piece) <= 2 * TOUCH])
    return None


def _stations(piece: BaseGeometry, most: float) -> Array:
    """Points (K, 2) along a piece of path, its corners among them, at most `most` mm apart."""
    corners = shapely.get_coordinates(piece)
    if len(corners) == 1 or piece.length == 0.0:
        return np.asarray(corners[:1], dtype=np.float64)
    return np.asarray(shapely.get_coordinates(shapely.segmentize(piece, most)), dtype=np.float64)


def hover(skin: Skin, centre: ArrayLike, radius: float) -> Array:
    """(72, 2) flat mm: the ellipse that a small disc about a point is on the flat map.

    A quick outline to show under a pointer: the sheet's stretch at the centre is taken for all of
    it, and it does not stop at edges. Raises MapperError as `region.disc`.
    """
    if not np.isfinite(radius) or radius <= 0:
        raise MapperError(
            f"A brush of radius {radius:g} mm was given.", "A radius above 0 is allowed."
        )
    net = net_of(skin)
    place = stand(skin, net, centre, "brush's centre")
    turn = np.linspace(0.0, 2.0 * np.pi, HOVER, endpoint=False)
    round_ = np.stack([np.cos(turn), np.sin(turn)])
    return np.asarray(place.flat + radius * (net.to_flat[place.triangle[0]] @ round_).T)
