"""The types in which the story is written down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, timezone
from typing import Any

SHOP_TIME = timezone(timedelta(hours=1))


@dataclass(frozen=True)
class Box:
    """Between two stations (mm) and two % chord on one side; None: all of it."""

    stations: tuple[float, float] | None = None
    chord: tuple[float, float] | None = None
    side: str = "both"


@dataclass(frozen=True)
class Whole:
    """A whole panel, or the whole skin ("")."""

    panel: str = ""


@dataclass(frozen=True)
class Disc:
    """A round spot of that radius (mm) at a station and % chord."""

    station: float
    chord: float
    radius: float
    side: str = "upper"


@dataclass(frozen=True)
class Spots:
    """Single points, each (station, % chord)."""

    at: tuple[tuple[float, float], ...]
    side: str = "upper"


@dataclass(frozen=True)
class Trace:
    """A line through places, each (station, % chord)."""

    through: tuple[tuple[float, float], ...]
    side: str = "upper"


@dataclass(frozen=True)
class Corners:
    """A polygon through places, each (station, % chord)."""

    at: tuple[tuple[float, float], ...]
    side: str = "upper"


@dataclass(frozen=True)
class FlatCorners:
    """A polygon on the flat map, mm, for parts without % chord."""

    at: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Words:
    """A place in words, for what has no outline."""

    words: str


Where = Box | Whole | Disc | Spots | Trace | Corners | FlatCorners | Words


@dataclass(frozen=True)
class Ref:
    """The id of something else in the story: "person", "lot", "finish system" or "entry" by key."""

    kind: str
    key: str


@dataclass(frozen=True)
class Row:
    """One entry as it will be recorded. part: key of the part; key: by which others refer to it."""

    when: datetime
    who: str
    part: str
    kind: str
    where: Where
    values: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""
    state: str = "open"
    face: str = "outer"
    key: str = ""
    skin: str = ""
    until: date | None = None


def at(day: str, clock: str = "09:00") -> datetime:
    """A moment in the shop's own time, from "2025-09-08" and "09:40"."""
    return datetime.fromisoformat(f"{day}T{clock}:00").replace(tzinfo=SHOP_TIME)


def strip(
    day: str,
    clock: str,
    part: str,
    where: Where,
    *,
    who: str,
    lot: str,
    coat: tuple[int, str, str],
    before: float,
    after: float,
    labour: float,
    left: float,
    hours: float = 1.5,
    note: str = "",
    drum: str = "drum 2, stripper sludge",
) -> Row:
    """One application of stripper: coat is (number from outside, kind, colour), cans in kg."""
    number, kind, colour = coat
    start = at(day, clock)
    return Row(
        start + timedelta(hours=hours),
        who,
        part,
        "application",
        where,
        {
            "coats": ({"number": number, "kind": kind, "colour": colour},),
            "product": "Quenlo gel stripper",
            "lot": Ref("lot", lot),
            "start": start,
            "stop": start + timedelta(hours=hours),
            "mass_before": before,
            "mass_after": after,
            "labour": labour,
            "left_fraction": left,
            "waste_container": drum,
        },
        note,
        state="closed",
    )


def look(
    day: str,
    part: str,
    where: Where,
    *,
    who: str = "ilvo",
    technique: str = "glass",
    findings: tuple[str, ...] = (),
    face: str = "outer",
    note: str = "",
    clock: str = "15:00",
) -> Row:
    """One inspected area; findings are keys of the rows that came of it."""
    values: dict[str, Any] = {
        "technique": technique,
        "inspector": Ref("person", who),
        "date": date.fromisoformat(day),
        "light": "hand lamp, held flat to the sheet",
        "result": "findings recorded" if findings else "nothing found",
    }
    if findings:
        values["findings"] = tuple({"finding": Ref("entry", key)} for key in findings)
    return Row(
        at(day, clock), who, part, "inspected area", where, values, note, state="closed", face=face
    )
