"""The sections of a part file: order, profiles, and how each is set back and raised."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from mapper.job.partfile.bodykeys import CAP
from mapper.job.partfile.check import Notes
from mapper.job.partfile.curvedkeys import CURVED, curved_span
from mapper.job.partfile.key import SHAPES
from mapper.job.partfile.scan import Path
from mapper.job.partfile.values import INCH, shown
from meshes.errors import ShapeError
from meshes.sections import Naca4, Naca5

Row = dict[str, Any]


def needs_sections(values: Row) -> int:
    """How many sections the shape needs at least; 0 where it has none."""
    shape = values.get("shape")
    if shape == "access cover" and values.get("form") != "piece of skin":
        return 0
    found = SHAPES.get(str(shape))
    return found.sections if found else 0


def span_of(values: Row) -> tuple[float, float] | None:
    """Least and greatest station (mm) a place on the part may have; None where it has no span."""
    shape = SHAPES.get(str(values.get("shape")))
    if shape is not None and shape.axis == "length" and values.get("length"):
        start = float((values.get("stations") or {}).get("datum", 0.0))
        return start, start + float(values["length"])
    if values.get("shape") == CAP and values.get("chord"):
        start = float((values.get("stations") or {}).get("datum", 0.0))
        return start, start + float(values["chord"])
    if values.get("shape") in CURVED:
        return curved_span(values)
    rows = values.get("section") or values.get("cross_section") or ()
    stations = [float(r["station"]) for r in rows if "station" in r]
    if shape is not None and shape.axis == "length" and not rows:
        stations = [float(point[0]) for point in values.get("points", ())]
    if len(stations) < 2 or any(b <= a for a, b in pairwise(stations)):
        return None
    return stations[0], stations[-1]


def check_sections(values: Row, notes: Notes) -> None:
    """Note what is wrong with the sections: number, order, profiles, one thing said twice."""
    sections = values.get("section", ())
    least = needs_sections(values)
    if len(sections) < least and not notes.bad(("section",), ("sections_from",)):
        word = "section" if least == 1 else "sections"
        notes.mistake(
            ("section",),
            f"{len(sections) or 'no'} section{'' if len(sections) == 1 else 's'} given;",
            f"{least} {word} or more are needed.",
            "Write [[section]] once for each, from inboard to outboard.",
        )
    if values.get("sections_from") and any(r["path"][0] == "section" for r in sections):
        own = [r for r in sections if not r.get("borrowed")]
        if own:
            notes.mistake(
                ("sections_from",),
                "both sections_from and [[section]] were given;",
                "one of them is allowed.",
                "Take one out.",
            )
    unit = str(values.get("units", "mm"))
    scale = INCH if unit == "in" else 1.0
    before: float | None = None
    for i, row in enumerate(sections):
        if row.get("borrowed"):
            continue
        path: Path = row["path"]
        station = row.get("station")
        if station is not None and before is not None and station <= before:
            notes.mistake(
                (*path, "station"),
                f"{station / scale:g} {unit} does not lie outboard of the section before"
                f" ({before / scale:g} {unit});",
                "stations that grow from section to section are allowed.",
                "Put the sections in order from inboard to outboard.",
            )
        before = station if station is not None else before
        _profile(row, i, notes)
        _either(row, "leading_edge_aft", "sweep", notes)
        _either(row, "height", "dihedral", notes)
    if len(sections) >= 2 and not any(r.get("borrowed") for r in sections):
        for keys in (("twist",), ("leading_edge_aft", "sweep"), ("height", "dihedral")):
            _to_the_end(sections, keys, notes)
    if values.get("shape") == "rib" and "station" not in values and len(sections) > 1:
        notes.mistake(
            ("station",),
            "there are several sections;",
            "the rib's own station is needed.",
            "Say where the rib is.",
        )


def _to_the_end(sections: Sequence[Row], keys: tuple[str, ...], notes: Notes) -> None:
    """What any section says the last one must say: a line between two sections has two ends."""
    angle = keys[-1]
    first, last = sections[0], sections[-1]
    if len(keys) == 2 and first.get(angle):
        notes.mistake(
            (*first["path"], angle),
            "the first section cannot have it;",
            f"{angle} is measured from the first section to each of the others.",
            "Give it at the last section, and at every break.",
        )
        return
    # Of the first section only a twist turns anything; its place is what the others start from.
    # An angle of 0 is what is taken where nobody says one.
    saying = [r for r in sections[len(keys) - 1 : -1] if r.get(angle) or keys[0] in r]
    saying = [r for r in saying if len(keys) == 2 or r[angle]]
    missing = not any(k in last or notes.bad((*last["path"], k)) for k in keys)
    if saying and missing:
        row = saying[-1]
        key = next(k for k in keys if k in row)
        notes.mistake(
            (*row["path"], key),
            f"this section says it and the last one does not say {' or '.join(keys)};",
            "between sections that say it, it runs straight; beyond them nothing tells.",
            "Give it at the last section too (0 where there is none).",
        )


def straight(stations: Sequence[float], said: Sequence[float | None]) -> list[float]:
    """Values (N) at stations (N, growing): as said, else on the straight line between the two that
    say it. The first counts as 0 where it says nothing; behind the last that says it, as that."""
    known = [(s, v) for s, v in zip(stations, (said[0] or 0.0, *said[1:])) if v is not None]
    at, values = (np.array(column) for column in zip(*known, strict=True))
    return [float(v) for v in np.interp(np.array(stations), at, values)]


def _either(row: Row, one: str, other: str, notes: Notes) -> None:
    if one in row and other in row:
        notes.mistake(
            (*row["path"], other),
            f"both {one} and {other} were given;",
            "one of them is allowed.",
            "Keep the one you measured.",
        )


def _profile(row: Row, number: int, notes: Notes) -> None:
    path: Path = row["path"]
    code, file = row.get("profile"), row.get("coordinates")
    if notes.bad((*path, "profile"), (*path, "coordinates")):
        return
    if code is not None and file is not None:
        notes.mistake(
            (*path, "coordinates"),
            "both profile and coordinates were given;",
            "one of them is allowed.",
            "Take one out.",
        )
        return
    if code is None:
        if file is None and number == 0:
            notes.mistake(
                (*path, "profile"),
                "the first section has no profile;",
                'four or five digits as "2412", or `coordinates` with a file, are needed.',
            )
        return
    wrong = profile_mistake(code)
    if wrong:
        notes.mistake((*path, "profile"), f"{shown(code)} was given;", *wrong)


def profile_mistake(code: str) -> tuple[str, str] | None:
    """What is allowed and what to do where digits make no profile; None when they do."""
    if "." in code:
        return ("four or five digits are allowed.", "For a file write `coordinates` instead.")
    digits = re.sub(r"(?i)^naca[ -]*", "", code)
    if digits != code:
        return ("the digits alone are allowed.", f'Write "{digits}".')
    if not re.fullmatch(r"\d{4,5}", code):
        return ('four or five digits are allowed, as "2412" or "23012".', "")
    try:
        section_of(code, closed=True)
    except ShapeError as error:
        return (error.allowed, error.to_do)
    return None


def section_of(code: str, *, closed: bool) -> Naca4 | Naca5:
    """The section of four or five digits; ShapeError for digits that make none."""
    return Naca4(code, closed) if len(code) == 4 else Naca5(code, closed)
