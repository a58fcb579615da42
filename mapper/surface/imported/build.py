"""From the charts of a mesh to skins: one for each body, laid out, stitched, its holes found."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.surface.flatmap import FacetMap
from mapper.surface.geometry import Opening
from mapper.surface.imported.charts import CutChart, cut
from mapper.surface.imported.lay import rings_of
from mapper.surface.imported.mend import Mended, areas_of
from mapper.surface.skin import Chart, Skin, Stitch
from meshes.facets import FacetPatch

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

AXES = {"x": 0, "y": 1, "z": 2}
GAP = 0.03  # of the widest chart: left free between charts
MOST_CHARTS = 2000


@dataclass(frozen=True, eq=False)
class Imported:
    """Skins of a mesh, largest first; openings: open rings inside a chart; worst: largest area
    error of a triangle on the flat map (areas are right all the same)."""

    skins: tuple[Skin, ...]
    openings: tuple[Opening, ...]
    worst: float


def skins_of(
    mesh: Mended,
    names: tuple[str, ...] = (),
    *,
    face_names: tuple[str, ...] = ("outer", "inner"),
    axis: str = "y",
    datum: float = 0.0,
    crease: float | None = None,
) -> Imported:
    """The skins of a mended mesh, in the part's frame.

    names: of the bodies, largest first (missing ones become "body 1", "body 2" ...; a single one
    "skin"). axis: "x", "y" or "z", along which stations count from -datum. crease: degrees, None:
    18. MapperError for another axis, or a mesh that falls into more than 2,000 charts.
    """
    if axis not in AXES:
        raise MapperError(f"The station axis is {axis!r}.", "Allowed are x, y and z.")
    pieces = cut(mesh) if crease is None else cut(mesh, crease=crease)
    if len(pieces) > MOST_CHARTS:
        raise MapperError(
            f"The mesh falls into {len(pieces):,} charts.",
            f"{MOST_CHARTS:,} at most can be worked with.",
            "Smooth it, leave small parts out, or raise the crease angle.",
        )
    sizes = np.bincount(mesh.body, areas_of(mesh.points, mesh.triangles))
    order = np.argsort(-sizes, kind="stable")
    skins: list[Skin] = []
    openings: list[Opening] = []
    for rank, body in enumerate(order.tolist()):
        own = [p for p in pieces if mesh.body[p.triangles[0]] == body]
        usual = "skin" if len(order) == 1 else f"body {rank + 1}"
        name = names[rank] if rank < len(names) else usual
        skin, holes = _skin(mesh, own, name, face_names, AXES[axis], datum)
        skins.append(skin)
        openings += [
            Opening(f"opening {len(openings) + n}", name, hole) for n, hole in enumerate(holes, 1)
        ]
    return Imported(tuple(skins), tuple(openings), max(p.worst for p in pieces))


def _skin(
    mesh: Mended,
    pieces: list[CutChart],
    name: str,
    face_names: tuple[str, ...],
    axis: int,
    datum: float,
) -> tuple[Skin, list[shapely.MultiPolygon]]:
    flats = _laid_out([_turned(mesh, p, axis) for p in pieces], pieces)
    charts, holes = [], []
    faces = 0
    starts = np.cumsum([0, *(len(p.vertex) for p in pieces)])
    triangles, areas, points = [], [], []
    for number, (piece, flat) in enumerate(zip(pieces, flats)):
        # The sheet is seen from inside on the flat map, so the triangles run the other way round.
        corners = np.ascontiguousarray(piece.corners[:, ::-1])
        space = mesh.points[piece.vertex]
        rings = rings_of(corners) or []
        polygons = [shapely.Polygon(flat[r]) for r in rings]
        outer = int(np.argmax([p.area for p in polygons]))
        holes += [
            shapely.MultiPolygon([polygons[k].normalize()])
            for k in range(len(rings))
            if k != outer and _is_open(mesh, piece, rings[k])
        ]
        label = name if len(pieces) == 1 else f"{name} {number + 1}"
        charts.append(
            Chart(
                label,
                FacetPatch(space, flat, corners, axis, datum),
                FacetMap(flat.min(axis=0), flat.max(axis=0)),
                flat[rings[outer]],
                faces,
                faces + len(corners),
            )
        )
        faces += len(corners)
        triangles.append(corners + starts[number])
        areas.append(areas_of(space, corners))
        points.append(space)
    every = np.concatenate(points)
    flat = np.concatenate(flats)
    skin = Skin(
        name=name,
        face_names=face_names,
        points=every,
        flat=flat,
        param=flat,
        triangles=np.concatenate(triangles).astype(np.int32),
        chart_of=np.repeat(np.arange(len(pieces)), [len(p.corners) for p in pieces]),
        patch_area=np.concatenate(areas),
        station=every[:, axis] + datum,
        chord=np.full(len(every), np.nan),
        charts=tuple(charts),
        stitches=_stitches(mesh, pieces, starts),
    )
    return skin, holes


def _turned(mesh: Mended, piece: CutChart, axis: int) -> Array:
    """The chart seen from inside, with the station axis running to +x as nearly as it can."""
    flat = piece.flat * np.array([1.0, -1.0])
    f, p = flat[piece.corners], mesh.points[piece.vertex][piece.corners]
    edges = np.stack([f[:, 1] - f[:, 0], f[:, 2] - f[:, 0]], axis=1)
    rises = np.stack([p[:, 1, axis] - p[:, 0, axis], p[:, 2, axis] - p[:, 0, axis]], axis=1)
    slope = np.linalg.solve(edges, rises[..., None])[..., 0]
    sizes = np.abs(np.linalg.det(edges))
    way = (slope * sizes[:, None]).sum(axis=0)
    size = float(np.hypot(*way))
    # A chart square to the axis (an end plate) has no such way, and stays as it is.
    if size < 1e-3 * sizes.sum():
        return np.asarray(flat)
    x, y = way / size
    return np.asarray(flat @ np.array([[x, -y], [y, x]]), dtype=np.float64)


def _laid_out(flats: list[Array], pieces: list[CutChart]) -> list[Array]:
    """The charts apart in one plane, in rows, the first one's corner at the origin."""
    spans = np.array([np.ptp(f, axis=0) for f in flats])
    gap = GAP * float(spans.max())
    row = max(float(spans[:, 0].max()), 1.3 * float(np.sqrt((spans.prod(axis=1)).sum())))
    x = y = tall = 0.0
    placed = []
    for flat, (wide, high) in zip(flats, spans.tolist()):
        if x > 0.0 and x + wide > row:
            x, y, tall = 0.0, y + tall + gap, 0.0
        placed.append(flat - flat.min(axis=0) + np.array([x, y]))
        x, tall = x + wide + gap, max(tall, high)
    return placed


