"""The shapes of point marks, shared by all pens: told apart by shape, not by colour."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError

Array = NDArray[np.float64]


def mark_paths(mark: str, size: float) -> tuple[tuple[bool, Array], ...]:
    """(closed, points (K, 2)) of a mark about (0, 0), `size` across; a closed one repeats its first
    point. MapperError for a mark there is none of."""
    r = size / 2
    if mark in ("ring", "dot"):
        turn = np.linspace(0, 2 * np.pi, 25)
        share = 0.92 if mark == "ring" else 0.5
        return ((True, share * r * np.stack([np.cos(turn), np.sin(turn)], axis=1)),)
    if mark == "cross":
        a = 0.78 * r
        return (
            (False, np.array([[-a, -a], [a, a]])),
            (False, np.array([[-a, a], [a, -a]])),
        )
    corners = {
        "square": [(-0.78, -0.78), (0.78, -0.78), (0.78, 0.78), (-0.78, 0.78)],
        "diamond": [(0, -1.05), (1.05, 0), (0, 1.05), (-1.05, 0)],
        "triangle": [(-0.95, -0.7), (0.95, -0.7), (0, 0.98)],
    }
    if mark not in corners:
        raise MapperError(
            f"No mark {mark!r}.", f"Marks are ring, dot, cross, {', '.join(corners)}."
        )
    return ((True, r * np.array([*corners[mark], corners[mark][0]])),)
