"""The types in which the story is written down: where something is, and one row of the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, timezone
from typing import Any

SHOP_TIME = timezone(timedelta(hours=1))
Places = tuple[tuple[float, float], ...]

# A place is a station (mm) and, by what the part has, % chord on a side or the angle round in
# degrees; on the side "flat" it is x and y on the flat map, mm.


@dataclass(frozen=True)
class Box:
    """Between two stations and two % chord on one side; None: all of it."""

    stations: tuple[float, float] | None = None
    chord: tuple[float, float] | None = None
    side: str = "both"


@dataclass(frozen=True)
class Round:
    """Between two angles round a body, growing from the first, and two stations (None: all)."""

    angles: tuple[float, float]
    stations: tuple[float, float] | None = None


@dataclass(frozen=True)
class Whole:
    """A whole panel, or the whole skin ("")."""

    panel: str = ""


@dataclass(frozen=True)
class Disc:
    """A round spot of that radius (mm): a bit, a plug or a punch was round."""

    station: float
    across: float
    radius: float
    side: str = "upper"


@dataclass(frozen=True)
class Blob:
    """A spot as a marker goes round it: so long and so wide (mm), turned so many degrees."""

    station: float
    across: float
    long: float
    wide: float
    side: str = "upper"
    turn: float = 0.0


@dataclass(frozen=True)
class Drawn:
    """An area drawn by hand through places, edges not quite straight; panel: not beyond it."""

    at: Places
    side: str = "upper"
    panel: str = ""
    shake: float = 4.0


@dataclass(frozen=True)
class Rub:
    """What a brush, a pad or a gloved hand went over: a way through places, about so wide (mm)."""

    through: Places
    width: float
    side: str = "upper"


@dataclass(frozen=True)
class Spots:
    """Single points."""

    at: Places
    side: str = "upper"


@dataclass(frozen=True)
class Trace:
    """A line through places, as a scriber or a crack goes."""

    through: Places
    side: str = "upper"


@dataclass(frozen=True)
class Along:
    """Along a named rib, spar, seam or rivet row; a width makes it a band.

    Between two stations and two % chord, or two angles round (None: all).
    """

    name: str
    stations: tuple[float, float] | None = None
    side: str = "upper"
    width: float = 0.0
    across: tuple[float, float] | None = None


@dataclass(frozen=True)
class Words:
    """A place in words, for what has no outline."""

    words: str


Where = Box | Round | Whole | Disc | Blob | Drawn | Rub | Spots | Trace | Along | Words


@dataclass(frozen=True)
class Ref:
    """The id of something else in the story: "person", "lot", "finish system" or "entry" by key."""

    kind: str
    key: str


@dataclass(frozen=True)
class Lettering:
    """Letters traced on a skin: the text, its capitals' height, where it begins, and its side."""

    text: str
    height: float
    start: tuple[float, float]
    side: str


@dataclass(frozen=True)
class Row:
    """One entry as it will be recorded. part: tag code of the part; key: by which others refer to
    it; poured: kg of stripper out of the can that was open that day."""

    when: datetime
    who: str
    part: str
    kind: str
    where: Where
    values: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""
    state: str = "open"
    face: str = ""
    key: str = ""
    skin: str = ""
    until: date | None = None
    poured: float = 0.0


def at(when: str) -> datetime:
    """A moment in the shop's own time, from "2025-09-08 09:40"."""
    return datetime.fromisoformat(f"{when}:00").replace(tzinfo=SHOP_TIME)
