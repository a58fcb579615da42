"""Openings as lines of a skin's mesh, with clean triangles about them.

The triangles about each opening are taken out, as far as one of them reaches beyond it, and the
room is filled anew (`refine`): with the opening's outline, thinned out, and the corners that are
far enough from it. New corners lie on the exact surface through the chart's flat map, which stays
as it is; a map of a grid keeps the areas of the triangles it is made of (`ground`). What fills an
opening stays part of the skin, which is measured without its openings, but no triangle lies on
both sides of an outline, by more than a few hundredths of a mm.

An opening that reaches to the edge of its chart has no lines; it is cut out where that is wanted
(`opened`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.surface.build import mirror
from mapper.surface.flatmap import ConeMap, PlaneMap
from mapper.surface.meshmap import MeshMap
from mapper.surface.opened import ROUGH, filling, in_box
from mapper.surface.refine import Lines, refined
from mapper.surface.skin import Chart, Skin

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

BEYOND = 1.25  # sides of triangles round an opening that are filled anew with it
TRIES = 3  # ever wider rooms
LARGEST = 1.25  # of the distance between rows of a grid: as large triangles' circles may be
CLEAR = 0.6  # of a corner's shortest side: nearer to an outline it goes
SAME = 1e-3  # of a room's area: what fills it anew has the same, but for the sheet's curved edges
SMALLEST = 0.2  # mm: nearer to the edge of its chart an opening is cut by it

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)
_X, _W = 0.5 * (1.0 + _NODES), 0.5 * _WEIGHTS


@dataclass(frozen=True, eq=False)
class _Mesh:
    """One chart: corners with flat (N, 2), param (N, 2); triangles (M, 3); area (M,). pairs: how
    many of the triangles, the first, are halves of cells, one after the other. rows: the s (S,) of
    the grid it began as."""

    flat: Array
    param: Array
    triangles: Ints
    area: Array
    pairs: int
    rows: Array


def with_lines(skin: Skin, openings: BaseGeometry, most: int) -> Skin:
    """The skin with its openings' outlines as mesh lines, where they lie inside one chart.

    openings: polygons of the flat plane, mm; most: triangles the skin may have (openings are left
    without lines, the smallest first, where they would take more). The flat map, the exact surface
    and the sum of the areas stay the same; a mirrored skin gets the mirror image.
    """
    parts = [p for p in shapely.get_parts(openings) if isinstance(p, Polygon) and not p.is_empty]
    if not parts:
        return skin
    if skin.mirrored:
        flipped = MultiPolygon([_flipped(part) for part in parts])
        return mirror(with_lines(mirror(skin), flipped, most))
    spare = most - len(skin.triangles)
    meshes, charts = [], []
    for chart in skin.charts:
        own, local = np.unique(skin.triangles[chart.first : chart.last], return_inverse=True)
        rows = slice(chart.first, chart.last)
        plane = isinstance(chart.flat_map, PlaneMap)
        mesh = _Mesh(
            skin.flat[own],
            skin.param[own],
            local.reshape(-1, 3).astype(np.int64),
            skin.patch_area[rows],
            0 if plane else len(local.reshape(-1, 3)),
            np.unique(skin.param[own, 0]),
        )
        lined = _lined(chart, mesh, parts, spare)
        spare -= len(lined.triangles) - len(mesh.triangles)
        flat_map = chart.flat_map
        if isinstance(flat_map, MeshMap) and flat_map.areas is None and lined is not mesh:
            areas = mesh.area.reshape(len(flat_map.s) - 1, len(flat_map.t) - 1, 2)
            flat_map = replace(flat_map, areas=areas)
        charts.append(replace(chart, flat_map=flat_map))
        meshes.append(lined)
    return _assembled(skin, charts, meshes)


def _assembled(skin: Skin, charts: list[Chart], meshes: list[_Mesh]) -> Skin:
    """The skin of its charts' meshes; corners that no triangle has any more are left out."""
    flat, param, points, triangles, placed = [], [], [], [], []
    corners = faces = 0
    for chart, mesh in zip(charts, meshes):
        used, local = np.unique(mesh.triangles, return_inverse=True)
        flat.append(mesh.flat[used])
        param.append(mesh.param[used])
        points.append(chart.patch.at(mesh.param[used, 0], mesh.param[used, 1]))
        triangles.append(local.reshape(-1, 3) + corners)
        placed.append(replace(chart, first=faces, last=faces + len(mesh.triangles)))
        corners, faces = corners + len(used), faces + len(mesh.triangles)

    def places(what: str) -> Array:
        return np.concatenate(
            [getattr(c.patch, what)(p[:, 0], p[:, 1]) for c, p in zip(charts, param)]
        )

    return replace(
        skin,
        points=np.concatenate(points),
        flat=np.concatenate(flat),
        param=np.concatenate(param),
        triangles=np.concatenate(triangles),
        chart_of=np.repeat(np.arange(len(charts)), [len(m.triangles) for m in meshes]),
        patch_area=np.concatenate([m.area for m in meshes]),
        station=places("station"),
        chord=places("chord"),
        charts=tuple(placed),
    )


