"""The region that `mapper area` asks for: everything said must hold at once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from mapper.errors import MapperError
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import file_text
from mapper.job.partfile.values import closest
from mapper.surface.geometry import Bay, Geometry, Panel
from mapper.surface.region import box, clean, intersection, on_sheet, plan_circle, whole
from mapper.surface.round import angle_box
from mapper.surface.skin import Skin

POLYGON_UNITS = {"mm": 1.0, "in": 25.4, "inch": 25.4, "inches": 25.4}


@dataclass(frozen=True)
class Selection:
    """What is asked for, lengths in mm; None: not asked. angles: degrees round a body,
    growing from the first to the second. circle: x aft, y outboard, radius, seen in
    plan in the part's own frame. polygon: a shape on the flat map."""

    skin: str = ""
    face: str = ""
    stations: tuple[float, float] | None = None
    chord: tuple[float, float] | None = None
    angles: tuple[float, float] | None = None
    side: str = "both"
    panel: str = ""
    circle: tuple[float, float, float] | None = None
    polygon: MultiPolygon | None = None


def skin_of(geometry: Geometry, selection: Selection) -> Skin:
    """The skin asked for by name or through the panel; the first one where neither is said."""
    if selection.skin:
        return geometry.skin(selection.skin)
    if selection.panel:
        owners = [p.skin for p in geometry.panels if p.name == selection.panel]
        if owners:
            return geometry.skin(owners[0])
    return geometry.skins[0]


def selected(geometry: Geometry, selection: Selection) -> MultiPolygon:
    """The region in the skin's flat plane, openings taken off; empty where nothing is left.

    MapperError for names the part does not have, and for limits the part cannot have.
    """
    skin = skin_of(geometry, selection)
    if selection.face and selection.face not in skin.face_names:
        raise MapperError(
            f'The skin "{skin.name}" has no face "{selection.face}".',
            f"Its faces are {' and '.join(skin.face_names)}.",
        )
    region = whole(skin)
    if selection.panel:
        region = intersection(region, _panel(geometry, skin, selection.panel))
    chorded = bool(np.isfinite(skin.chord).any())
    _ordered("--chord", selection.chord)
    # A tube has no sides of its own, but a circle may lie on the half that looks up or down.
    side = selection.side if chorded or not selection.circle else "both"
    _ordered("--stations", selection.stations)
    if selection.stations or selection.chord or side != "both":
        part = box(skin, stations=selection.stations, chord=selection.chord, side=side)
        region = intersection(region, part)
    if selection.angles:
        region = intersection(region, angle_box(skin, angles=selection.angles))
    if selection.circle:
        x, y, radius = selection.circle
        if not radius > 0.0:
            raise MapperError(f"The circle's radius is {radius:g} mm.", "More than 0 is allowed.")
        flat = all(chart.patch.kind == "plane" for chart in skin.charts)
        whole_of = ("upper",) if flat else ("upper", "lower")
        sides = whole_of if selection.side == "both" else (selection.side,)
        y = -y if geometry.mirrored else y
        circles = [plan_circle(skin, x, y, radius, side) for side in sides]
        region = intersection(region, clean(shapely.union_all(circles)))
    if selection.polygon is not None:
        region = intersection(region, selection.polygon)
    return on_sheet(geometry, skin.name, region)


def _panel(geometry: Geometry, skin: Skin, name: str) -> MultiPolygon:
    pieces: list[Panel | Bay] = [*geometry.panels, *geometry.bays]
    here = [p for p in pieces if p.skin == skin.name]
    for panel in here:
        if panel.name == name:
            return panel.flat
    names = tuple(p.name for p in here)
    near = closest(name, names)
    listed = "; ".join(names[:12]) + (" ..." if len(names) > 12 else "")
    raise MapperError(
        f'The skin "{skin.name}" has no panel or bay "{name}".',
        f"It has {listed}." if names else "It has none.",
        f'Did you mean "{near}"?' if near else "",
    )


