"""The smoothed map of findings of one face: how many per m2 inspected, about every place.

Every finding is spread along the sheet as a bell of a given width (`surface.smooth`): round the
nose, never through the sheet, over a closed trailing edge or over an opening. What was inspected is
spread the same way, and the one is divided by the other. Where too little about a place was looked
at there is no value: not looked at, never zero.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from mapper.corrosion.bands import PERCENT, Band, count_steps, width_area
from mapper.corrosion.defects import Home, homes_of
from mapper.corrosion.settings import counting_of
from mapper.errors import MapperError
from mapper.estimate.regions import NOTHING, PartRegions, regions_of, together
from mapper.job.book import Book
from mapper.surface.contour import above
from mapper.surface.region import clean, difference, intersection, openings_of, union, whole
from mapper.surface.skin import Skin
from mapper.surface.smooth import Smoother, smoother_of

Array = NDArray[np.float64]

MM2 = 1e6  # mm2 in a m2
COUNT, AREA = "count", "area"
# Share of what lies about a place that must have been looked at for a value there; own choice.
LEAST_SEEN = 0.25
STEP = 0.1  # of the width: how far apart the points are that a line is spread from


@dataclass(frozen=True, eq=False)
class Smoothed:
    """One face's map. All regions lie in the flat plane of the skin, mm.

    width: mm. by: "count" (findings per m2) or "area" (% of the inspected area). what: the sort of
    finding counted, "" for all. findings: in the map; outside: on the face but in no inspected
    area; flat: drawn as points or lines, so without an area where it maps areas. inspected_mm2:
    true area looked at, as the triangles have it. mean: over the inspected area, as in the table of
    findings; None where nobody looked. bands: lowest first, those that occur; shown: where
    there is a value; unseen: the rest of the sheet. peak: the largest value and its flat point.
    places: (K, 2) a point in each finding.
    """

    skin: Skin
    face: str
    width: float
    by: str
    what: str
    level: float
    findings: int
    outside: int
    flat: int
    inspected_mm2: float
    mean: float | None
    bands: tuple[Band, ...]
    shown: MultiPolygon
    unseen: MultiPolygon
    peak: tuple[float, tuple[float, float]] | None
    places: Array

    @property
    def weighs_mm2(self) -> float:
        """What one place counts as much as, in the middle of the sheet."""
        return width_area(self.width, self.inspected_mm2)


def smoothed_findings(
    book: Book,
    part_id: str,
    skin_name: str,
    face: str,
    *,
    width: float | None = None,
    by: str = COUNT,
    what: str | None = None,
) -> Smoothed:
    """The smoothed map of a face of a skin.

    width: mm, None for the shop's setting. by: "count", every finding the same, an area or a line
    spread evenly over itself; "area", the share of the inspected area that is outlined as affected.
    what: only findings of that sort. A finding counts where the table of findings counts it: on its
    home panel, when an inspected area reaches it. Nobody looked: a map without bands. MapperError
    for a part without a shape, an unknown skin, face or `by`, and widths that cannot be done.
    """
    part = regions_of(book, part_id)
    if part.geometry is None:
        raise MapperError(
            f"{book.part(part_id).name} has no shape.", "A part with a shape has a findings map."
        )
    skin = part.geometry.skin(skin_name)
    if face not in skin.face_names:
        raise MapperError(
            f"No face {face!r} on skin {skin.name!r}.",
            f"Its faces are {', '.join(repr(n) for n in skin.face_names)}.",
        )
    if by not in (COUNT, AREA):
        raise MapperError(f"A map by {by!r} was asked for.", f"By {COUNT!r} or {AREA!r}.")
    counting = counting_of(book.shop.settings)
    wide = counting.width if width is None else float(width)
    openings = openings_of(part.geometry, skin.name)
    smoother = smoother_of(skin, wide, openings)
    inside, outside, inspected = _found(part, skin, face, what)
    sheet = difference(whole(skin), openings) if not openings.is_empty else whole(skin)
    seen = smoother.over_area(inspected)
    total = float(seen.sum())
    bare = sum(h.region != "area" and h.shape.area == 0.0 for h, _ in inside)
    places = np.array([_point(h.shape) for h, _ in inside]).reshape(-1, 2)

    def made(mean: float | None, **more: Any) -> Smoothed:
        return Smoothed(
            skin, face, wide, by, what or "", counting.level, len(inside), outside, bare, total,
            mean, places=places, **more,
        )  # fmt: skip

    if total <= 0.0:
        return made(None, bands=(), shown=NOTHING, unseen=sheet, peak=None)
    if by == AREA:
        load, unit = _affected(smoother, inside, inspected), 100.0
    else:
        load, unit = _counted(smoother, inside, wide), MM2
    mean = unit * float(load.sum()) / total
    value, share = smoother.spread(np.stack([load, seen], axis=1)).T
    # Carried on beyond what is shown, so that no step bends towards nothing at its rim.
    rate = unit * np.maximum(value, 0.0) / np.maximum(share, 0.1 * LEAST_SEEN)
    if by == AREA:
        rate = np.minimum(rate, 100.0)
    shown = intersection(above(smoother.fine, share, LEAST_SEEN), inspected)
    if shown.is_empty:
        return made(mean, bands=(), shown=NOTHING, unseen=sheet, peak=None)
    peak = _peak(smoother, rate, shown)
    steps = PERCENT if by == AREA else count_steps(width_area(wide, total) / MM2, counting.level)
    bands = _bands(smoother, rate, steps, shown, peak[0] if peak else 0.0)
    return made(mean, bands=bands, shown=shown, unseen=difference(sheet, shown), peak=peak)


def faces_with_findings(book: Book, part_id: str, least: int = 1) -> tuple[tuple[str, str], ...]:
    """(skin, face) of a part that have at least so many findings within an inspected area; () where
    none has."""
    part = regions_of(book, part_id)
    homes = homes_of(part)
    found = Counter(
        (face.skin.name, face.face)
        for face in part.panels
        for home in homes
        if home.face is face
        and shapely.intersects(together(part.on("inspected area", face)), home.shape)
    )
    return tuple(place for place, count in found.items() if count >= least)


def _found(
    part: PartRegions, skin: Skin, face: str, what: str | None
) -> tuple[list[tuple[Home, BaseGeometry]], int, MultiPolygon]:
    """Findings on a face with what of each lies in an inspected area, how many lie in none, and
    the inspected area."""
    homes = [h for h in homes_of(part) if what is None or h.defect.what == what]
    inside: list[tuple[Home, BaseGeometry]] = []
    looked: list[MultiPolygon] = []
    outside = 0
    for panel in part.panels:
        if panel.skin.name != skin.name or panel.face != face:
            continue
        inspected = together(part.on("inspected area", panel))
        looked.append(inspected)
        for home in (h for h in homes if h.face is panel):
            if not shapely.intersects(inspected, home.shape):
                outside += 1
                continue
            piece = shapely.intersection(home.shape, inspected)
            same = shapely.get_dimensions(piece) == shapely.get_dimensions(home.shape)
            inside.append((home, piece if same else home.shape))
    return inside, outside, union(*looked) if looked else NOTHING


def _point(shape: BaseGeometry) -> tuple[float, float]:
    at = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
    return float(at[0]), float(at[1])


def _counted(smoother: Smoother, inside: list[tuple[Home, BaseGeometry]], width: float) -> Array:
    """A load of 1 for each finding, evenly over itself."""
    load = np.zeros(smoother.fine.count)
    for _, shape in inside:
        if shapely.get_dimensions(shape) == 2:
            one = smoother.over_area(clean(shape))
        elif shapely.get_dimensions(shape) == 1:
            one = smoother.at_points(smoother.on_sheet(_along(shape, STEP * width)))
        else:
            one = smoother.at_points(smoother.on_sheet(shapely.get_coordinates(shape)))
        if one.sum() <= 0.0:  # all of it in an opening, or off the sheet: at its nearest place
            one = smoother.at_points(smoother.nearest(np.array([_point(shape)])))
        load = load + one / one.sum()
    return load


def _along(shape: BaseGeometry, step: float) -> Array:
    """Points evenly along lines, each in the middle of a piece of at most `step` mm."""
    found = []
    for line in shapely.get_parts(shape):
        if shapely.get_dimensions(line) != 1 or line.length == 0.0:
            continue
        count = max(1, int(np.ceil(line.length / step)))
        middles = (np.arange(count) + 0.5) / count
        at = shapely.line_interpolate_point(line, middles, normalized=True)
        found.append(shapely.get_coordinates(at))
    return np.concatenate(found) if found else np.zeros((0, 2))


def _affected(
    smoother: Smoother, inside: list[tuple[Home, BaseGeometry]], inspected: MultiPolygon
) -> Array:
    """The load of one per mm2 where the inspected area is outlined as affected."""
    areas = [p for _, s in inside for p in shapely.get_parts(s) if shapely.get_dimensions(p) == 2]
    if not areas:
        return np.zeros(smoother.fine.count)
    return smoother.over_area(intersection(clean(shapely.union_all(areas)), inspected))


def _peak(
    smoother: Smoother, rate: Array, shown: MultiPolygon
) -> tuple[float, tuple[float, float]] | None:
    """The largest value at a corner where values are shown, and where on the flat map."""
    corners = smoother.fine.flat.reshape(-1, 2)
    shapely.prepare(shown)
    there = shapely.intersects_xy(shown, corners)
    values = np.where(there, rate[smoother.fine.vertex].ravel(), -1.0)
    k = int(np.argmax(values))
    if values[k] < 0.0:
        return None
    return float(values[k]), (float(corners[k, 0]), float(corners[k, 1]))


def _bands(
    smoother: Smoother, rate: Array, steps: tuple[float, ...], shown: MultiPolygon, most: float
) -> tuple[Band, ...]:
    """The regions of the steps up to the largest value, cut out of what is shown so that together
    they are all of it."""
    lows = [low for low in steps if low <= most]
    cuts = [shown, *(intersection(above(smoother.fine, rate, low), shown) for low in lows[1:])]
    bands = []
    for rank, low in enumerate(lows):
        last = rank + 1 == len(lows)
        region = cuts[rank] if last else difference(cuts[rank], cuts[rank + 1])
        if not region.is_empty:
            high = steps[rank + 1] if rank + 1 < len(steps) else None
            bands.append(Band(rank, low, high, region))
    return tuple(bands)
