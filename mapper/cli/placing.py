"""The options that say where an entry is, and what they make of a part's flat map."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import wraps
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

from mapper.errors import MapperError

Skin = Annotated[str, typer.Option("--skin", help="Name of the skin.", show_default="the first")]
Face = Annotated[str, typer.Option("--face", help="Name of the face.", show_default="the first")]
Side = Annotated[str, typer.Option("--side", help="Surface: upper, lower or both.")]
Stations = Annotated[
    tuple[str, str] | None, typer.Option("--stations", help="From station A to B.", metavar="A B")
]
Chord = Annotated[
    tuple[float, float] | None, typer.Option("--chord", help="From A to B % chord.", metavar="A B")
]
Angles = Annotated[
    tuple[float, float] | None,
    typer.Option("--angles", help="Round a closed body, from A growing to B degrees from the top,"
                 " outboard first. In a place on it they stand instead of % chord.",
                 metavar="A B"),
]  # fmt: skip
PanelName = Annotated[str, typer.Option("--panel", help="Name of a panel.")]
BayName = Annotated[str, typer.Option("--bay", help="Name of a bay.")]
Disc = Annotated[
    tuple[str, float, str] | None,
    typer.Option("--disc", help="Round spot: station, % chord, radius along the sheet; one --side.",
                 metavar="STATION CHORD RADIUS"),
]  # fmt: skip
Circle = Annotated[
    tuple[str, str, str] | None,
    typer.Option("--circle", help="Circle seen in plan: X aft, Y outboard, radius R.",
                 metavar="X Y R"),
]  # fmt: skip
Polygon = Annotated[
    Path | None,
    typer.Option("--polygon", help="File of a polygon on the flat map: lines x y, or WKT; in mm, or"
                 " in the unit (in, mm) that its first line says.",
                 metavar="FILE"),
]  # fmt: skip
Line = Annotated[
    list[str] | None,
    typer.Option("--line", help='A line: "STATION CHORD, STATION CHORD, ..."; one --side. Between'
                 " two places % chord changes evenly, so equal ones follow that % chord, as a spar"
                 " does.",
                 metavar="PLACES"),
]  # fmt: skip
Along = Annotated[
    str, typer.Option("--along", help="The line of a rib, spar, stringer, rivet row or seam, by"
                      " its name; --stations, --chord and --side say how far.", metavar="NAME"),
]  # fmt: skip
Width = Annotated[
    str, typer.Option("--width", help="Makes the line a band so wide.", metavar="WIDTH")
]
Point = Annotated[
    list[str] | None,
    typer.Option("--point", help='A point: "STATION CHORD"; one --side.', metavar="PLACE"),
]
Tape = Annotated[
    tuple[str, str, str, str] | None,
    typer.Option("--tape", help="A point by tape: outboard of a rib, aft of a spar; one --side."
                 " Negative: inboard, forward.",
                 metavar="RIB OUTBOARD SPAR AFT"),
]  # fmt: skip
Words = Annotated[str, typer.Option("--place", help="Where it is, in words.", metavar="WORDS")]


NO_UNIT = "{} says no unit and is read in mm; for inches write the line `in` above its numbers."


@dataclass(frozen=True)
class Placing:
    """What was said about where an entry is; lengths as typed, in the shop's units. Its fields are
    the options of every command that asks for a place."""

    skin: Skin = ""
    face: Face = ""
    side: Side = "both"
    stations: Stations = None
    chord: Chord = None
    angles: Angles = None
    panel: PanelName = ""
    bay: BayName = ""
    disc: Disc = None
    circle: Circle = None
    polygon: Polygon = None
    line: Line = None
    along: Along = ""
    width: Width = ""
    point: Point = None
    tape: Tape = None
    place: Words = ""

    def said(self) -> bool:
        """Whether anything was said at all."""
        return any(getattr(self, f.name) != f.default for f in fields(self))

    def drawn(self) -> bool:
        """Whether an outline was asked for, rather than a place in words alone."""
        words = ("place",)
        return any(getattr(self, f.name) != f.default for f in fields(self) if f.name not in words)


def with_place(command: Callable[..., None]) -> Callable[..., None]:
    """A command with the options of a place; it takes them as one `Placing` in `said_where`."""
    hints = get_type_hints(Placing, include_extras=True)
    keyword = inspect.Parameter.KEYWORD_ONLY
    options = [
        inspect.Parameter(f.name, keyword, default=f.default, annotation=hints[f.name])
        for f in fields(Placing)
    ]
    shown: list[inspect.Parameter] = []
    for name, own in inspect.signature(command, eval_str=True).parameters.items():
        shown += options if name == "said_where" else [own.replace(kind=keyword)]

    @wraps(command)
    def placed(**given: Any) -> None:
        said = {f.name: given.pop(f.name) for f in fields(Placing)}
        command(said_where=Placing(**said), **given)

    placed.__signature__ = inspect.Signature(shown)  # type: ignore[attr-defined]
    placed.__annotations__ = {p.name: p.annotation for p in shown}
    return placed


def outline(placing: Placing, geometry: Any, units: Any) -> Any:
    """The outline asked for on a part's shape; MapperError for what does not go together."""
    from mapper.job.outlines import outline_of

    if placing.side not in ("upper", "lower", "both"):
        raise MapperError(f"--side {placing.side} was given.", "Allowed: upper, lower or both.")
    skin = _skin(placing, geometry)
    drawn = [_points(placing, geometry, skin, units), _lines(placing, skin, units)]
    region = _region(placing, geometry, skin, units)
    drawn.append(_along(placing, geometry, skin, units, region) if placing.along else region)
    shapes = [d for d in drawn if d is not None]
    if len(shapes) > 1:
        raise MapperError(
            "A point, a line and an area were asked for at once.",
            "An entry has one outline.",
            "Record the others as entries of their own.",
        )
    if shapes[0].is_empty:
        low, high = _ends(skin)
        raise MapperError(
            f"Nothing of the {skin.name!r} of {geometry.part} lies there.",
            f"Its stations go from {units.told(low, 'mm')} to {units.told(high, 'mm')}.",
            "Everything said about the place must hold at once.",
        )
    return outline_of(geometry, skin.name, placing.face or skin.face_names[0], shapes[0])


