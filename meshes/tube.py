"""A round tube, straight or tapered, closed round its seam."""

from __future__ import annotations

from meshes.check import number, positive
from meshes.curves import Circle
from meshes.ruled import RuledPatch
from meshes.shape import Join, Sheet


def tube(
    diameter0: float, diameter1: float, length: float, *, datum: float = 0.0
) -> tuple[Sheet, ...]:
    """One sheet "tube" about the y axis from y = 0 (diameter0) to y = length (diameter1), mm.

    Faces: outer and inner. Laid flat it is cut along the bottom; that seam is joined, so a region
    may run across it. Station: distance from the diameter0 end plus datum. The ends are open.
    ShapeError for a measure that is not positive.
    """
    radius0 = 0.5 * positive("diameter0", diameter0)
    radius1 = 0.5 * positive("diameter1", diameter1)
    positive("length", length)
    patch = RuledPatch(
        Circle(radius0, 0.0), Circle(radius1, float(length)), number("datum", datum), chorded=False
    )
    return (Sheet("tube", ("outer", "inner"), (patch,), (Join(0, "s0", 0, "s1"),)),)
