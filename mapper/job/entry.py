"""An entry: anything recorded at a place on a part, of one of the kinds in `mapper.job.kinds`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.fields import Kind
from mapper.job.kinds import KINDS
from mapper.job.records import EMPTY

STATES = ("open", "being worked on", "waiting for the inspector", "deferred", "closed")
_REGION = {"MultiPolygon": "area", "MultiLineString": "line", "MultiPoint": "point"}


def kind_of(name: str) -> Kind:
    """The kind of that name; MapperError naming the kinds there are."""
    kind = KINDS.get(name)
    if kind is None:
        raise MapperError(
            f"There is no kind of entry {check.shown(name)}.",
            f"Kinds: {', '.join(KINDS)}.",
            check.nearest(str(name), list(KINDS)),
        )
    return kind


def _put(record: object, name: str, value: object) -> None:
    object.__setattr__(record, name, value)


def _three(value: object, what: str) -> tuple[float, float, float]:
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise MapperError(f"The {what} is {check.shown(value)}.", "It is three numbers.")
    x, y, z = (check.number(v, what) for v in value)
    return x, y, z


@dataclass(frozen=True)
class Place:
    """Where an entry without an outline is: words, and optionally a point (mm) and an axis
    (direction, made one long) in the part's frame."""

    words: str
    point: tuple[float, float, float] | None = None
    axis: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        check.text(self.words, "place", required=True)
        if self.point is not None:
            _put(self, "point", _three(self.point, "point of the place"))
        if self.axis is not None:
            axis = _three(self.axis, "axis of the place")
            size = math.hypot(*axis)
            if size == 0:
                raise MapperError("The axis of the place is (0, 0, 0).", "An axis has a direction.")
            # One that is already a unit vector keeps its last bit when stored and read again.
            if abs(size - 1) > 1e-12:
                _put(self, "axis", tuple(v / size for v in axis))
            else:
                _put(self, "axis", axis)


@dataclass(frozen=True, eq=False)
class Outline:
    """A region as drawn: a shapely MultiPolygon, MultiLineString or MultiPoint in the flat plane
    (mm) of one face of one skin. anchors: (K, 3), per vertex station mm, % chord, +1 upper or -1
    lower, in the order of `shapely.get_coordinates(shape)`; NaN where the part has no chord.
    drawn_area mm2 as measured when it was drawn (0 for lines and points).
    """

    skin: str
    face: str
    shape: BaseGeometry
    drawn_area: float = 0.0
    anchors: Any = None

    def __post_init__(self) -> None:
        check.text(self.skin, "skin of the outline", required=True)
        check.text(self.face, "face of the outline", required=True)
        _put(self, "shape", check.shape(self.shape, "outline"))
        area = check.number(self.drawn_area, "area of the outline", least=0)
        if area and self.region != "area":
            raise MapperError(
                f"An outline of {self.region}s has the area {area:g} mm2.", "Only areas have one."
            )
        _put(self, "drawn_area", area)
        if self.anchors is not None:
            self._check_anchors()

    def _check_anchors(self) -> None:
        try:
            anchors = np.array(self.anchors, dtype=np.float64)
        except (TypeError, ValueError) as error:
            raise MapperError("The anchors are not numbers.", "(K, 3) numbers.") from error
        count = int(shapely.count_coordinates(self.shape))
        if anchors.shape != (count, 3) or bool(np.isinf(anchors).any()):
            raise MapperError(
                f"The anchors of the outline are {anchors.shape}.",
                f"They are ({count}, 3): station, % chord and side of each corner, finite or NaN.",
            )
        anchors.setflags(write=False)
        _put(self, "anchors", anchors)

    @property
    def region(self) -> str:
        """ "area", "line" or "point"."""
        return _REGION[self.shape.geom_type]


@dataclass(frozen=True, eq=False)
class Piece:
    """The part of an outline that lies on one item (sheet): clipped at the seams when recorded.
    area mm2 (0 for lines and points)."""

    item_id: str
    skin: str
    face: str
    shape: BaseGeometry
    area: float = 0.0

    def __post_init__(self) -> None:
        check.identity(self.item_id, "item of the piece")
        check.text(self.skin, "skin of the piece", required=True)
        check.text(self.face, "face of the piece", required=True)
        _put(self, "shape", check.shape(self.shape, "piece"))
        _put(self, "area", check.number(self.area, "area of the piece", least=0))


