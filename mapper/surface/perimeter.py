"""True lengths of lines on a skin, and a region's perimeter.

Where a chart lies flat without stretch, the flat length is the true one. Elsewhere a line is cut at
the edges of the triangles, in each of which it is straight in the parameters too, and the speed of
the exact surface's point is integrated along each piece by Gauss' rule.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.clip import finite, rims
from mapper.surface.edges import TOUCH, common, glued_edges, part_of, spans_on
from mapper.surface.filled import inside_box, plane_of
from mapper.surface.flux import stretched_charts
from mapper.surface.ground import ground_of
from mapper.surface.skin import Skin
from mapper.surface.traced import trace_all

Array = NDArray[np.float64]

_NODES, _SPEED_WEIGHTS = leggauss(6)
_NODES, _SPEED_WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _SPEED_WEIGHTS


def length(skin: Skin, lines: BaseGeometry) -> float:
    """True length, mm, of the parts of lines that lie on a skin; 0.0 for an empty shape.

    lines: LineString, LinearRing or MultiLineString in flat mm (.0005 mm beside the sheet's edge
    counts as on it). Raises MapperError for anything else and for coordinates that are no numbers.
    """
    finite(lines)
    if lines.is_empty:
        return 0.0
    if lines.geom_type not in ("LineString", "LinearRing", "MultiLineString"):
        raise MapperError(
            f"A {lines.geom_type} has no length to measure.", "Lines in flat mm are allowed."
        )
    total = 0.0
    stretched = stretched_charts(skin)
    if stretched:
        total += _stretched_length(skin, lines)
    if len(stretched) < len(skin.charts):
        paths = shapely.MultiLineString([shapely.LineString(p.coords) for p in _parts(lines)])
        for chart, rim in zip(skin.charts, rims(skin)):
            if not chart.flat_map.isometric:
                continue
            if rim.contains(paths):
                total += float(paths.length)
            elif rim.distance(paths) <= TOUCH:
                near = rim.buffer(TOUCH, join_style="mitre")
                total += float(shapely.intersection(near, paths).length)
    return total


def _parts(lines: BaseGeometry) -> list[BaseGeometry]:
    return [p for p in shapely.get_parts(lines) if not p.is_empty]


def _stretched_length(skin: Skin, lines: BaseGeometry) -> float:
    """Length of lines on the stretched charts."""
    paths = _parts(inside_box(plane_of(skin), lines))
    if not paths:
        return 0.0
    firsts = np.zeros(len(paths) + 1, np.int32)
    np.cumsum(shapely.get_num_coordinates(paths), out=firsts[1:])
    points = shapely.get_coordinates(paths)
    pieces = trace_all(skin, points, firsts, TOUCH)
    skin = ground_of(skin)  # of which the pieces' triangles are
    corners = skin.param[skin.triangles[pieces.triangle]]
    param = np.einsum("pec,pcd->ped", pieces.shares, corners)
    total = 0.0
    for number in stretched_charts(skin):
        chart = skin.charts[number]
        here = (pieces.triangle >= chart.first) & (pieces.triangle < chart.last)
        ends = param[here]
        step = ends[:, 1] - ends[:, 0]
        at = ends[:, :1] + _NODES[:, None] * step[:, None]
        along_s, along_t = chart.patch.partials(at[..., 0], at[..., 1])
        velocity = along_s * step[:, None, :1] + along_t * step[:, None, 1:]
        total += float(np.sum(np.linalg.norm(velocity, axis=-1) @ _SPEED_WEIGHTS))
    return total


def perimeter(skin: Skin, region: BaseGeometry) -> float:
    """True length, mm, of a region's outline, holes included; 0.0 for an empty one.

    Where the region goes on across a glued chart edge, that edge is inside it and does not count;
    where it ends there it counts once. Raises MapperError as `length`, and for a shape that is not
    made of polygons.
    """
    finite(region)
    if region.is_empty:
        return 0.0
    if region.geom_type not in ("Polygon", "MultiPolygon"):
        raise MapperError(
            f"A {region.geom_type} has no perimeter to measure.",
            "A Polygon or MultiPolygon in flat mm is allowed.",
        )
    rings = shapely.get_rings(shapely.get_parts(region))
    outline = MultiLineString([shapely.LineString(r.coords) for r in rings])
    total = length(skin, outline)
    for edge in glued_edges(skin):
        inside = common(spans_on(edge.here, outline), spans_on(edge.there, outline))
        for low, high in inside.tolist():
            for line in (edge.here, edge.there):
                total -= length(skin, shapely.LineString(part_of(line, low, high)))
    return total
