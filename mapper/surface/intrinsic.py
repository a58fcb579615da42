"""The sheet as its own inhabitants know it: triangles known by the lengths of their sides alone.

A net joins the triangles of a skin over its glued chart edges and nowhere else, so a way along it
goes round the nose where the sheet does, never through the sheet and never over a thin trailing
edge that is cut. Every triangle has a frame of its own (mm); crossing a side turns one into the
next. On a chart that lies flat without stretch the lengths are those of the flat map, exact. On
other charts a side is as long as the arc that leaves the surface's tangent planes at both ends at
the angles of its chord: exact on circles, right to the fourth order elsewhere (a cubic's length,
int y'2 / 2 with end slopes p, q = (2 p2 - p q + 2 q2) / 30; worked out here). `chords` takes the
straight chords instead: the polyhedron itself, as other programs know it.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.flatmap import mesh_map_of
from mapper.surface.ground import ground_of
from mapper.surface.opened import cut_out
from mapper.surface.skin import EDGE, Chart, Skin

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

NEAR = 1e-9  # of a chart's parameter range: as near as that a vertex lies on the chart's edge
INWARD = 1e-4  # share of a side at which the surface is asked for its normal, off kinks at the end
PIECES = 8  # of a side about an opening, each measured in the triangle that holds its middle
MOST_BULGE = 1.0  # mm: more is no bulge between corners but a rim without triangles
# How a line over a net ends (trace.py): its length used up, at a closed edge, or after too many
# triangles.
USED_UP, MET_AN_EDGE, LOST = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Net:
    """Triangles with frames of their own, and how they join.

    vertex (M, 3): corner numbers, the same for corners that are one point of the part; lay
    (M, 3, 2): the corners in the triangle's frame, counter-clockwise; flat (M, 3, 2): on the flat
    map; to_flat (M, 2, 2): turns a step in the frame into one on the flat map; chart (M,).
    opp and back (M, 3): the triangle across the side opposite a corner, -1 at a closed edge, and
    that side's number there; seam (M, 3): number of the glued chart edge (after those, of the
    stitch) that a side lies on, 2 g or 2 g + 1 as seen from either chart, else -1.
    turning (N,): by how much the angles about a vertex exceed 2 pi, or pi on a closed edge (rad),
    -inf for a number not in use; at_edge (N,): whether it is on a closed edge; corner (N,): 3 m + k
    of a triangle m whose corner k is the vertex (at an edge the one farthest clockwise).
    start, cells, low, size: a grid over the flat map, see `trace.locate`. bulge (C,): how far (mm,
    at most 1) a chart's exact rim lies off the outermost sides of its triangles.
    """

    vertex: Ints
    lay: Array
    flat: Array
    to_flat: Array
    chart: Ints
    opp: Ints
    back: Ints
    seam: Ints
    turning: Array
    at_edge: NDArray[np.bool_]
    corner: Ints
    start: Ints
    cells: Ints
    low: Array
    size: Array
    bulge: Array


_NETS: WeakKeyDictionary[Skin, dict[tuple[bool, bytes], Net]] = WeakKeyDictionary()


def net_of(skin: Skin, openings: BaseGeometry | None = None, *, chords: bool = False) -> Net:
    """The net of a skin, made once; openings: a region of its flat plane where there is no sheet.

    chords: sides as long as in space, straight through. Raises MapperError for a skin whose glue
    joins more than two triangles at one side or turns the sheet over.
    """
    known = _NETS.setdefault(skin, {})
    bare = openings is None or openings.is_empty
    key = (chords, b"" if bare or openings is None else openings.wkb)
    if key not in known:
        flat = skin.flat[skin.triangles]
        lay = _laid(_sides(skin, chords))
        vertex = _joined(skin)
        chart = skin.chart_of.astype(np.int32)
        edges = _glued_sides(skin)
        if key[1] and openings is not None:
            cut = cut_out(flat, lay, vertex, chart, edges, openings)
            flat, lay, vertex, chart, edges = cut
        known[key] = _net(skin, vertex, lay, flat, chart, edges)
    return known[key]


def _net(skin: Skin, vertex: Ints, lay: Array, flat: Array, chart: Ints, seam: Ints) -> Net:
    """Join triangles by their sides; those that have collapsed to a line are left out."""
    a, b, c = vertex.T
    whole = (a != b) & (b != c) & (c != a) & ~_on_rim(vertex, flat)
    vertex, lay, flat, chart, seam = (x[whole] for x in (vertex, lay, flat, chart, seam))
    opp, back = _neighbours(skin.name, vertex)
    seam = np.where(opp >= 0, seam, -1)
    e1, e2 = lay[:, 1] - lay[:, 0], lay[:, 2] - lay[:, 0]
    f1, f2 = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    double = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    inverse = np.stack([e2[:, 1], -e2[:, 0], -e1[:, 1], e1[:, 0]], -1).reshape(-1, 2, 2)
    # A sliver without height turns nothing; lines leave it where they came in.
    part = np.where(double > 0.0, 1.0 / np.where(double > 0.0, double, 1.0), 0.0)
    to_flat = np.stack([f1, f2], axis=-1) @ (inverse * part[:, None, None])
    turning, at_edge, corner = _turning(vertex, lay, opp)
    start, cells, low, size = _grid(flat)
    return Net(
        np.ascontiguousarray(vertex, dtype=np.int32), np.ascontiguousarray(lay),
        np.ascontiguousarray(flat), np.ascontiguousarray(to_flat), chart.astype(np.int32),
        opp, back, seam.astype(np.int32), turning, at_edge, corner, start, cells, low, size,
        _bulge(skin, flat, chart, (opp < 0) | (seam >= 0)),
    )  # fmt: skip


def _on_rim(vertex: Ints, flat: Array) -> NDArray[np.bool_]:
    """(M,) True for triangles without height that lie on a straight rim, over the sides of others:
    the corners there are on one line to rounding, and a mesher may span three of them."""
    count = int(vertex.max(initial=0)) + 1
    ends = vertex[:, [[1, 2], [2, 0], [0, 1]]].astype(np.int64)
    _, which, times = np.unique(
        (ends[..., 0] * count + ends[..., 1]).ravel(), return_inverse=True, return_counts=True
    )
    over = (times[np.ravel(which)] > 1).reshape(-1, 3).any(axis=1)
    e1, e2 = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    double = np.abs(e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0])
    longest = np.maximum((e1**2).sum(axis=1), (e2**2).sum(axis=1))
    found: NDArray[np.bool_] = over & (double < 1e-9 * longest)
    return found


def _sides(skin: Skin, chords: bool) -> Array:
    """(M, 3) lengths of the sides opposite each corner, mm."""
    out = np.empty((len(skin.triangles), 3))
    for number, chart in enumerate(skin.charts):
        faces = skin.triangles[chart.first : chart.last]
        ends = faces[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2)
        if chart.flat_map.isometric and not chords:
            long = np.linalg.norm(skin.flat[ends[:, 1]] - skin.flat[ends[:, 0]], axis=1)
        else:
            pairs, which = np.unique(np.sort(ends, axis=1), axis=0, return_inverse=True)
            long = np.linalg.norm(skin.points[pairs[:, 1]] - skin.points[pairs[:, 0]], axis=1)
            if not chords:
                long = long * _arc(skin, chart, pairs, long)
                long = _by_the_map(skin, number, pairs, long)
            long = long[np.ravel(which)]
        out[chart.first : chart.last] = long.reshape(-1, 3)
    return out


def _by_the_map(skin: Skin, number: int, pairs: NDArray[np.int32], long: Array) -> Array:
    """Lengths (K,), those of sides about openings measured over the triangles of a stretched map.

    Between the corners of its grid a map is straight in parameters, which the surface is not where
    it is bent most: in lengths of its own a side there would be off by what the map is, and the
    next one by as much the other way.
    """
    mesh = mesh_map_of(skin.charts[number].flat_map)
    if mesh is None or mesh.areas is None:
        return long
    grid = np.isin(skin.param[:, 0], mesh.s) & np.isin(skin.param[:, 1], mesh.t)
    fresh = ~grid[pairs].all(axis=1)
    ground = ground_of(skin)
    rows = slice(ground.charts[number].first, ground.charts[number].last)
    lay, flat = _laid(_sides(ground, False)[rows]), ground.flat[ground.triangles[rows]]
    one = np.stack([flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]], axis=-1)
    turn = np.stack([lay[:, 1], lay[:, 2]], axis=-1) @ np.linalg.inv(one)
    start, stop = skin.flat[pairs[fresh, 0]], skin.flat[pairs[fresh, 1]]
    hand = np.array([1.0, -1.0 if skin.mirrored else 1.0])
    total = np.zeros(len(start))
    for share in (np.arange(PIECES) + 0.5) / PIECES:
        under = mesh.triangle_under((start + share * (stop - start)) * hand)
        total += np.linalg.norm(np.einsum("kij,kj->ki", turn[under], stop - start), axis=1)
    out = long.copy()
    out[fresh] = total / PIECES
    return out


def _arc(skin: Skin, chart: Chart, pairs: NDArray[np.int32], chord: Array) -> Array:
    """(K,) how much longer the surface's arc is than the chord between two vertices."""
    p, q = skin.param[pairs[:, 0]], skin.param[pairs[:, 1]]
    way = skin.points[pairs[:, 1]] - skin.points[pairs[:, 0]]
    way = way / np.where(chord > 0.0, chord, 1.0)[:, None]
    slopes = []
    for at in (p + INWARD * (q - p), q + INWARD * (p - q)):
        normal = np.cross(*chart.patch.partials(at[:, 0], at[:, 1]))
        size = np.linalg.norm(normal, axis=1)
        slope = np.sum(normal * way, axis=1) / np.where(size > 0.0, size, 1.0)
        slopes.append(np.arcsin(np.clip(slope, -1.0, 1.0)))
    first, last = slopes
    g = np.sqrt(np.maximum(2 * first**2 - first * last + 2 * last**2, 0.0) / 5.0)
    # Half a turn in one side is no arc but a fold or a point where the normal is not known.
    g = np.where(g < 1.0, g, 0.0)
    return np.asarray(1.0 / np.sinc(g / np.pi))


