"""Doubly curved charts laid flat: gores of bodies of revolution, sides of curved planforms.

Such a sheet has no development. A first flat guess keeps the middle line and the widths of a gore,
or is the least-squares conformal map of a wing's side (libigl's); then all corners are evened out
so that every triangle keeps its shape as nearly as it can (`mapper.surface.unroll.even_out`). The
areas do not lean on the map: they are integrals over the exact surface.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.meshmap import MeshMap, boundary, grid_triangles
from mapper.surface.unroll import check_flat, even_grid, lengths
from meshes.cap import CapPatch
from meshes.patch import Patch
from meshes.turned import TurnedPatch

if TYPE_CHECKING:
    import igl
    from scipy import interpolate
else:
    interpolate = Late("scipy.interpolate")
    igl = Late("igl")

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

ROUNDS = 80
COARSE_ROUNDS = 400
COARSE = 4
# A cell is no longer than this share of its chart's width there: towards a tip rows come closer.
LONGEST = 0.5
# ... or this share of its distance from the nearer end.
GENTLY = 0.3

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)
_X, _W = 0.5 * (1.0 + _NODES), 0.5 * _WEIGHTS


def rows(patch: Patch, size: float) -> Array:
    """Ascending s of mesh rows, cells about `size` mm wide where the patch is widest; its own lines
    among them. Half of the spacing follows length and half s, which packs a nose."""
    return _Rows(patch).of(size)


class _Rows:
    """The rows of one patch for any size of cell: only their number depends on it."""

    def __init__(self, patch: Patch) -> None:
        lines = np.asarray(patch.s_lines)
        fine = np.unique(np.concatenate([lines, np.linspace(lines[0], lines[-1], 801)]))
        at = np.linspace(float(patch.t_lines[0]), float(patch.t_lines[-1]), 9)
        by_s, _ = patch.partials(fine[:, None], at)
        speed = np.linalg.norm(by_s, axis=-1).max(axis=1)
        run = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(fine))])
        self.blend = 0.5 * run / run[-1] + 0.5 * (fine - fine[0]) / (fine[-1] - fine[0])
        self.fine, self.lines, self.run = fine, lines, float(run[-1])

    def of(self, size: float) -> Array:
        """As `rows`."""
        return _even(self.fine, self.blend, self.lines, max(self.run / size, 4.0))


def columns(patch: Patch, size: float) -> Array:
    """Ascending t of mesh columns, cells about 1.5 `size` mm long and shorter where the chart is
    narrow; the patch's own lines among them."""
    return _Columns(patch).of(size)


class _Columns:
    """The columns of one patch for any size of cell: widths and ways are the same for all."""

    def __init__(self, patch: Patch) -> None:
        lines = np.asarray(patch.t_lines)
        share = np.linspace(0.0, 1.0, 2001)
        # Close to both ends, where a tip may be, by powers: there sizes change by whole factors.
        near = np.geomspace(1e-7, 5e-4, 120)
        share = np.unique(np.concatenate([share, near, 1.0 - near]))
        fine = np.unique(np.concatenate([lines, lines[0] + share * (lines[-1] - lines[0])]))
        s = np.linspace(float(patch.s_lines[0]), float(patch.s_lines[-1]), 17)
        by_s, by_t = patch.partials(s[:, None], fine)
        width = np.trapezoid(np.linalg.norm(by_s, axis=-1), s, axis=0)
        speed = np.linalg.norm(by_t, axis=-1).max(axis=0)
        way = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(fine))])
        # A narrow gore may have longer cells, as long as sizes change gently on the way from its
        # tip.
        least = np.maximum(LONGEST * width, GENTLY * np.minimum(way, way[-1] - way))
        self.least = np.maximum(least, 1e-9)
        self.fine, self.lines, self.speed = fine, lines, speed

    def of(self, size: float) -> Array:
        """As `columns`."""
        density = self.speed / np.minimum(1.5 * size, self.least)
        step = 0.5 * (density[1:] + density[:-1]) * np.diff(self.fine)
        run = np.concatenate([[0.0], np.cumsum(step)])
        return _even(self.fine, run / run[-1], self.lines, max(float(run[-1]), 8.0))


def _even(fine: Array, blend: Array, lines: Array, wanted: float) -> Array:
    """Steps even in `blend` between lines, about `wanted` in all."""
    marks = np.interp(lines, fine, blend)
    found = []
    for a, b in pairwise(marks):
        count = max(1, int(np.ceil((b - a) * wanted - 1e-9)))
        found.append(np.interp(np.linspace(a, b, count, endpoint=False), blend, fine))
    result = np.append(np.concatenate(found), lines[-1])
    # The lines themselves to the last bit, not as interpolated.
    result[np.searchsorted(result, lines - 1e-14 * max(1.0, float(np.abs(lines).max())))] = lines
    return result


