"""From a checked part file to a geometry version: skins, lines, openings, panels, bays, laps."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon

from mapper.job.partfile.bodykeys import BODIES
from mapper.job.partfile.bodymarks import BodyMarks, body_bays
from mapper.job.partfile.curvedkeys import CURVED
from mapper.job.partfile.enteredkeys import ENTERED
from mapper.job.partfile.enteredparts import found_words
from mapper.job.partfile.holes import openings_of
from mapper.job.partfile.key import SHAPES
from mapper.job.partfile.keytables import WHOLE
from mapper.job.partfile.marks import Marks
from mapper.job.partfile.meshkeys import MESHES
from mapper.job.partfile.meshparts import mesh_geometry
from mapper.job.partfile.panelling import bays_of, panels_of
from mapper.job.partfile.partsheet import PartSheet
from mapper.job.partfile.placing import attached_to, placement_of
from mapper.job.partfile.sheets import plan_of, sheets_of
from mapper.job.partfile.spec import PartSpec
from mapper.job.partfile.values import SCALE
from mapper.surface.build import LEAST_TRIANGLES, make_skin
from mapper.surface.geometry import Bay, Geometry, MapLine, Opening, Tolerance
from mapper.surface.lined import with_lines
from mapper.surface.region import union
from mapper.surface.skin import Skin
from meshes.loft import LoftPlan
from meshes.sections import Section

Array = NDArray[np.float64]

EACH_OPENING = 900  # triangles that the lines of an opening usually take


def build(spec: PartSpec, *, triangles: int = 20_000) -> Geometry:
    """The geometry version of a part file.

    triangles: at most so many a skin. PartFileError with line and key for what only the shape can
    tell: sizes that make no shape, places off the sheet, seams that cut nothing, names given twice
    to one sheet.
    """
    if spec.shape in MESHES:
        return mesh_geometry(spec)
    plan = plan_of(spec) if spec.section or spec.shape in CURVED else None
    sheets = sheets_of(spec, plan)
    skins = tuple(
        make_skin(s.sheet, mirrored=spec.mirrored, triangles=triangles - _room(spec, s, triangles))
        for s in sheets
    )
    openings = openings_of(spec, sheets, skins, plan)
    skins = tuple(with_lines(skin, _open(openings, skin), triangles) for skin in skins)
    main = skins[0]
    marks = Marks(spec, main, plan) if spec.shape in WHOLE and plan is not None else None
    lines = marks.lines() if marks else ()
    if spec.shape in BODIES:
        lines = BodyMarks(spec, main).lines()
    if spec.hinge_line is not None and plan is not None:
        lines = (*lines, _hinge(spec, plan, main))
    return Geometry(
        part=spec.part,
        shape=spec.shape,
        skins=skins,
        tolerance=Tolerance(spec.measured.how, spec.measured.tolerance, _measured_words(spec)),
        placement=placement_of(spec),
        lines=lines,
        panels=panels_of(spec, sheets, skins, openings, lines),
        bays=_bays(spec, main, openings, lines),
        openings=openings,
        laps=marks.laps() if marks else (),
        station_axis=SHAPES[spec.shape].axis or spec.axis,
        datum=spec.datum,
        mirrored=spec.mirrored,
        bearings_inside=spec.bearings_inside,
        attached_to=attached_to(spec),
        counted=tuple(_counted(spec, sheets)),
    )


def _open(openings: tuple[Opening, ...], skin: Skin) -> MultiPolygon:
    """The openings of a skin, those that meet as one."""
    shapes = [o.flat for o in openings if o.skin == skin.name]
    return union(*shapes) if shapes else MultiPolygon()


def _room(spec: PartSpec, sheet: PartSheet, triangles: int) -> int:
    """Triangles left free for the lines of a sheet's openings: half of them at most."""
    count = len(sheet.sheet.holes) + len(sheet.station_holes)
    count += sum(row.skin in ("", sheet.sheet.name) for row in spec.opening)
    return min(EACH_OPENING * count, triangles - LEAST_TRIANGLES, triangles // 2)


def _bays(
    spec: PartSpec, skin: Skin, openings: tuple[Opening, ...], lines: tuple[MapLine, ...]
) -> tuple[Bay, ...]:
    if spec.shape in BODIES:
        return body_bays(spec, skin, openings, lines)
    return bays_of(spec, skin, openings, lines) if spec.shape in WHOLE else ()


def _measured_words(spec: PartSpec) -> str:
    measured = spec.measured
    date = measured.date.isoformat() if measured.date else ""
    return ", ".join(word for word in (measured.by, date, measured.note) if word)


def _hinge(spec: PartSpec, plan: LoftPlan, skin: Skin) -> MapLine:
    """The hinge line: two points on the chord line, raised square to it."""
    hinge = spec.hinge_line
    if hinge is None:
        return MapLine("hinge line", "hinge line", skin.name, MultiLineString())
    points: list[Array] = []
    for station, chord in (
        (hinge.from_station, hinge.from_chord),
        (hinge.to_station, hinge.to_chord),
    ):
        if not plan.stations[0] <= station <= plan.stations[-1]:
            raise spec.error(
                ("hinge_line", "from_station" if not points else "to_station"),
                "the end lies outside the part;",
                f"{plan.stations[0]:g} to {plan.stations[-1]:g} mm is allowed.",
                "Measure it from the same datum as the sections.",
            )
        lead, tail = plan.chord_line(station)
        up = np.array([-tail[2], 0.0, tail[0]]) / float(np.linalg.norm(tail))
        points.append(lead + 0.01 * chord * tail + hinge.height * up)
    space = np.array(points)
    if spec.mirrored:
        space[:, 1] *= -1.0
    space.setflags(write=False)
    return MapLine("hinge line", "hinge line", skin.name, MultiLineString(), space=space)


def _counted(spec: PartSpec, sheets: tuple[PartSheet, ...]) -> Iterator[str]:
    """What the areas count and what they do not, in sentences."""
    if spec.shape in WHOLE:
        gauge = spec.sheet.gauge
        girth = 2.0 * np.pi * (gauge or 0.0) / SCALE[spec.units]
        less = f" (here about {girth:.2g} {spec.units} of girth)" if gauge else ""
        yield (
            f"{SHAPES[spec.shape].counted}; a closed section's inner face is narrower by about"
            f" 2 pi times the gauge{less}."
        )
        ends = "are skins of their own" if spec.end_ribs == "counted" else "are not counted"
        yield f"The two ends {ends}."
        if spec.trailing_edge_base == "counted":
            yield "The strip that closes the open trailing edge is a skin of its own."
        elif any(not s.closed for s in _profiles(sheets)):
            yield "The strip that closes the open trailing edge is not counted."
        if all(s.row is None for s in sheets):
            yield "Ribs, spars and stringers inside are not counted."
        else:
            yield "Of the inside only the webs listed are counted, without their flanges."
    else:
        yield SHAPES[spec.shape].counted
    if spec.shape in ENTERED:
        yield found_words(spec)
        return
    yield "Openings are taken off."
    if spec.lap:
        yield "Laps are counted once, outside; what they hide is listed apart and not in the areas."


def _profiles(sheets: tuple[PartSheet, ...]) -> Iterator[Section]:
    for patch in sheets[0].sheet.patches:
        curve = getattr(patch, "curve0", None)
        section = getattr(curve, "section", None)
        if section is not None:
            yield section