def _laid(sides: Array) -> Array:
    """(M, 3, 2) corners of triangles with given sides: the first at 0, the second along +x."""
    a, b, c = sides.T
    lay = np.zeros((len(sides), 3, 2))
    lay[:, 1, 0] = c
    x = (b * b + c * c - a * a) / (2.0 * np.where(c > 0.0, c, 1.0))
    lay[:, 2, 0] = x
    # Kahan's order of the four factors keeps thin triangles right.
    long, middle, short = np.sort(sides, axis=1)[:, ::-1].T
    area = (long + (middle + short)) * (short - (long - middle))
    area = area * (short + (long - middle)) * (long + (middle - short))
    lay[:, 2, 1] = np.sqrt(np.maximum(area, 0.0)) / (2.0 * np.where(c > 0.0, c, 1.0))
    return lay


def _edge_vertices(skin: Skin, number: int, edge: str) -> tuple[NDArray[np.intp], Array]:
    """Vertices of a chart on one of its edges and where, in ascending order of the edge's run."""
    chart = skin.charts[number]
    used = np.unique(skin.triangles[chart.first : chart.last])
    column = 0 if edge[0] == "s" else 1
    lines = chart.patch.s_lines if column == 0 else chart.patch.t_lines
    end = lines[0 if edge[1] == "0" else -1]
    near = np.abs(skin.param[used, column] - end) <= NEAR * (lines[-1] - lines[0])
    found = used[near]
    run = skin.param[found, 1 - column]
    order = np.argsort(run, kind="stable")
    return found[order], run[order]


