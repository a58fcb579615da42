"""A job's record as one immutable reading of the store: what estimates, drawings and reports are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from mapper.job.entry import Entry
from mapper.job.records import (
    Assembly, FinishSystem, Item, Job, Lot, Part, Person, Photo, Position, Shop,
)
from mapper.surface.geometry import Geometry


@dataclass(frozen=True, eq=False)
class Book:
    """Everything of one job at one moment. head: the newest hash of the history chain.

    geometries: digest -> Geometry, every version any part or entry refers to.
    photo_files: photo id -> path of the stored file (text).
    Tuples are ordered as a reader would want them: assemblies by order, parts by name, entries by
    device time.
    """

    shop: Shop
    job: Job
    people: tuple[Person, ...]
    assemblies: tuple[Assembly, ...]
    parts: tuple[Part, ...]
    positions: tuple[Position, ...]
    items: tuple[Item, ...]
    entries: tuple[Entry, ...]
    lots: tuple[Lot, ...]
    finish_systems: tuple[FinishSystem, ...]
    photos: tuple[Photo, ...]
    geometries: Mapping[str, Geometry]
    photo_files: Mapping[str, str]
    head: str = ""
