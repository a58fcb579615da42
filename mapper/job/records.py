"""What a shop records besides entries: people, jobs, assemblies, parts, positions, items, lots.

Every record is frozen and has `id` (made by the client, a UUID as text), and `version` (1 on first
storing, one more with each change; the store refuses a stale one). Changed by copies
(`dataclasses.replace`). Times are timezone-aware datetimes; dates are `datetime.date`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Any

EMPTY: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Shop:
    """The shop. settings: what it changed from the defaults (units, rates, prices, thresholds)."""

    id: str
    name: str
    units: str = "metric"  # or "inch": what is shown, entered, printed and exported
    settings: Mapping[str, Any] = field(default_factory=lambda: EMPTY)
    version: int = 0


@dataclass(frozen=True)
class Person:
    """Somebody who records or decides. licence: number and kind, "" for none."""

    id: str
    name: str
    role: str = ""
    licence: str = ""
    version: int = 0


@dataclass(frozen=True)
class Job:
    """One restoration: airframe type, serial, registration, and its owner."""

    id: str
    name: str
    airframe: str = ""
    serial: str = ""
    registration: str = ""
    owner: str = ""
    opened: date | None = None
    note: str = ""
    version: int = 0


@dataclass(frozen=True)
class Assembly:
    """A major piece of the airframe of a job: left wing, fuselage."""

    id: str
    job_id: str
    name: str
    order: int = 0
    version: int = 0


@dataclass(frozen=True)
class Part:
    """What has a shape. geometry: digest of its current geometry version; part_file: its text.

    code: the short tag code written on the bag ("LW-03"), unique in the job.
    """

    id: str
    job_id: str
    assembly_id: str
    name: str
    code: str = ""
    geometry: str = ""
    part_file: str = ""
    note: str = ""
    version: int = 0


@dataclass(frozen=True)
class Position:
    """Where something belongs: a part's place on the airframe, or one panel of it (panel != "")."""

    id: str
    part_id: str
    name: str
    skin: str = ""
    panel: str = ""
    version: int = 0


@dataclass(frozen=True)
class Item:
    """The physical thing in a position from one date to another (until None: still there).

    made: "original", "replacement", "new sheet" or other words.
    """

    id: str
    position_id: str
    name: str
    made: str = "original"
    serial: str = ""
    since: date | None = None
    until: date | None = None
    note: str = ""
    version: int = 0


@dataclass(frozen=True)
class Lot:
    """One batch of a material: product, lot number, received, best before."""

    id: str
    product: str
    number: str
    received: date | None = None
    best_before: date | None = None
    quantity: float | None = None
    unit: str = ""
    note: str = ""
    version: int = 0


@dataclass(frozen=True)
class FinishSystem:
    """A stack of coats, outermost first; each coat a mapping with "kind", "colour", "thickness" (um)."""

    id: str
    job_id: str
    name: str
    coats: tuple[Mapping[str, Any], ...] = ()
    note: str = ""
    version: int = 0


@dataclass(frozen=True)
class Photo:
    """A stored picture, known by the SHA-256 of its stored bytes; received: digest as it came in."""

    id: str
    job_id: str
    digest: str
    received: str
    media_type: str
    width: int
    height: int
    taken: datetime | None = None
    version: int = 0
