"""Lines that people name on a sheet: from place to place, or along a rib, spar or rivet row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.entry import Outline
from mapper.job.pieces import keep_sort
from mapper.surface.clip import GRID
from mapper.surface.geometry import Geometry
from mapper.surface.near import NearLine, nearest_lines
from mapper.surface.place import flat_of
from mapper.surface.round import angle_cuts, flat_at_angle, has_angles
from mapper.surface.skin import Skin
from meshes.mirror import unmirrored
from meshes.stationed import Stationed

Array = NDArray[np.float64]
_STEPS = 129  # points of a run on one chart
_HAIR = 1e-9
_TOUCHING = 0.05  # mm: an outline so near a line lies on it
_NEAR = 1e-4  # mm, within which fewer points do


def run_of(skin: Skin, places: Sequence[tuple[float, float]], upper: bool) -> MultiLineString:
    """The line (flat mm) through places (station mm, % chord) on one side of a skin.

    From one place to the next % chord changes evenly with the station, so between two places of
    equal % it follows that % chord, as a spar does; at one station it runs chordwise. One piece for
    each chart it crosses. On a closed body, which has no chord, the second number is the angle
    round in degrees; from 350 to 370 it runs over the top. Empty where two places are one.
    MapperError for fewer than two places and where a place is off the skin.
    """
    if len(places) < 2:
        raise MapperError(f"{len(places)} places were given.", "A line has two places or more.")
    found = [line for a, b in pairwise(places) if a != b for line in _run(skin, a, b, upper)]
    joined = shapely.line_merge(MultiLineString(found)) if found else MultiLineString()
    parts = [p for p in shapely.get_parts(joined) if isinstance(p, LineString)]
    return MultiLineString(parts)


def _run(
    skin: Skin, start: tuple[float, float], end: tuple[float, float], upper: bool
) -> Iterator[LineString]:
    (y0, c0), (y1, c1) = start, end
    breaks = [(b - y0) / (y1 - y0) for b in _breaks(skin)] if y0 != y1 else []
    turning = has_angles(skin)
    breaks += angle_cuts(skin, c0, c1) if turning else []
    # A break within rounding of an end or of another break is that one.
    cuts = [0.0]
    for c in sorted(c for c in breaks if 2 * _HAIR < c < 1.0 - 2 * _HAIR):
        cuts += [c] if c - cuts[-1] > 4 * _HAIR else []
    for a, b in pairwise([*cuts, 1.0]):
        # A hair off a break, so that each piece lies on one chart.
        low, high = (
            c + h * any(abs(c - x) < 1e-9 for x in breaks) for c, h in ((a, _HAIR), (b, -_HAIR))
        )
        if turning:
            u = low + (high - low) * np.linspace(0.0, 1.0, _STEPS)
            flat = flat_at_angle(skin, y0 + u * (y1 - y0), c0 + u * (c1 - c0))
        else:
            u = low + (high - low) * _steps(c0 + a * (c1 - c0), c0 + b * (c1 - c0))
            stations, chords = y0 + u * (y1 - y0), np.clip(c0 + u * (c1 - c0), 0.0, 100.0)
            flat = flat_of(skin, stations, chords, np.full(len(u), upper))
        if not np.isfinite(flat).all():
            raise MapperError(
                f"The line leaves the {skin.name!r} between its places.",
                "Places on the sheet are allowed.",
                "Give more places, or end it earlier.",
            )
        yield shapely.simplify(LineString(flat), _NEAR)


def _steps(chord: float, end: float) -> Array:
    """Shares 0 to 1 of a piece; even along the skin near the nose, where x runs as its square."""
    even = np.linspace(0.0, 1.0, _STEPS)
    if chord == end:
        return even
    roots = np.sqrt([chord, end])
    return np.asarray(((roots[0] + even * (roots[1] - roots[0])) ** 2 - chord) / (end - chord))


def _breaks(skin: Skin) -> list[float]:
    """Stations (mm) where one chart ends and the next begins."""
    patches = [unmirrored(chart.patch) for chart in skin.charts]
    ends = [p.station(0.0, t) for p in patches if isinstance(p, Stationed) for t in (0.0, 1.0)]
    return sorted({float(v) for v in ends})


def run_along(geometry: Geometry, skin: Skin, name: str, within: MultiPolygon) -> MultiLineString:
    """The line of that name (rib, spar, stringer, rivet row, seam) on a skin as far as it lies
    within a region, flat mm; empty where nothing does. MapperError for a name that no line has.
    """
    lines = [x for x in geometry.lines if x.skin == skin.name and x.kind != "hinge line"]
    found = [x for x in lines if x.name.casefold() == " ".join(name.split()).casefold()]
    if not found:
        near = check.nearest(name, [x.name for x in lines])
        raise MapperError(
            f"The {skin.name!r} of {geometry.part} has no line {check.shown(name)}.",
            f"It has {'; '.join(x.name for x in lines) or 'none'}.",
            near or "Name a rib, spar, stringer, rivet row or seam.",
        )
    cut = shapely.intersection(found[0].flat, within, grid_size=GRID)
    kept = keep_sort(cut, "line")
    return MultiLineString([p for p in shapely.get_parts(kept) if isinstance(p, LineString)])


def lines_near(geometry: Geometry, outline: Outline) -> tuple[NearLine, ...]:
    """Of each kind of named line on an outline's skin the nearest, nearest first, with its distance
    (mm) along the sheet, over chart edges and round openings: 0 where the outline lies on it. Of
    lines that the outline crosses all are there.
    """
    known = {(line.kind, line.name) for line in geometry.lines if line.skin == outline.skin}
    near = nearest_lines(geometry, outline.skin, outline.shape)
    lines = [n for n in near if (n.kind, n.name) in known]
    first = {n.kind: n for n in reversed(lines)}
    return tuple(n for n in lines if n.distance < _TOUCHING or first[n.kind] is n)
