"""Checks of parameters, so that every constructor refuses in the same words."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from meshes.errors import ShapeError
from meshes.patch import Array


def number(field: str, value: object, *, unit: str = "mm") -> float:
    """The value as a finite float; ShapeError naming the field otherwise."""
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        raise ShapeError(
            field, f"{value!r} is not a number.", f"A finite number of {unit} is allowed."
        )
    result = float(value)
    if not math.isfinite(result):
        raise ShapeError(
            field, f"{value!r} is not finite.", f"A finite number of {unit} is allowed."
        )
    return result


def positive(field: str, value: object, *, unit: str = "mm", most: float = 1e6) -> float:
    """The value as a float above 0 and at most `most`; ShapeError otherwise."""
    result = number(field, value, unit=unit)
    if not 0.0 < result <= most:
        raise ShapeError(
            field,
            f"{result:g} {unit} was given.",
            f"More than 0 and at most {most:g} {unit} is allowed.",
            "Check the unit and the decimal point.",
        )
    return result


def between(field: str, value: object, least: float, most: float, *, unit: str) -> float:
    """The value as a float from `least` to `most`; ShapeError otherwise."""
    result = number(field, value, unit=unit)
    if not least <= result <= most:
        raise ShapeError(
            field, f"{result:g} {unit} was given.", f"{least:g} to {most:g} {unit} is allowed."
        )
    return result


def read_only(values: ArrayLike) -> Array:
    """A float copy that cannot be written to."""
    result = np.array(values, dtype=np.float64)
    result.setflags(write=False)
    return result


def ring(field: str, values: ArrayLike) -> Array:
    """(K, 2) mm as a read-only ring of at least three distinct corners, counter-clockwise.

    A repeated last point and repeated neighbours are dropped. ShapeError for another shape of
    array, for numbers that are not finite, and for a ring without area.
    """
    points = np.array(values, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 2:
        raise ShapeError(
            field, f"An array of shape {points.shape} was given.", "Pairs x, y in mm are allowed."
        )
    if not np.isfinite(points).all():
        raise ShapeError(field, "A corner is not finite.", "Finite numbers of mm are allowed.")
    # A closed trailing edge comes as two points that differ by rounding.
    least = 1e-9 * float((points.max(axis=0) - points.min(axis=0)).max()) if len(points) else 0.0
    points = points[np.abs(points - np.roll(points, 1, axis=0)).max(axis=1) > least]
    if len(points) < 3:
        raise ShapeError(
            field,
            f"{len(points)} distinct corners were given.",
            "At least 3 are needed.",
            "Add the missing corners.",
        )
    area = shoelace(points)
    size = float(np.ptp(points, axis=0).max())
    if abs(area) <= 1e-12 * size * size:
        raise ShapeError(field, "The outline encloses no area.", "A simple outline is needed.")
    return read_only(points if area > 0 else points[::-1])


def shoelace(points: Array) -> float:
    """Signed area mm2 of a closed ring (first point not repeated), counter-clockwise positive."""
    moved = points - points[0]
    x, y = moved[:, 0], moved[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