def _skin(placing: Placing, geometry: Any) -> Any:
    if placing.skin:
        return geometry.skin(placing.skin)
    name = placing.panel or placing.bay
    for piece in (*geometry.panels, *geometry.bays):
        if name and piece.name == name:
            return geometry.skin(piece.skin)
    return geometry.skins[0]


def _upper(placing: Placing, skin: Any) -> bool:
    import numpy as np

    if placing.side == "both" and np.isfinite(skin.chord).any():
        raise MapperError(
            "The side is not said.",
            "A place by station and % chord is on one side.",
            "Add --side upper or --side lower.",
        )
    return placing.side != "lower"


def _ends(skin: Any) -> tuple[float, float]:
    """First and last station of a skin, to the hundredth of a mm."""
    return round(float(skin.station.min()), 2), round(float(skin.station.max()), 2)


def _flat(placing: Placing, skin: Any, units: Any, station: float, chord: float) -> Any:
    import numpy as np

    from mapper.cli.reply import share_of_chord
    from mapper.surface.place import flat_of
    from mapper.surface.round import flat_at_angle, has_angles

    if has_angles(skin):
        there = flat_at_angle(skin, station, chord)[0]
        if not np.isfinite(there).all():
            low, high = _ends(skin)
            raise MapperError(
                f"{skin.name!r} has no place at station {units.told(station, 'mm')}, {chord:g}"
                " degrees round.",
                f"Its stations go from {units.told(low, 'mm')} to {units.told(high, 'mm')}.",
            )
        return there
    low, high = _ends(skin)
    if high - low < 0.1:
        raise MapperError(
            f"{skin.name!r} lies at one station, {units.told(low, 'mm')}, all of it.",
            "A station and a % chord are no place on it.",
            "Use --polygon on its flat map, --chord for a strip of it, or --place in words.",
        )
    if not 0 <= chord <= 100:
        raise MapperError(f"{chord:g} % chord was given.", "Allowed: 0 to 100.")
    share_of_chord([chord])
    found = flat_of(skin, station, chord, _upper(placing, skin))[0]
    if not np.isfinite(found).all():
        raise MapperError(
            f"{skin.name!r} has no place at station {units.told(station, 'mm')}, {chord:g} %.",
            f"Its stations go from {units.told(low, 'mm')} to {units.told(high, 'mm')}.",
            "" if np.isfinite(skin.chord).any() else "It has no % chord: use --polygon.",
        )
    return found


