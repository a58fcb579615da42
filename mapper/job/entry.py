"""An entry: anything recorded at a place on a part, of one of the kinds in `mapper.job.kinds`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from shapely.geometry.base import BaseGeometry

from mapper.job.records import EMPTY

STATES = ("open", "being worked on", "waiting for the inspector", "deferred", "closed")


@dataclass(frozen=True)
class Place:
    """Where an entry without an outline is: words, and optionally a point and axis in the part's frame."""

    words: str
    point: tuple[float, float, float] | None = None
    axis: tuple[float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class Outline:
    """A region as drawn: a shapely MultiPolygon, MultiLineString or MultiPoint in the flat plane (mm)
    of one face of one skin. anchors: per vertex (station mm, % chord, +1 upper / -1 lower), (K, 3),
    in the order of `shapely.get_coordinates(shape)`; NaN where the part has no chord.
    drawn_area mm2 as measured when it was drawn (0 for lines and points).
    """

    skin: str
    face: str
    shape: BaseGeometry
    drawn_area: float = 0.0
    anchors: Any = None


@dataclass(frozen=True, eq=False)
class Piece:
    """The part of an outline that lies on one item (sheet): clipped at the seams when recorded."""

    item_id: str
    skin: str
    face: str
    shape: BaseGeometry
    area: float = 0.0


@dataclass(frozen=True)
class PhotoUse:
    """A photo on an entry: caption, and scale in mm per pixel where it is known."""

    photo_id: str
    caption: str = ""
    mm_per_pixel: float | None = None


@dataclass(frozen=True, eq=False)
class Entry:
    """Anything recorded at a place on a part.

    Only kind and a place (outline or `place`) are required; `missing` lists what is not there yet.
    values: by field name, types as the kind's table says; unknown names and out-of-range values are
    refused in `__post_init__` with a MapperError. geometry: digest of the version it was drawn on.
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
