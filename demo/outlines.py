"""From a place in the story to a shape on the flat map, as a hand with a marker would draw it.

A hand does not draw circles and straight lines. What is drawn by hand wavers a little; how, follows
from the places alone, so that it is the same on every run.
"""

from __future__ import annotations

import zlib
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from demo.story.row import (
    Along,
    Blob,
    Box,
    Disc,
    Drawn,
    Lettering,
    Round,
    Rub,
    Spots,
    Trace,
    Where,
    Whole,
)
from mapper.errors import MapperError
from mapper.job.runs import run_along
from mapper.surface import region
from mapper.surface.geometry import Geometry, Panel
from mapper.surface.place import flat_of
from mapper.surface.round import angle_box, flat_at_angle, has_angles
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

# Strokes of capitals on a grid 4 wide and 6 high.
_STROKES: dict[str, tuple[tuple[tuple[float, float], ...], ...]] = {
    "A": (((0, 0), (2, 6), (4, 0)), ((0.8, 2.2), (3.2, 2.2))),
    "Q": (
        ((1, 0), (0, 1), (0, 5), (1, 6), (3, 6), (4, 5), (4, 1), (3, 0), (1, 0)),
        ((2.6, 1.6), (4.2, -0.4)),
    ),
    "T": (((0, 6), (4, 6)), ((2, 6), (2, 0))),
    "V": (((0, 6), (2, 0), (4, 6)),),
    "-": (((0.8, 3), (3.2, 3)),),
    "1": (((1, 4.8), (2.2, 6), (2.2, 0)),),
    "7": (((0, 6), (4, 6), (1.6, 0)),),
}  # fmt: skip


def shape_of(geometry: Geometry, skin: Skin, where: Where) -> Any:
    """The region, line or points in the skin's flat plane that the story means."""
    if isinstance(where, Box):
        return region.box(skin, stations=where.stations, chord=where.chord, side=where.side)
    if isinstance(where, Round):
        return angle_box(skin, angles=where.angles, stations=where.stations)
    if isinstance(where, Whole):
        return _panel(geometry, where.panel).flat if where.panel else region.whole(skin)
    if isinstance(where, Disc):
        centre = places(skin, ((where.station, where.across),), where.side)[0]
        openings = region.openings_of(geometry, skin.name)
        return region.disc(skin, centre, where.radius, openings)
    if isinstance(where, Spots):
        return shapely.MultiPoint(places(skin, where.at, where.side))
    if isinstance(where, Trace):
        line = _wavering(places(skin, where.through, where.side), 0.8, where)
        return shapely.MultiLineString([line])
    if isinstance(where, Along):
        within = _within(skin, where)
        line = run_along(geometry, skin, where.name, within)
        return region.band(skin, line, where.width) if where.width else line
    return _drawn(geometry, skin, where)


def _within(skin: Skin, line: Along) -> Any:
    if line.across is not None and has_angles(skin):
        return angle_box(skin, angles=line.across, stations=line.stations)
    return region.box(skin, stations=line.stations, chord=line.across, side=line.side)


def _drawn(geometry: Geometry, skin: Skin, where: Where) -> Any:
    if isinstance(where, Blob):
        centre = places(skin, ((where.station, where.across),), where.side)[0]
        return region.polygon(skin, _spot(centre, where))
    if isinstance(where, Rub):
        return region.polygon(skin, _ribbon(places(skin, where.through, where.side), where))
    if isinstance(where, Drawn):
        corners = places(skin, where.at, where.side)
        ring = _wavering(np.vstack([corners, corners[:1]]), where.shake, where)
        area = region.polygon(skin, shapely.get_coordinates(ring))
        if not where.panel:
            return area
        return region.intersection(area, _panel(geometry, where.panel).flat)
    raise TypeError(f"{where!r} has no outline")


