"""One geometry version as bytes for the page: the arrays a view draws, and the lines on it.

What is drawn here is what the maps of the report draw: grid, sides, directions and hand come from
`mapper.drawing`. Layout of the bytes: `page/src/wire.ts`.
"""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.drawing.frame import Frame
from mapper.drawing.ground import grid_lines
from mapper.drawing.view import sides_of
from mapper.job.outlines import sheet_area
from mapper.surface.clip import whole
from mapper.surface.edges import glued_edges
from mapper.surface.geometry import Geometry
from mapper.surface.opened import cut_out
from mapper.surface.region import on_sheet, openings_of
from mapper.surface.round import has_angles, round_patch
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

MAGIC = b"AFMSHAPE"
FORMAT = 2  # the page has it in lib/shape.ts
COARSE = 0.02  # mm: lines and edges are drawn two pixels wide
DIGITS = 3
PAPER = (180.0, 150.0)  # mm: the sheet of paper whose grid is taken


class _Arrays:
    """Arrays one after the other, little endian, each at a multiple of 4 bytes."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.size = 0

    def put(self, values: Any, kind: str) -> dict[str, int]:
        """Where the array begins, in bytes from the first, and how many numbers it has."""
        data = np.ascontiguousarray(values, dtype=kind)
        at = {"at": self.size, "count": int(data.size)}
        self.parts.append(data.tobytes())
        self.size += data.nbytes
        return at


def shape_bytes(geometry: Geometry, units: str) -> bytes:
    """A geometry version as the page takes it; units: of the labels of the grid."""
    arrays = _Arrays()
    points = [_placed(geometry, skin.points) for skin in geometry.skins]
    origin = np.round(np.concatenate(points).mean(axis=0), 1)
    header = {
        "format": FORMAT,
        "part": geometry.part,
        "origin": origin.tolist(),
        "skins": [
            _skin(geometry, skin, placed - origin, units, arrays)
            for skin, placed in zip(geometry.skins, points)
        ],
    }
    text = json.dumps(header, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
    head = MAGIC + struct.pack("<I", len(text)) + text
    return b"".join([head, b"\0" * (-len(head) % 4), *arrays.parts])


def _placed(geometry: Geometry, points: Array) -> Array:
    place = geometry.placement
    return place.origin + points @ place.rotation.T


def _skin(
    geometry: Geometry, skin: Skin, placed: Array, units: str, arrays: _Arrays
) -> dict[str, Any]:
    flat_origin = np.round(skin.flat.mean(axis=0), 1)
    mesh = _mesh(geometry, skin, placed)
    bounds = whole(skin).bounds
    frame = Frame(geometry, skin, skin.face_names[0], None, units, PAPER, None)
    grid = grid_lines(frame)
    across = [(label, lines) for label, lines in grid if label.endswith(("%", "°"))]
    outboard, forward = _directions(geometry, skin)
    return {
        "name": skin.name,
        "faces": list(skin.face_names),
        "points": arrays.put(mesh["points"], "<f4"),
        "flat": arrays.put(mesh["flat"] - flat_origin, "<f4"),
        "flat_origin": flat_origin.tolist(),
        "station": arrays.put(mesh["station"], "<f4"),
        "chord": arrays.put(mesh["chord"], "<f4"),
        "triangles": arrays.put(mesh["triangles"], "<u4"),
        "stretch": arrays.put(mesh["stretch"], "<f4"),
        "round": bool(has_angles(skin)),
        "has_chord": bool(np.isfinite(skin.chord).any()),
        "bounds": [round(float(v), DIGITS) for v in bounds],
        "sheet": _polygons(on_sheet(geometry, skin.name, whole(skin))),
        "panels": _named(geometry.panels, skin),
        "bays": _named(geometry.bays, skin),
        "openings": _named(geometry.openings, skin),
        "lines": [
            {"kind": line.kind, "name": line.name, "paths": _paths(line.flat)}
            for line in geometry.lines
            if line.skin == skin.name and not line.flat.is_empty
        ],
        "glue": [_seam(edge.here, edge.there) for edge in glued_edges(skin)],
        "grid": {
            "stations": [_grid(*row) for row in grid if row not in across],
            "chord": [_grid(*row) for row in across],
        },
        "outboard": outboard,
        "forward": forward,
        "view": [int(frame.view.x), int(frame.view.y)],
        "area_mm2": sheet_area(geometry, skin.name),
    }


def _named(pieces: Any, skin: Skin) -> list[dict[str, Any]]:
    return [
        {"name": p.name, "polygons": _polygons(p.flat)}
        for p in pieces
        if p.skin == skin.name and not p.flat.is_empty
    ]


def _grid(label: str, lines: BaseGeometry) -> dict[str, Any]:
    return {"label": label, "paths": _paths(lines)}


def _seam(here: Array, there: Array) -> dict[str, Any]:
    """Both polylines of a glued chart edge, the same points left out of either: they stay pairs."""
    keep = {0, len(here) - 1}
    for side in (here, there):
        kept = shapely.get_coordinates(shapely.simplify(shapely.LineString(side), COARSE))
        keep |= {int(np.hypot(*(side - at).T).argmin()) for at in kept}
    rows = sorted(keep)
    return {"here": here[rows].round(DIGITS).tolist(), "there": there[rows].round(DIGITS).tolist()}


def _ring(shape: BaseGeometry) -> list[Any]:
    return shapely.get_coordinates(shape).round(DIGITS).tolist()


def _polygons(shape: MultiPolygon) -> list[Any]:
    drawn = shapely.simplify(shape, COARSE)
    parts = [p for p in shapely.get_parts(drawn) if p.geom_type == "Polygon" and not p.is_empty]
    return [[_ring(ring) for ring in (p.exterior, *p.interiors)] for p in parts]


def _paths(lines: BaseGeometry) -> list[Any]:
    parts = shapely.get_parts(shapely.simplify(lines, COARSE))
    return [_ring(p) for p in parts if p.geom_type in ("LineString", "LinearRing")]


def _mesh(geometry: Geometry, skin: Skin, placed: Array) -> dict[str, Array]:
    """The skin's points and triangles with what is in openings taken off: triangles that an
    opening's edge crosses are cut there."""
    chord = _signed_chord(skin)
    flat_area = _areas(skin.flat[skin.triangles])
    stretch = skin.patch_area / np.maximum(flat_area, 1e-12)
    mesh: dict[str, Array] = {
        "points": placed,
        "flat": skin.flat,
        "station": skin.station,
        "chord": chord,
        "triangles": skin.triangles,
        "stretch": stretch,
    }
    holes = openings_of(geometry, skin.name)
    return mesh if holes.is_empty else _opened(skin, mesh, holes)