def _joined(skin: Skin) -> Ints:
    """(M, 3) corner numbers after gluing, and after gathering edges that are one point."""
    number = np.arange(len(skin.points))
    pairs: list[NDArray[np.intp]] = []
    for glue in skin.glue:
        first, at_first = _edge_vertices(skin, glue.chart_a, glue.edge_a)
        second, at_second = _edge_vertices(skin, glue.chart_b, glue.edge_b)
        span = float(at_first[-1] - at_first[0]) if len(at_first) else 0.0
        same = len(first) == len(second) and np.allclose(
            at_first, at_second, rtol=0.0, atol=max(1e-7 * span, 1e-12)
        )
        if not same:
            raise MapperError(
                f"The charts {glue.chart_a + 1} and {glue.chart_b + 1} of skin {skin.name!r} do "
                f"not meet corner to corner ({len(first)} and {len(second)} corners).",
                "Glued charts share the corners along their edge.",
                "Build the shape again from its part file.",
            )
        pairs.append(np.stack([first, second], axis=-1))
    pairs += [np.stack([s.line_a, s.line_b], axis=-1).astype(np.intp) for s in skin.stitches]
    for k in range(len(skin.charts)):
        for edge in ("s0", "s1", "t0", "t1"):
            found, _ = _edge_vertices(skin, k, edge)
            if len(found) > 1 and np.ptp(skin.points[found], axis=0).max() <= 1e-9:
                pairs.append(np.stack([found[:-1], found[1:]], axis=-1))
    changed = bool(pairs)
    every = np.concatenate(pairs) if pairs else np.zeros((0, 2), np.intp)
    while changed:
        least = np.minimum(number[every[:, 0]], number[every[:, 1]])
        before = number.copy()
        np.minimum.at(number, every[:, 0], least)
        np.minimum.at(number, every[:, 1], least)
        number = number[number]
        changed = not np.array_equal(before, number)
    return number[skin.triangles].astype(np.int32)


