"""A spar's web: the upright sheet between the upper and the lower skin at one % chord."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from meshes.check import between
from meshes.curves import Segment
from meshes.errors import ShapeError
from meshes.loft import LoftPlan
from meshes.ruled import RuledPatch
from meshes.shape import Join, Sheet


def spar_web(
    plan: LoftPlan, chord: float, from_station: float, to_station: float
) -> tuple[Sheet, ...]:
    """One sheet "web" with the faces forward and aft, from one station to another.

    At both ends and at every section of the loft between them it is the straight line from the
    lower to the upper skin at that % chord (square to the chord line); between those it is ruled.
    Flat frame: origin at mid height of the inboard end, x outboard, y up.
    ShapeError for stations off the loft or out of order, % chord outside 1 to 99, no height.
    """
    between("chord", chord, 1.0, 99.0, unit="% chord")
    between("from_station", from_station, plan.stations[0], plan.stations[-1], unit="mm")
    between("to_station", to_station, plan.stations[0], plan.stations[-1], unit="mm")
    if not from_station < to_station:
        raise ShapeError(
            "to_station",
            f"{to_station:g} mm was given after from_station {from_station:g} mm.",
            "It must lie outboard of from_station.",
        )
    inner = [s for s in plan.stations if from_station < s < to_station]
    lines = []
    for station in [from_station, *inner, to_station]:
        lower, upper = plan.point(station, chord, False), plan.point(station, chord, True)
        if not np.linalg.norm(upper - lower) > 0.1:
            raise ShapeError(
                "chord",
                f"The web at {chord:g} % chord, station {station:g} mm has no height.",
                "A web needs 0.1 mm between the skins.",
                "Move it forward.",
            )
        lines.append(Segment(lower, upper))
    patches = tuple(RuledPatch(a, b, float(plan.datum), chorded=False) for a, b in pairwise(lines))
    joins = tuple(Join(i, "t1", i + 1, "t0") for i in range(len(patches) - 1))
    return (Sheet("web", ("forward", "aft"), patches, joins),)
