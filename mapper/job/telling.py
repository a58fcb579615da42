"""Entries in words, the same for the command line and the page: where they are, how large, what is
near, and what they say in one line."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.job.entry import Entry, Outline, kind_of
from mapper.job.partfile.enteredkeys import ENTERED
from mapper.job.partfile.naming import span_round
from mapper.job.runs import lines_near
from mapper.job.values import told
from mapper.surface.geometry import Geometry
from mapper.surface.measure import length
from mapper.surface.near import NearLine
from mapper.surface.place import place_of
from mapper.surface.round import has_angles
from mapper.units import Units, count_of

_MOVED = re.compile(r"\bmoved ([\d.]+) mm\b")
MOST = 4  # names of a kind in one line
_STEP = 25.0  # mm between the points of a long side that are looked at
_ON = 0.05  # mm: an outline so near a line lies on it
_MOVE = 0.6  # mm: to a tenth, or a hundredth of an inch
_NEAR = 2.0  # mm: distances along the sheet are no better than the outline they start from


def where(entry: Entry, units: Units, shapes: Mapping[str, Geometry] | None = None) -> str:
    """Where an entry is, in short: its place in words, or side, stations and % chord; with the
    shapes (of a book, by digest) the angle round a closed body too."""
    if entry.place is not None:
        return entry.place.words
    if entry.outline is None:
        return ""
    # On a wing the outline says it all: its shape need not be read.
    known = shapes is not None and entry.geometry and not _has_chord(entry.outline)
    return drawn(entry.outline, units, shapes[entry.geometry] if known and shapes else None)


def _has_chord(outline: Outline) -> bool:
    return outline.anchors is not None and bool(np.isfinite(outline.anchors[:, 1]).any())


def drawn(outline: Outline, units: Units, geometry: Geometry | None = None) -> str:
    """Where an outline lies, in short: side, face, stations and % chord.

    geometry: the shape it is drawn on. With it a closed body's angle round is told, and of a part
    whose area was entered, and that has no shape, no places that mean nothing.
    """
    words = [] if outline.face == "outer" else [outline.face]
    anchors = outline.anchors
    entered = geometry is not None and geometry.shape in ENTERED
    if anchors is None or not np.isfinite(anchors[:, 0]).any() or entered:
        return ", ".join(dict.fromkeys([outline.skin, *words]))
    # A corner on the leading or trailing edge belongs to both sides and tells neither.
    inside = (anchors[:, 1] > 0.01) & (anchors[:, 1] < 99.99)
    corners = anchors[inside] if inside.any() else anchors
    sides = set(np.unique(corners[np.isfinite(corners[:, 2]), 2]).tolist())
    chords = anchors[np.isfinite(anchors[:, 1]), 1]
    if len(chords):
        words.insert(0, "both sides" if len(sides) > 1 else "upper" if 1.0 in sides else "lower")
    else:
        words.insert(0, outline.skin)
    label = units.label("mm")
    stations = units.number(1.0, "mm") * anchors[:, 0]
    # A tenth of an inch is as near as two millimetres.
    words.append(f"station {_span(stations, units.system == 'inch')} {label}")
    if len(chords):
        if len(sides) > 1 and _runs_round(outline, anchors):
            chords = np.append(chords, 0.0)
        words.append(f"{_span(chords, len(anchors) == 1)} %")
    elif geometry is not None:
        words += _round(outline, geometry)
    return ", ".join(words)


def _runs_round(outline: Outline, anchors: NDArray[np.float64]) -> bool:
    """Whether one polygon of an outline has corners on both sides: it runs round the nose, where a
    straight edge of the flat map has no corner."""
    if outline.region != "area":
        return False
    parts = shapely.get_parts(outline.shape)
    numbers = shapely.get_coordinates(parts, return_index=True)[1]
    inside = (anchors[:, 1] > 1.0) & (anchors[:, 1] < 99.0)
    if len(numbers) != len(anchors) or not inside.any() or np.nanmax(anchors[:, 1]) > 99.0:
        return False
    return any(len(np.unique(anchors[inside & (numbers == n), 2])) > 1 for n in np.unique(numbers))


def _round(outline: Outline, geometry: Geometry) -> list[str]:
    """The angle round a closed body; nothing on other parts."""
    skin = geometry.skin(outline.skin)
    if not has_angles(skin):
        return []
    points = shapely.get_coordinates(shapely.segmentize(outline.shape, _STEP))
    low, high = span_round(place_of(skin, points).angle)
    if not np.isfinite(low):
        return []
    if (low, high) == (0.0, 360.0):
        return ["all round"]
    ends = [f"{round(v) % 360}" for v in (low, high)]
    return [f"{ends[0] if ends[0] == ends[1] else '-'.join(ends)} degrees round"]


def _span(values: NDArray[np.float64], tenths: bool) -> str:
    ends = [
        f"{round(float(v), int(tenths)) + 0.0:.{int(tenths)}f}".removesuffix(".0")
        for v in (np.nanmin(values), np.nanmax(values))
    ]
    return ends[0] if ends[0] == ends[1] else "-".join(ends)


def doubt(entry: Entry, units: Units) -> str:
    """Why the place of an entry is unconfirmed, lengths in the units asked for; "" where it is
    not. It is kept as it was written, in mm."""
    return _MOVED.sub(
        lambda found: f"moved {units.show(float(found[1]), 'mm', tolerance=_MOVE)}",
        entry.unconfirmed,
    )


def summary(entry: Entry, units: Units, names: Mapping[str, str]) -> str:
    """The first few values of an entry in one line; its note where it has none.

    names: words for the ids that values refer to.
    """
    return ", ".join(values(entry, units, names)[:3]) or entry.note


def values(entry: Entry, units: Units, names: Mapping[str, str]) -> list[str]:
    """Every value of an entry that fits in a few words, with its unit, in the order of its fields;
    records of several values and outlines are left out."""
    texts = []
    for place, f in enumerate(kind_of(entry.kind).fields):
        value = entry.values.get(f.name)
        if value is None or value is False or f.computed or f.type in ("records", "shape"):
            continue
        # A choice of one's own is read without the word that says so.
        text = told(f, value, units, names=names).removeprefix("other: ")
        plain = place == 0 or f.type == "text" or (f.expected and f.type == "choice" and f.only_if)
        texts.append(f.label if value is True else text if plain else f"{f.label} {text}")
    return texts


def size(entry: Entry, geometry: Geometry, units: Units) -> str:
    """How large an outline is: its pieces' true area, the length of its lines, or how many points;
    "" for an entry without one."""
    outline = entry.outline
    if outline is None:
        return ""
    if outline.region == "area":
        return units.show(sum(piece.area for piece in entry.pieces), "mm2")
    if outline.region == "line":
        return units.show(length(geometry.skin(outline.skin), outline.shape), "mm")
    return count_of(len(outline.shape.geoms), "point")


def near(geometry: Geometry, outline: Outline, units: Units) -> str:
    """What an outline lies on, and of each other kind of line the nearest with its distance along
    the sheet: "on rib 4; 32 mm from front spar"; "" where the skin has no lines."""
    found = lines_near(geometry, outline)
    on = [n for n in found if n.distance < _ON]
    beside = [n for n in found if n.distance >= _ON]
    words = [
        f"on {some([_called(n) for n in on if n.kind == kind], ', ')}"
        for kind in dict.fromkeys(n.kind for n in on)
    ]
    taken = {n.kind for n in on}
    words += [
        f"{units.show(n.distance, 'mm', tolerance=_NEAR)} from {_called(n)}"
        for n in beside
        if n.kind not in taken
    ]
    return "; ".join(words)


def _called(line: NearLine) -> str:
    """A line's name, with its kind where the name does not say it."""
    plain = line.kind.removesuffix(" row")
    return line.name if plain in line.name.casefold() else f"{line.kind} {line.name}"


def some(names: Sequence[str], between: str = "; ") -> str:
    """The first few names, and how many more there are."""
    more = f" and {len(names) - MOST} more" if len(names) > MOST else ""
    return between.join(names[:MOST]) + more
