"""Places labels so that none covers another, in view coordinates (flat mm, turned)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from mapper.drawing.text import width_of

Array = NDArray[np.float64]

# Height of a text box over the font size: ascenders and descenders of DejaVu Sans, a little air.
BOX_HEIGHT = 1.12
AIR = 0.18


@dataclass(frozen=True)
class Spot:
    """A possible place of a label: where, at which angle, by which anchor."""

    at: tuple[float, float]
    angle: float = 0.0
    anchor: str = "middle"


_START = {"start": 0.0, "middle": -0.5, "end": -1.0}


def _corners(text: str, size: float, spots: Sequence[Spot], bold: bool) -> Array:
    """(N, 4, 2) corners of what a label covers on paper at each spot, air included."""
    width = width_of(text, size, bold=bold)
    air, half = AIR * size, BOX_HEIGHT * size / 2
    start = width * np.array([_START[spot.anchor] for spot in spots])
    low, high = start - air, start + width + air
    along = np.stack([low, high, high, low], axis=1)
    across = np.array([-half, -half, half, half])
    turn = np.deg2rad([spot.angle for spot in spots])[:, None]
    cos, sin = np.cos(turn), np.sin(turn)
    turned = np.stack([along * cos - across * sin, along * sin + across * cos], axis=-1)
    return turned + np.array([spot.at for spot in spots])[:, None]


def text_box(
    text: str,
    at: tuple[float, float],
    size: float,
    angle: float = 0.0,
    anchor: str = "middle",
    bold: bool = False,
) -> Polygon:
    """The rectangle a label covers on paper, air included."""
    return shapely.polygons(_corners(text, size, [Spot(at, angle, anchor)], bold)[0])


# Spots looked at in one go: the first is often free, and if it is not, the rest are tried fast.
BATCH = 48


class Placer:
    """Remembers which boxes are taken; the only thing of this room that changes while it draws."""

    def __init__(self) -> None:
        self._taken: list[Polygon] = []
        self._bounds = np.zeros((64, 4))

    def take(self, box: Polygon) -> None:
        """Keep that box free of further labels."""
        if len(self._taken) == len(self._bounds):
            self._bounds = np.concatenate([self._bounds, np.zeros_like(self._bounds)])
        self._bounds[len(self._taken)] = box.bounds
        self._taken.append(box)

    def _near(self, low: Array, high: Array) -> Iterator[Polygon]:
        """The taken boxes whose bounds meet those from low to high."""
        bounds = self._bounds[: len(self._taken)]
        meet = (bounds[:, :2] <= high).all(axis=1) & (bounds[:, 2:] >= low).all(axis=1)
        return (self._taken[i] for i in np.flatnonzero(meet))

    def free(self, box: Polygon) -> bool:
        """Whether a box meets none that is taken."""
        bounds = np.array(box.bounds)
        return not any(box.intersects(other) for other in self._near(bounds[:2], bounds[2:]))

    def place(
        self,
        text: str,
        size: float,
        spots: Iterable[Spot],
        *,
        inside: BaseGeometry | None = None,
        bold: bool = False,
    ) -> Spot | None:
        """The first spot where the text fits, now taken; None where it fits nowhere.

        inside: the box must lie in this region (None: anywhere).
        """
        if inside is not None:
            shapely.prepare(inside)
        rest = iter(spots)
        while batch := list(islice(rest, BATCH)):
            corners = _corners(text, size, batch, bold)
            which = np.arange(len(batch))
            if inside is not None:
                # Corners first: they are cheap, and most boxes that stick out do so by one.
                out = ~shapely.intersects_xy(inside, corners[..., 0], corners[..., 1])
                which = which[~out.any(axis=1)]
            boxes = shapely.polygons(corners[which])
            if inside is not None:
                keep = shapely.covers(inside, boxes)
                which, boxes = which[keep], boxes[keep]
            for i, box in zip(which, boxes, strict=True):
                if self.free(box):
                    self.take(box)
                    return batch[i]
        return None


def inner_spots(region: BaseGeometry, *, upright: bool = True, count: int = 9) -> Iterator[Spot]:
    """Spots inside a region, the roomiest first, then a lattice from the middle outwards.

    upright: the same places again with the text turned by 90 degrees at the end. Nothing for an
    empty region.
    """
    parts = sorted(
        (p for p in shapely.get_parts(region) if p.geom_type == "Polygon" and p.area > 0),
        key=lambda part: -part.area,
    )
    places: list[tuple[float, float]] = []
    for part in parts[:2]:
        size = np.sqrt(part.area)
        # The middle of the room need not be known finely, and dense outlines cost a lot.
        rough = shapely.simplify(part, size / 500)
        circle = shapely.maximum_inscribed_circle(rough, tolerance=size / 50)
        centre = shapely.get_coordinates(circle)[0]
        places.append((float(centre[0]), float(centre[1])))
        x0, y0, x1, y1 = part.bounds
        xs = x0 + (np.arange(2 * count) + 0.5) * (x1 - x0) / (2 * count)
        ys = y0 + (np.arange(count) + 0.5) * (y1 - y0) / count
        lattice = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        shapely.prepare(part)
        lattice = lattice[shapely.contains_xy(part, lattice[:, 0], lattice[:, 1])]
        far = np.hypot(*((lattice - centre) / [x1 - x0, y1 - y0]).T)
        places.extend((float(x), float(y)) for x, y in lattice[np.argsort(far, kind="stable")])
    yield from (Spot(place) for place in places)
    if upright:
        yield from (Spot(place, 90.0) for place in places)


def around(at: tuple[float, float], steps: Iterable[float], count: int = 12) -> Iterator[Spot]:
    """Spots on rings about a point, to the right and above first."""
    for radius in steps:
        for i in range(count):
            turn = np.pi / 4 + (1 if i % 2 else -1) * ((i + 1) // 2) * 2 * np.pi / count
            yield Spot((at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn)))


def along(line: Array, offset: float, shares: Iterable[float]) -> Iterator[Spot]:
    """Spots beside a line (K, 2) at shares of its length, along it and never upside down."""
    step = np.hypot(*np.diff(line, axis=0).T)
    run = np.concatenate([[0.0], np.cumsum(step)])
    if run[-1] == 0:
        return
    for share in shares:
        where = share * run[-1]
        i = int(np.clip(np.searchsorted(run, where) - 1, 0, len(step) - 1))
        # The direction over a stretch, so that one bent piece does not tip the text.
        a = np.array([np.interp(max(where - 0.03 * run[-1], 0), run, line[:, k]) for k in (0, 1)])
        after = min(where + 0.03 * run[-1], run[-1])
        b = np.array([np.interp(after, run, line[:, k]) for k in (0, 1)])
        direction = (b - a) / max(float(np.hypot(*(b - a))), 1e-12)
        if direction[0] < -1e-6 or (abs(direction[0]) <= 1e-6 and direction[1] < 0):
            direction = -direction
        centre = line[i] + (where - run[i]) / max(step[i], 1e-12) * (line[i + 1] - line[i])
        angle = float(np.rad2deg(np.arctan2(direction[1], direction[0])))
        for sign in (1.0, -1.0):
            at = centre + sign * offset * np.array([-direction[1], direction[0]])
            yield Spot((float(at[0]), float(at[1])), angle)
