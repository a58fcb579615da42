"""The smoothed map of findings of one face as a display list, and as what a 3D picture wears.

Steps are filled and hatched, closer from step to step, so that the map reads without colour; where
there is no value the sheet is hatched as not looked at. Marks stand where the findings are.
"""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely import MultiPolygon

from mapper.corrosion.mapwords import UNSEEN, heading, rate, step
from mapper.corrosion.smoothed import Smoothed
from mapper.drawing.display import DisplayList
from mapper.drawing.frame import Frame, polygons_of
from mapper.drawing.framed import draw_names, finished
from mapper.drawing.ground import (
    NOT_LOOKED_AT,
    draw_grid,
    draw_ground,
    draw_laps,
    grid_lines,
)
from mapper.drawing.mesh import TEXTURE_SIDE, ScenePart, texture_of
from mapper.drawing.view import sides_of
from mapper.errors import MapperError
from mapper.surface.geometry import Geometry
from mapper.units import Units

# Room of a part in a picture, mm on paper, that its writing is sized for.
PICTURE = (160.0, 70.0)


def draw_smoothed(
    geometry: Geometry,
    smoothed: Smoothed,
    *,
    units: Units | str = "metric",
    title: str = "",
    width: float = 180.0,
    height: float = 150.0,
    scale: float | None = None,
    region: MultiPolygon | None = None,
) -> DisplayList:
    """The smoothed map of one face, with its legend; other arguments as of `flatmap.draw_map`.

    MapperError for a map of another shape, a paper too small, or a region off the sheet.
    """
    system = units if isinstance(units, Units) else Units(units)
    skin = geometry.skin(smoothed.skin.name)
    if skin is not smoothed.skin:
        raise MapperError(
            f"The map of {skin.name!r} was made on another version of the shape.",
            "A map is drawn on the shape it was made on.",
        )
    if not (width >= 60.0 and height >= 20.0):
        raise MapperError(
            f"A paper of {width} x {height} mm.", "At least 60 mm wide and 20 mm high is needed."
        )
    frame = Frame(geometry, skin, smoothed.face, region, system.system, (width, height), scale)
    pad = frame.pad
    shown = shapely.simplify(smoothed.shown, frame.step)
    unseen = frame.wide(shapely.difference(frame.metal, shown, grid_size=1e-4))
    grid = grid_lines(frame)
    draw_ground(frame, unseen)
    draw_grid(frame, grid)
    draw_laps(frame)
    for band in smoothed.bands:
        token = f"rate-{band.rank}"
        shape = polygons_of(frame.cut(band.region))
        pad.area(shape, token, "regions")
        pad.row(step(band, smoothed.by, system), token)
    pad.row(UNSEEN, NOT_LOOKED_AT)
    drawn = shapely.intersects_xy(frame.window, smoothed.places)
    for place in smoothed.places[drawn]:
        pad.dot(place, "finding")
    if drawn.any():
        pad.row("finding", "finding", int(drawn.sum()), "point")
    draw_names(frame, grid, [], {})

    words = f"{skin.name}: {smoothed.face} face, {heading(smoothed, system)}, {frame.view.words}"
    title = title or geometry.part
    return finished(
        frame, title, words, lambda: _described(title, words, smoothed, system, frame, unseen)
    )


def _described(
    title: str, words: str, smoothed: Smoothed, units: Units, frame: Frame, unseen: MultiPolygon
) -> str:
    """The map in words."""
    told = [f"{title}. {words}."]
    if smoothed.mean is None:
        told.append("Nobody has looked at it.")
    else:
        told.append(f"In the mean {rate(smoothed.mean, smoothed.by, units)}.")
        told += [
            f"{step(band, smoothed.by, units).capitalize()} on "
            f"{100 * band.region.area / smoothed.shown.area:.0f} % of what was looked at."
            for band in smoothed.bands
        ]
    share = unseen.area / frame.metal.area if frame.metal.area else 0.0
    told.append(f"Not looked at: {100 * share:.0f} % of the flat sheet drawn.")
    return " ".join(told)


def dress_smoothed(
    geometry: Geometry,
    maps: Iterable[Smoothed],
    *,
    units: Units | str = "metric",
    side: int = TEXTURE_SIDE,
    scale: float | None = None,
) -> ScenePart:
    """A part wearing its smoothed maps, one for each face it has one of; no maps: a bare part.

    scale: flat mm per mm on paper that the maps are made for; by default a part fills a picture.
    """
    textures = {}
    for one in maps:
        boxes = [s.bounds for s in sides_of(geometry, one.skin)]
        wide = max(b[2] - b[0] for b in boxes)
        tall = max(b[3] - b[1] for b in boxes)
        fitting = max(wide / PICTURE[0], tall / PICTURE[1])
        drawing = draw_smoothed(geometry, one, units=units, scale=scale or fitting)
        textures[one.skin.name, one.face] = texture_of(drawing, side)
    return ScenePart(geometry, textures)
