"""The flat map of a sheet that does not unroll exactly: affine over each triangle of a grid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.surface.meshfind import Finder
from mapper.surface.skin import EDGE

Array = NDArray[np.float64]

AREAS = "mesh map/2"  # the format of a map that keeps the areas of its triangles


def grid_triangles(rows: int, columns: int) -> NDArray[np.int32]:
    """(2 (rows - 1)(columns - 1), 3) triangles over a grid with index row * columns + column.

    Rows run along s (flat +y), columns along t (flat +x); each cell's diagonal runs from its least
    to its greatest corner. Counter-clockwise on the flat map.
    """
    corner = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    up, out = columns, 1
    first = np.stack([corner, corner + out, corner + up + out], axis=-1)
    second = np.stack([corner, corner + up + out, corner + up], axis=-1)
    return np.stack([first, second], axis=1).reshape(-1, 3).astype(np.int32)


def boundary(grid: Array) -> Array:
    """(K, 2) counter-clockwise ring of a grid of flat corners (S, T, 2)."""
    return np.concatenate([grid[0, :-1], grid[:-1, -1], grid[-1, :0:-1], grid[:0:-1, 0]])


@dataclass(frozen=True, eq=False)
class MeshMap:
    """Flat corners (S, T, 2) of a grid of parameters s (S,) by t (T,), ascending.

    Within a triangle of the grid parameters and flat mm are affine images of each other. areas
    (S - 1, T - 1, 2): the exact areas mm2 of the grid's triangles, where the skin's own triangles
    are others (about its openings); None where they are the same.
    """

    s: Array
    t: Array
    corners: Array
    areas: Array | None = None

    isometric = False

    def __post_init__(self) -> None:
        for name in ("s", "t", "corners", "areas"):
            if getattr(self, name) is None:
                continue
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        if self.corners.shape != (len(self.s), len(self.t), 2):
            raise MapperError(
                f"A flat map of shape {self.corners.shape} came with "
                f"{len(self.s)} by {len(self.t)} parameters.",
                "One flat point for each pair is allowed.",
            )
        cells = (len(self.s) - 1, len(self.t) - 1, 2)
        if self.areas is not None and self.areas.shape != cells:
            raise MapperError(
                f"Areas of shape {self.areas.shape} came with a grid of {cells[0]} by {cells[1]}.",
                "Two areas for each cell are allowed.",
            )

    @cached_property
    def triangles(self) -> NDArray[np.int32]:
        """(M, 3) corner numbers, row by row; as in the skin."""
        return grid_triangles(len(self.s), len(self.t))

    @cached_property
    def _finder(self) -> Finder:
        rows, columns = len(self.s) - 1, len(self.t) - 1
        cell = 2 * np.arange(rows * columns).reshape(rows, columns)
        # Along the outline as `boundary` runs: the first row of cells, the last column, and back.
        beside = np.concatenate(
            [cell[0], cell[:, -1], (cell[-1] + 1)[::-1], (cell[:, 0] + 1)[::-1]]
        )
        rings = self.corners.reshape(-1, 2)[self.triangles]
        return Finder(rings, boundary(self.corners), beside)

    def to_flat(self, param: Array) -> Array:
        """(K, 2) parameters to (K, 2) flat mm; parameters off the grid are clipped to it."""
        param = np.asarray(param, dtype=np.float64)
        i, a = self._cell(self.s, param[:, 0])
        j, b = self._cell(self.t, param[:, 1])
        c = self.corners
        near, far = c[i, j], c[i + 1, j + 1]
        # Below the diagonal (b >= a) the third corner is the outboard one, else the upper one.
        third = np.where((b >= a)[:, None], c[i, j + 1], c[i + 1, j])
        big, small = np.maximum(a, b)[:, None], np.minimum(a, b)[:, None]
        return near + big * (third - near) + small * (far - third)

    def triangle_of(self, param: Array) -> NDArray[np.int64]:
        """(K,) numbers of the triangles that hold parameters (K, 2)."""
        i, a = self._cell(self.s, param[:, 0])
        j, b = self._cell(self.t, param[:, 1])
        return np.asarray(2 * (i * (len(self.t) - 1) + j) + (a > b), dtype=np.int64)

    def triangle_under(self, flat: Array) -> NDArray[np.int64]:
        """(K,) numbers of the triangles that hold, or come nearest to, flat points (K, 2) mm."""
        return self._finder.holding(flat)

    @staticmethod
    def _cell(grid: Array, values: Array) -> tuple[NDArray[np.intp], Array]:
        values = np.clip(values, grid[0], grid[-1])
        cell = np.clip(np.searchsorted(grid, values, side="right") - 1, 0, len(grid) - 2)
        return cell, (values - grid[cell]) / (grid[cell + 1] - grid[cell])

    def to_param(self, flat: Array) -> Array:
        """(K, 2) flat mm to (K, 2) parameters; NaN rows more than EDGE mm off the chart."""
        flat = np.asarray(flat, dtype=np.float64)
        result = np.full(flat.shape, np.nan)
        finite = np.flatnonzero(np.isfinite(flat).all(axis=1))
        if len(finite) == 0:
            return result
        hit = self._finder.holding(flat[finite], EDGE)
        finite, hit = finite[hit >= 0], hit[hit >= 0]
        params = self.grid_params[self.triangles[hit]]
        b1, b2 = self._finder.shares(hit, flat[finite]).T
        p0 = params[:, 0]
        found = p0 + b1[:, None] * (params[:, 1] - p0) + b2[:, None] * (params[:, 2] - p0)
        low, high = [self.s[0], self.t[0]], [self.s[-1], self.t[-1]]
        result[finite] = np.clip(found, low, high)
        return result

    @cached_property
    def grid_params(self) -> Array:
        """(S T, 2) parameters of the corners, row by row."""
        return np.stack(np.meshgrid(self.s, self.t, indexing="ij"), axis=-1).reshape(-1, 2)

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays); `mapper.surface.flatmap.flat_map_from` reads it."""
        record = {"format": "mesh map/1", "s": self.s, "t": self.t, "corners": self.corners}
        # An older release would take the skin's triangles for the grid's: it must not read this.
        return record if self.areas is None else record | {"format": AREAS, "areas": self.areas}

    def moved(self, by: Array) -> MeshMap:
        """The same map shifted by (2,) flat mm."""
        return replace(self, corners=self.corners + by)


def mesh_map_from(record: dict[str, Any]) -> MeshMap:
    """The map of a "mesh map/1" record, or of one with the areas of its triangles."""
    s, t, corners = (np.asarray(record[name]) for name in ("s", "t", "corners"))
    return MeshMap(s, t, corners, np.asarray(record["areas"]) if "areas" in record else None)