def _glued_sides(skin: Skin) -> Ints:
    """(M, 3) for the side opposite each corner the glued chart edge or stitch it lies on, or -1."""
    out = np.full(skin.triangles.shape, -1, np.int32)
    ends = skin.triangles[:, [[1, 2], [2, 0], [0, 1]]]
    for g, glue in enumerate(skin.glue):
        for half, (number, edge) in enumerate(
            ((glue.chart_a, glue.edge_a), (glue.chart_b, glue.edge_b))
        ):
            on = np.zeros(len(skin.points), np.bool_)
            on[_edge_vertices(skin, number, edge)[0]] = True
            out[np.all(on[ends], axis=2) & (skin.chart_of == number)[:, None]] = 2 * g + half
    count = len(skin.points)
    key = np.min(ends, axis=2).astype(np.int64) * count + np.max(ends, axis=2)
    for g, stitch in enumerate(skin.stitches, start=len(skin.glue)):
        for half, line in enumerate((stitch.line_a, stitch.line_b)):
            a, b = line[:-1].astype(np.int64), line[1:].astype(np.int64)
            out[np.isin(key, np.minimum(a, b) * count + np.maximum(a, b))] = 2 * g + half
    return out


def _neighbours(name: str, vertex: Ints) -> tuple[Ints, Ints]:
    """The triangle across each side (-1 at an edge) and the side's number there."""
    count = len(vertex)
    ends = vertex[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2).astype(np.int64)
    low, high = ends.min(axis=1), ends.max(axis=1)
    key = low * (int(vertex.max(initial=0)) + 1) + high
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    if np.any(same[1:] & same[:-1]):
        raise MapperError(
            f"More than two triangles of skin {name!r} meet at one side.",
            "A sheet has one or two there.",
            "Join each chart edge to one other.",
        )
    one, two = order[:-1][same], order[1:][same]
    if np.any(ends[one, 0] == ends[two, 0]):
        raise MapperError(
            f"The sheet of skin {name!r} turns over where its charts are joined.",
            "Both sides of a joint have the same face outward.",
        )
    opp = np.full(3 * count, -1, np.int32)
    back = np.full(3 * count, -1, np.int32)
    opp[one], opp[two] = two // 3, one // 3
    back[one], back[two] = two % 3, one % 3
    return opp.reshape(-1, 3), back.reshape(-1, 3)


