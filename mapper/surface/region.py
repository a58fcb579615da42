"""Regions of a skin: how they come to be, and how they are joined and cut.

A region is a MultiPolygon in the skin's flat plane, mm, over all its charts at once. Everything
here answers with clean regions; an empty region in is an empty region out.

A disc has one door, `disc`, and two makers behind it. On charts that lie flat without stretch the
fan on the flat map is exact, chart edges being curves there; everywhere else, and wherever an edge
or an opening casts a shadow, the fan goes over the net of triangles (`brush.fan_disc`), which is
right to the triangles' size squared.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.around import band, flat_disc
from mapper.surface.brush import fan_disc, shadowed
from mapper.surface.clip import clean, clip, difference, intersection, rims, union, whole
from mapper.surface.geometry import Geometry
from mapper.surface.limits import box, plan_circle
from mapper.surface.skin import Skin
from mapper.surface.stroke import hover, stroke

__all__ = [
    "band",
    "box",
    "clean",
    "clip",
    "difference",
    "disc",
    "hover",
    "intersection",
    "on_sheet",
    "openings_of",
    "plan_circle",
    "polygon",
    "stroke",
    "union",
    "whole",
]


def disc(
    skin: Skin, centre: ArrayLike, radius: float, openings: BaseGeometry | None = None
) -> MultiPolygon:
    """The points of a skin within a distance of one, measured along the sheet.

    centre: (2,) flat mm on the sheet; radius: mm. Ways go over glued chart edges, round the nose or
    a tube, and end at the sheet's own edges; openings (a region of the flat plane) are gone round
    and are no part of the disc. The outline's corners lie so that its area is the circle's. Raises
    MapperError for a centre off the sheet, values that are no numbers, a radius that is not
    positive, and a disc that goes round the skin too many times.
    """
    middle = np.asarray(centre, np.float64)
    flat = all(chart.flat_map.isometric for chart in skin.charts)
    clear = openings is None or openings.is_empty
    good = flat and middle.shape == (2,) and np.all(np.isfinite([*middle, radius])) and radius > 0
    if good and openings is not None and not clear:
        clear = not any(
            shapely.dwithin(piece, shapely.Point(middle), radius) for piece in openings.geoms
        ) and any(rim.contains(shapely.Point(middle).buffer(radius)) for rim in rims(skin))
    if good and clear and not shadowed(skin, middle, radius):
        return flat_disc(skin, middle, radius)
    return fan_disc(skin, centre, radius, openings)


def openings_of(geometry: Geometry, skin_name: str) -> MultiPolygon:
    """All openings of a skin as one region; empty where it has none."""
    holes = [o.flat for o in geometry.openings if o.skin == skin_name and not o.flat.is_empty]
    return union(*holes)


def on_sheet(geometry: Geometry, skin_name: str, region: BaseGeometry) -> MultiPolygon:
    """The part of a region where there is sheet: inside the skin's edge, its openings taken off.

    Raises MapperError for a skin that is not there and as `clean`.
    """
    skin = geometry.skin(skin_name)
    kept = clip(skin, clean(region))
    holes = [o.flat for o in geometry.openings if o.skin == skin_name and not o.flat.is_empty]
    if kept.is_empty or not holes:
        return kept
    return difference(kept, shapely.union_all(holes))


def polygon(skin: Skin, ring: ArrayLike) -> MultiPolygon:
    """The region inside a ring of straight edges on the flat map, as far as the skin goes.

    ring: (K, 2) flat mm, K >= 3, closed or not. Raises MapperError for fewer corners and for
    coordinates that are no numbers.
    """
    points = np.asarray(ring, np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3:
        raise MapperError(
            f"A polygon of shape {points.shape} was given.",
            "Three corners or more, each an x and a y in flat mm, are allowed.",
        )
    if not np.all(np.isfinite(points)):
        row = int(np.argmin(np.all(np.isfinite(points), axis=1)))
        raise MapperError(
            f"Corner {row + 1} of the polygon is ({points[row, 0]:g}, {points[row, 1]:g}) mm.",
            "Corners are numbers.",
            "Correct this corner or leave it out.",
        )
    return clip(skin, clean(Polygon(points)))
