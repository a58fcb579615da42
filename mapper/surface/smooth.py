"""What lies at places of a sheet spread evenly about them, along the sheet, as heat would spread.

What starts at a point is a bell about it of a given width s: on a flat sheet far from its edges
exp(-r2 / 2 s2) / (2 pi s2). It goes round the nose and over glued chart edges, never through the
sheet, over a closed trailing edge that is cut, or over an opening: edges keep it in, so nothing is
lost (to rounding) and beside an edge more lies on the sheet. On curved sheets it is the heat kernel
of the surface at the time s2 / 2.

Linear finite elements on Delaunay triangles of the sheet's own lengths (`finer`), error of second
order in the triangles' size. The exponential is a series in the matrix (`series`), or, where
triangles are so small against the width that it would have too many terms, a polynomial of degree
DEGREE in the resolvent 1 / (1 + POLE z), so one factor of one matrix, DEGREE solutions and no steps
in time; Norsett (1978) for rational functions with one real pole, from memory, its coefficients
worked out here by least squares. Its error at the place of a source is 3e-5 of the peak, and as it
falls as the square of the resolvent, what is rough in a point source dies out at once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, Protocol
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.late import Late
from mapper.surface.finer import Fine, fine_of, turned
from mapper.surface.order import dissected
from mapper.surface.skin import Skin

if TYPE_CHECKING:
    from scipy import sparse
    from scipy.sparse import linalg

    from mapper.surface import assemble, series
else:
    sparse, linalg = Late("scipy.sparse"), Late("scipy.sparse.linalg")
    assemble, series = Late("mapper.surface.assemble"), Late("mapper.surface.series")

Array = NDArray[np.float64]

DEGREE = 14
POLE = 0.13322
# Sides of triangles are at most this share of the width: the peak is right to 1.5 %.
FINENESS = 0.4
# Factors kept for a skin: a few widths, or openings before and after a correction.
KEPT = 3
OFF = 1.0  # mm: as far beside the triangles a point still counts as on the sheet (rims bulge)


@cache
def coefficients() -> Array:
    """(DEGREE - 1,) Chebyshev coefficients a of w2 sum a_k T_k(2 w - 1), nearest to exp(-z) for
    w = 1 / (1 + POLE z), z >= 0, in the mean over z; exactly 1 at z = 0, so that nothing is lost.
    """
    angle = (np.arange(4000) + 0.5) * np.pi / 4000
    w = 0.5 * (1.0 - np.cos(angle))
    weight = np.sqrt(np.sin(angle) / (w * w))
    basis = (w * w)[:, None] * np.polynomial.chebyshev.chebvander(2.0 * w - 1.0, DEGREE - 2)
    wanted = np.exp(-(1.0 / w - 1.0) / POLE)
    # T_k(1) = 1: the first coefficient is what the others leave of 1.
    matrix = (basis[:, 1:] - basis[:, :1]) * weight[:, None]
    rest = np.linalg.lstsq(matrix, (wanted - basis[:, 0]) * weight, rcond=None)[0]
    found = np.concatenate([[1.0 - rest.sum()], rest])
    found.setflags(write=False)
    return found


def stiffness(vertex: NDArray[np.int32], side: Array, count: int) -> Any:
    """(count, count) sparse matrix of the integral of grad u . grad v over triangles known by their
    corners (M, 3) and the sides facing them (M, 3), mm: half cotangents. Rows add up to nothing."""
    start, column, value = assemble.rows(vertex, side, count)
    return sparse.csr_array((value, column, start), (count, count))


def mass(fine: Fine) -> Array:
    """(count,) the sheet's area about each corner, mm2: a third of every triangle at it.

    All of a corner's mass in the corner ("lumped"): the values stay above nothing, and the error at
    the peak is half that of the consistent matrix (measured on the flat and on a wing).
    """
    return _gathered(fine, fine.area[:, None] / np.full(3, 3.0))


def _gathered(fine: Fine, amounts: Array, rows: NDArray[np.intp] | slice = slice(None)) -> Array:
    """(count,) sums by corner of amounts (K, 3) at the corners of some triangles."""
    return np.bincount(fine.vertex[rows].ravel(), amounts.ravel(), fine.count).astype(np.float64)


class Factor:
    """A symmetric positive matrix over a sheet's corners, factored: no pivoting, in an order of its
    own."""

    def __init__(self, matrix: Any, fine: Fine) -> None:
        at = np.zeros((fine.count, 2))
        at[fine.vertex.ravel()] = fine.flat.reshape(-1, 2)
        self._order = dissected(matrix, at)
        self._factor = linalg.splu(
            matrix[self._order][:, self._order].tocsc(),
            permc_spec="NATURAL",
            diag_pivot_thresh=0.0,
            relax=20,
            options={"SymmetricMode": True},
        )

    def solve(self, values: Array) -> Array:
        """The solution for (N,) or (N, K) right-hand sides."""
        found = np.empty_like(values)
        found[self._order] = self._factor.solve(values[self._order])
        return found


class Solver(Protocol):
    def solve(self, values: Array, /) -> Array: ...


class Resolvent:
    """The exponential by a factor of M + POLE time K, for masses M (N,)."""

    def __init__(self, mass: Array, factor: Solver) -> None:
        self._mass, self._factor = mass, factor

    def spread(self, load: Array) -> Array:
        """What a load (N,) or (N, K) becomes: per mm2 at every corner."""
        weight = self._mass if load.ndim == 1 else self._mass[:, None]

        def resolve(values: Array) -> Array:
            return self._factor.solve(weight * values)

        # Clenshaw's forward run: T_0, T_1 ... of 2 W - 1 on W2 u, each from the two before.
        now = resolve(self._factor.solve(load))
        a = coefficients()
        before, total = now, a[0] * now
        after = 2.0 * resolve(now) - now
        for share in a[1:]:
            total = total + share * after
            if share is not a[-1]:
                before, after = after, 4.0 * resolve(after) - 2.0 * after - before
        return np.asarray(total)


class Exponential(Protocol):
    def spread(self, load: Array, /) -> Array: ...


@dataclass(frozen=True, eq=False)
class Smoother:
    """A skin made ready for one width. Values and loads are (N,) or (N, K) by corner of `fine`."""

    name: str
    width: float
    fine: Fine
    mass: Array
    exponential: Exponential = field(repr=False)

    @cached_property
    def _outlines(self) -> NDArray[np.object_]:
        return np.asarray(shapely.polygons(self.fine.flat), dtype=object)

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._outlines)

    def spread(self, load: Array) -> Array:
        """What a load becomes: per mm2 at every corner. load: amounts at corners, any unit.

        Their sum is kept: `amount` of the answer is that of the load. Values may be below nothing
        by a little (1e-4 of the peak) far from any source.
        """
        load = np.asarray(load, np.float64)
        if load.shape[:1] != (self.fine.count,) or not np.isfinite(load).all():
            raise MapperError(
                f"A load of shape {load.shape} was given, or one that is not finite.",
                f"{self.fine.count} finite numbers, one a corner, are allowed.",
            )
        return self.exponential.spread(load)

    def amount(self, values: Array) -> Array:
        """How much lies on the whole sheet where `values` are per mm2: (), or (K,)."""
        return np.asarray(self.mass @ np.asarray(values, np.float64))

    def everywhere(self) -> Array:
        """(N,) the load of one per mm2 all over the sheet: it spreads to 1 everywhere."""
        return np.array(self.mass)

    def at_points(self, points: ArrayLike, amounts: ArrayLike = 1.0) -> Array:
        """(N,) load of amounts (K,) at flat points (K, 2), mm; nothing for no points.

        MapperError for a point off the sheet or in an opening.
        """
        points = np.asarray(points, np.float64).reshape(-1, 2)
        rows, shares = self._where(points)
        amounts = np.broadcast_to(np.asarray(amounts, np.float64), (len(points),))
        return _gathered(self.fine, amounts[:, None] * shares, rows)

    def over_area(self, region: BaseGeometry) -> Array:
        """(N,) load of one per mm2 (true area) inside a region of the flat plane; its sum is what
        of the region lies on the sheet."""
        load = np.zeros(self.fine.count)
        near = np.unique(self._tree.query(shapely.get_parts(region), predicate="intersects")[1])
        if not len(near):
            return load
        shapely.prepare(region)
        within = shapely.covers(region, self._outlines[near])
        area = self.fine.area
        rows = near[within]
        load += _gathered(self.fine, area[rows, None] / np.full(3, 3.0), rows)
        rows = near[~within]
        pieces = shapely.intersection(self._outlines[rows], region)
        size, whole = shapely.area(pieces), shapely.area(self._outlines[rows])
        some = (size > 0.0) & (whole > 0.0)
        rows, pieces = rows[some], pieces[some]
        middle = shapely.get_coordinates(shapely.centroid(pieces))
        # A linear function's integral is its value in the middle times the area: exact.
        shares = _shares(self.fine.flat[rows], middle)
        weight = area[rows] * size[some] / whole[some]
        return load + _gathered(self.fine, weight[:, None] * shares, rows)

    def at(self, values: Array, points: ArrayLike) -> Array:
        """(J,) or (J, K) values at flat points (J, 2), mm, straight between corners."""
        rows, shares = self._where(np.asarray(points, np.float64).reshape(-1, 2))
        return np.asarray(
            np.einsum("jc,jc...->j...", shares, np.asarray(values)[self.fine.vertex[rows]])
        )

    def on_sheet(self, points: ArrayLike) -> Array:
        """Those of flat points (K, 2), mm, that lie on the sheet and in no opening."""
        points = np.asarray(points, np.float64).reshape(-1, 2)
        if not len(points):
            return points
        spots = shapely.points(points)
        away = shapely.distance(spots, self._outlines[self._tree.nearest(spots)])
        return np.asarray(points[away <= OFF])

    def nearest(self, points: ArrayLike) -> Array:
        """(K, 2) the flat points of the sheet nearest to flat points (K, 2), mm."""
        spots = shapely.points(np.asarray(points, np.float64).reshape(-1, 2))
        lines = shapely.shortest_line(self._outlines[self._tree.nearest(spots)], spots)
        return np.asarray(shapely.get_coordinates(lines)[::2])

    def _where(self, points: Array) -> tuple[NDArray[np.intp], Array]:
        """The triangle of each flat point and its shares of the corners."""
        if not len(points):
            return np.zeros(0, np.intp), np.zeros((0, 3))
        if not np.isfinite(points).all():
            raise MapperError("A point is no number.", "Flat points x, y in mm are allowed.")
        spots = shapely.points(points)
        rows = np.asarray(self._tree.nearest(spots))
        away = shapely.distance(spots, self._outlines[rows])
        if (away > OFF).any():
            x, y = points[int(np.argmax(away))]
            raise MapperError(
                f"The point ({x:g}, {y:g}) mm lies where skin {self.name!r} has no sheet.",
                "A point on the sheet, outside its openings, is allowed.",
            )
        shares = np.clip(_shares(self.fine.flat[rows], points), 0.0, 1.0)
        return rows, shares / shares.sum(axis=1, keepdims=True)


def _shares(corners: Array, at: Array) -> Array:
    """(K, 3) how points (K, 2) are made of triangles' corners (K, 3, 2)."""
    u, v, p = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], at - corners[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    double = np.where(double > 0.0, double, 1.0)
    b = (p[:, 0] * v[:, 1] - p[:, 1] * v[:, 0]) / double
    c = (u[:, 0] * p[:, 1] - u[:, 1] * p[:, 0]) / double
    return np.stack([1.0 - b - c, b, c], axis=1)


def smoother_on(name: str, fine: Fine, width: float) -> Smoother:
    """The smoother of given triangles: one matrix, factored only where it must be. width: mm."""
    vertex, side = turned(fine)
    weights, stiff = mass(fine), stiffness(vertex, side, fine.count)
    time = 0.5 * width * width
    way: Exponential | None = series.series_of(weights, stiff, time)
    return Smoother(name, width, fine, weights, way or resolvent(fine, weights, stiff, time))


def resolvent(fine: Fine, weights: Array, stiff: Any, time: float) -> Resolvent:
    """The exponential by a factor, for any triangles. time: mm2."""
    matrix = sparse.diags_array(weights) + (POLE * time) * stiff
    return Resolvent(weights, Factor(matrix.tocsc(), fine))


_SMOOTHERS: WeakKeyDictionary[Skin, dict[tuple[float, bytes], Smoother]] = WeakKeyDictionary()


def smoother_of(skin: Skin, width: float, openings: BaseGeometry | None = None) -> Smoother:
    """The smoother of a skin and a width (mm), without its openings; the last few are kept.

    openings: a region of the flat plane, None or empty for none. MapperError for a width that is
    not above 0, or so small on that skin that it takes too many triangles.
    """
    if not (np.isfinite(width) and width > 0.0):
        raise MapperError(f"A width of {width!r} mm was given.", "A length above 0 is allowed.")
    bare = openings is None or openings.is_empty
    key = (float(width), b"" if bare or openings is None else openings.wkb)
    known = _SMOOTHERS.setdefault(skin, {})
    if key in known:
        known[key] = known.pop(key)  # the last used stands last
    else:
        fine = fine_of(skin, None if bare else openings, FINENESS * width)
        known[key] = smoother_on(skin.name, fine, float(width))
        while len(known) > KEPT:
            known.pop(next(iter(known)))
    return known[key]
