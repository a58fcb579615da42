"""What is near a place or an outline of a sheet: named lines, free edges and openings.

Distances are true ones along the sheet (`distance`): over glued chart edges, round openings and
round the nose, never over a trailing edge. On charts that lie flat without stretch a straight line
that stays on the sheet is taken from the flat map, which is exact there.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.clip import rims, union
from mapper.surface.distance import Pieces, from_shape, pieces_of
from mapper.surface.edges import glued_edges
from mapper.surface.geometry import Geometry
from mapper.surface.intrinsic import net_of
from mapper.surface.place import param_of_flat, points_of
from mapper.surface.skin import EDGE, Chart, Skin
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


@dataclass(frozen=True, eq=False)
class _Targets:
    """What has a distance on one skin: kinds and names (L,), flat shapes (L,), its openings;
    groups: the same shapes, all of one kind together; by_kind: `grouped`, as far as it was asked
    for."""

    skin: Skin
    names: tuple[tuple[str, str], ...]
    shapes: tuple[BaseGeometry, ...]
    openings: MultiPolygon
    groups: tuple[tuple[str, BaseGeometry], ...]

    # Cut up by the triangles only when asked for: whoever asks by kind needs no names, and a place
    # whose straight ways do needs neither.
    by_kind: dict[tuple[str, ...], Pieces]

    @cached_property
    def pieces(self) -> Pieces:
        """The shapes cut up by the net's triangles."""
        return pieces_of(net_of(self.skin, self.openings), self.shapes)

    def grouped(self, kinds: tuple[str, ...]) -> Pieces:
        """The groups of these kinds cut up by the net's triangles."""
        if kinds not in self.by_kind:
            net, shapes = net_of(self.skin, self.openings), dict(self.groups)
            self.by_kind[kinds] = pieces_of(net, [shapes[kind] for kind in kinds])
        return self.by_kind[kinds]


_TARGETS: WeakKeyDictionary[Geometry, dict[str, _Targets]] = WeakKeyDictionary()


def _targets(geometry: Geometry, skin: Skin) -> _Targets:
    """The lines, free edges and openings of a skin; made once."""
    known = _TARGETS.setdefault(geometry, {})
    if skin.name not in known:
        named: list[tuple[str, str, BaseGeometry]] = [
            (line.kind, line.name, line.flat)
            for line in geometry.lines
            if line.skin == skin.name and line.kind != "hinge line" and not line.flat.is_empty
        ]
        named += [("edge", name, shape) for name, shape in free_edges(skin).items()]
        holes = [o for o in geometry.openings if o.skin == skin.name and not o.flat.is_empty]
        named += [("opening", o.name, o.flat.boundary) for o in holes]
        openings = union(*(o.flat for o in holes))
        groups: dict[str, list[BaseGeometry]] = {}
        for kind, _, shape in named:
            groups.setdefault("edge" if kind == "opening" else kind, []).append(shape)
        together = {kind: shapely.union_all(shapes) for kind, shapes in groups.items()}
        known[skin.name] = _Targets(
            skin,
            tuple((kind, name) for kind, name, _ in named),
            tuple(shape for *_, shape in named),
            openings,
            tuple(together.items()),
            {},
        )
    return known[skin.name]


def _known(
    skin: Skin, targets: _Targets, shape: BaseGeometry, lines: Sequence[BaseGeometry]
) -> Array:
    """Lengths (L,) of straight ways on the flat map that are true ones: 0 where a line is touched,
    and on charts without stretch those that are all on the sheet; inf for others."""
    openings = targets.openings
    found = np.where([bool(shape.intersects(line)) for line in lines], 0.0, np.inf)
    for chart, rim in zip(skin.charts, rims(skin)):
        if not chart.flat_map.isometric:
            continue
        box = _box(chart)
        here = shapely.intersection(shape, box)
        if here.is_empty:
            continue
        for k, line in enumerate(lines):
            there = shapely.intersection(line, box)
            if there.is_empty:
                continue
            way = shapely.shortest_line(here, there)
            clear = openings.is_empty or shapely.intersection(way, openings).length <= EDGE
            if clear and shapely.difference(way, rim).length <= EDGE:
                found[k] = min(found[k], float(way.length))
    return found


def _over_edges(skin: Skin, shape: BaseGeometry) -> float:
    """How far (mm, on the flat map) a shape is at least from any edge glued to another chart, or
    to its own chart; inf where none is."""
    lines = [shapely.linestrings(e.here) for e in glued_edges(skin)]
    lines += [shapely.linestrings(e.there) for e in glued_edges(skin)]
    return min((float(shape.distance(line)) for line in lines), default=np.inf)


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


def nearest_lines(
    geometry: Geometry, skin_name: str, at: ArrayLike | BaseGeometry
) -> tuple[NearLine, ...]:
    """Every named line, free edge and opening of a skin with its distance along the sheet from one
    flat point (2,) or from a shape (points, lines or a region), nearest first; 0 where they touch.

    Hinge lines (they need not lie on the skin) are left out, and what no way on the sheet leads to.
    MapperError for a point off the skin or in an opening, and for a shape all of which is.
    """
    skin = geometry.skin(skin_name)
    shape = at if isinstance(at, BaseGeometry) else shapely.Point(points_of(at)[0])
    chart, _, _ = param_of_flat(skin, shapely.get_coordinates(shape))
    if not np.any(chart >= 0):
        raise MapperError(
            f"The place {shapely.get_coordinates(shape)[:1].tolist()} is off the skin {skin_name}.",
            "A flat point on the sheet is needed.",
        )
    targets = _targets(geometry, skin)
    known = _known(skin, targets, shape, targets.shapes)
    far = from_shape(skin, shape, targets.pieces, targets.openings, known).tolist()
    near = [NearLine(kind, name, away) for (kind, name), away in zip(targets.names, far)]
    reached = [n for n in near if np.isfinite(n.distance)]
    return tuple(sorted(reached, key=lambda n: (n.distance, n.kind, n.name)))


def nearest_kinds(
    geometry: Geometry, skin_name: str, shape: BaseGeometry, kinds: Collection[str] | None = None
) -> dict[str, float]:
    """The distance (mm) along the sheet from a point, line or region to the nearest line of each
    kind ("rib", "spar", "rivet row", "seam", ...) and to the nearest edge or opening ("edge").

    shape: in the skin's flat plane; 0 where it touches or holds one. kinds: those that are wanted
    (None: all); a search ends where the farthest of them is. Kinds that the skin has none of, or
    that no way leads to, are left out. MapperError for a shape nowhere on the sheet.
    """
    skin = geometry.skin(skin_name)
    targets = _targets(geometry, skin)
    groups = [(k, line) for k, line in targets.groups if kinds is None or k in kinds]
    known = _known(skin, targets, shape, [line for _, line in groups])
    # A way over a chart edge is at least as long as that edge is far: nothing to look for there.
    flat = all(chart.flat_map.isometric for chart in skin.charts)
    done = np.isfinite(known) & (known <= _over_edges(skin, shape))
    if not (flat and done.all()):
        cut = targets.grouped(tuple(k for k, _ in groups))
        known = from_shape(skin, shape, cut, targets.openings, known)
    found = zip(groups, known.tolist())
    return {kind: away for (kind, _), away in found if np.isfinite(away)}
