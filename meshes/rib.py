"""A rib: the loft's section at a station as a flat sheet, with lightening holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from meshes.check import between, positive
from meshes.errors import ShapeError
from meshes.loft import LoftPlan
from meshes.outline import round_ring
from meshes.patch import Array
from meshes.profile import flat_section
from meshes.shape import Sheet
from meshes.simple import holds_point, holds_ring, rings_meet


@dataclass(frozen=True)
class LighteningHole:
    """A round hole in a rib. chord: % chord of its centre. diameter: mm. height: mm of the centre
    above the chord line, None for midway between the upper and the lower side."""

    chord: float
    diameter: float
    height: float | None = None


def rib(
    plan: LoftPlan,
    station: float,
    from_chord: float = 0.0,
    to_chord: float = 100.0,
    holes: Sequence[LighteningHole] = (),
) -> tuple[Sheet, ...]:
    """One flat sheet "rib" between two % chord; its holes are rings in `Sheet.holes`.

    Faces: outboard and inboard. Flat frame: origin at the leading edge, x aft along the chord line,
    y up. ShapeError for a station off the loft, limits out of order, a hole that leaves the rib
    (`holes[i].diameter`) or holes that touch (`holes[i].chord`). No holes: none are cut.
    """
    patch, t = plan.locate(station)
    lead, tail = patch.chord_line(t)
    size = float(np.linalg.norm(tail))
    up = np.array([-tail[2], 0.0, tail[0]]) / size
    rings: list[Array] = []
    body = flat_section(patch, t, "rib", from_chord, to_chord).outline
    for i, hole in enumerate(holes):
        name = f"holes[{i}]"
        between(f"{name}.chord", hole.chord, from_chord, to_chord, unit="% chord")
        positive(f"{name}.diameter", hole.diameter)
        if hole.height is None:
            sides = patch.at(patch.s_at_chord(t, hole.chord, [True, False]), t)
            height = float(np.mean((sides - lead) @ up))
        else:
            height = between(f"{name}.height", hole.height, -1e5, 1e5, unit="mm")
        ring = round_ring(hole.diameter, (hole.chord / 100.0 * size, height))
        if body is None or not holds_ring(body, ring):
            raise ShapeError(
                f"{name}.diameter",
                f"A hole of {hole.diameter:g} mm at {hole.chord:g} % chord leaves the rib.",
                "A hole must lie inside the rib's outline.",
                "Make it smaller or move it.",
            )
        for other, before in enumerate(rings):
            if (
                rings_meet(before, ring)
                or holds_point(before, ring[0])
                or holds_point(ring, before[0])
            ):
                raise ShapeError(
                    f"{name}.chord",
                    f"It touches holes[{other}].",
                    "Holes must lie apart.",
                    "Move one of the two or make it smaller.",
                )
        rings.append(ring)
    return (flat_section(patch, t, "rib", from_chord, to_chord, tuple(rings)),)