def _place(text: str, units: Any) -> tuple[float, float]:
    words = text.split()
    if len(words) < 2:
        raise MapperError(
            f"The place {text.strip()!r} was given.",
            "A place is a station and a % chord, as 1200 25.",
        )
    chord = units.parse(words[-1].removesuffix("%").removesuffix("°"), "%")
    return units.parse(" ".join(words[:-1]), "mm"), chord


def _points(placing: Placing, geometry: Any, skin: Any, units: Any) -> Any:
    import shapely

    points = [_flat(placing, skin, units, *_place(text, units)) for text in placing.point or []]
    if placing.tape:
        from mapper.surface.tape import by_tape

        rib, outboard, spar, aft = placing.tape
        points.append(
            by_tape(
                geometry,
                skin.name,
                rib=rib,
                outboard=units.parse(outboard, "mm"),
                spar=spar,
                aft=units.parse(aft, "mm"),
                upper=_upper(placing, skin),
            )
        )
    return shapely.MultiPoint(points) if points else None


def _lines(placing: Placing, skin: Any, units: Any) -> Any:
    import shapely

    if placing.width and not (placing.line or placing.along):
        raise MapperError(
            "--width was given without a line.", "It makes a --line or --along a band."
        )
    from mapper.job.runs import run_of

    lines: list[Any] = []
    for text in placing.line or []:
        places = [_place(place, units) for place in text.split(",") if place.strip()]
        if len(places) < 2:
            raise MapperError(
                f"--line {text!r} was given.", 'Two places or more: "1200 10, 1500 10".'
            )
        for place in places:
            _flat(placing, skin, units, *place)  # names the place that is off the sheet
        lines += run_of(skin, places, _upper(placing, skin)).geoms
    return _wide(placing, skin, units, shapely.MultiLineString(lines)) if lines else None


def _along(placing: Placing, geometry: Any, skin: Any, units: Any, region: Any) -> Any:
    from mapper.job.runs import run_along
    from mapper.surface.clip import whole

    within = whole(skin) if region is None else region
    return _wide(placing, skin, units, run_along(geometry, skin, placing.along, within))


def _wide(placing: Placing, skin: Any, units: Any, lines: Any) -> Any:
    if not placing.width or lines.is_empty:
        return lines
    from mapper.surface.around import band

    return band(skin, lines, units.parse(placing.width, "mm"))