def _flipped(part: Polygon) -> Polygon:
    return shapely.transform(part, lambda xy: xy * np.array([1.0, -1.0]))


def _lined(chart: Chart, mesh: _Mesh, parts: list[Polygon], spare: int) -> _Mesh:
    """One chart with the openings that lie inside it, the largest first."""
    if not isinstance(chart.flat_map, PlaneMap | ConeMap | MeshMap):
        return mesh
    inside = chart.outline.buffer(-SMALLEST)
    shapely.prepare(inside)
    here = [part for part in parts if inside.contains(part)]
    for group in sorted(_groups(mesh, here), key=lambda g: -sum(p.area for p in g)):
        for rough in ROUGH:
            found = _room_filled(chart, mesh, [_thinned(p, rough) for p in group])
            if found is not None and len(found.triangles) - len(mesh.triangles) <= spare:
                spare -= len(found.triangles) - len(mesh.triangles)
                mesh = found
                break
    return mesh


def _thinned(part: Polygon, rough: float) -> Polygon:
    """The opening with as few of its own corners as keep within `rough` mm of it."""
    thin = part.simplify(rough)
    return thin if isinstance(thin, Polygon) and thin.is_valid and not thin.is_empty else part


def _reach(mesh: _Mesh, part: BaseGeometry) -> float:
    """mm beyond a shape that its new triangles need: a side or so of those that are there."""
    corner = mesh.flat[mesh.triangles]
    near = in_box(corner, part)
    near = near[shapely.intersects(shapely.polygons(corner[near]), part)]
    sides = np.linalg.norm(np.roll(corner[near], 1, axis=1) - corner[near], axis=2)
    return BEYOND * float(np.median(sides.max(axis=1)))


def _groups(mesh: _Mesh, parts: list[Polygon]) -> list[list[Polygon]]:
    """Openings so near to each other that their rooms would meet, together."""
    if not parts:
        return []
    wide = [part.buffer(2.0 * _reach(mesh, part)) for part in parts]
    merged = shapely.get_parts(shapely.union_all(wide))
    home = shapely.STRtree(merged).query(
        [part.representative_point() for part in parts], predicate="within"
    )
    groups: dict[int, list[Polygon]] = {}
    for part, room in home.T.tolist():
        groups.setdefault(room, []).append(parts[part])
    return list(groups.values())


def _room_filled(chart: Chart, mesh: _Mesh, group: list[Polygon]) -> _Mesh | None:
    """The mesh with the room about a group filled anew; None where it cannot be."""
    holes = shapely.union_all(group)
    reach = _reach(mesh, holes)
    corner = mesh.flat[mesh.triangles]
    shapely.prepare(holes)
    for attempt in range(1, TRIES + 1):
        near = in_box(corner, holes, attempt * reach)
        room = np.zeros(len(corner), np.bool_)
        room[near] = shapely.dwithin(holes, shapely.polygons(corner[near]), attempt * reach)
        cells = room[: mesh.pairs].reshape(-1, 2)
        cells |= cells.any(axis=1, keepdims=True)
        found = _filled(chart, mesh, room, holes)
        if found is not None:
            return found
    return None


def _clear(mesh: _Mesh, corners: Ints, old: Ints, rings: list[Array]) -> Ints:
    """Those of some corners that stand far enough from the outlines not to crowd their sides."""
    pieces = np.concatenate([np.stack([r, np.roll(r, -1, axis=0)], axis=1) for r in rings])
    lines = shapely.linestrings(pieces)
    spots = shapely.points(mesh.flat[corners])
    near = shapely.STRtree(lines).nearest(spots)
    shortest = np.full(len(mesh.flat), np.inf)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        side = np.linalg.norm(mesh.flat[old[:, a]] - mesh.flat[old[:, b]], axis=1)
        np.minimum.at(shortest, old[:, a], side)
        np.minimum.at(shortest, old[:, b], side)
    least = np.minimum(shapely.length(lines[near]), CLEAR * shortest[corners])
    return np.asarray(corners[shapely.distance(lines[near], spots) >= least])


