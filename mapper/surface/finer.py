"""The triangles that findings are smoothed on: the sheet's own net, cut fine enough for a width.

They come from the net of the sheet (`intrinsic`), openings cut out as true edges, and are halved
along sides too long for the width. Cutting out leaves corners within a hair of each other and
triangles without height; the first are made one and the second left out, which moves an opening's
edge by less than SHORT. What thin triangles remain are turned away by `flips`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.intrinsic import net_of
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from mapper.surface import assemble, flips
else:
    # numba is slow to load.
    assemble, flips = Late("mapper.surface.assemble"), Late("mapper.surface.flips")

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

SHORT = 0.05  # mm: corners nearer than that along a side are one, edges flatter than that are edges
MOST_TRIANGLES = 500_000
_ENDS = ((1, 2), (2, 0), (0, 1))


@dataclass(frozen=True, eq=False)
class Fine:
    """vertex (M, 3): corner numbers 0..count-1, the same for corners that are one point of the
    part; lay (M, 3, 2): the corners in the triangle's own frame, mm, true lengths,
    counter-clockwise; flat (M, 3, 2): on the flat map. area (M,): true, mm2."""

    vertex: Ints
    lay: Array
    flat: Array

    @property
    def count(self) -> int:
        return int(self.vertex.max(initial=-1)) + 1

    @property
    def area(self) -> Array:
        u, v = self.lay[:, 1] - self.lay[:, 0], self.lay[:, 2] - self.lay[:, 0]
        return np.asarray(0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))


def fine_of(skin: Skin, openings: BaseGeometry | None = None, longest: float = np.inf) -> Fine:
    """The triangles of a skin without its openings, no side longer than `longest` mm.

    openings: a region of the flat plane; None or empty: none. MapperError where that would take
    more than MOST_TRIANGLES, or nothing of the sheet is left.
    """
    net = net_of(skin, openings)
    whole = len(net.vertex)
    fine = _numbered(*_joined_up(net.vertex, net.lay, net.flat))
    if not whole or not len(fine.vertex):
        raise MapperError(
            f"Nothing of skin {skin.name!r} is left beside its openings.", "Some sheet is needed."
        )
    while True:
        cut = sides_of(fine.lay) > longest
        if not cut.any():
            return fine
        if len(fine.vertex) + int(cut.sum()) > MOST_TRIANGLES:
            raise MapperError(
                f"Skin {skin.name!r} cut into sides of {longest:g} mm is more than "
                f"{MOST_TRIANGLES:,} triangles.",
                "Fewer are allowed.",
                "Give a larger width.",
            )
        fine = halved(fine, longest)


def sides_of(lay: Array) -> Array:
    """(M, 3) lengths of the sides facing each corner, mm."""
    return np.stack([np.linalg.norm(lay[:, b] - lay[:, a], axis=1) for a, b in _ENDS], axis=1)


def _joined_up(vertex: Ints, lay: Array, flat: Array) -> tuple[Ints, Array, Array]:
    """Corners at the ends of very short sides made one; what collapses falls away."""
    side = sides_of(lay)
    number = np.arange(int(vertex.max(initial=-1)) + 1)
    row, k = np.nonzero(side < SHORT)
    pairs = np.stack([vertex[row, (k + 1) % 3], vertex[row, (k + 2) % 3]], axis=1)
    while len(pairs):
        least = np.minimum(number[pairs[:, 0]], number[pairs[:, 1]])
        before = number.copy()
        np.minimum.at(number, pairs[:, 0], least)
        np.minimum.at(number, pairs[:, 1], least)
        number = number[number]
        if np.array_equal(before, number):
            break
    vertex = number[vertex].astype(np.int32)
    a, b, c = vertex.T
    keep = (a != b) & (b != c) & (c != a)
    return vertex[keep], lay[keep], flat[keep]


def _numbered(vertex: Ints, lay: Array, flat: Array) -> Fine:
    number = np.unique(vertex, return_inverse=True)[1]
    return Fine(number.reshape(vertex.shape).astype(np.int32), lay, flat)


def halved(fine: Fine, longest: float) -> Fine:
    """Every side longer than that cut in its middle, and its triangles in two, three or four."""
    vertex, side = fine.vertex, sides_of(fine.lay)
    ends = vertex[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2).astype(np.int64)
    key = ends.min(axis=1) * fine.count + ends.max(axis=1)
    names, which = np.unique(key, return_inverse=True)
    # Both triangles at a side must agree whether it is cut.
    long = np.zeros(len(names), np.bool_)
    np.logical_or.at(long, which, (side > longest).ravel())
    fresh = fine.count + np.cumsum(long) - 1
    cut = long[which].reshape(-1, 3)
    middle = np.where(cut, fresh[which].reshape(-1, 3), -1)
    parts: list[tuple[Ints, Array, Array]] = []
    many = cut.sum(axis=1)
    parts.append((vertex[many == 0], fine.lay[many == 0], fine.flat[many == 0]))
    # Six points of a triangle: corners 0 1 2, and 3 + k in the middle of the side facing k.
    six = np.concatenate([vertex, middle], axis=1)

    def points(at: Array) -> Array:
        return np.concatenate([at, *(0.5 * (at[:, [a]] + at[:, [b]]) for a, b in _ENDS)], axis=1)

    lay, flat = points(fine.lay), points(fine.flat)

    def add(rows: NDArray[np.intp], turn: NDArray[np.intp], *corners: tuple[int, int, int]) -> None:
        for corner in corners:
            at = np.stack([(np.array(c % 3 + turn) % 3) + 3 * (c // 3) for c in corner], axis=1)
            spot = rows[:, None]
            parts.append((six[spot, at].astype(np.int32), lay[spot, at], flat[spot, at]))

    rows = np.flatnonzero(many == 1)
    # Turned so that the cut side faces corner 0.
    add(rows, np.argmax(cut[rows], axis=1), (0, 1, 3), (0, 3, 2))
    rows = np.flatnonzero(many == 2)
    # Turned so that the whole side faces corner 0: points 4 and 5 cut off corner 0, and of the
    # quadrilateral 5 1 2 4 the shorter diagonal is taken.
    turn = np.argmin(cut[rows], axis=1)
    add(rows, turn, (0, 5, 4))
    spot = np.arange(len(rows))

    def far(a: int, b: int) -> Array:
        i, j = ((c % 3 + turn) % 3 + 3 * (c // 3) for c in (a, b))
        return np.asarray(np.linalg.norm(lay[rows[spot], i] - lay[rows[spot], j], axis=1))

    first = far(5, 2) <= far(1, 4)
    add(rows[first], turn[first], (5, 1, 2), (5, 2, 4))
    add(rows[~first], turn[~first], (5, 1, 4), (1, 2, 4))
    rows = np.flatnonzero(many == 3)
    add(rows, np.zeros(len(rows), np.intp), (0, 5, 4), (1, 3, 5), (2, 4, 3), (3, 4, 5))
    return Fine(*(np.concatenate([p[i] for p in parts]) for i in range(3)))


def turned(fine: Fine) -> tuple[Ints, Array]:
    """The same sheet by Delaunay triangles: corners (M, 3) and sides facing them (M, 3), mm.

    Triangles flatter than SHORT on a closed edge are left out: they are less than the cut of an
    opening is right to.
    """
    vertex = fine.vertex.copy()
    opp, back = flips.across(vertex, fine.count)
    # A side is as long in one triangle as in the other, to the grid that openings are cut on.
    side = assemble.sides(fine.lay, opp, back)
    flips.turn_sides(vertex, side, opp, back)
    height = assemble.heights(side)
    low = height < SHORT
    if not low.any():
        return vertex, side
    flat = np.any(low & (opp < 0), axis=1) | (height.min(axis=1) <= 0.0)
    return vertex[~flat], side[~flat]
