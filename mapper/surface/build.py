"""From a shape's sheet to a skin: mesh, exact areas, flat map, glue."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.surface.curved import cell_areas as curved_areas
from mapper.surface.curved import grids, lay_curved
from mapper.surface.flatmap import ConeMap, MirroredMap, PlaneMap, cone_map
from mapper.surface.meshmap import MeshMap, boundary, grid_triangles
from mapper.surface.planar import triangulate
from mapper.surface.skin import Chart, Glue, Skin
from mapper.surface.unroll import Folds, lay_flat
from meshes.curves import Segment
from meshes.mirror import FLIP, MirroredPatch
from meshes.plane import PlanePatch
from meshes.ruled import RuledPatch
from meshes.sampling import parameters, polygon_points
from meshes.shape import Sheet

Array = NDArray[np.float64]

MOST_TRIANGLES = 20_000
LEAST_TRIANGLES = 200
# Cells are no smaller than this (mm), but a curved sheet has this many rows at least.
SMALLEST = 5.0
LEAST_ROWS = 24.0
# Shares of the triangles allowed that are tried, one after the other.
AGAIN = (1.0, 0.95, 0.89, 0.82)
# Share of the first chart's length left free between charts on the flat map.
GAP = 0.02

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)
_X, _W = 0.5 * (1.0 + _NODES), 0.5 * _WEIGHTS


@dataclass(frozen=True, eq=False)
class _Piece:
    """One chart before it is numbered into the skin."""

    chart: Chart
    points: Array
    flat: Array
    param: Array
    triangles: NDArray[np.int32]
    area: Array


def make_skin(sheet: Sheet, *, mirrored: bool = False, triangles: int = MOST_TRIANGLES) -> Skin:
    """The skin of a sheet, with at most `triangles` triangles (200 or more).

    Areas per triangle are integrals over the exact surface; mesh lines follow the sheet's own
    lines. Charts lie apart, each outboard of the one before; doubly curved ones one above the
    other. mirrored: the left-hand part
    (`mirror`). MapperError where a sheet cannot be laid flat or `triangles` is too small.
    """
    if triangles < LEAST_TRIANGLES:
        raise MapperError(
            f"{triangles} triangles for {sheet.name} were asked for.",
            f"{LEAST_TRIANGLES} or more are allowed.",
        )
    skin = _assemble(sheet, _pieces(sheet, triangles))
    return mirror(skin) if mirrored else skin


def _pieces(sheet: Sheet, triangles: int) -> list[_Piece]:
    first = sheet.patches[0]
    if isinstance(first, PlanePatch):
        return [_plane_piece(sheet, first, triangles)]
    make = _ruled_pieces if isinstance(first, RuledPatch) else _curved_pieces
    for share in AGAIN:
        # One triangle as thin as a hair between two kinks may turn over on one grid and lie well on
        # the next.
        try:
            return make(sheet, max(LEAST_TRIANGLES, int(share * triangles)))
        except Folds:
            continue
    return make(sheet, triangles)


def mirror(skin: Skin) -> Skin:
    """The skin of the other hand: y negated in space and flat, triangles reversed.

    Nothing is laid flat again; stations, % chord and areas stay. Mirroring twice gives the same
    arrays and evaluators back.
    """
    flip = np.array([1.0, -1.0])
    charts = tuple(
        replace(
            chart,
            patch=chart.patch.of
            if isinstance(chart.patch, MirroredPatch)
            else MirroredPatch(chart.patch),
            flat_map=chart.flat_map.of
            if isinstance(chart.flat_map, MirroredMap)
            else MirroredMap(chart.flat_map),
            rim=(chart.rim * flip)[::-1],
        )
        for chart in skin.charts
    )
    return replace(
        skin,
        points=skin.points * FLIP,
        flat=skin.flat * flip,
        triangles=skin.triangles[:, ::-1],
        charts=charts,
        mirrored=not skin.mirrored,
    )


def _assemble(sheet: Sheet, pieces: list[_Piece]) -> Skin:
    charts, triangles, chart_of = [], [], []
    vertices = faces = 0
    for number, piece in enumerate(pieces):
        count = len(piece.triangles)
        charts.append(replace(piece.chart, first=faces, last=faces + count))
        triangles.append(piece.triangles + vertices)
        chart_of.append(np.full(count, number, dtype=np.int16))
        vertices += len(piece.points)
        faces += count

    def places(name: str) -> Array:
        return np.concatenate(
            [getattr(p.chart.patch, name)(p.param[:, 0], p.param[:, 1]) for p in pieces]
        )

    return Skin(
        name=sheet.name,
        face_names=sheet.face_names,
        points=np.concatenate([p.points for p in pieces]),
        flat=np.concatenate([p.flat for p in pieces]),
        param=np.concatenate([p.param for p in pieces]),
        triangles=np.concatenate(triangles).astype(np.int32),
        chart_of=np.concatenate(chart_of),
        patch_area=np.concatenate([p.area for p in pieces]),
        station=places("station"),
        chord=places("chord"),
        charts=tuple(charts),
        glue=tuple(Glue(j.patch_a, j.edge_a, j.patch_b, j.edge_b) for j in sheet.joins),
    )


def _plane_piece(sheet: Sheet, patch: PlanePatch, triangles: int) -> _Piece:
    if sheet.outline is None or len(sheet.patches) != 1:
        raise MapperError(
            f"The flat sheet {sheet.name} has no outline of its own.",
            "One plane patch with an outline is allowed.",
        )
    flat, faces, area = triangulate(sheet.outline, triangles)
    s0, s1, t0, t1 = patch.bounds
    flat_map = PlaneMap(np.array([s0, t0]), np.array([s1, t1]))
    chart = Chart(sheet.name, patch, flat_map, sheet.outline, 0, 0)
    return _Piece(chart, patch.at(flat[:, 0], flat[:, 1]), flat, flat, faces, area)


def _ruled_pieces(sheet: Sheet, triangles: int) -> list[_Piece]:
    patches: list[RuledPatch] = []
    for patch in sheet.patches:
        if not isinstance(patch, RuledPatch):
            raise MapperError(
                f"The sheet {sheet.name} mixes kinds of patches.",
                "A sheet is one plane or ruled patches only.",
            )
        patches.append(patch)
    s, steps = _grid(sheet.name, patches, triangles)
    pieces: list[_Piece] = []
    edge = 0.0
    gap = GAP * sum(p.length for p in patches)
    for number, (patch, count) in enumerate(zip(patches, steps, strict=True)):
        t = np.linspace(0.0, 1.0, count + 1)
        name = sheet.name if len(patches) == 1 else f"{sheet.name} {number + 1}"
        flat_map, rim = _develop(patch, s, t)
        if number:
            shift = np.array([edge + gap - float(rim[:, 0].min()), 0.0])
            rim = rim + shift
            flat_map = flat_map.moved(shift)
        edge = float(rim[:, 0].max())
        param = np.stack(np.meshgrid(s, t, indexing="ij"), axis=-1).reshape(-1, 2)
        pieces.append(
            _Piece(
                Chart(name, patch, flat_map, rim, 0, 0),
                patch.at(param[:, 0], param[:, 1]),
                flat_map.to_flat(param),
                param,
                grid_triangles(len(s), len(t)),
                cell_areas(patch, s, t).reshape(-1),
            )
        )
    return pieces


def _curved_pieces(sheet: Sheet, triangles: int) -> list[_Piece]:
    """Doubly curved charts, stacked in y so that flat x runs along the part on all of them."""
    pieces: list[_Piece] = []
    edge = 0.0
    patches = list(sheet.patches)
    for number, (patch, (s, t)) in enumerate(
        zip(patches, grids(sheet.name, patches, triangles), strict=True)
    ):
        flat_map = lay_curved(patch, s, t)
        rim = boundary(flat_map.corners)
        if number:
            gap = GAP * float(np.ptp(rim[:, 0]))
            shift = np.array([0.0, edge + gap - float(rim[:, 1].min())])
            rim, flat_map = rim + shift, flat_map.moved(shift)
        edge = float(rim[:, 1].max())
        name = sheet.name if len(patches) == 1 else f"{sheet.name} {number + 1}"
        param = np.stack(np.meshgrid(s, t, indexing="ij"), axis=-1).reshape(-1, 2)
        pieces.append(
            _Piece(
                Chart(name, patch, flat_map, rim, 0, 0),
                patch.at(param[:, 0], param[:, 1]),
                flat_map.to_flat(param),
                param,
                grid_triangles(len(s), len(t)),
                curved_areas(patch, s, t).reshape(-1),
            )
        )
    return pieces


def _develop(patch: RuledPatch, s: Array, t: Array) -> tuple[ConeMap | MeshMap, Array]:
    """The flat map of a ruled patch and its rim, the leading edge's inboard end at the origin."""
    if patch.kind == "cone":
        flat_map = cone_map(patch)
        inboard, outboard = (_edge(flat_map, end, patch.s_lines) for end in (0.0, 1.0))
        return flat_map, np.concatenate([outboard, inboard[::-1]])
    grid = lay_flat(patch, s, t, int(np.argmin(np.abs(s))))
    return MeshMap(s, t, grid), boundary(grid)


