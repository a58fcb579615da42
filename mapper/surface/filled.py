"""The plane of a skin's flat map filled with triangles, for lines to be followed through it.

The triangles are those of the skin's charts and an apron of triangles where nothing lies, which
fills a box round the charts and every hole in them; a tree over them is rooted in one more triangle
outside the box, where no outline reaches. Outlines may therefore leave the sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.ground import ground_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import tree, walk
else:
    # numba is slow to load, and sheets that lie flat need none of it.
    tree, walk = Late("mapper.surface.tree"), Late("mapper.surface.walk")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

MARGIN = 0.5  # the box reaches this part of the sheet's size beyond it


@dataclass(frozen=True, eq=False)
class Plane:
    """The plane of a skin filled with triangles: its own first, then the apron, then the sink.

    xy (N, 2), tri (T, 3): the triangles; corners (T, 6): their corners x, y, x, y, x, y; across
    (T, 3): see `_across`; own: how many are the skin's. frame (8,): the least x and y of the grid
    of seeds and the size of its cells, then x0, y0, x1, y1 of the box that the triangles fill, mm.
    numbers (8 T,), links (16 T,): the memory of corners and across as one row of numbers: of a
    triangle the corners first, then what lies across its edges from link 12 on.
    """

    xy: Array
    tri: Ints
    corners: Array
    across: Ints
    numbers: Array
    links: Ints
    order: Ints
    towards: Ints
    seeds: Ints
    frame: Array
    own: int

    @property
    def box(self) -> Array:
        return self.frame[4:]


_PLANES: WeakKeyDictionary[Skin, Plane] = WeakKeyDictionary()


def _across(tri: Ints) -> Ints:
    """(T, 3) 4 times the triangle across each edge (edge k lies opposite corner k) and that edge's
    number there, -1 where there is none.

    Raises MapperError if more than two triangles meet in an edge.
    """
    ends = np.stack([np.roll(tri, -1, axis=1), np.roll(tri, -2, axis=1)], axis=-1).reshape(-1, 2)
    ends = np.sort(ends, axis=1).astype(np.int64)
    key = ends[:, 0] * (int(tri.max()) + 1) + ends[:, 1]
    order = np.argsort(key, kind="stable")
    same = key[order[1:]] == key[order[:-1]]
    if np.any(same[1:] & same[:-1]):
        raise MapperError(
            "More than two triangles of this skin meet in one edge.",
            "A skin is a sheet: at most two may.",
            "Rebuild the skin from its part file.",
        )
    out = np.full(len(key), -1, np.int32)
    one, two = order[:-1][same], order[1:][same]
    out[one], out[two] = two // 3 * 4 + two % 3, one // 3 * 4 + one % 3
    return out.reshape(-1, 3)


def _loops(tri: Ints, across: Ints) -> list[Ints]:
    """The closed rings of vertices round a mesh, the mesh on their left."""
    where, edge = np.nonzero(across < 0)
    start = tri[where, (edge + 1) % 3]
    stop = tri[where, (edge + 2) % 3]
    if len(np.unique(start)) != len(start):
        raise MapperError(
            "Two corners of this skin's outline touch on the flat map.",
            "An outline may not meet itself.",
            "Rebuild the skin from its part file.",
        )
    after = dict(zip(start.tolist(), stop.tolist()))
    loops = []
    while after:
        first, here = after.popitem()
        loop = [first]
        while here != first:
            loop.append(here)
            here = after.pop(here)
        loops.append(np.array(loop, np.int32))
    return loops


def _signed(ring: Array) -> float:
    """Twice the area inside a ring, negative where it runs clockwise."""
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _corners(box: Array) -> Array:
    return np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]])


def _apron(flat: Array, parts: list[Polygon], box: Array) -> tuple[Array, Ints]:
    """Corners (4, 2) of the box and triangles that fill the parts, whose corners are those and
    vertices of the mesh; the box's corners are counted on from the mesh's."""
    corners = _corners(box)
    pieces = [g for p in parts for g in shapely.constrained_delaunay_triangles(p).geoms]
    points = np.concatenate([flat, corners])
    number = {(x, y): i for i, (x, y) in enumerate(points.tolist())}
    ends = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]
    tri = np.array([number[x, y] for x, y in ends.reshape(-1, 2).tolist()], np.int32).reshape(-1, 3)
    a, b, c = points[tri[:, 0]], points[tri[:, 1]], points[tri[:, 2]]
    turned = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) < (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    tri[turned] = tri[turned][:, ::-1]
    return corners, tri


def plane_of(skin: Skin) -> Plane:
    """The filled plane of a skin, made once.

    Raises MapperError if the skin's flat triangles overlap, are turned over or leave gaps.
    """
    plane = _PLANES.get(skin)
    if plane is None:
        plane = _PLANES[skin] = _make_plane(skin)
    return plane


def _make_plane(skin: Skin) -> Plane:
    skin = ground_of(skin)
    flat = np.ascontiguousarray(skin.flat, np.float64)
    own = np.ascontiguousarray(skin.triangles, np.int32)
    a, b, c = flat[own[:, 0]], flat[own[:, 1]], flat[own[:, 2]]
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    if not len(own) or not np.all(twice > 0):
        raise MapperError(
            f"{int(np.sum(~(twice > 0)))} triangles of skin {skin.name!r} are turned over or have "
            "no area on the flat map.",
            "Every triangle must lie the same way up, counter-clockwise.",
            "Rebuild the skin from its part file.",
        )
    used = flat[own]
    low, high = used.min(axis=(0, 1)), used.max(axis=(0, 1))
    reach = MARGIN * float(np.max(high - low))
    box = np.concatenate([low - reach, high + reach])
    loops = _loops(own, _across(own))
    outline = Polygon(_corners(box), [flat[loop] for loop in loops if _signed(flat[loop]) > 0])
    if not outline.is_valid:
        raise MapperError(
            f"The charts of skin {skin.name!r} overlap or touch on the flat map "
            f"({shapely.is_valid_reason(outline)}).",
            "Charts lie apart, each in one piece.",
            "Rebuild the skin from its part file.",
        )
    holes = [Polygon(flat[loop]) for loop in loops if _signed(flat[loop]) < 0]
    corners, apron = _apron(flat, [outline, *holes], box)
    count = len(flat)
    beyond = np.array([[0.5 * (box[0] + box[2]), box[1] - 1e-3 * reach]])
    sink = np.array([[count, count + 4, count + 1]], np.int32)
    tri = np.concatenate([own, apron, sink])
    across = _across(tri)
    xy = np.concatenate([flat, corners, beyond])
    order, towards = tree.breadth_first(across, len(tri) - 1)
    if np.any(order < 0) or int(np.sum(across < 0)) != 5:
        raise MapperError(
            f"The flat map of skin {skin.name!r} has gaps or overlaps.",
            "Triangles meet in whole edges.",
            "Rebuild the skin from its part file.",
        )
    side = int(np.clip(np.sqrt(len(own) / 4), 4, 128))
    cell = (high - low) / side
    numbers, links = _side_by_side(xy[tri].reshape(-1, 6), across)
    beside, across = numbers.reshape(-1, 8)[:, :6], links.reshape(-1, 16)[:, 12:15]
    seeds = walk.seed_grid(beside, across, low, cell, side, side)
    frame = np.concatenate([low, cell, box])
    return Plane(
        xy, tri, beside, across, numbers, links, order, towards, seeds, frame, len(own)
    )  # fmt: skip


def _side_by_side(corners: Array, across: Ints) -> tuple[Array, Ints]:
    """Both of a triangle in one line of the processor's cache (64 bytes): (8 T,) numbers, and the
    same memory as (16 T,) whole numbers."""
    memory = np.zeros(len(corners) * 64 + 64, np.uint8)
    lines = memory[-memory.ctypes.data % 64 :][: len(corners) * 64]
    numbers, links = lines.view(np.float64), lines.view(np.int32)
    numbers.reshape(-1, 8)[:, :6], links.reshape(-1, 16)[:, 12:15] = corners, across
    return numbers, links


def inside_box(plane: Plane, shape: BaseGeometry) -> BaseGeometry:
    """The shape, cut to the box where it reaches beyond it: nothing lies out there."""
    x0, y0, x1, y1 = shape.bounds
    box = plane.box
    if x0 >= box[0] and y0 >= box[1] and x1 <= box[2] and y1 <= box[3]:
        return shape
    # A hair inside, so that no corner of the cut shape is rounded to beyond the box.
    hair = 1e-9 * float(box[2] - box[0])
    return shapely.intersection(
        shape, shapely.box(box[0] + hair, box[1] + hair, box[2] - hair, box[3] - hair)
    )