def _areas(corners: Array) -> Array:
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return 0.5 * np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _opened(skin: Skin, mesh: dict[str, Array], holes: MultiPolygon) -> dict[str, Array]:
    triangles = skin.triangles
    count = len(triangles)
    corners = skin.flat[triangles]
    # The number of its triangle stands in for a piece's chart: so each knows where it came from.
    owner = np.arange(count, dtype=np.int32)
    edges = np.full((count, 3), -1, dtype=np.int32)
    flat, _, _, parent, _ = cut_out(corners, corners, triangles, owner, edges, holes)
    whole_ones = np.all(flat == corners[parent], axis=(1, 2))
    cut, home = flat[~whole_ones], parent[~whole_ones]
    # Shares of the triangle's corners at each corner of a piece; everything is even over it.
    a, b, c = (corners[home][:, k, None, :] for k in range(3))
    u, v, w = b - a, c - a, cut - a
    size = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    first = (w[..., 0] * v[..., 1] - w[..., 1] * v[..., 0]) / size
    second = (u[..., 0] * w[..., 1] - u[..., 1] * w[..., 0]) / size
    shares = np.stack([1.0 - first - second, first, second], axis=-1).reshape(-1, 3)
    rows = np.repeat(triangles[home], 3, axis=0)

    def at(values: Array) -> Array:
        return np.einsum("kc,kc...->k...", shares, values[rows])

    added = {name: at(mesh[name]) for name in ("points", "station")}
    added["flat"] = cut.reshape(-1, 2)
    added["chord"] = mesh["chord"][rows[np.arange(len(rows)), shares.argmax(axis=1)]]
    even = np.isfinite(at(mesh["chord"])) & (np.ptp(mesh["chord"][rows], axis=1) < 90.0)
    added["chord"][even] = at(mesh["chord"])[even]
    new = np.arange(len(rows)).reshape(-1, 3) + len(skin.flat)
    return {
        **{name: np.concatenate([mesh[name], added[name]]) for name in added},
        "triangles": np.concatenate([triangles[parent[whole_ones]], new]),
        "stretch": mesh["stretch"][np.concatenate([parent[whole_ones], home])],
    }


def _signed_chord(skin: Skin) -> Array:
    """% chord of the skin's points, negative on the lower side; degrees round on a closed body; NaN
    where there is neither."""
    round_skin = has_angles(skin)
    if not round_skin and not np.isfinite(skin.chord).any():
        return np.asarray(skin.chord)
    signed = np.full(len(skin.flat), np.nan) if round_skin else np.array(skin.chord)
    for chart in skin.charts:
        rows = np.unique(skin.triangles[chart.first : chart.last])
        s, t = skin.param[rows].T
        if not round_skin:
            signed[rows] *= np.where(chart.patch.upper(s, t), 1.0, -1.0)
        elif (patch := round_patch(chart)) is not None:
            signed[rows] = patch.angle(s, t)
    return signed


def _directions(geometry: Geometry, skin: Skin) -> tuple[list[float], list[float]]:
    """Flat unit vectors of growing station and of forward, on the first side."""
    side = sides_of(geometry, skin)[0]
    named = {d.word: np.array(d.flat) for d in side.directions}
    along = _slope(skin, skin.station)
    if along is None:
        along = named.get("outboard", np.array([1.0, 0.0]))
    forward = named.get("forward")
    if forward is None:
        # Square to the stations; up where there is one, as the map is turned.
        up = named.get("up")
        square = np.array([-along[1], along[0]])
        forward = up if up is not None else square
    return along.round(6).tolist(), np.asarray(forward).round(6).tolist()


def _slope(skin: Skin, values: Array) -> Array | None:
    """The flat direction in which values at the points grow, of the first chart."""
    chart = skin.charts[0]
    corners = np.unique(skin.triangles[chart.first : chart.last])
    corners = corners[np.isfinite(values[corners])]
    if len(corners) < 3:
        return None
    flat = skin.flat[corners] - skin.flat[corners].mean(axis=0)
    slope, *_ = np.linalg.lstsq(flat, values[corners] - values[corners].mean(), rcond=None)
    size = float(np.hypot(*slope))
    return None if size < 1e-9 else np.asarray(slope / size)