def _edge(flat_map: ConeMap, t: float, lines: Array) -> Array:
    """The chart's end at t as a polygon line of the exact area, in growing s."""

    def curve(s: Array) -> Array:
        return flat_map.to_flat(np.stack([s, np.full_like(s, t)], axis=-1))

    return polygon_points(curve, parameters(curve, lines))


def _grid(name: str, patches: list[RuledPatch], triangles: int) -> tuple[Array, list[int]]:
    """The s lines all patches share, and how many steps of t each has.

    A patch is straight along t, so its cells are about twice as long that way. Half of the s lines'
    spacing follows length and half follows s, which packs them at the nose.
    """
    lines = np.unique(np.concatenate([p.s_lines for p in patches]))
    lines = lines[np.concatenate([[True], np.diff(lines) > 1e-9])]
    fine = np.unique(np.concatenate([lines, np.linspace(lines[0], lines[-1], 2001)]))
    slopes = np.max([np.linalg.norm(p.curve0.d(fine), axis=-1) for p in patches], axis=0)
    run = np.concatenate([[0.0], np.cumsum(0.5 * (slopes[1:] + slopes[:-1]) * np.diff(fine))])
    around = float(run[-1])
    blend = 0.5 * run / around + 0.5 * (fine - fine[0]) / (fine[-1] - fine[0])
    reaches = [float(np.linalg.norm(p.curve1.at(0.0) - p.curve0.at(0.0))) for p in patches]
    cells = triangles // 2
    size = max(SMALLEST, float(np.sqrt(around * sum(reaches) / (2.0 * cells))))
    straight = all(isinstance(p.curve0, Segment) for p in patches)
    least = 1.0 if straight else LEAST_ROWS
    for _ in range(400):
        steps = [max(1, int(reach / (2.0 * size))) for reach in reaches]
        rows = _rows(fine, blend, lines, max(around / size, least))
        if (len(rows) - 1) * sum(steps) <= cells:
            return rows, steps
        size *= 1.02
    raise MapperError(
        f"{triangles} triangles are too few for {name}: it has {len(lines) - 1} by "
        f"{len(patches)} pieces of its own.",
        "Every piece needs a cell.",
        "Allow more triangles or give fewer sections or section points.",
    )


