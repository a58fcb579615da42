"""A piece of a triangle mesh as the exact surface: flat between corners, affine on the map."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.check import read_only
from meshes.errors import ShapeError
from meshes.patch import Array

Ints = NDArray[np.int32]

CELLS = 1.0  # cells of the finding grid, for each triangle
BESIDE = 1e-9  # of the piece's size: points as near beside a triangle still count as in it


@dataclass(frozen=True, eq=False)
class FacetPatch:
    """Triangles whose parameters are their own flat mm: within one, space is an affine image.

    points (P, 3) mm; flat (P, 2) mm; corners (M, 3), counter-clockwise on the flat map, where the
    sheet is seen from inside: the first face looks against their normal. axis: 0, 1 or 2, the
    coordinate that stations count along, plus datum.
    """

    points: Array
    flat: Array
    corners: Ints
    axis: int = 1
    datum: float = 0.0

    kind = "facets"

    def __post_init__(self) -> None:
        corners = np.array(self.corners, dtype=np.int32)
        corners.setflags(write=False)
        object.__setattr__(self, "corners", corners)
        object.__setattr__(self, "points", read_only(self.points))
        object.__setattr__(self, "flat", read_only(self.flat))
        count = len(self.points)
        if self.points.shape != (count, 3) or self.flat.shape != (count, 2):
            raise ShapeError(
                "mesh",
                f"{self.points.shape} points came with {self.flat.shape} on the flat map.",
                "One flat point for each point is allowed.",
            )
        if corners.ndim != 2 or corners.shape[1:] != (3,) or len(corners) == 0:
            raise ShapeError("mesh", f"Its triangles are {corners.shape}.", "(M, 3), one or more.")
        if corners.min() < 0 or corners.max() >= count:
            raise ShapeError("mesh", "A triangle names a corner that is not there.", "")
        if self.axis not in (0, 1, 2):
            raise ShapeError("axis", f"The axis is {self.axis}.", "0, 1 or 2: x, y or z.")
        if not (self._double > 0.0).all():
            raise ShapeError(
                "mesh", "A triangle is turned over on the flat map.", "All lie face up."
            )

    @property
    def s_lines(self) -> Array:
        return read_only([self.flat[:, 0].min(), self.flat[:, 0].max()])

    @property
    def t_lines(self) -> Array:
        return read_only([self.flat[:, 1].min(), self.flat[:, 1].max()])

    @cached_property
    def _double(self) -> Array:
        a, b, c = (self.flat[self.corners[:, k]] for k in range(3))
        one, two = b - a, c - a
        return np.asarray(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])

    @cached_property
    def _grid(self) -> tuple[Array, float, tuple[int, int], NDArray[np.int64], NDArray[np.int64]]:
        """Corner, cell size, cells each way; triangles by cell (starts and numbers)."""
        box = self.flat[self.corners]
        low, high = self.flat.min(axis=0), self.flat.max(axis=0)
        size = float(np.sqrt(np.prod(np.maximum(high - low, 1e-12)) / (CELLS * len(box))))
        size = max(size, float((high - low).max()) / 4096.0)
        across = np.maximum(1, np.ceil((high - low) / size).astype(np.int64))
        first = np.clip(((box.min(axis=1) - low) / size - 1e-9).astype(np.int64), 0, across - 1)
        last = np.clip(((box.max(axis=1) - low) / size + 1e-9).astype(np.int64), 0, across - 1)
        wide = last - first + 1
        many = wide.prod(axis=1)
        owner = np.repeat(np.arange(len(box)), many)
        at = np.arange(len(owner)) - np.repeat(np.cumsum(many) - many, many)
        i = first[owner, 0] + at // wide[owner, 1]
        j = first[owner, 1] + at % wide[owner, 1]
        cell = i * across[1] + j
        order = np.argsort(cell, kind="stable")
        starts = np.searchsorted(cell[order], np.arange(int(across.prod()) + 1))
        return low, size, (int(across[0]), int(across[1])), starts, owner[order]

    def find(self, flat: ArrayLike) -> tuple[NDArray[np.int64], Array]:
        """Numbers (K,) of the triangles that hold flat points (K, 2), and the shares (K, 3) of
        their corners; the nearest in its cell for points a little beside, -1 and NaN for others."""
        asked = np.asarray(flat, dtype=np.float64).reshape(-1, 2)
        low, size, across, starts, numbers = self._grid
        best = np.full(len(asked), -1, dtype=np.int64)
        depth = np.full(len(asked), -np.inf)
        shares = np.full((len(asked), 3), np.nan)
        known = np.asarray(np.isfinite(asked).all(axis=1))
        cell = np.clip(
            ((np.where(known[:, None], asked, low) - low) / size).astype(np.int64),
            0,
            np.array(across) - 1,
        )
        key = cell[:, 0] * across[1] + cell[:, 1]
        left, right = starts[key], starts[key + 1]
        left = np.where(known, left, right)
        for step in range(int((right - left).max(initial=0))):
            rows = np.flatnonzero(left + step < right)
            t = numbers[left[rows] + step]
            share = self._shares(t, asked[rows])
            inside = share.min(axis=1)
            better = inside > depth[rows]
            rows, t, share, inside = rows[better], t[better], share[better], inside[better]
            best[rows], depth[rows], shares[rows] = t, inside, share
        return best, shares

    def _shares(self, triangle: NDArray[np.int64], flat: Array) -> Array:
        a, b, c = (self.flat[self.corners[triangle, k]] for k in range(3))
        rest, one, two = flat - a, b - a, c - a
        double = self._double[triangle]
        first = (rest[:, 0] * two[:, 1] - rest[:, 1] * two[:, 0]) / double
        second = (one[:, 0] * rest[:, 1] - one[:, 1] * rest[:, 0]) / double
        return np.stack([1.0 - first - second, first, second], axis=-1)

    def _asked(
        self, s: ArrayLike, t: ArrayLike
    ) -> tuple[tuple[int, ...], NDArray[np.int64], Array]:
        first, second = np.broadcast_arrays(np.asarray(s, float), np.asarray(t, float))
        triangle, shares = self.find(np.stack([first, second], axis=-1))
        return first.shape, triangle, shares

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast); NaN far off the piece."""
        shape, triangle, shares = self._asked(s, t)
        points = np.einsum("kc,kcx->kx", shares, self.points[self.corners[triangle]])
        return np.asarray(points.reshape(*shape, 3))

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3), constant in each triangle."""
        shape, triangle, _ = self._asked(s, t)
        slopes = self._slopes[triangle]
        return slopes[:, 0].reshape(*shape, 3), slopes[:, 1].reshape(*shape, 3)

    @cached_property
    def _slopes(self) -> Array:
        f, p = self.flat[self.corners], self.points[self.corners]
        edges = np.stack([f[:, 1] - f[:, 0], f[:, 2] - f[:, 0]], axis=1)
        spans = np.stack([p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]], axis=1)
        return np.asarray(np.linalg.solve(edges, spans))

    def outward(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Unit normal (..., 3) of the triangle, on the side of the first face."""
        by_s, by_t = self.partials(s, t)
        normal = -np.cross(by_s, by_t)
        return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))

    def station(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Distance (...) along the station axis, datum added, mm."""
        return np.asarray(self.at(s, t)[..., self.axis] + self.datum)

    def chord(self, s: ArrayLike, t: ArrayLike) -> Array:
        """NaN (...): a mesh knows no chord."""
        shape = np.broadcast_shapes(np.shape(s), np.shape(t))
        return np.full(shape, np.nan)

    def upper(self, s: ArrayLike, t: ArrayLike) -> NDArray[np.bool_]:
        """True (...) where the first face looks up (z)."""
        return np.asarray(self.outward(s, t)[..., 2] >= 0.0)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {
            "format": "facets/1",
            "points": self.points,
            "flat": self.flat,
            "corners": self.corners,
            "axis": self.axis,
            "datum": self.datum,
        }