@dataclass(frozen=True)
class PhotoUse:
    """A photo on an entry: caption, and scale in mm per pixel where it is known."""

    photo_id: str
    caption: str = ""
    mm_per_pixel: float | None = None

    def __post_init__(self) -> None:
        check.identity(self.photo_id, "photo")
        check.text(self.caption, "caption", lines=True)
        if self.mm_per_pixel is not None:
            scale = check.number(self.mm_per_pixel, "scale of the photo", least=0)
            if scale == 0:
                raise MapperError("The scale of the photo is 0 mm per pixel.", "More than 0.")
            _put(self, "mm_per_pixel", scale)


@dataclass(frozen=True, eq=False)
class Entry:
    """Anything recorded at a place on a part.

    Only kind and a place (outline or `place`) are required; `mapper.job.values.missing` lists what
    is not there yet. values: by field name, types as the kind's table says; unknown names and
    out-of-range values are refused in `__post_init__` with a MapperError. geometry: digest of the
    version it was drawn on. A state says what is left to do, never that something is serviceable.
    unconfirmed: why its place is not trusted after a correction of the shape, "" where it is.
    """

    id: str
    job_id: str
    part_id: str
    kind: str
    outline: Outline | None = None
    pieces: tuple[Piece, ...] = ()
    place: Place | None = None
    geometry: str = ""
    by: str = ""  # person id
    device_time: datetime | None = None
    server_time: datetime | None = None
    state: str = "open"
    deferred_to: Any = None  # date, with state "deferred"
    note: str = ""
    photos: tuple[PhotoUse, ...] = ()
    values: Mapping[str, Any] = field(default_factory=lambda: EMPTY)
    version: int = 0
    unconfirmed: str = ""

    def __post_init__(self) -> None:
        for name in ("id", "job_id", "part_id"):
            check.identity(getattr(self, name), f"{name} of the entry")
        kind = kind_of(self.kind)
        self._check_place(kind)
        self._check_state()
        check.optional_identity(self.geometry, "geometry of the entry")
        check.optional_identity(self.by, "person who recorded the entry")
        for name in ("device_time", "server_time"):
            _put(self, name, check.moment(getattr(self, name), f"{name} of the entry"))
        check.text(self.note, "note of the entry", lines=True)
        check.counted(self.version, "version of the entry")
        check.text(self.unconfirmed, "doubt about the entry's place")
        if not all(isinstance(p, PhotoUse) for p in self.photos):
            raise MapperError("A photo of the entry is not a PhotoUse.", "Photos with captions.")
        _put(self, "photos", tuple(self.photos))
        _put(
            self,
            "values",
            check.values(self.values, kind.fields, self.kind, whose=f"The kind {self.kind!r}"),
        )

    def _check_place(self, kind: Kind) -> None:
        if self.outline is None and self.place is None:
            raise MapperError(
                f"The {self.kind} has no place.",
                "An entry has an outline on the part, or a place in words.",
                "Draw it, or say where it is.",
            )
        if self.outline is not None:
            region = self.outline.region
            if region not in kind.regions:
                raise MapperError(
                    f"The {self.kind} is drawn as {region}s.",
                    f"A {self.kind} may be: {', '.join(sorted(kind.regions))}.",
                )
            if not self.geometry:
                raise MapperError(
                    f"The {self.kind} has an outline but names no geometry.",
                    "An outline is drawn on one version of the part's shape.",
                    "Give the digest of that version.",
                )
        _put(self, "pieces", tuple(self.pieces))
        for piece in self.pieces:
            if self.outline is None:
                raise MapperError("The entry has pieces but no outline.", "Pieces are cut from it.")
            if (piece.skin, piece.face) != (self.outline.skin, self.outline.face):
                raise MapperError(
                    f"A piece lies on {piece.skin!r}, {piece.face!r}.",
                    f"Its outline lies on {self.outline.skin!r}, {self.outline.face!r}.",
                )

    def _check_state(self) -> None:
        if self.state not in STATES:
            raise MapperError(
                f"The state of the entry is {check.shown(self.state)}.",
                f"States: {', '.join(STATES)}.",
                check.nearest(str(self.state), STATES),
            )
        check.day(self.deferred_to, "day the entry is deferred to")
        if (self.state == "deferred") != (self.deferred_to is not None):
            raise MapperError(
                f"The state is {self.state!r} and the date {self.deferred_to}.",
                "An entry is deferred to a date, and no other state has one.",
                "Give both or neither.",
            )

    @property
    def region(self) -> str:
        """ "area", "line", "point", or "place" for an entry without an outline."""
        return self.outline.region if self.outline is not None else "place"
