"""Regions as plane shapes: made valid where they enter, joined and cut on one fine grid.

A region is a MultiPolygon in a skin's flat plane, mm, over all its charts at once. Every overlay
passes a .0001 mm grid, so that results of results keep meeting exactly.
"""

from __future__ import annotations

from collections.abc import Iterable
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

GRID = 1e-4  # mm; a .01 mm grid would cost 1.7e-3 of a 1 mm pit's area
FARTHEST = 1e7  # mm; beyond this the grid is finer than the last digit of a coordinate

EMPTY = MultiPolygon()
_SHEETS: WeakKeyDictionary[Skin, tuple[Polygon, ...]] = WeakKeyDictionary()
_RIMS: WeakKeyDictionary[Skin, tuple[Polygon, ...]] = WeakKeyDictionary()


def only_polygons(shape: BaseGeometry) -> MultiPolygon:
    """The parts of a shape that have an area; an empty MultiPolygon if none has."""
    parts = [p for p in _flat(shape) if isinstance(p, Polygon) and not p.is_empty]
    return MultiPolygon(parts) if parts else EMPTY


def _flat(shape: BaseGeometry) -> Iterable[BaseGeometry]:
    for part in shapely.get_parts(shape):
        if shapely.get_num_geometries(part) > 1 or part.geom_type == "GeometryCollection":
            yield from _flat(part)
        else:
            yield from shapely.get_parts(part)


def finite(shape: BaseGeometry) -> None:
    """Nothing, or a MapperError: coordinates must be numbers and at most 10 km from the origin."""
    if not isinstance(shape, BaseGeometry):
        raise MapperError(
            f"A region was given as {type(shape).__name__}.",
            "A Polygon or MultiPolygon in flat mm is allowed.",
        )
    points = shapely.get_coordinates(shape)
    if bool((np.abs(points) <= FARTHEST).all()):  # false for what is no number
        return
    bad = ~np.all(np.isfinite(points) & (np.abs(points) <= FARTHEST), axis=1)
    if np.any(bad):
        x, y = points[int(np.argmax(bad))]
        raise MapperError(
            f"The outline has a corner at ({x:g}, {y:g}) mm.",
            f"Corners are numbers between -{FARTHEST:g} and {FARTHEST:g} mm.",
            "Correct this corner or leave it out.",
        )


def clean(shape: BaseGeometry) -> MultiPolygon:
    """A shape as a region: valid, polygons only, on the .0001 mm grid; empty for an empty one.

    An outline that crosses itself is read as the area it winds round (structure rule: outer rings
    add, holes take off). Lines and points have no area and fall away. Raises MapperError for a
    coordinate that is no number or is farther than 10 km from the origin.
    """
    finite(shape)
    if shape.is_empty:
        return EMPTY
    if not shape.is_valid:
        shape = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    with np.errstate(all="ignore"):  # coordinates like 1e-310 underflow on the way to the grid
        return only_polygons(shapely.set_precision(only_polygons(shape), GRID))


def union(*regions: BaseGeometry) -> MultiPolygon:
    """Everything in any of the regions; empty without any."""
    return only_polygons(shapely.union_all(list(regions), grid_size=GRID)) if regions else EMPTY


def difference(a: BaseGeometry, b: BaseGeometry) -> MultiPolygon:
    """What is in a and not in b."""
    return only_polygons(shapely.difference(a, b, grid_size=GRID))


def intersection(a: BaseGeometry, b: BaseGeometry) -> MultiPolygon:
    """What is in both."""
    return only_polygons(shapely.intersection(a, b, grid_size=GRID))


def rims(skin: Skin) -> tuple[Polygon, ...]:
    """The outline of each chart at full precision, prepared for quick tests; made once."""
    found = _RIMS.get(skin)
    if found is None:
        found = tuple(Polygon(chart.rim) for chart in skin.charts)
        for chart, rim in zip(skin.charts, found):
            if not rim.is_valid:
                raise MapperError(
                    f"The outline of chart {chart.name!r} of skin {skin.name!r} crosses itself on "
                    f"the flat map ({shapely.is_valid_reason(rim)}).",
                    "A chart lies flat in one piece.",
                    "Check the shape's measurements.",
                )
            shapely.prepare(rim)
        _RIMS[skin] = found
    return found


def sheets(skin: Skin) -> tuple[Polygon, ...]:
    """The outline of each chart let out by the grid's .0001 mm; made once.

    Regions are cut to these, so that rounding to the grid never takes area off at the sheet's edge.
    Measuring itself stops at the exact edge.
    """
    found = _SHEETS.get(skin)
    if found is None:
        found = tuple(r.buffer(GRID, join_style="mitre") for r in rims(skin))
        for sheet in found:
            shapely.prepare(sheet)
        _SHEETS[skin] = found
    return found


def whole(skin: Skin) -> MultiPolygon:
    """The region of a whole skin, all charts, openings not taken off."""
    return clean(MultiPolygon(list(sheets(skin))))


def clip(skin: Skin, region: BaseGeometry) -> MultiPolygon:
    """The part of a region that lies on the skin (openings not taken off); empty if none does."""
    if any(sheet.contains(region) for sheet in sheets(skin)):
        return only_polygons(region)
    return intersection(region, MultiPolygon(list(sheets(skin))))