def _rows(fine: Array, blend: Array, lines: Array, wanted: float) -> Array:
    marks = np.interp(lines, fine, blend)
    rows = []
    for a, b in pairwise(marks):
        count = max(1, int(np.ceil((b - a) * wanted - 1e-9)))
        rows.append(np.interp(np.linspace(a, b, count, endpoint=False), blend, fine))
    result = np.append(np.concatenate(rows), lines[-1])
    # The mesh lines themselves to the last bit, not as interpolated.
    result[np.searchsorted(result, lines - 1e-12)] = lines
    return result


def cell_areas(patch: RuledPatch, s: Array, t: Array) -> Array:
    """(S - 1, T - 1, 2) exact areas mm2 of the two triangles of each cell of the parameter grid.

    Gauss integration, 6 by 6 points a triangle, of |dP/ds x dP/dt|; the curves are evaluated once a
    row, since the patch is straight along t.
    """
    at = s[:-1, None] + np.diff(s)[:, None] * _X
    p0, p1 = patch.curve0.at(at), patch.curve1.at(at)
    d0, d1 = patch.curve0.d(at), patch.curve1.d(at)
    # |(1-t) d0 x e + t d1 x e|^2 is a square polynomial of t.
    e = p1 - p0
    n0, n1 = np.cross(d0, e), np.cross(d1, e)
    c0 = np.sum(n0 * n0, axis=-1)
    c1 = 2.0 * np.sum(n0 * (n1 - n0), axis=-1)
    c2 = np.sum((n1 - n0) ** 2, axis=-1)
    result = np.zeros((len(s) - 1, len(t) - 1, 2))
    width, height = np.diff(s), np.diff(t)
    for k in range(2):
        for i, (x, w) in enumerate(zip(_X, _W, strict=True)):
            for y, v in zip(_X, _W, strict=True):
                # First triangle: b from a to 1, second: b from 0 to a, in cell units.
                b, share = (x + (1.0 - x) * y, 1.0 - x) if k == 0 else (x * y, x)
                tt = t[:-1] + height * b
                size = np.sqrt(c0[:, i, None] + tt * (c1[:, i, None] + tt * c2[:, i, None]))
                result[:, :, k] += w * v * share * size
    return result * width[:, None, None] * height[None, :, None]
