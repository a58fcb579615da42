"""Entries on a flat map: regions filled and hatched, lines, and marks of readable size."""

from __future__ import annotations

from collections.abc import Mapping

import shapely
from shapely.geometry.base import BaseGeometry

from mapper.drawing.frame import Frame, polygons_of
from mapper.drawing.style import style
from mapper.job.entry import Entry
from mapper.job.kinds import KINDS

# What is often over all of a sheet; a share of it (less at seams and openings) that is all.
SPREAD = frozenset(
    {
        "coat zone", "application", "blasting round", "inspected area", "treatment",
        "paint application",
    }
)  # fmt: skip
ALL = 0.97
UNCONFIRMED = "place not confirmed"


def token_of(entry: Entry) -> str:
    """The style token of an entry: its kind's own, "other" for a kind that has none yet."""
    kind = KINDS.get(entry.kind)
    return kind.style if kind is not None and kind.style in style().tokens else "other"


def under_all(frame: Frame, entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Work and coats over all of what is drawn, but for the last of them, in their order; () for
    none or one. Hatched over each other they make a dark sheet on which nothing else is seen."""
    over = []
    for entry in entries:
        if entry.kind not in SPREAD or entry.outline is None or entry.unconfirmed:
            continue
        shape = frame.drawn(entry)
        if shape.area >= ALL * frame.goal.area > 0:
            here = shapely.intersection(shape, frame.goal, grid_size=1e-4)
            if here.area >= ALL * frame.goal.area:
                over.append(entry)
    return tuple(over[:-1])


def draw_entries(
    frame: Frame, entries: tuple[Entry, ...], counts: Mapping[str, int] | None = None
) -> list[tuple[Entry, BaseGeometry]]:
    """Regions from large to small, then lines, then points; what was drawn, with its shape.

    counts: entry id -> how many entries its outline stands for, 1 for those not in it."""
    pad = frame.pad
    drawn = []
    samples: dict[str, tuple[int, str]] = {}
    tokens: dict[str, str] = {}
    rank = {"Polygon": 0, "MultiPolygon": 0, "LineString": 1, "MultiLineString": 1}
    shapes = []
    doubtful = 0
    for entry in entries:
        if entry.outline is None:
            continue
        shape = frame.cut(frame.drawn(entry))
        if shape.area > 0:
            shape = polygons_of(shapely.intersection(shape, frame.metal, grid_size=1e-4))
        if not shape.is_empty:
            shapes.append((entry, shape))
    shapes.sort(key=lambda pair: (rank.get(pair[1].geom_type, 2), -pair[1].area))
    for entry, shape in shapes:
        token = token_of(entry)
        kind = rank.get(shape.geom_type, 2)
        if kind == 0:
            pad.area(shape, token, "regions")
            x0, y0, x1, y1 = shape.bounds
            if max(x1 - x0, y1 - y0) < pad.gap("mark"):
                # Too small to be seen at this scale: a mark stands over it.
                pad.dot(shapely.get_coordinates(shape.representative_point())[0], token)
        elif kind == 1:
            pad.lines(shape, token, "regions")
        else:
            for xy in shapely.get_coordinates(shape):
                pad.dot(xy, token)
        if entry.unconfirmed:
            doubtful += 1
            _mark_doubt(frame, shape, kind)
        count, sample = samples.get(entry.kind, (0, ("area", "line", "point")[kind]))
        samples[entry.kind] = (count + (counts or {}).get(entry.id, 1), sample)
        tokens[entry.kind] = token
        drawn.append((entry, shape))
    for name, (count, sample) in sorted(samples.items()):
        pad.row(name, tokens[name], count, sample)
    if doubtful:
        pad.row(UNCONFIRMED, UNCONFIRMED, doubtful, "line")
    return drawn


def _mark_doubt(frame: Frame, shape: BaseGeometry, rank: int) -> None:
    """A second outline, broken, round what a corrected shape has moved and nobody has confirmed."""
    if rank == 0:
        frame.pad.outline(shape, UNCONFIRMED, "regions")
    elif rank == 1:
        frame.pad.lines(shape, UNCONFIRMED, "regions")
    else:
        for xy in shapely.get_coordinates(shape):
            frame.pad.dot(xy, UNCONFIRMED)