def _ordered(option: str, pair: tuple[float, float] | None) -> None:
    if pair is None:
        return
    if not all(np.isfinite(pair)) or pair[0] >= pair[1]:
        raise MapperError(
            f"{option} {pair[0]:g} {pair[1]:g} was given.",
            "The second number must be greater than the first.",
        )
    if option == "--chord" and not 0.0 <= pair[0] < pair[1] <= 100.0:
        raise MapperError(
            f"--chord {pair[0]:g} {pair[1]:g} was given.",
            "0 to 100 is allowed.",
            "0 is the leading edge, 100 the trailing edge.",
        )


def read_polygon(path: Path, scale: float = 1.0) -> MultiPolygon:
    """A region from a file: two columns (x y, a blank line between rings) or one WKT polygon.

    scale: mm per unit of a file that says no unit; one on a line before the numbers ("in", "mm")
    is the file's own. A ring inside another is a hole in it. MapperError for a file
    that holds neither, with the line.
    """
    try:
        text = file_text(path, "a text file of points")
    except PartFileError as error:
        raise MapperError(f"{path}: {error.given}", error.allowed, error.to_do) from None
    own, text = _unit_off(text)
    scale = own or scale
    if re.match(r"\s*(MULTI)?POLYGON", text, re.IGNORECASE):
        try:
            shape = shapely.from_wkt(text.strip())
        except shapely.errors.GEOSException as error:
            raise MapperError(f"{path}: the WKT cannot be read ({error}).") from None
        return _checked(path, shapely.transform(shape, lambda xy: xy * scale))
    rings = [np.array(ring) * scale for ring in _rings(path, text)]
    shape = Polygon()
    for ring in rings:
        # Even-odd, so that a ring inside another one is a hole and an island in that a piece again.
        shape = shapely.symmetric_difference(shape, _valid(path, Polygon(ring)))
    return _checked(path, shape)


def says_unit(path: Path) -> bool:
    """Whether a polygon's file names its unit on a line of its own, before its numbers; no for one
    that cannot be read."""
    try:
        return bool(_unit_off(file_text(path, "a text file of points"))[0])
    except PartFileError:
        return False


def _unit_off(text: str) -> tuple[float, str]:
    """mm per unit where the first line that says anything is a unit alone, else 0, and the text
    with that line emptied."""
    lines = text.split("\n")
    for number, line in enumerate(lines):
        word = line.split("#")[0].strip().lower().removeprefix("units").strip(" =:\"'")
        if not word:
            continue
        if word in POLYGON_UNITS:
            return POLYGON_UNITS[word], "\n".join([*lines[:number], "", *lines[number + 1 :]])
        break
    return 0.0, text


def _rings(path: Path, text: str) -> list[list[tuple[float, float]]]:
    rings: list[list[tuple[float, float]]] = [[]]
    for number, line in enumerate(text.split("\n"), 1):
        words = re.split(r"[\s,;]+", line.split("#")[0].strip())
        if words == [""]:
            if rings[-1]:
                rings.append([])
            continue
        try:
            x, y = (float(word) for word in words)
        except ValueError:
            raise MapperError(
                f'{path}, line {number}: "{line.strip()[:40]}" was given.',
                "Two numbers, x and y on the flat map, are allowed.",
            ) from None
        rings[-1].append((x, y))
    found = [ring for ring in rings if ring]
    for ring in found:
        if len(ring) < 3:
            raise MapperError(f"{path}: a ring of {len(ring)} points.", "3 or more are allowed.")
    if not found:
        raise MapperError(f"{path} holds no points.", "Two columns or one WKT polygon are allowed.")
    return found


def _valid(path: Path, shape: Polygon) -> Polygon:
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        raise MapperError(f"{path} holds a number that is not finite.", "Finite ones are allowed.")
    if not shape.is_valid:
        raise MapperError(
            f"{path}: {shapely.is_valid_reason(shape).lower()}.",
            "An outline whose sides do not cross is allowed.",
            "Go round it once, in one direction.",
        )
    return shape


def _checked(path: Path, shape: shapely.Geometry) -> MultiPolygon:
    polygons: Sequence[shapely.Geometry] = [_valid(path, p) for p in shapely.get_parts(shape)]
    if any(not isinstance(p, Polygon) for p in polygons):
        raise MapperError(f"{path} holds a {shape.geom_type}.", "Polygons are allowed.")
    return clean(MultiPolygon(list(polygons)))