def _region(placing: Placing, geometry: Any, skin: Any, units: Any) -> Any:
    from mapper.cli.reply import please_check, share_of_chord
    from mapper.job.partfile.reach import beyond
    from mapper.job.partfile.select import Selection, read_polygon, says_unit, selected
    from mapper.surface.region import disc, intersection, openings_of

    wanted = (
        placing.stations,
        placing.chord,
        placing.angles,
        placing.panel,
        placing.bay,
        placing.circle,
    )
    others = placing.point or placing.line or placing.tape
    asked = any(w not in (None, "") for w in (*wanted, placing.polygon, placing.disc))
    if not asked and (others or placing.along) and placing.side == "both":
        return None
    if not asked and others:
        return None
    for name, bounds in (("panel", placing.panel), ("bay", placing.bay)):
        rows = [p for p in getattr(geometry, f"{name}s") if p.skin == skin.name]
        if bounds and bounds not in {p.name for p in rows}:
            raise MapperError(
                f"The skin {skin.name!r} has no {name} {bounds!r}.",
                f"It has {'; '.join(p.name for p in rows[:12]) or 'none'}.",
            )
    for radius in [r[-1] for r in (placing.disc, placing.circle) if r is not None]:
        _fits(geometry, skin, units, units.parse(radius, "mm"))
    mm = [units.parse(text, "mm") for text in placing.stations or ()]
    told_twice(placing.stations, units)
    words = beyond(skin, (mm[0], mm[1]), units) if mm else ""
    if words:
        please_check(words)
    share_of_chord(placing.chord or ())
    if placing.polygon is not None and units.system == "inch" and not says_unit(placing.polygon):
        please_check(NO_UNIT.format(placing.polygon))
    circle = [units.parse(text, "mm") for text in placing.circle or ()]
    region = selected(
        geometry,
        Selection(
            skin=skin.name,
            stations=(mm[0], mm[1]) if mm else None,
            chord=placing.chord,
            angles=placing.angles,
            # A disc runs along the sheet, round the nose too: its side says where its middle is.
            side="both" if placing.disc else placing.side,
            panel=placing.panel or placing.bay,
            circle=(circle[0], circle[1], circle[2]) if circle else None,
            polygon=None if placing.polygon is None else read_polygon(placing.polygon),
        ),
    )
    if placing.panel and placing.bay:
        bay = next(b for b in geometry.bays if (b.skin, b.name) == (skin.name, placing.bay))
        region = intersection(region, bay.flat)
    if placing.disc:
        station, chord, radius = placing.disc
        middle = _flat(placing, skin, units, units.parse(station, "mm"), chord)
        _clear(geometry, skin, units, middle, placing.disc)
        holes = openings_of(geometry, skin.name)
        region = intersection(region, disc(skin, middle, units.parse(radius, "mm"), holes))
    return region


def told_twice(stations: tuple[str, str] | None, units: Any) -> None:
    """MapperError, in the words typed, for a second station that is not beyond the first."""
    if stations and not units.parse(stations[0], "mm") < units.parse(stations[1], "mm"):
        raise MapperError(
            f"--stations {' '.join(stations)} was given.",
            "The second station must be greater than the first.",
            "Exchange them, or check the unit.",
        )


def _clear(geometry: Any, skin: Any, units: Any, middle: Any, disc: Any) -> None:
    """MapperError for the middle of a disc that lies in an opening, with its name."""
    import shapely

    at = shapely.Point(middle)
    for opening in geometry.openings:
        if opening.skin == skin.name and opening.flat.contains(at):
            station = units.told(units.parse(disc[0], "mm"), "mm")
            raise MapperError(
                f"The middle of the disc, station {station}, {disc[1]:g} %, is in the opening "
                f"{opening.name!r}.",
                "A disc's middle lies on the sheet.",
                "Put it beside the opening; or draw --stations and --chord round it: the opening "
                "is taken off; or say it in words with --place.",
            )


def _fits(geometry: Any, skin: Any, units: Any, radius: float) -> None:
    from mapper.job.sense import longest_on

    most = longest_on(geometry, skin.name)
    if not 0 < 2 * radius <= most:
        raise MapperError(
            f"A radius of {units.told(radius, 'mm')} was given.",
            f"More than 0 and at most {units.show(most / 2, 'mm')}: the {skin.name!r} of "
            f"{geometry.part} is {units.show(most, 'mm')} from corner to corner.",
            "Check the number and its unit; --panel, or no place at all, takes the whole sheet.",
        )
