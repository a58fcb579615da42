"""Findings as an inspector counts them: a defect seen again is one, at home on one panel's face."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from mapper.estimate.regions import Drawn, PanelFace, PartRegions, worked_at
from mapper.job.book import Book
from mapper.job.entry import Entry

_SIDES = 64


@dataclass(frozen=True, eq=False)
class Defect:
    """One finding with its history. id: of its first entry; seen: its entries, oldest first."""

    id: str
    seen: tuple[Entry, ...]

    @property
    def latest(self) -> Entry:
        """The last time it was seen."""
        return self.seen[-1]

    @property
    def what(self) -> str:
        """What it was last called: "corrosion", "dent" ...; "not stated" where nobody said."""
        return next(
            (e.values["what"] for e in reversed(self.seen) if "what" in e.values), "not stated"
        )


@dataclass(frozen=True, eq=False)
class Home:
    """A defect on the face of the panel where most of it lies. shape: there, all times it was seen
    together; region: "area", "line" or "point" as last drawn there."""

    defect: Defect
    face: PanelFace
    shape: BaseGeometry
    region: str


def defects_of(book: Book, part_id: str) -> tuple[Defect, ...]:
    """The part's findings, each once, in the order first seen; none: ().

    An entry whose field `continues` names another finding of the part belongs to that one's defect;
    a reference that leads nowhere, or round in a circle, begins a defect of its own.
    """
    entries = sorted(book.entries_of(part_id, "finding"), key=worked_at)
    by_id = {e.id: e for e in entries}

    def first(entry: Entry) -> str:
        been = [entry.id]
        while (before := by_id.get(entry.values.get("continues", ""))) is not None:
            if before.id in been:
                return min(been)
            been.append(before.id)
            entry = before
        return entry.id

    groups: dict[str, list[Entry]] = {}
    for entry in entries:
        groups.setdefault(first(entry), []).append(entry)
    return tuple(Defect(root, tuple(seen)) for root, seen in groups.items())


def homes_of(part: PartRegions) -> tuple[Home, ...]:
    """Where each outlined, live defect is at home; () for none.

    Home is the panel's face with the largest share of it: by area, else by length, else by points;
    the first in the part's order where two are equal. Off every panel: no home.
    """
    drawn: dict[str, list[tuple[PanelFace, Drawn]]] = {}
    for face in part.panels:
        for one in part.on("finding", face):
            drawn.setdefault(one.entry.id, []).append((face, one))
    homes = []
    for defect in defects_of(part.book, part.part_id):
        on: dict[PanelFace, list[Drawn]] = {}
        for entry in defect.seen:
            for face, one in drawn.get(entry.id, ()):
                on.setdefault(face, []).append(one)
        if on:
            face = max(on, key=lambda f: _size(on[f]))
            shapes = [extent(d) for d in on[face]]
            homes.append(Home(defect, face, shapely.union_all(shapes), on[face][-1].region))
    return tuple(homes)


def values_of(entry: Entry) -> Mapping[str, Any]:
    """What is recorded in an entry, by field name."""
    return entry.values


def _size(drawn: list[Drawn]) -> tuple[float, float, int]:
    shape = shapely.union_all([d.shape for d in drawn])
    return (float(shape.area), float(shape.length), int(shapely.get_num_geometries(shape)))


def extent(drawn: Drawn) -> BaseGeometry:
    """The shape of a finding with the size typed for it: a point with length and width becomes an
    outline of that ellipse's area (a polygon of 64 sides, long side along the span). Others stay.
    """
    length, width = drawn.value("length"), drawn.value("width")
    if drawn.region != "point" or not length or not width:
        return drawn.shape
    turn = 2.0 * math.pi / _SIDES
    # Corners a little outside the ellipse, so that the polygon has the ellipse's area.
    scale = math.sqrt(turn / math.sin(turn)) / 2.0
    ring = [
        (scale * length * math.cos(i * turn), scale * width * math.sin(i * turn))
        for i in range(_SIDES)
    ]
    at = shapely.get_coordinates(drawn.shape)
    return shapely.union_all([shapely.Polygon([(x + u, y + v) for u, v in ring]) for x, y in at])