def _turning(vertex: Ints, lay: Array, opp: Ints) -> tuple[Array, NDArray[np.bool_], Ints]:
    count = int(vertex.max(initial=-1)) + 1
    angle = np.empty(vertex.shape)
    for k in range(3):
        u, v = lay[:, (k + 1) % 3] - lay[:, k], lay[:, (k + 2) % 3] - lay[:, k]
        cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        angle[:, k] = np.arctan2(cross, np.sum(u * v, axis=1))
    total = np.bincount(vertex.ravel(), weights=angle.ravel(), minlength=count)
    open_side = opp < 0
    edge = np.zeros(count, np.bool_)
    for k in range(3):
        edge[vertex[open_side[:, k]][:, [(k + 1) % 3, (k + 2) % 3]]] = True
    turning = np.where(total > 0.0, total - np.where(edge, np.pi, 2 * np.pi), -np.inf)
    corner = np.full(count, -1, np.int32)
    where = np.arange(vertex.size, dtype=np.int32).reshape(-1, 3)
    corner[vertex.ravel()] = where.ravel()
    # At an edge start with the triangle whose right-hand side is closed, so that walking on
    # counter-clockwise meets them all.
    for k in range(3):
        first = open_side[:, (k + 2) % 3]
        corner[vertex[first, k]] = where[first, k]
    return turning, edge, corner


def _bulge(skin: Skin, flat: Array, chart: Ints, outer: NDArray[np.bool_]) -> Array:
    out = np.zeros(len(skin.charts))
    for number, piece in enumerate(skin.charts):
        row, side = np.nonzero(outer & (chart == number)[:, None])
        if not len(row):
            continue
        ends = np.stack([flat[row, (side + 1) % 3], flat[row, (side + 2) % 3]], axis=1)
        tree = shapely.STRtree(shapely.linestrings(ends))
        _, away = tree.query_nearest(
            shapely.points(piece.rim), return_distance=True, all_matches=False
        )
        out[number] = min(MOST_BULGE, float(away.max(initial=0.0)) + 2.0 * EDGE)
    return out


def _grid(flat: Array) -> tuple[Ints, Ints, Array, Array]:
    """A grid over the flat map: for each cell which triangles' boxes touch it.

    start (nx, ny, 2): first and last place in cells; low (2,), size (2,): corner and cell, mm.
    """
    if len(flat) == 0:
        return np.zeros((1, 1, 2), np.int32), np.zeros(0, np.int32), np.zeros(2), np.ones(2)
    least, most = flat.min(axis=1), flat.max(axis=1)
    low, high = least.min(axis=0), most.max(axis=0)
    cell = float(np.sqrt(max(np.prod(high - low), 1e-12) / max(len(flat), 1))) * 1.5
    shape = np.clip(np.ceil((high - low) / cell), 1, 4000).astype(int)
    size = np.maximum((high - low) / shape, 1e-9)
    a = np.clip(((least - low) / size).astype(int), 0, shape - 1)
    b = np.clip(((most - low) / size).astype(int), 0, shape - 1)
    span = b - a + 1
    many = span[:, 0] * span[:, 1]
    owner = np.repeat(np.arange(len(flat)), many)
    local = np.arange(len(owner)) - np.repeat(np.cumsum(many) - many, many)
    i = a[owner, 0] + local // span[owner, 1]
    j = a[owner, 1] + local % span[owner, 1]
    key = i * shape[1] + j
    order = np.argsort(key, kind="stable")
    count = np.bincount(key, minlength=int(np.prod(shape)))
    last = np.cumsum(count)
    start = np.stack([last - count, last], axis=-1).reshape(shape[0], shape[1], 2)
    return start.astype(np.int32), owner[order].astype(np.int32), low, size
