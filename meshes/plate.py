"""A flat plate by its outline."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import number
from meshes.errors import ShapeError
from meshes.profile import plane_sheet
from meshes.shape import Sheet
from meshes.simple import holds_ring, simple_ring


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
    rings = []
    for i, hole in enumerate(holes):
        inner = simple_ring(f"holes[{i}]", hole)
        if not holds_ring(edge, inner):
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