def places(skin: Skin, at: tuple[tuple[float, float], ...], side: str) -> Array:
    """Flat points (K, 2) of places. MapperError where one is off the skin."""
    first, second = np.asarray(at, float).T
    if side == "flat":
        found = np.column_stack([first, second])
    elif has_angles(skin):
        if second.min() < 180.0 < second.max() < second.min() + 180.0:
            raise MapperError(f"{at} runs over the bottom, where the flat map is cut.", "Two rows.")
        found = flat_at_angle(skin, first, second)
    else:
        found = flat_of(skin, first, second, np.full(len(first), side != "lower"))
    if not np.isfinite(found).all():
        raise MapperError(f"{at} is not all on the {skin.name!r}.", f"Side {side!r}.")
    return found


def traced(skin: Skin, text: Lettering) -> Any:
    """The letters as lines on the flat map: read from below the wing, or from outside."""
    start = places(skin, (text.start,), text.side)[0]
    unit = text.height / 6
    lines = []
    for number, letter in enumerate(text.text):
        for stroke in _STROKES[letter]:
            points = np.asarray(stroke, float) * unit + [number * 5.5 * unit, 0.0]
            lines.append(shapely.LineString(points + start))
    return shapely.MultiLineString(lines)


def _hand(where: Where) -> np.random.Generator:
    return np.random.default_rng(zlib.crc32(repr(where).encode()))


def _spot(centre: Array, spot: Blob) -> Array:
    """A closed curve round a spot: an ellipse with a few slow waves in it."""
    hand = _hand(spot)
    turn = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    reach = np.ones_like(turn)
    for wave in (2, 3, 4, 5, 7):
        reach += hand.normal(0.0, 0.17 / wave) * np.cos(wave * turn + hand.uniform(0, 2 * np.pi))
    x, y = 0.5 * spot.long * reach * np.cos(turn), 0.5 * spot.wide * reach * np.sin(turn)
    cos, sin = np.cos(np.deg2rad(spot.turn)), np.sin(np.deg2rad(spot.turn))
    return np.asarray(centre + np.column_stack([cos * x - sin * y, sin * x + cos * y]))


def _wavering(corners: Array, shake: float, where: Where) -> Any:
    """A line through corners with a slow waver of about `shake` mm between them."""
    hand = _hand(where)
    points = [corners[:1]]
    for start, end in pairwise(corners):
        way = end - start
        long = float(np.hypot(*way))
        steps = int(np.clip(long / 45.0, 3, 30)) if long > 12.0 else 1
        share = np.linspace(0.0, 1.0, steps + 1)[1:]
        off = np.cumsum(hand.normal(0.0, 1.0, steps))
        # Bound to both corners, as a hand that looks where it is going.
        off = (off - share * off[-1]) * min(shake, 0.04 * long) / max(1.0, np.abs(off).max())
        square = np.array([-way[1], way[0]]) / max(long, 1e-9)
        points.append(start + share[:, None] * way + off[:, None] * square)
    return shapely.LineString(np.vstack(points))


def _ribbon(through: Array, rub: Rub) -> Array:
    """The outline of what a pad went over: about as wide as it, not everywhere alike."""
    hand = _hand(rub)
    way = shapely.LineString(through)
    count = int(np.clip(way.length / 30.0, 6, 60))
    share = np.linspace(0.0, 1.0, count)
    middle = shapely.get_coordinates(shapely.line_interpolate_point(way, share, normalized=True))
    ahead = np.gradient(middle, axis=0)
    square = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
    ends = np.sqrt(np.clip(np.minimum(share, 1.0 - share) * way.length / (0.5 * rub.width), 0.1, 1))
    one, other = (
        (0.5 * rub.width * ends * hand.uniform(0.82, 1.12, count))[:, None] * square
        for _ in range(2)
    )
    return np.vstack([middle + one, (middle - other)[::-1]])


def _panel(geometry: Geometry, name: str) -> Panel:
    for panel in geometry.panels:
        if panel.name == name:
            return panel
    raise MapperError(
        f"{geometry.part} has no panel {name!r}.",
        f"It has {', '.join(p.name for p in geometry.panels)}.",
    )
