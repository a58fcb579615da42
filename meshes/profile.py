"""A wing section as a flat piece of sheet: what end ribs and ribs are cut from."""

from __future__ import annotations

import numpy as np

from meshes.check import ring
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.plane import PlanePatch
from meshes.ruled import RuledPatch
from meshes.sampling import parameters, polygon_points
from meshes.shape import Sheet


def plane_sheet(
    name: str,
    face_names: tuple[str, ...],
    outline: Array,
    origin: Array,
    axes: tuple[Array, Array],
    stations: tuple[float, float, float],
    chords: tuple[float, float, float] | None = None,
    holes: tuple[Array, ...] = (),
) -> Sheet:
    """A sheet of one plane patch round an outline (K, 2) in its own mm; ShapeError as `ring`."""
    outline = ring("outline", outline)
    (s0, t0), (s1, t1) = outline.min(axis=0), outline.max(axis=0)
    patch = PlanePatch(
        origin, *axes, (float(s0), float(s1), float(t0), float(t1)), stations, chords
    )
    return Sheet(name, face_names, (patch,), (), outline, holes)


def flat_section(
    patch: RuledPatch,
    t: float,
    name: str,
    from_chord: float = 0.0,
    to_chord: float = 100.0,
    holes: tuple[Array, ...] = (),
) -> Sheet:
    """The section of a loft's patch at t, between two % chord, as one flat sheet.

    Faces: outboard and inboard. Its flat frame: origin at the leading edge, x aft along the chord
    line, y up. ShapeError where the two limits are in the wrong order or outside 0 to 100.
    """
    if not 0.0 <= from_chord < to_chord <= 100.0:
        raise ShapeError(
            "to_chord",
            f"From {from_chord:g} to {to_chord:g} % chord was given.",
            "0 to 100 % is allowed, the second larger than the first.",
        )
    lead, tail = patch.chord_line(t)
    size = float(np.linalg.norm(tail))
    aft = tail / size
    up = np.array([-aft[2], 0.0, aft[0]])
    curve = patch.curve_at(t)

    def plane(s: Array) -> Array:
        rest = curve.at(s) - lead
        return np.stack([rest @ aft, rest @ up], axis=-1)

    limits = patch.s_at_chord(
        t, [to_chord, from_chord, from_chord, to_chord], [True, True, False, False]
    )
    arcs = (
        [(limits[3], limits[0])]
        if from_chord == 0.0
        else [(limits[1], limits[0]), (limits[3], limits[2])]
    )
    points = []
    for low, high in arcs:
        lines = patch.s_lines
        breaks = np.concatenate([[low], lines[(lines > low) & (lines < high)], [high]])
        points.append(polygon_points(plane, parameters(plane, breaks)))
    # Lower side first and growing s: from the lower tail forward, over the nose, aft on top, which
    # is clockwise; `ring` turns it round.
    outline = np.concatenate(points[::-1])
    station = float(patch.station(0.0, t))
    return plane_sheet(
        name,
        ("outboard", "inboard"),
        outline,
        lead,
        (aft, up),
        (station, 0.0, 0.0),
        (0.0, 100.0 / size, 0.0),
        holes,
    )