def _is_open(mesh: Mended, piece: CutChart, ring: Ints) -> bool:
    """Whether no other chart is joined along a ring of a chart's own points."""
    on = set(ring.tolist())
    for k in range(3):
        a, b = piece.corners[:, k], piece.corners[:, (k + 1) % 3]
        rows = np.flatnonzero(np.isin(a, ring) & np.isin(b, ring))
        for t in rows.tolist():
            if {int(a[t]), int(b[t])} <= on and mesh.sides.mate[3 * piece.triangles[t] + k] >= 0:
                inner = mesh.sides.mate[3 * piece.triangles[t] + k] // 3
                if inner not in piece.triangles:
                    return False
    return True


def _stitches(mesh: Mended, pieces: list[CutChart], starts: NDArray[np.intp]) -> tuple[Stitch, ...]:
    """The lines along which charts of one body were cut apart (a chart from itself, too)."""
    count = len(mesh.triangles)
    chart = np.full(count, -1, dtype=np.int64)
    own = np.full((count, 3), -1, dtype=np.int64)
    for number, piece in enumerate(pieces):
        chart[piece.triangles] = number
        own[piece.triangles] = piece.corners + starts[number]
    side = np.flatnonzero(mesh.sides.mate >= 0)
    mate = mesh.sides.mate[side].astype(np.int64)
    here = (chart[side // 3] >= 0) & (chart[mate // 3] >= 0) & (side < mate)
    here &= ~mesh.sides.along[side]
    side, mate = side[here], mate[here]

    def ends(s: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        return own[s // 3, s % 3], own[s // 3, (s % 3 + 1) % 3]

    a0, a1 = ends(side)
    b1, b0 = ends(mate)
    # Inside a chart both triangles have the same two points; where it was cut they have others.
    apart = (a0 != b0) | (a1 != b1)
    a0, a1, b0, b1 = (v[apart] for v in (a0, a1, b0, b1))
    one, two = chart[side[apart] // 3], chart[mate[apart] // 3]
    swap = one > two
    a0, b0 = np.where(swap, b0, a0), np.where(swap, a0, b0)
    a1, b1 = np.where(swap, b1, a1), np.where(swap, a1, b1)
    one, two = np.minimum(one, two), np.maximum(one, two)
    found: list[Stitch] = []
    keys = one * len(pieces) + two
    for key in np.unique(keys).tolist():
        rows = np.flatnonzero(keys == key)
        for line_a, line_b in _chains(a0[rows], a1[rows], b0[rows], b1[rows]):
            found.append(
                Stitch(key // len(pieces), key % len(pieces), np.array(line_a), np.array(line_b))
            )
    return tuple(found)


def _chains(
    a0: NDArray[np.intp], a1: NDArray[np.intp], b0: NDArray[np.intp], b1: NDArray[np.intp]
) -> list[tuple[list[int], list[int]]]:
    """Sides joined end to end into lines, as numbers on either chart."""
    steps = list(zip(a0.tolist(), a1.tolist(), b0.tolist(), b1.tolist()))
    at: dict[tuple[int, int], list[int]] = {}
    for n, (p, q, r, s) in enumerate(steps):
        at.setdefault((p, r), []).append(n)
        at.setdefault((q, s), []).append(n)
    used = [False] * len(steps)
    lines = []
    # From loose ends first; what is left then are closed rings.
    loose = [n for ends in at.values() if len(ends) != 2 for n in ends]
    for first in (*loose, *range(len(steps))):
        if used[first]:
            continue
        p, q, r, s = steps[first]
        if len(at[p, r]) == 2 and len(at[q, s]) != 2:
            p, q, r, s = q, p, s, r
        line = [(p, r), (q, s)]
        used[first] = True
        while len(at[line[-1]]) == 2:
            following = next((n for n in at[line[-1]] if not used[n]), None)
            if following is None:
                break
            used[following] = True
            p, q, r, s = steps[following]
            line.append((q, s) if (p, r) == line[-1] else (p, r))
        lines.append(([a for a, _ in line], [b for _, b in line]))
    return lines


def moved(skins: Imported, origin: Array, rotation: Array) -> Imported:
    """The same in another frame: points are rotation @ point + origin; nothing is cut anew."""

    def turn(points: Array) -> Array:
        return np.asarray(points @ np.asarray(rotation).T + origin)

    new = []
    for skin in skins.skins:
        charts = []
        for chart in skin.charts:
            patch = chart.patch
            if not isinstance(patch, FacetPatch):
                raise MapperError(f"{chart.name} was not cut from a mesh.", "Only meshes move so.")
            charts.append(replace(chart, patch=replace(patch, points=turn(patch.points))))
        first = skin.charts[0].patch
        axis = first.axis if isinstance(first, FacetPatch) else 1
        datum = first.datum if isinstance(first, FacetPatch) else 0.0
        points = turn(skin.points)
        new.append(
            replace(skin, points=points, station=points[:, axis] + datum, charts=tuple(charts))
        )
    return replace(skins, skins=tuple(new))
