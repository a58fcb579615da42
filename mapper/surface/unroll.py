"""Laying a twisted or changing sheet flat: in strips along its straight lines, then evened out.

The first step unrolls the strips between neighbouring straight lines (each is nearly flat); the
second moves all corners so that every triangle keeps its shape as nearly as it can
("as rigid as possible": turns of the triangles and places of the corners in alternation; method of
Liu, Zhang, Xu, Gotsman and Gortler, 2008, written here anew). Both work with lengths along the
surface, not with chords, so a coarse mesh does not shrink the flat map where the sheet is bent.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.meshmap import boundary, grid_triangles
from meshes.patch import Patch
from meshes.ruled import RuledPatch

if TYPE_CHECKING:
    from scipy import interpolate, sparse
    from scipy.sparse import linalg
else:
    interpolate = Late("scipy.interpolate")
    sparse, linalg = Late("scipy.sparse"), Late("scipy.sparse.linalg")

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

ROUNDS = 40
COARSE_ROUNDS = 400
# Every so many rows and columns make the coarse grid.
COARSE = 6
# The flat corners have settled when none moves by more than this in a round, mm.
SETTLED = 1e-3

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)
_X, _W = 0.5 * (1.0 + _NODES), 0.5 * _WEIGHTS


def lengths(patch: Patch, start: Array, end: Array) -> Array:
    """Lengths (K,) mm on the surface of the lines straight in parameters from (K, 2) to (K, 2)."""
    step = end - start
    total = np.zeros(len(start))
    for x, w in zip(_X, _W, strict=True):
        at = start + x * step
        by_s, by_t = patch.partials(at[:, 0], at[:, 1])
        total += w * np.linalg.norm(by_s * step[:, :1] + by_t * step[:, 1:], axis=1)
    return total


class Folds(MapperError):
    """Laid flat on this grid the sheet turns over or overlaps itself."""


def _apex(a: complex, b: complex, to_a: float, to_b: float, left: bool) -> complex:
    """The point at given distances from a and b, to the left or right of a -> b."""
    size = abs(b - a)
    along = (to_a**2 - to_b**2 + size**2) / (2.0 * size)
    high = float(np.sqrt(max(to_a**2 - along**2, 0.0)))
    return a + (b - a) / size * complex(along, high if left else -high)


def strips(patch: RuledPatch, s: Array, t: Array, start: int) -> Complex:
    """(S, T) flat corners x + iy of the grid s by t: strips unrolled from row `start` both ways,
    that row along +x from the origin."""
    low, high = np.full_like(s, t[0]), np.full_like(s, t[-1])
    near, far = np.stack([s, low], axis=-1), np.stack([s, high], axis=-1)
    across = lengths(patch, near, far)
    near_step, far_step = lengths(patch, near[:-1], near[1:]), lengths(patch, far[:-1], far[1:])
    up, down = lengths(patch, near[1:], far[:-1]), lengths(patch, near[:-1], far[1:])
    flat_near, flat_far = np.zeros(len(s), dtype=complex), np.zeros(len(s), dtype=complex)
    flat_far[start] = across[start]
    for i in range(start, len(s) - 1):
        a, b = flat_near[i], flat_far[i]
        flat_near[i + 1] = _apex(a, b, near_step[i], up[i], True)
        flat_far[i + 1] = _apex(flat_near[i + 1], b, across[i + 1], far_step[i], False)
    for i in range(start, 0, -1):
        a, b = flat_near[i], flat_far[i]
        flat_near[i - 1] = _apex(a, b, near_step[i - 1], down[i - 1], False)
        flat_far[i - 1] = _apex(flat_near[i - 1], b, across[i - 1], far_step[i - 1], True)
    share = (t - t[0]) / (t[-1] - t[0])
    return np.asarray(flat_near[:, None] + share * (flat_far - flat_near)[:, None])


def even_out(corners: Complex, triangles: NDArray[np.int32], sides: Array, rounds: int) -> Complex:
    """Flat corners (N,) moved so that triangles (M, 3) come as near as they can to their own side
    lengths (M, 3), side k being opposite corner k, without being turned over. Corner 0 stays."""
    a2, b2, c2 = (sides[:, k] ** 2 for k in range(3))
    area4 = np.sqrt(
        np.maximum(2.0 * (a2 * b2 + b2 * c2 + c2 * a2) - (a2 * a2 + b2 * b2 + c2 * c2), 1e-30)
    )
    # Cotangents of the angles; corner 0 at the origin, corner 1 on the real axis.
    cot = np.stack([b2 + c2 - a2, c2 + a2 - b2, a2 + b2 - c2], axis=-1) / area4[:, None]
    third = (b2 + c2 - a2 + 1j * area4) / (2.0 * sides[:, 2])
    rest = np.stack([np.zeros_like(third), sides[:, 2] + 0j, third], axis=-1)
    want = cot * (rest[:, [1, 2, 0]] - rest[:, [2, 0, 1]])
    heads, tails = triangles[:, [1, 2, 0]], triangles[:, [2, 0, 1]]
    count = len(corners)
    rows, columns = heads.ravel(), tails.ravel()
    link = sparse.coo_matrix((cot.ravel(), (rows, columns)), shape=(count, count)).tocsr()
    link = link + link.T
    sums = np.asarray(link.sum(axis=1)).ravel()
    laplace = (sparse.coo_matrix((sums, (range(count), range(count)))).tocsr() - link).tocsc()
    factor = linalg.splu(
        laplace[1:, 1:], permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}
    )
    # What a turn of triangle m by 1 pulls at its corners: a side pulls its head on, its tail back.
    # The same numbers, conjugate, tell from the corners how far each triangle is turned.
    pull = np.stack([want[:, k - 1] - want[:, k - 2] for k in range(3)], axis=-1)
    owner = np.repeat(np.arange(len(triangles)), 3)
    tell = sparse.coo_matrix(
        (pull.conj().ravel(), (owner, triangles.ravel())), shape=(len(triangles), count)
    ).tocsr()
    gather = tell.conj().T.tocsr()[1:]
    hold = corners[0]
    corners = corners - hold
    for _ in range(rounds):
        turn = tell @ corners
        turn = turn / np.maximum(np.abs(turn), 1e-300)
        load = gather @ turn
        both = factor.solve(np.stack([load.real, load.imag], axis=-1))
        moved = np.zeros(count, dtype=complex)
        moved[1:] = both[:, 0] + 1j * both[:, 1]
        step = float(np.abs(moved - corners).max())
        corners = moved
        if step < SETTLED:
            break
    return np.asarray(corners + hold)


def grid_sides(patch: Patch, s: Array, t: Array) -> Array:
    """(M, 3) lengths mm on the surface of the sides of `grid_triangles` over s (S,) by t (T,),
    side k opposite corner k. Each line of the grid is measured once, and whatever the patch makes
    of s or of t alone is made once for all of the other."""
    low_s, low_t = s[:-1, None], t[None, :-1]
    step_s, step_t = np.diff(s)[:, None], np.diff(t)[None, :]
    up = np.zeros((len(s) - 1, len(t)))
    out = np.zeros((len(s), len(t) - 1))
    slant = np.zeros((len(s) - 1, len(t) - 1))
    for x, w in zip(_X, _W, strict=True):
        by_s, _ = patch.partials(low_s + x * step_s, t[None, :])
        up += w * np.linalg.norm(by_s * step_s[..., None], axis=-1)
        _, by_t = patch.partials(s[:, None], low_t + x * step_t)
        out += w * np.linalg.norm(by_t * step_t[..., None], axis=-1)
        by_s, by_t = patch.partials(low_s + x * step_s, low_t + x * step_t)
        way = by_s * step_s[..., None] + by_t * step_t[..., None]
        slant += w * np.linalg.norm(way, axis=-1)
    first = np.stack([up[:, 1:], slant, out[:-1]], axis=-1)
    second = np.stack([out[1:], up[:, :-1], slant], axis=-1)
    return np.stack([first, second], axis=2).reshape(-1, 3)


def even_grid(patch: Patch, s: Array, t: Array, corners: Complex, rounds: int) -> Complex:
    """`even_out` for the corners (S, T) of a grid of parameters, by lengths on the surface."""
    triangles, sides = grid_triangles(len(s), len(t)), grid_sides(patch, s, t)
    return even_out(corners.ravel(), triangles, sides, rounds).reshape(len(s), len(t))


def lay_flat(patch: RuledPatch, s: Array, t: Array, start: int) -> Array:
    """The grid s (S,) by t (T,) of a ruled patch laid flat: (S, T, 2) mm.

    Row `start` begins at the origin and its last point lies on +x. MapperError where the result
    turns a triangle over or overlaps itself.
    """
    triangles = grid_triangles(len(s), len(t))
    first = strips(patch, s, t, start)
    # What has to be moved far is moved on a coarse grid first: there it takes few rounds.
    rows = np.unique(np.append(np.arange(0, len(s), COARSE), [start, len(s) - 1]))
    columns = np.unique(np.append(np.arange(0, len(t), COARSE), len(t) - 1))
    picked = np.ix_(rows, columns)
    moved = even_grid(patch, s[rows], t[columns], first[picked], COARSE_ROUNDS) - first[picked]
    shift = interpolate.RegularGridInterpolator((s[rows], t[columns]), moved)
    grid_s, grid_t = np.meshgrid(s, t, indexing="ij")
    flat = even_grid(patch, s, t, first + shift((grid_s, grid_t)), ROUNDS)
    line = flat[start, -1] - flat[start, 0]
    flat = (flat - flat[start, 0]) * (abs(line) / line)
    grid = np.stack([flat.real, flat.imag], axis=-1)
    check_flat(grid.reshape(-1, 2), triangles, boundary(grid))
    return grid


def check_flat(flat: Array, triangles: NDArray[np.int32], rim: Array) -> None:
    """Folds where a triangle is turned over or has no area, or the rim crosses itself.

    Triangles all one way round inside a simple rim cannot overlap.
    """
    a, b, c = (flat[triangles[:, k]] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    turned = int(np.count_nonzero(~(double > 0.0)))
    if turned:
        raise Folds(
            f"Laid flat, {turned} of {len(triangles)} triangles turn over.",
            "A sheet must lie flat without folds.",
            "Give more sections between the ones that differ.",
        )
    if not shapely.Polygon(rim).is_valid:
        raise Folds(
            "Laid flat, the sheet overlaps itself.",
            "A sheet must lie flat in one piece.",
            "Give more sections, or make it of several parts.",
        )
