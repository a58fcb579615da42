"""An access cover: a flat one by its outline, or a piece of a loft's skin."""

from __future__ import annotations

from itertools import pairwise

from numpy.typing import ArrayLike

from meshes.check import between
from meshes.errors import ShapeError
from meshes.loft import LoftPlan
from meshes.outline import oval_ring, round_ring
from meshes.plate import plate
from meshes.shape import Join, Sheet


def flat_cover(outline: ArrayLike, *, datum: float = 0.0) -> tuple[Sheet, ...]:
    """One flat sheet "cover" with corners (outboard, aft) mm; ShapeError as `plate`."""
    return plate(outline, name="cover", datum=datum)


def round_cover(diameter: float, *, datum: float = 0.0) -> tuple[Sheet, ...]:
    """One flat round sheet "cover" about its own origin; ShapeError unless diameter is positive."""
    return flat_cover(round_ring(diameter), datum=datum)


def oval_cover(length: float, width: float, *, datum: float = 0.0) -> tuple[Sheet, ...]:
    """One flat elliptic sheet "cover", length outboard, width aft; ShapeError unless positive."""
    return flat_cover(oval_ring(length, width), datum=datum)


def skin_cover(
    plan: LoftPlan,
    from_station: float,
    to_station: float,
    from_chord: float,
    to_chord: float,
    *,
    upper: bool,
) -> tuple[Sheet, ...]:
    """One sheet "cover" with the skin's own curve, between two stations and two % chord of a side.

    The chordwise edges are lines of equal xi that have the given % chord at the cover's middle
    station: exact on a loft of one section, within about .1 % chord over the length of a cover on a
    changing one. ShapeError for stations off the loft or limits out of order.
    """
    between("from_station", from_station, plan.stations[0], plan.stations[-1], unit="mm")
    between("to_station", to_station, plan.stations[0], plan.stations[-1], unit="mm")
    if not from_station < to_station:
        raise ShapeError(
            "to_station",
            f"{to_station:g} mm was given after from_station {from_station:g} mm.",
            "It must lie outboard of from_station.",
        )
    if not 0.0 <= from_chord < to_chord <= 100.0:
        raise ShapeError(
            "to_chord",
            f"From {from_chord:g} to {to_chord:g} % chord was given.",
            "0 to 100 % is allowed, the second larger than the first.",
        )
    middle, t = plan.locate(0.5 * (from_station + to_station))
    low, high = sorted(
        float(middle.s_at_chord(t, chord, upper)) for chord in (from_chord, to_chord)
    )
    inner = [s for s in plan.stations if from_station < s < to_station]
    limits = [from_station, *inner, to_station]
    patches = []
    for a, b in pairwise(limits):
        patch, _ = plan.locate(0.5 * (a + b))
        t0, t1 = (float(patch.t_at_station(station)) for station in (a, b))
        patches.append(patch.trimmed(low, high, t0, t1))
    joins = tuple(Join(i, "t1", i + 1, "t0") for i in range(len(patches) - 1))
    return (Sheet("cover", ("outer", "inner"), tuple(patches), joins),)
