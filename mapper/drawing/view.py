"""Which way a flat map is turned on paper, and which way is forward, outboard and up on it.

The flat frame alone does not say whether drawing y upward shows a sheet from outside or inside; the
outward normal does. Directions come from how the flat plane lies in the aircraft's frame (x aft, y
outboard of the right wing, z up), so they are right on mirrored, upright and tilted parts alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from mapper.drawing.display import View
from mapper.drawing.kept import kept
from mapper.errors import MapperError
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

# An axis of the aircraft is drawn as an arrow where at least this much of it lies in the sheet:
# cos 50 deg, so that of three square axes two are always drawn on a sheet square to one of them.
LEAST_IN_SHEET = 0.64
# A part whose middle is nearer to the plane of symmetry than this (mm) has no outboard.
ON_CENTRE_LINE = 5.0


@dataclass(frozen=True)
class Direction:
    """A named direction as a unit vector of the flat plane (turn it for paper)."""

    word: str
    flat: tuple[float, float]


@dataclass(frozen=True)
class Side:
    """One side of a wrapped sheet: its name ("upper", "lower", "" for the only one), its triangles'
    flat extent (x0, y0, x1, y1), and the directions that hold there."""

    name: str
    bounds: tuple[float, float, float, float]
    directions: tuple[Direction, ...]


def sheet_of(skin: Skin) -> MultiPolygon:
    """The whole sheet in its flat plane, openings not taken off: the rims of its charts."""

    def make() -> MultiPolygon:
        shape = shapely.union_all([shapely.Polygon(chart.rim) for chart in skin.charts])
        return shape if isinstance(shape, MultiPolygon) else MultiPolygon([shape])

    return kept(skin, "sheet", make)


def face_number(skin: Skin, face: str) -> int:
    """0 for the face seen from outside, 1 for the other; MapperError naming the faces there are."""
    if face not in skin.face_names:
        raise MapperError(
            f"No face {face!r} on skin {skin.name!r}.",
            f"Its faces are {', '.join(repr(name) for name in skin.face_names)}.",
        )
    return skin.face_names.index(face)


def triangle_normals(skin: Skin) -> Array:
    """(M, 3) read-only normals in space of the triangles taken counter-clockwise on the flat map,
    times twice their area (mm2); part's frame."""

    def make() -> Array:
        p = skin.points[skin.triangles]
        normals = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
        f = skin.flat[skin.triangles]
        a, b = f[:, 1] - f[:, 0], f[:, 2] - f[:, 0]
        normals *= np.sign(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])[:, None]
        normals.setflags(write=False)
        return normals

    return kept(skin, "triangle normals", make)


def triangle_middles(skin: Skin) -> Array:
    """(M, 2) read-only middles of the triangles on the flat map, mm."""

    def make() -> Array:
        middles = skin.flat[skin.triangles].mean(axis=1)
        middles.setflags(write=False)
        return middles

    return kept(skin, "triangle middles", make)


def hand_of(skin: Skin) -> int:
    """+1 where flat x to the right and y up is the sheet seen from outside, else -1."""
    return kept(skin, "hand", lambda: _hand(skin))