def _filled(chart: Chart, mesh: _Mesh, room: Flags, holes: BaseGeometry) -> _Mesh | None:
    count = len(mesh.flat)
    old = mesh.triangles[room]
    sides = np.concatenate([old[:, [0, 1]], old[:, [1, 2]], old[:, [2, 0]]])
    key = sides.min(axis=1) * count + sides.max(axis=1)
    _, first, many = np.unique(key, return_index=True, return_counts=True)
    rim = sides[first[many == 1]]
    region = shapely.coverage_union_all(shapely.polygons(mesh.flat[old]))
    rings = [r for p in shapely.get_parts(holes) for r in (p.exterior, *p.interiors)]
    ring_points = [shapely.get_coordinates(ring)[:-1] for ring in rings]
    bound = np.unique(rim)
    kept = np.concatenate([bound, _clear(mesh, np.setdiff1d(old, bound), old, ring_points)])
    number = np.full(count, -1, dtype=np.int64)
    number[kept] = np.arange(len(kept))
    ends, start = [number[rim]], len(kept)
    for ring in ring_points:
        row = start + np.arange(len(ring))
        ends.append(np.stack([row, np.roll(row, -1)], axis=1))
        start += len(ring)
    lines = Lines(np.concatenate(ends), np.arange(sum(map(len, ends))) < len(rim))
    corners = np.concatenate([mesh.flat[kept], *ring_points])
    fresh = refined(corners, lines, region, holes, _sizes(chart, mesh))
    added = fresh.points[len(kept) :]
    param = chart.flat_map.to_param(added)
    if not fresh.whole or not np.isfinite(param).all():
        return None
    place = np.concatenate([kept, count + np.arange(len(added))])
    triangles = place[fresh.triangles]
    flat, params = np.concatenate([mesh.flat, added]), np.concatenate([mesh.param, param])
    area = _areas(chart, params[triangles])
    whole = float(mesh.area[room].sum())
    if not (area > 0.0).all() or abs(float(area.sum()) - whole) > SAME * whole:
        return None
    pairs = mesh.pairs - int(np.count_nonzero(room[: mesh.pairs]))
    return _Mesh(
        flat,
        params,
        np.concatenate([mesh.triangles[~room], triangles]),
        np.concatenate([mesh.area[~room], area * (whole / area.sum())]),
        pairs,
        mesh.rows,
    )


def _sizes(chart: Chart, mesh: _Mesh) -> Callable[[Array], Array] | None:
    """How large triangles may be at flat places: not much more than the rows of a grid lie apart,
    which stand closer where the sheet is bent more. None for a flat sheet."""
    if isinstance(chart.flat_map, PlaneMap):
        return None
    rows = mesh.rows

    def size(flat: Array) -> Array:
        s, t = chart.flat_map.to_param(flat).T
        k = np.clip(np.searchsorted(rows, s, side="right") - 1, 0, len(rows) - 2)
        known = np.isfinite(s)
        by_s, _ = chart.patch.partials(np.where(known, s, rows[0]), np.where(known, t, 0.0))
        return np.where(known, LARGEST * np.linalg.norm(by_s, axis=-1) * np.diff(rows)[k], np.inf)

    return size


def _areas(chart: Chart, corners: Array) -> Array:
    """(M,) exact areas mm2 of triangles (M, 3, 2) of a chart's parameters, by 6 by 6 Gauss points;
    nothing or less for those that are turned over against the flat map."""
    a, u, v = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    if isinstance(chart.flat_map, PlaneMap):
        return np.asarray(0.5 * double)
    total = np.zeros(len(corners))
    for x, w in zip(_X, _W):
        for y, q in zip(_X, _W):
            at = a + x * u + (1.0 - x) * y * v
            by_s, by_t = chart.patch.partials(at[:, 0], at[:, 1])
            total += w * q * (1.0 - x) * np.linalg.norm(np.cross(by_s, by_t), axis=-1)
    # s runs up the flat map and t along it.
    return np.asarray(-double * total)


def open_triangles(skin: Skin, openings: BaseGeometry) -> Flags:
    """(M,) which of a skin's triangles fill an opening whose outline is a line of its mesh.

    openings: polygons of the flat plane, mm; None of those that the mesh has no lines of.
    """
    found = np.zeros(len(skin.triangles), np.bool_)
    flat = skin.flat[skin.triangles]
    for part in shapely.get_parts(openings):
        if isinstance(part, Polygon):
            inside = filling(flat, part)
            if inside is not None:
                found[inside] = True
    return found
