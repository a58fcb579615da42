"""Smooth functions of one variable as pieces of polynomials: stored with a map, never remade."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from mapper.errors import MapperError

Array = NDArray[np.float64]

DEGREE = 14
DEEPEST = 18


@dataclass(frozen=True, eq=False)
class Table:
    """C functions over pieces: breaks (P + 1,), coefficients (DEGREE + 1, P, C) by Chebyshev.

    Arguments outside the breaks are taken by the first or last piece.
    """

    breaks: Array
    coefficients: Array

    def __post_init__(self) -> None:
        for name in ("breaks", "coefficients"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, name, values)

    def at(self, s: Array) -> tuple[Array, Array]:
        """Values and derivatives, each (K, C), at s (K,), by Clenshaw's recurrence."""
        return self._clenshaw(s, slice(None))

    def one_at(self, s: Array, column: int) -> tuple[Array, Array]:
        """Value and derivative, each (K,), of one function; the same numbers as in `at`."""
        value, slope = self._clenshaw(s, slice(column, column + 1))
        return value[:, 0], slope[:, 0]

    def values(self, s: Array, first: int = 0) -> Array:
        """Values (K, C - first) without derivatives; the same numbers as in `at`."""
        c, x, _ = self._here(s, slice(first, None))
        twice = 2.0 * x
        b1 = b2 = np.zeros_like(c[0])
        for row in c[:0:-1]:
            b1, b2 = row + twice * b1 - b2, b1
        return np.asarray(c[0] + x * b1 - b2)

    def _here(self, s: Array, columns: slice) -> tuple[Array, Array, Array]:
        """Coefficients (DEGREE + 1, K, C), places in the piece (K, 1) and half its size (K, 1)."""
        last = len(self.breaks) - 2
        piece = np.clip(np.searchsorted(self.breaks, s, side="right") - 1, 0, last)
        low, high = self.breaks[piece], self.breaks[piece + 1]
        half = 0.5 * (high - low)
        x = (s - 0.5 * (low + high)) / half
        return self.coefficients[:, piece, columns], x[:, None], half[:, None]

    def _clenshaw(self, s: Array, columns: slice) -> tuple[Array, Array]:
        c, x, half = self._here(s, columns)
        twice = 2.0 * x
        b1 = b2 = d1 = d2 = np.zeros_like(c[0])
        for row in c[:0:-1]:
            d1, d2 = 2.0 * b1 + twice * d1 - d2, d1
            b1, b2 = row + twice * b1 - b2, b1
        return c[0] + x * b1 - b2, (b1 + x * d1 - d2) / half

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays); `table_from` reads it."""
        return {"format": "table/1", "breaks": self.breaks, "coefficients": self.coefficients}


def table_from(record: dict[str, Any]) -> Table:
    """The table of a record; MapperError for an unknown format."""
    if record.get("format") != "table/1":
        raise MapperError(
            f"A table has the format {record.get('format')!r}.",
            "This release reads table/1.",
            "Open it with a newer release.",
        )
    return Table(np.asarray(record["breaks"]), np.asarray(record["coefficients"]))


def _fit(function: Callable[[Array], Array], low: float, high: float) -> Array:
    nodes = chebyshev.chebpts1(DEGREE + 1)
    values = function(0.5 * (low + high) + 0.5 * (high - low) * nodes)
    return np.asarray(chebyshev.chebfit(nodes, values, DEGREE), dtype=np.float64)


def table(
    rates: Callable[[Array], Array], finish: Callable[[Array, Array], Array], breaks: Array
) -> Table:
    """A table of `finish(s, integral of rates from s = 0)`.

    rates: s (K,) -> (K,), smooth between the breaks (ascending; 0 among them or outside them at
    one end). finish: s (K,), integral (K,) -> (K, C). Pieces are halved until both are resolved to
    rounding.
    """
    edges = [float(breaks[0])]
    fits: list[Array] = []
    pending = [(float(a), float(b), 0) for a, b in pairwise(breaks)][::-1]
    while pending:
        low, high, depth = pending.pop()
        fit = _fit(rates, low, high)
        if depth < DEEPEST and not _resolved(fit):
            middle = 0.5 * (low + high)
            pending += [(middle, high, depth + 1), (low, middle, depth + 1)]
            continue
        edges.append(high)
        fits.append(fit)
    grid = np.array(edges)
    integrals = [
        chebyshev.chebint(fit, lbnd=-1.0, scl=0.5 * (b - a))
        for fit, a, b in zip(fits, grid[:-1], grid[1:], strict=True)
    ]
    steps = np.array([float(chebyshev.chebval(1.0, i)) for i in integrals])
    start = np.concatenate([[0.0], np.cumsum(steps)])
    zero = int(np.argmin(np.abs(grid)))
    start -= start[zero]
    pieces = []
    for k, integral in enumerate(integrals):

        def value(s: Array, k: int = k, integral: Array = integral) -> Array:
            x = (s - 0.5 * (grid[k] + grid[k + 1])) / (0.5 * (grid[k + 1] - grid[k]))
            return finish(s, start[k] + np.asarray(chebyshev.chebval(x, integral)))

        pieces.append(_fit(value, grid[k], grid[k + 1]))
    return Table(grid, np.stack(pieces, axis=1))


def _resolved(fit: Array) -> bool:
    return bool(np.abs(fit[-3:]).max() <= 1e-14 * np.abs(fit).max())
