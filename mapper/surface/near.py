"""What is near a point of a sheet: named lines, free edges and openings, with their distances.

Distances are measured on the flat map. Between a point and a line on a neighbouring chart the tape
crosses the chart edge where the whole way is shortest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString

from mapper.errors import MapperError
from mapper.surface.geometry import Geometry
from mapper.surface.place import param_of_flat, points_of
from mapper.surface.skin import Chart, Glue, Skin
from meshes.facets import FacetPatch
from meshes.mirror import unmirrored
from meshes.plane import PlanePatch
from meshes.stationed import Stationed

Array = NDArray[np.float64]

EDGE_NAMES = {"s0": "lower trailing edge", "s1": "upper trailing edge", "t0": "root", "t1": "tip"}


@dataclass(frozen=True)
class NearLine:
    """A named line or free edge and its distance (mm) from a point. kind: as `MapLine.kind`, or
    "edge" (a free edge of the sheet) or "opening"."""

    kind: str
    name: str
    distance: float


def _box(chart: Chart) -> shapely.Polygon:
    low, high = chart.rim.min(axis=0) - 1.0, chart.rim.max(axis=0) + 1.0
    return shapely.box(*low, *high)


def pieces_on(flat: shapely.Geometry, chart: Chart) -> list[LineString]:
    """The parts of lines that lie on a chart (charts lie apart in x, each line on one of them)."""
    box = _box(chart)
    return [
        part
        for part in shapely.get_parts(flat)
        if isinstance(part, LineString) and box.covers(shapely.Point(part.coords[0]))
    ]


def edge_params(chart: Chart, edge: str, share: Array) -> Array:
    """Parameters (K, 2) at shares 0..1 of a chart edge."""
    s, t = chart.patch.s_lines, chart.patch.t_lines
    run = share * (s[-1] - s[0]) + s[0] if edge[0] == "t" else share * (t[-1] - t[0]) + t[0]
    ends = t if edge[0] == "t" else s
    fixed = np.full_like(share, ends[0] if edge[1] == "0" else ends[-1])
    return np.stack([run, fixed] if edge[0] == "t" else [fixed, run], axis=-1)


class _Target:
    """Lines on one chart, ready to be asked many times how far they are."""

    def __init__(self, lines: list[LineString]) -> None:
        self.there = bool(lines)
        self.true = _tree(lines)
        self.rough = _tree([line.simplify(0.1) for line in lines])


def _tree(lines: list[LineString]) -> shapely.STRtree:
    """The straight pieces of lines."""
    corners = [shapely.get_coordinates(line) for line in lines]
    ends = [np.stack([c[:-1], c[1:]], axis=1) for c in corners]
    return shapely.STRtree(shapely.linestrings(np.concatenate(ends)) if ends else [])


def _far(tree: shapely.STRtree, points: Array) -> Array:
    """Distances (K,) mm from points (K, 2) to the nearest piece; inf where there is none."""
    result = np.full(len(points), np.inf)
    (asked, _), distance = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    result[asked] = distance
    return result


# Everything that has a distance, by geometry and skin: (kind, name, one target for each chart).
_Named = tuple[str, str, tuple[_Target, ...]]
_TARGETS: WeakKeyDictionary[Geometry, dict[str, tuple[_Named, ...]]] = WeakKeyDictionary()


def _targets(geometry: Geometry, skin: Skin) -> tuple[_Named, ...]:
    """The lines, free edges and openings of a skin; made once."""
    known = _TARGETS.setdefault(geometry, {})
    if skin.name not in known:
        shapes = [
            (line.kind, line.name, line.flat)
            for line in geometry.lines
            if line.skin == skin.name and line.kind != "hinge line"
        ]
        shapes += [("edge", name, shape) for name, shape in free_edges(skin).items()]
        shapes += [
            ("opening", opening.name, opening.flat.boundary)
            for opening in geometry.openings
            if opening.skin == skin.name
        ]
        known[skin.name] = tuple(
            (kind, name, tuple(_Target(pieces_on(flat, chart)) for chart in skin.charts))
            for kind, name, flat in shapes
        )
    return known[skin.name]


def _ways_over(
    skin: Skin, number: int, glue: Glue, point: Array, targets: Sequence[_Target]
) -> Array:
    """Shortest ways (L,) from a point over a glued edge to targets on the other chart; inf where
    there is nothing."""
    here, there = (glue.edge_a, glue.edge_b), (glue.chart_a, glue.chart_b)
    if glue.chart_a != number:
        here, there = here[::-1], there[::-1]
    home, away = skin.charts[number], skin.charts[there[1]]
    best = np.full(len(targets), np.inf)
    rows = np.flatnonzero([target.there for target in targets])
    low, high = np.zeros(len(rows)), np.ones(len(rows))
    # A coarse look along the whole edge at simpler lines, then closer ones at the true lines; each
    # look is for all lines together.
    for look in range(6 if len(rows) else 0):
        share = np.linspace(low, high, 65 if look == 0 else 9, axis=1)
        near = home.flat_map.to_flat(edge_params(home, here[0], share.ravel()))
        far = away.flat_map.to_flat(edge_params(away, here[1], share.ravel()))
        trees = [targets[row].true if look else targets[row].rough for row in rows.tolist()]
        places = far.reshape(*share.shape, 2)
        beyond = np.array([_far(tree, place) for tree, place in zip(trees, places)])
        ways = np.linalg.norm(near - point, axis=1).reshape(share.shape) + beyond
        k = np.argmin(ways, axis=1)
        every = np.arange(len(rows))
        if look:
            best[rows] = np.minimum(best[rows], ways[every, k])
        low = share[every, np.maximum(k - 1, 0)]
        high = share[every, np.minimum(k + 1, share.shape[1] - 1)]
    return best


def _distances(skin: Skin, number: int, point: Array, named: tuple[_Named, ...]) -> Array:
    """Distances (L,) from a point on a chart to each of what is named, straight or over an edge."""
    direct = [_far(charts[number].true, point[None])[0] for _, _, charts in named]
    shortest = np.array(direct, dtype=np.float64)
    for glue in skin.glue:
        if number in (glue.chart_a, glue.chart_b) and glue.chart_a != glue.chart_b:
            other = glue.chart_b if glue.chart_a == number else glue.chart_a
            over = _ways_over(skin, number, glue, point, [charts[other] for *_, charts in named])
            shortest = np.minimum(shortest, over)
    return shortest


def free_edges(skin: Skin) -> dict[str, shapely.MultiLineString]:
    """The sheet's free edges (not glued) as flat lines by name, such as "tip"; "edge" where a part
    has no chord."""
    glued = {(g.chart_a, g.edge_a) for g in skin.glue} | {(g.chart_b, g.edge_b) for g in skin.glue}
    found: dict[str, list[LineString]] = {}
    share = np.linspace(0.0, 1.0, 401)
    for number, chart in enumerate(skin.charts):
        patch = unmirrored(chart.patch)
        if isinstance(patch, FacetPatch):
            found.setdefault("edge", []).extend(_open_rim(skin, number))
            continue
        if isinstance(patch, PlanePatch):
            found.setdefault("edge", []).append(LineString([*chart.rim, chart.rim[0]]))
            continue
        whole = isinstance(patch, Stationed) and patch.chorded
        for edge, name in EDGE_NAMES.items():
            if (number, edge) in glued:
                continue
            end = float(patch.s_lines[-1 if edge == "s1" else 0])
            known = whole and (edge[0] == "t" or abs(end) == 1.0)
            points = chart.flat_map.to_flat(edge_params(chart, edge, share))
            found.setdefault(name if known else "edge", []).append(LineString(points))
    return {name: shapely.MultiLineString(lines) for name, lines in found.items() if lines}


def _open_rim(skin: Skin, number: int) -> list[LineString]:
    """The parts of the rim of a chart cut from a mesh that no stitch joins to another."""
    chart = skin.charts[number]
    ring = LineString([*chart.rim, chart.rim[0]])
    joined = [
        LineString(skin.flat[line])
        for s in skin.stitches
        for c, line in ((s.chart_a, s.line_a), (s.chart_b, s.line_b))
        if c == number
    ]
    left = shapely.difference(ring, shapely.union_all(joined)) if joined else ring
    return [p for p in shapely.get_parts(left) if isinstance(p, LineString) and not p.is_empty]


def nearest_lines(geometry: Geometry, skin_name: str, flat: ArrayLike) -> tuple[NearLine, ...]:
    """Every named line, free edge and opening of a skin with its distance from one flat point (2,),
    nearest first. Hinge lines (they need not lie on the skin) are left out.

    MapperError for a point off the skin.
    """
    skin = geometry.skin(skin_name)
    point = points_of(flat)[:1]
    chart, _, _ = param_of_flat(skin, point)
    if len(chart) == 0 or chart[0] < 0:
        raise MapperError(
            f"The point {np.asarray(flat).tolist()} is off the skin {skin_name}.",
            "A flat point on the sheet is needed.",
        )
    named = _targets(geometry, skin)
    far = _distances(skin, int(chart[0]), point[0], named).tolist()
    near = [NearLine(kind, name, away) for (kind, name, _), away in zip(named, far)]
    known = [n for n in near if np.isfinite(n.distance)]
    return tuple(sorted(known, key=lambda n: (n.distance, n.kind, n.name)))
