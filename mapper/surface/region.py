"""Regions of a skin: how they come to be, and how they are joined and cut.

A region is a MultiPolygon in the skin's flat plane, mm, over all its charts at once. Everything
here answers with clean regions; an empty region in is an empty region out.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.around import band, disc
from mapper.surface.clip import clean, clip, difference, intersection, union, whole
from mapper.surface.geometry import Geometry
from mapper.surface.limits import box, plan_circle
from mapper.surface.skin import Skin

__all__ = [
    "band",
    "box",
    "clean",
    "clip",
    "difference",
    "disc",
    "intersection",
    "on_sheet",
    "plan_circle",
    "polygon",
    "union",
    "whole",
]


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
