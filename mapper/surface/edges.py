"""Curves on the flat map followed closely, and the chart edges where two charts are one line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.flatmap import mesh_map_of
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

CLOSE = 2e-5  # mm: how far a followed curve may leave its polyline
FINEST = 1e-9  # of the curve's parameter range: pieces are not halved below this
TOUCH = 5e-4  # mm: what lies nearer to a chart edge lies on it (the grid is 1e-4, rims hold 1e-4)


def follow(
    curve: Callable[[Array], Array], breaks: Array, close: float = CLOSE
) -> tuple[Array, Array]:
    """A polyline along a curve of the plane: parameters (K,) and points (K, 2 m).

    curve: (J,) -> (J, 2 m), m curves with one parameter. breaks: ascending, the ends and the kinks
    that are known. Pieces are halved until the curve's middle lies within `close` mm of the
    straight line; a kink that is not a break is closed in on in the same way.
    """
    u = np.unique(np.asarray(breaks, np.float64))
    if len(u) < 2:
        return u, curve(u)
    # Eight pieces at least, so that a curve with a turning point is not taken for a straight one.
    steps = max(1, -(-8 // (len(u) - 1)))
    u = np.append((u[:-1, None] + np.diff(u)[:, None] * np.arange(steps) / steps).ravel(), u[-1])
    points = curve(u)
    fresh = np.ones(len(u) - 1, bool)
    smallest = FINEST * (u[-1] - u[0])
    while np.any(fresh):
        where = np.flatnonzero(fresh)
        middle = 0.5 * (u[where] + u[where + 1])
        at = curve(middle)
        far = _off_line(points[where], points[where + 1], at) > close
        far &= u[where + 1] - u[where] > smallest
        split = where[far]
        u = np.insert(u, split + 1, middle[far])
        points = np.insert(points, split + 1, at[far], axis=0)
        fresh = np.zeros(len(u) - 1, bool)
        moved = split + np.arange(len(split))
        fresh[moved] = True
        fresh[moved + 1] = True
    return u, points


def _off_line(a: Array, b: Array, p: Array) -> Array:
    """Largest distance (K,) of points p from lines a b, over the pairs of columns."""
    far = np.zeros(len(a))
    for c in range(0, a.shape[1], 2):
        d = b[:, c : c + 2] - a[:, c : c + 2]
        r = p[:, c : c + 2] - a[:, c : c + 2]
        size = np.hypot(d[:, 0], d[:, 1])
        across = np.abs(d[:, 0] * r[:, 1] - d[:, 1] * r[:, 0])
        flat = size > 0
        distance = np.where(flat, across / np.where(flat, size, 1.0), np.hypot(r[:, 0], r[:, 1]))
        far = np.maximum(far, distance)
    return far


@dataclass(frozen=True, eq=False)
class ChartEdge:
    """A glued edge as two polylines with equally many points, one in each chart, that are one line.

    here, there: (K, 2) flat mm in the charts numbered chart_here and chart_there.
    """

    chart_here: int
    chart_there: int
    here: Array
    there: Array

    def turned(self) -> ChartEdge:
        """The same edge seen from the other chart."""
        return ChartEdge(self.chart_there, self.chart_here, self.there, self.here)


_EDGES: WeakKeyDictionary[Skin, tuple[ChartEdge, ...]] = WeakKeyDictionary()


def glued_edges(skin: Skin) -> tuple[ChartEdge, ...]:
    """The glued edges of a skin, each once, then its stitches; made once."""
    found = _EDGES.get(skin)
    if found is None:
        found = _EDGES[skin] = (
            *(_glued_edge(skin, number) for number in range(len(skin.glue))),
            *(
                ChartEdge(s.chart_a, s.chart_b, skin.flat[s.line_a], skin.flat[s.line_b])
                for s in skin.stitches
            ),
        )
    return found


def run_breaks(skin: Skin, chart_number: int, column: int) -> Array:
    """Where a chart's map may have kinks along one parameter (column 0: s, 1: t), ends included.

    On a stretched map these are the parameters of its mesh.
    """
    chart = skin.charts[chart_number]
    lines = chart.patch.s_lines if column == 0 else chart.patch.t_lines
    if chart.flat_map.isometric:
        return np.asarray(lines)
    mesh = mesh_map_of(chart.flat_map)
    if mesh is not None:
        return np.union1d(lines, mesh.s if column == 0 else mesh.t)
    used = skin.param[skin.triangles[chart.first : chart.last], column]
    return np.union1d(lines, used)


def _glued_edge(skin: Skin, number: int) -> ChartEdge:
    glue = skin.glue[number]
    sides = ((glue.chart_a, glue.edge_a), (glue.chart_b, glue.edge_b))

    def both(u: Array) -> Array:
        return np.concatenate([_along(skin, c, edge, u) for c, edge in sides], axis=1)

    columns = [1 if edge.startswith("s") else 0 for _, edge in sides]
    breaks = np.union1d(*(run_breaks(skin, c, k) for (c, _), k in zip(sides, columns)))
    _, points = follow(both, breaks)
    return ChartEdge(glue.chart_a, glue.chart_b, points[:, :2], points[:, 2:])


def _along(skin: Skin, chart_number: int, edge: str, u: Array) -> Array:
    chart = skin.charts[chart_number]
    param = np.empty((len(u), 2))
    if edge in ("s0", "s1"):
        param[:, 0] = chart.patch.s_lines[0 if edge == "s0" else -1]
        param[:, 1] = u
    elif edge in ("t0", "t1"):
        param[:, 0] = u
        param[:, 1] = chart.patch.t_lines[0 if edge == "t0" else -1]
    else:
        raise MapperError(
            f"A chart edge of skin {skin.name!r} is called {edge!r}.",
            "s0, s1, t0 and t1 are allowed.",
            "Rebuild the skin from its part file.",
        )
    return chart.flat_map.to_flat(param)


def spans_on(line: Array, shape: BaseGeometry, shortest: float = 4 * TOUCH) -> Array:
    """Where lines run along a polyline: (J, 2) from and to, counted in its points, ascending.

    line (K, 2); shape: lines. A span of 3.5 to 7 runs from the middle of piece 3 to point 7. Lines
    within TOUCH mm count as on it; shorter ones than `shortest` mm only cross or end there.
    """
    path = LineString(line)
    near = shapely.intersection(shape, path.buffer(TOUCH, cap_style="flat"))
    pieces = [p for p in shapely.get_parts(near) if p.geom_type == "LineString"]
    if not pieces:
        return np.zeros((0, 2))
    points, owner = shapely.get_coordinates(pieces, return_index=True)
    count = places_on(line, points)
    steps = np.hypot(*np.diff(line, axis=0).T)
    reached = np.concatenate([[0.0], np.cumsum(steps)])
    # Step by step: a ring may run along the edge twice, so a piece's hull would be too much.
    same = owner[1:] == owner[:-1]
    spans = np.sort(np.stack([count[:-1], count[1:]], axis=1)[same], axis=1)
    merged = merge(spans)
    long = np.interp(merged, np.arange(len(line)), reached)
    return np.asarray(merged[long[:, 1] - long[:, 0] > shortest])


def places_on(line: Array, points: Array) -> Array:
    """The places (J,) on a polyline (K, 2) nearest to points (J, 2), counted in its points."""
    pieces = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    piece = shapely.STRtree(pieces).nearest(shapely.points(points))
    start, step = line[piece], line[piece + 1] - line[piece]
    size = np.sum(step * step, axis=1)
    along = np.sum((points - start) * step, axis=1) / np.where(size > 0.0, size, 1.0)
    return np.asarray(piece + np.clip(along, 0.0, 1.0), dtype=np.float64)


def merge(spans: Array) -> Array:
    """Spans (J, 2) in any order as the fewest ascending ones; what touches is joined."""
    out: list[list[float]] = []
    for low, high in sorted(spans.tolist()):
        if out and low <= out[-1][1] + 1e-9:
            out[-1][1] = max(out[-1][1], high)
        else:
            out.append([low, high])
    return np.array(out).reshape(-1, 2)


def common(a: Array, b: Array) -> Array:
    """What two sets of merged spans have in common (J, 2)."""
    out = [
        [max(p, r), min(q, s)]
        for p, q in a.tolist()
        for r, s in b.tolist()
        if max(p, r) < min(q, s)
    ]
    return np.array(out).reshape(-1, 2)


def part_of(line: Array, low: float, high: float) -> Array:
    """The points (J, 2) of a polyline between two places counted in its points."""
    inner = np.arange(np.floor(low) + 1, np.ceil(high))
    places = np.concatenate([[low], inner, [high]])
    count = np.arange(len(line))
    return np.stack([np.interp(places, count, line[:, k]) for k in range(2)], axis=1)
