"""A flat plate by its outline."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from shapely import Polygon

from meshes.check import number, ring
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.profile import plane_sheet
from meshes.shape import Sheet


def simple_ring(field: str, values: ArrayLike) -> Array:
    """`meshes.check.ring`, and refused when it crosses itself."""
    result = ring(field, values)
    if not Polygon(result).is_valid:
        raise ShapeError(
            field,
            "The outline crosses or touches itself.",
            "A simple outline is allowed, its corners in order.",
            "Put the corners in order round the edge.",
        )
    return result


def plate(
    outline: ArrayLike,
    *,
    name: str = "plate",
    face_names: tuple[str, ...] = ("outer", "inner"),
    datum: float = 0.0,
    holes: Sequence[ArrayLike] = (),
) -> tuple[Sheet, ...]:
    """One flat sheet. outline (K, 2): corners (outboard, aft) mm, which are its flat coordinates.

    It lies in z = 0 of its own frame; station: mm outboard plus datum. holes: rings in the same mm.
    ShapeError for fewer than three corners, an outline that crosses itself, a hole that leaves it.
    """
    number("datum", datum)
    edge = simple_ring("outline", outline)
    body = Polygon(edge)
    rings = []
    for i, hole in enumerate(holes):
        inner = simple_ring(f"holes[{i}]", hole)
        if not body.contains(Polygon(inner)):
            raise ShapeError(
                f"holes[{i}]",
                "The hole leaves the outline.",
                "A hole must lie inside the outline.",
                "Move it or make it smaller.",
            )
        rings.append(inner)
    return (
        plane_sheet(
            name,
            face_names,
            edge,
            np.zeros(3),
            (np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])),
            (float(datum), 1.0, 0.0),
            None,
            tuple(rings),
        ),
    )