def _hand(skin: Skin) -> int:
    normals = triangle_normals(skin)
    step = max(1, len(normals) // 200)
    together = 0.0
    for chart in skin.charts:
        rows = np.arange(chart.first, chart.last, step)
        middle = skin.param[skin.triangles[rows]].mean(axis=1)
        outward = chart.patch.outward(middle[:, 0], middle[:, 1])
        together += float(np.nansum(outward * normals[rows]))
    return 1 if together >= 0 else -1


def upper_of(skin: Skin) -> NDArray[np.bool_]:
    """(M,) whether each triangle is on the upper (or only) surface."""
    upper = np.ones(len(skin.triangles), dtype=bool)
    for chart in skin.charts:
        middle = skin.param[skin.triangles[chart.first : chart.last]].mean(axis=1)
        upper[chart.first : chart.last] = chart.patch.upper(middle[:, 0], middle[:, 1])
    return upper


def axes_of(geometry: Geometry) -> tuple[tuple[str, Array], ...]:
    """The named directions of the aircraft as unit vectors in the part's frame."""
    middle = np.concatenate([skin.points for skin in geometry.skins]).mean(axis=0)
    placed = geometry.placement.origin + geometry.placement.rotation @ middle
    if abs(placed[1]) > ON_CENTRE_LINE:
        sideways, word = float(np.sign(placed[1])), "outboard"
    elif geometry.mirrored:
        sideways, word = -1.0, "left"
    else:
        sideways, word = 1.0, "right"
    in_aircraft = (
        ("forward", np.array([-1.0, 0.0, 0.0])),
        (word, np.array([0.0, sideways, 0.0])),
        ("up", np.array([0.0, 0.0, 1.0])),
    )
    return tuple((name, axis @ geometry.placement.rotation) for name, axis in in_aircraft)


def _directions(skin: Skin, chosen: NDArray[np.bool_], geometry: Geometry) -> tuple[Direction, ...]:
    """The aircraft's axes as flat directions, by least squares of space over flat on triangles."""
    corners = skin.triangles[chosen]
    flat = skin.flat[corners]
    space = skin.points[corners]
    flat = (flat - flat.mean(axis=1, keepdims=True)).reshape(-1, 2)
    space = (space - space.mean(axis=1, keepdims=True)).reshape(-1, 3)
    gradient, *_ = np.linalg.lstsq(flat, space, rcond=None)  # (2, 3): d space / d flat
    found = []
    for word, axis in axes_of(geometry):
        slope = gradient @ axis
        size = float(np.hypot(*slope))
        if size >= LEAST_IN_SHEET:
            found.append(Direction(word, (float(slope[0] / size), float(slope[1] / size))))
    return tuple(found)


def sides_of(geometry: Geometry, skin: Skin) -> tuple[Side, ...]:
    """The sides of a sheet with their directions: upper and lower where it has both, else one."""
    return kept(geometry, ("sides", skin.name), lambda: _sides(geometry, skin))


def _sides(geometry: Geometry, skin: Skin) -> tuple[Side, ...]:
    upper = upper_of(skin)
    names = (("upper", upper), ("lower", ~upper)) if (~upper).any() and upper.any() else (
        ("", np.ones(len(upper), dtype=bool)),
    )  # fmt: skip
    sides = []
    for name, chosen in names:
        flat = skin.flat[skin.triangles[chosen]].reshape(-1, 2)
        low, high = flat.min(axis=0), flat.max(axis=0)
        bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
        sides.append(Side(name, bounds, _directions(skin, chosen, geometry)))
    return tuple(sides)


def view_of(geometry: Geometry, skin: Skin, face: str) -> View:
    """How that face is drawn: always as somebody looking at it sees it, so text is never mirrored.

    Up is up on paper where up lies in the sheet; otherwise forward is up on the upper side, and the
    other face is the sheet turned over about its spanwise axis, so that stations stay where they
    are.
    """
    number = face_number(skin, face)
    hand = hand_of(skin)
    side = sides_of(geometry, skin)[0]
    named = {direction.word: direction.flat for direction in side.directions}
    if "up" in named and abs(named["up"][1]) >= abs(named["up"][0]):
        y = 1 if named["up"][1] >= 0 else -1
        x = y * hand * (1 if number == 0 else -1)
    else:
        steer = named.get("forward", (0.0, 0.0))
        y = hand if steer[1] == 0.0 else (1 if steer[1] > 0 else -1)
        x = y * hand
        if number == 1:
            y = -y
    return View(x, y, seen_from(face, number))


def seen_from(face: str, number: int) -> str:
    """The words that say how a face is drawn."""
    if face in ("outer", "inner"):
        return "seen from outside" if face == "outer" else "seen from inside, turned over"
    return "seen from that side" if number == 0 else "seen from that side, turned over"
