"""Skins as meshes for a 3D picture: outward triangles, texture coordinates, free edges.

Texture coordinates are flat coordinates, turned as the drawing on the texture is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from weakref import WeakValueDictionary

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.drawing.display import TEXTURE_LAYERS, DisplayList, View
from mapper.drawing.raster import Pixels, to_pixels
from mapper.drawing.view import hand_of
from mapper.errors import MapperError
from mapper.surface.geometry import Geometry
from mapper.surface.lined import open_triangles
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

TEXTURE_SIDE = 3200


@dataclass(frozen=True, eq=False)
class Texture:
    """Pixels (H, W, 4) of one face, row 0 at the top; bounds: the flat mm they cover."""

    pixels: Pixels
    bounds: tuple[float, float, float, float]
    view: View

    def coordinates(self, flat: Array) -> Array:
        """(K, 2) flat mm as (K, 2) in [0, 1], from the picture's lower left corner."""
        x0, y0, x1, y1 = self.bounds
        corners = self.view.turn([[x0, y0], [x1, y1]])
        low, high = corners.min(axis=0), corners.max(axis=0)
        return (self.view.turn(flat) - low) / (high - low)


def texture_of(drawing: DisplayList, side: int = TEXTURE_SIDE) -> Texture:
    """The sheet of a drawing as a texture, its longer side of `side` pixels, no furniture."""
    x0, y0, x1, y1 = drawing.sheet_bounds
    pixels = to_pixels(
        drawing,
        side / max(x1 - x0, y1 - y0),
        layers=TEXTURE_LAYERS,
        bounds=drawing.sheet_bounds,
    )
    return Texture(pixels, drawing.sheet_bounds, drawing.view)


class Textures(Mapping[tuple[str, str], Texture]):
    """Textures by skin and face, each drawn when it is looked at: a first picture can be rendered
    while the next part is being drawn. They are large: each lasts as long as somebody holds it."""

    def __init__(self, makers: Mapping[tuple[str, str], Callable[[], Texture]]) -> None:
        self._makers = dict(makers)
        self._made: WeakValueDictionary[tuple[str, str], Texture] = WeakValueDictionary()

    def __getitem__(self, key: tuple[str, str]) -> Texture:
        made = self._made.get(key)
        if made is None:
            self._made[key] = made = self._makers[key]()
        return made

    def __iter__(self) -> Iterator[tuple[str, str]]:
        return iter(self._makers)

    def __len__(self) -> int:
        return len(self._makers)


@dataclass(frozen=True, eq=False)
class ScenePart:
    """A part in a picture: its shape where it is placed, and a texture for some (skin, face)."""

    geometry: Geometry
    textures: Mapping[tuple[str, str], Texture]

    def __post_init__(self) -> None:
        for name, face in self.textures:
            if face not in self.geometry.skin(name).face_names:
                raise MapperError(
                    f"A texture for face {face!r} of skin {name!r} of {self.geometry.part}.",
                    f"Its faces are {', '.join(self.geometry.skin(name).face_names)}.",
                )


@dataclass(frozen=True, eq=False)
class Mesh:
    """One skin in the aircraft's frame: points (N, 3), outward normals (N, 3), triangles (M, 3)
    counter-clockwise from outside, free edges (E, 2) as pairs of points."""

    points: Array
    normals: Array
    triangles: NDArray[np.int32]
    edges: NDArray[np.int32]


def placed(geometry: Geometry, points: Array) -> Array:
    """(K, 3) points of the part's frame in the aircraft's."""
    return geometry.placement.origin + points @ geometry.placement.rotation.T


def free_edges(points: Array, triangles: NDArray[np.int32]) -> NDArray[np.int32]:
    """(E, 2) edges with one triangle only, points that lie together counted as one."""
    same = np.zeros(len(points), dtype=np.int64)
    for row in np.round(
        points, 3
    ).T:  # a coordinate at a time: rows in one go take ten times longer
        _, one = np.unique(row, return_inverse=True)
        _, same = np.unique(same * len(points) + one, return_inverse=True)
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    named = np.sort(same[edges], axis=1)
    _, first, count = np.unique(
        named[:, 0] * len(points) + named[:, 1], return_index=True, return_counts=True
    )
    lone = edges[first[count == 1]]
    ends = same[lone]
    return lone[ends[:, 0] != ends[:, 1]].astype(np.int32)


def mesh_of(geometry: Geometry, skin: Skin) -> Mesh:
    """A skin of a part as a mesh in the aircraft's frame, openings left open where their outlines
    are lines of its mesh."""
    points = placed(geometry, skin.points)
    holes = shapely.union_all([o.flat for o in geometry.openings if o.skin == skin.name])
    kept = skin.triangles[~open_triangles(skin, holes)]
    f = skin.flat[kept]
    a, b = f[:, 1] - f[:, 0], f[:, 2] - f[:, 0]
    outward = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 0) == (hand_of(skin) > 0)
    triangles = np.where(outward[:, None], kept, kept[:, ::-1])
    p = points[triangles]
    flat_normals = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    normals = np.zeros_like(points)
    for corner in range(3):
        np.add.at(normals, triangles[:, corner], flat_normals)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    return Mesh(points, normals, triangles.astype(np.int32), free_edges(points, triangles))