def grids(name: str, patches: list[Patch], triangles: int) -> list[tuple[Array, Array]]:
    """(s, t) grids of all patches, together at most `triangles` triangles.

    Patches of one range of t have one grid of it, so that points on a common edge coincide; for
    patches side by side the columns are those of the first. MapperError where even the coarsest
    grid has too many.
    """
    first = patches[0]
    by_s, by_t = first.partials(
        np.linspace(float(first.s_lines[0]), float(first.s_lines[-1]), 33)[:, None],
        np.linspace(float(first.t_lines[0]), float(first.t_lines[-1]), 33),
    )
    span = float(first.s_lines[-1] - first.s_lines[0]) * float(first.t_lines[-1])
    area = span * float(np.linalg.norm(np.cross(by_s, by_t), axis=-1).mean())
    size = float(np.sqrt(area * len(patches) / triangles))
    across, along = [_Rows(patch) for patch in patches], _Columns(first)
    for _ in range(200):
        t = along.of(size)
        found = [(one.of(size), t) for one in across]
        if sum(2 * (len(s) - 1) * (len(t) - 1) for s, _ in found) <= triangles:
            return found
        size *= 1.03
    raise MapperError(
        f"{triangles} triangles are too few for {name}: it has {len(patches)} charts.",
        "Every chart needs some cells.",
        "Allow more triangles or give fewer pieces.",
    )


def cell_areas(patch: Patch, s: Array, t: Array) -> Array:
    """(S - 1, T - 1, 2) exact areas mm2 of the two triangles of each cell of the parameter grid, by
    6 by 6 Gauss points a triangle of |dP/ds x dP/dt|."""
    result = np.zeros((len(s) - 1, len(t) - 1, 2))
    width, height = np.diff(s), np.diff(t)
    for k in range(2):
        for x, w in zip(_X, _W, strict=True):
            for y, v in zip(_X, _W, strict=True):
                # First triangle: b from a to 1, second: b from 0 to a, in cell units.
                b, share = (x + (1.0 - x) * y, 1.0 - x) if k == 0 else (x * y, x)
                by_s, by_t = patch.partials((s[:-1] + width * x)[:, None], t[:-1] + height * b)
                size = np.linalg.norm(np.cross(by_s, by_t), axis=-1)
                result[:, :, k] += w * v * share * size
    return result * width[:, None, None] * height[None, :, None]


def _gore(patch: TurnedPatch, s: Array, t: Array) -> Complex:
    """The middle line straight along +x in true length, widths square to it in true length."""
    fine = np.unique(np.concatenate([t, np.linspace(0.0, 1.0, 4001)]))
    middle = 0.5 * (patch.low + patch.high)
    step = np.stack([np.full(len(fine), middle), fine], axis=-1)
    run = np.concatenate([[0.0], np.cumsum(lengths(patch, step[:-1], step[1:]))])
    radius = patch.profile.at(patch._u(t))[:, 1]
    across = np.pi * (s - middle)[:, None] * radius
    if isinstance(patch, CapPatch):
        # Half ellipses: widths in true length along them, from the middle line.
        grid_s, grid_t = np.meshgrid(s, t, indexing="ij")
        ends = np.stack([grid_s.ravel(), grid_t.ravel()], axis=-1)
        begin = np.stack([np.full(ends.shape[0], middle), ends[:, 1]], axis=-1)
        across = np.sign(grid_s - middle) * lengths(patch, begin, ends).reshape(grid_s.shape)
    return np.asarray(np.interp(t, fine, run) + 1j * across)


def _conformal(patch: Patch, s: Array, t: Array) -> Complex:
    """The least-squares conformal map of the grid, its longest edge line held at true length."""
    grid_s, grid_t = np.meshgrid(s, t, indexing="ij")
    points = patch.at(grid_s, grid_t).reshape(-1, 3)
    triangles = grid_triangles(len(s), len(t)).astype(np.int64)
    row = int(np.argmin(np.abs(s)))
    ends = np.array([row * len(t), row * len(t) + len(t) - 1], dtype=np.int64)
    step = np.stack([np.full(len(t), s[row]), t], axis=-1)
    run = float(lengths(patch, step[:-1], step[1:]).sum())
    held = np.array([[0.0, 0.0], [run, 0.0]])
    flat = np.asarray(igl.lscm(np.ascontiguousarray(points), triangles, ends, held)[0])
    return np.asarray((flat[:, 0] + 1j * flat[:, 1]).reshape(len(s), len(t)))


def lay_curved(patch: Patch, s: Array, t: Array) -> MeshMap:
    """The grid s (S,) by t (T,) of a doubly curved patch laid flat: x along t, y along s.

    Its middle row (the one nearest s = 0 where the patch has it) begins at the origin and ends on
    +x. MapperError where the result turns a triangle over or overlaps itself.
    """
    turned = isinstance(patch, TurnedPatch)
    first = _gore(patch, s, t) if isinstance(patch, TurnedPatch) else _conformal(patch, s, t)
    picked_s = np.unique(np.append(np.arange(0, len(s), COARSE), len(s) - 1))
    picked_t = np.unique(np.append(np.arange(0, len(t), COARSE), len(t) - 1))
    picked = np.ix_(picked_s, picked_t)
    moved = even_grid(patch, s[picked_s], t[picked_t], first[picked], COARSE_ROUNDS) - first[picked]
    shift = interpolate.RegularGridInterpolator((s[picked_s], t[picked_t]), moved)
    grid_s, grid_t = np.meshgrid(s, t, indexing="ij")
    flat = even_grid(patch, s, t, first + shift((grid_s, grid_t)), ROUNDS)
    middle = len(s) // 2 if turned else int(np.argmin(np.abs(s)))
    line = flat[middle, -1] - flat[middle, 0]
    flat = (flat - flat[middle, 0]) * (abs(line) / line)
    grid = np.stack([flat.real, flat.imag], axis=-1)
    check_flat(grid.reshape(-1, 2), grid_triangles(len(s), len(t)), boundary(grid))
    return MeshMap(s, t, grid)
