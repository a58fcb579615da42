"""What a shop records besides entries: people, jobs, assemblies, parts, positions, items, lots.

Every record is frozen and has `id` (made by the client, a UUID as text), and `version` (1 on first
storing, one more with each change; the store refuses a stale one). Changed by copies
(`dataclasses.replace`). Times are timezone-aware datetimes; dates are `datetime.date`. A value that
a record cannot hold is refused with a MapperError when the record is made.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Any
from uuid import uuid4

from mapper.errors import MapperError
from mapper.job import check
from mapper.job.kinds.shared import COAT_FIELDS

EMPTY: Mapping[str, Any] = MappingProxyType({})
UNITS = ("metric", "inch")
_DIGEST = re.compile(r"[0-9a-f]{64}")


def new_id() -> str:
    """A new id for a record: a random UUID as text."""
    return str(uuid4())


def _put(record: object, name: str, value: object) -> None:
    object.__setattr__(record, name, value)


def _check(record: Any, what: str, *, ids: tuple[str, ...], lines: tuple[str, ...] = ()) -> None:
    """What all records share: ids, version, and every text field (`lines` may have breaks)."""
    for name in ids:
        check.identity(getattr(record, name), f"{name} of the {what}")
    check.counted(record.version, f"version of the {what}")
    for name in record.__dataclass_fields__:
        value = getattr(record, name)
        if name not in ids and isinstance(record.__dataclass_fields__[name].type, str):
            if record.__dataclass_fields__[name].type != "str":
                continue
            check.text(value, f"{name} of the {what}", required=name == "name", lines=name in lines)


@dataclass(frozen=True)
class Shop:
    """The shop. settings: what it changed from the defaults (units, rates, prices, thresholds)."""

    id: str
    name: str
    units: str = "metric"  # or "inch": what is shown, entered, printed and exported
    settings: Mapping[str, Any] = field(default_factory=lambda: EMPTY)
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "shop", ids=("id",))
        if self.units not in UNITS:
            raise MapperError(
                f"The units of the shop are {check.shown(self.units)}.",
                f"Allowed: {check.listed(UNITS)}.",
            )
        if not isinstance(self.settings, Mapping):
            raise MapperError("The settings of the shop are not a table.", "Names with values.")
        _put(self, "settings", check.frozen(self.settings, "settings of the shop"))


@dataclass(frozen=True)
class Person:
    """Somebody who records or decides. licence: number and kind, "" for none."""

    id: str
    name: str
    role: str = ""
    licence: str = ""
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "person", ids=("id",))


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

    def __post_init__(self) -> None:
        _check(self, "job", ids=("id",), lines=("note",))
        check.day(self.opened, "opening date of the job")


@dataclass(frozen=True)
class Assembly:
    """A major piece of the airframe of a job: left wing, fuselage. order: in lists, from 0."""

    id: str
    job_id: str
    name: str
    order: int = 0
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "assembly", ids=("id", "job_id"))
        check.counted(self.order, "order of the assembly")


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

    def __post_init__(self) -> None:
        _check(self, "part", ids=("id", "job_id", "assembly_id"), lines=("note", "part_file"))
        check.optional_identity(self.geometry, "geometry of the part")
        if self.code != self.code.strip():
            raise MapperError(
                f"The code of the part is {check.shown(self.code)}.",
                "A tag code has no blanks around it.",
            )


@dataclass(frozen=True)
class Position:
    """Where something belongs: a part's place on the airframe, or one panel of it (panel != "")."""

    id: str
    part_id: str
    name: str
    skin: str = ""
    panel: str = ""
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "position", ids=("id", "part_id"))
        if self.panel and not self.skin:
            raise MapperError(
                f"The position {self.name!r} has the panel {self.panel!r} but no skin.",
                "A panel lies on a skin.",
                "Name the skin too.",
            )


@dataclass(frozen=True)
class Item:
    """The physical thing in a position from one date to another (until None: still there).

    It is there on the day `since` and no longer on the day `until`, so that a sheet and the one
    that replaced it share no day. made: "original", "replacement", "new sheet" or other words.
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

    def __post_init__(self) -> None:
        _check(self, "item", ids=("id", "position_id"), lines=("note",))
        check.day(self.since, "first day of the item")
        check.day(self.until, "last day of the item")
        if self.since and self.until and self.until < self.since:
            raise MapperError(
                f"The item {self.name!r} is in place from {self.since} until {self.until}.",
                "It cannot come out before it went in.",
                "Give the two dates the other way round.",
            )

    def there(self, when: date) -> bool:
        """Whether the item is in its position on that day."""
        return (self.since is None or self.since <= when) and (
            self.until is None or when < self.until
        )


@dataclass(frozen=True)
class Lot:
    """One batch of a material: product, lot number, received, best before.

    quantity: as received, in `unit` ("L", "kg" or other words).
    """

    id: str
    product: str
    number: str
    received: date | None = None
    best_before: date | None = None
    quantity: float | None = None
    unit: str = ""
    note: str = ""
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "lot", ids=("id",), lines=("note",))
        check.text(self.product, "product of the lot", required=True)
        check.text(self.number, "number of the lot", required=True)
        check.day(self.received, "day the lot was received")
        check.day(self.best_before, "best-before date of the lot")
        if self.quantity is not None:
            _put(self, "quantity", check.number(self.quantity, "quantity of the lot", least=0))


@dataclass(frozen=True)
class FinishSystem:
    """A stack of coats, outermost first; each coat a mapping with "kind", "colour", "thickness"
    (Measured, um) and "found" (how it is known), as in the kind "coat zone"."""

    id: str
    job_id: str
    name: str
    coats: tuple[Mapping[str, Any], ...] = ()
    note: str = ""
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "finish system", ids=("id", "job_id"), lines=("note",))
        if not isinstance(self.coats, list | tuple):
            raise MapperError("The coats of a finish system are a list.", "Outermost first.")
        _put(
            self,
            "coats",
            tuple(
                check.values(coat, COAT_FIELDS, f"coat {i} of {self.name!r}", whose="A coat")
                for i, coat in enumerate(self.coats, 1)
            ),
        )


@dataclass(frozen=True)
class Photo:
    """A stored picture, known by the SHA-256 of its stored bytes; received: digest as it came."""

    id: str
    job_id: str
    digest: str
    received: str
    media_type: str
    width: int
    height: int
    taken: datetime | None = None
    version: int = 0

    def __post_init__(self) -> None:
        _check(self, "photo", ids=("id", "job_id"))
        _digest(self.digest, "digest of the photo")
        _digest(self.received, "digest of the photo as received")
        if not re.fullmatch(r"image/[a-z0-9.+\-]+", self.media_type):
            raise MapperError(
                f"The media type of the photo is {check.shown(self.media_type)}.",
                'It is "image/" and a format.',
            )
        for name in ("width", "height"):
            if check.counted(getattr(self, name), f"{name} of the photo") == 0:
                raise MapperError(f"The {name} of the photo is 0.", "It is 1 pixel or more.")
        _put(self, "taken", check.moment(self.taken, "time the photo was taken"))


def _digest(value: str, what: str) -> None:
    if not _DIGEST.fullmatch(value):
        raise MapperError(
            f"The {what} is {check.shown(value)}.",
            "It is the SHA-256 of its bytes: 64 hexadecimal digits.",
        )
