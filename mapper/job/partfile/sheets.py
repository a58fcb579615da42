"""From a part file to the sheets of its shape; what the shape refuses is said with line and key."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from mapper.job.partfile.bodykeys import BODIES, CAP, TURNED
from mapper.job.partfile.bodyparts import body_sheets, cap_sheets, turned_sheets
from mapper.job.partfile.curvedkeys import CURVED
from mapper.job.partfile.curvedparts import curved_plan, curved_sheets
from mapper.job.partfile.cutkeys import CONTROL_SURFACES
from mapper.job.partfile.cutparts import cut_plan, cut_sheets
from mapper.job.partfile.enteredkeys import ENTERED
from mapper.job.partfile.enteredparts import entered_sheets
from mapper.job.partfile.fittingparts import bracket_sheets, fork_part, push_pull_part
from mapper.job.partfile.lofted import section_of, straight
from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.spec import HoleSpec, PartSpec, SectionSpec
from meshes.coordfile import read_coordinates
from meshes.cover import skin_cover
from meshes.loft import LoftPlan, LoftSection, loft
from meshes.outline import oval_ring, rectangle_ring, round_ring
from meshes.plate import plate
from meshes.rib import LighteningHole, rib
from meshes.sections import Section
from meshes.shape import Sheet
from meshes.tube import tube
from meshes.web import spar_web

Array = NDArray[np.float64]


def sections_of(spec: PartSpec) -> tuple[LoftSection, ...]:
    """The sections as the loft wants them: set back and raised from the first one.

    What a section leaves out lies on the straight line between the sections before and behind it
    that say it: its twist by station, its height, and its leading edge or quarter chord, whichever
    the one behind it says.
    """
    rows = spec.section
    stations = [row.station for row in rows]
    twists = straight(stations, [row.twist for row in rows])
    out: list[LoftSection] = []
    for row, twist, aft, height in zip(rows, twists, _afts(rows), _heights(rows), strict=True):
        with at_key(spec, row.path):
            section = profile_of(row, closed=spec.trailing_edge == "closed")
        out.append(
            LoftSection(
                row.station,
                row.chord,
                section,
                twist,
                # Angles that a person wrote go through, so that the loft refuses them by name.
                leading_edge_aft=None if row.sweep is not None else aft,
                sweep=row.sweep if out else None,
                height=None if row.dihedral is not None else height,
                dihedral=row.dihedral if out else None,
            )
        )
    return tuple(out)


def _heights(rows: tuple[SectionSpec, ...]) -> list[float | None]:
    """Heights (mm) of the quarter chords above the first section's; None: no section says it."""
    first = rows[0].height or 0.0
    said: list[float | None] = [0.0]
    for row in rows[1:]:
        if row.dihedral is not None:
            said.append((row.station - rows[0].station) * math.tan(math.radians(row.dihedral)))
        else:
            said.append(None if row.height is None else row.height - first)
    if not any(v is not None for v in said[1:]):
        return [None] * len(rows)
    return [*straight([row.station for row in rows], said)]


def _afts(rows: tuple[SectionSpec, ...]) -> list[float | None]:
    """Leading edges (mm) aft of the first section's; None where no section behind says it, and the
    quarter chord is straight."""
    first, chord = rows[0].leading_edge_aft or 0.0, rows[0].chord
    edges: list[float | None] = [0.0]
    for row in rows[1:]:
        if row.sweep is not None:
            out = (row.station - rows[0].station) * math.tan(math.radians(row.sweep))
            edges.append(0.25 * (chord - row.chord) + out)
        else:
            edges.append(None if row.leading_edge_aft is None else row.leading_edge_aft - first)
    quarters = [None if e is None else e + 0.25 * r.chord for e, r in zip(edges, rows)]
    # Interpolated from the first section's own, so that `straight` need not know it.
    quarters = [None if q is None else q - 0.25 * chord for q in quarters]
    stations = [row.station for row in rows]
    found: list[float | None] = []
    for i, (edge, quarter) in enumerate(
        zip(straight(stations, edges), straight(stations, quarters))
    ):
        behind = next((r for r, e in zip(rows[i:], edges[i:]) if e is not None), None)
        if behind is None or i == 0:
            found.append(None)
        elif behind.sweep is None:
            found.append(edge)
        else:
            found.append(quarter + 0.25 * (chord - rows[i].chord))
    return found


def profile_of(row: SectionSpec, *, closed: bool) -> Section:
    """The section's profile: of its digits, or through the ordinates of its file; ShapeError."""
    if row.ordinates:
        return read_coordinates(row.ordinates)
    return section_of(row.profile, closed=closed)


def plan_of(spec: PartSpec) -> LoftPlan:
    """The plan of the part's loft; a rib of one section gets a short piece with that section."""
    if spec.shape in CURVED:
        return curved_plan(spec)
    sections = sections_of(spec)
    if spec.shape == "rib" and len(sections) == 1:
        only = sections[0]
        sections = (only, replace(only, station=only.station + 1.0, leading_edge_aft=0.0))
    if spec.shape in CONTROL_SURFACES:
        return cut_plan(spec, sections)
    with at_key(spec):
        return LoftPlan(sections, spec.datum)


def sheets_of(spec: PartSpec, plan: LoftPlan | None) -> tuple[PartSheet, ...]:
    """Every sheet of the part, its main skin first; plan as `plan_of` where the shape is lofted."""
    if plan is None:
        found = tuple(_FLAT[spec.shape](spec))
    else:
        found = tuple(_LOFTED[spec.shape](spec, plan))
    if spec.faces:
        main = replace(found[0], sheet=replace(found[0].sheet, face_names=spec.faces))
        found = (main, *found[1:])
    return found


def _loft(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    with at_key(spec):
        sheets = loft(
            plan.sections,
            datum=plan.datum,
            end_ribs=spec.end_ribs == "counted",
            open_base=spec.trailing_edge_base == "counted",
        )
    yield from (PartSheet(sheet) for sheet in sheets)
    yield from _webs(spec, plan)


def _control_surface(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    yield from cut_sheets(spec, plan)
    yield from _webs(spec, plan)


def _curved(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    yield from curved_sheets(spec, plan)
    yield from _webs(spec, plan)


def _webs(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    """The webs of the ribs and spars that count as skins of their own."""
    for row in spec.rib:
        if row.web:
            with at_key(spec, row.path):
                (sheet,) = _rib(
                    plan, row.station, row.from_chord, row.to_chord, row.lightening_hole
                )
            yield PartSheet(replace(sheet, name=f"{row.name} web"), row)
    for spar in spec.spar:
        if spar.web:
            with at_key(spec, spar.path):
                sheet = _web(plan, spar.chord, spar.from_station, spar.to_station)
            yield PartSheet(replace(sheet, name=f"{spar.name} web"), spar, spar.lightening_hole)


def _rib(
    plan: LoftPlan, station: float, low: float, high: float, holes: tuple[HoleSpec, ...]
) -> tuple[Sheet, ...]:
    cut = [LighteningHole(h.chord or 0.0, h.diameter, h.height) for h in holes]
    return rib(plan, station, low, high, cut)


def _web(plan: LoftPlan, chord: float, low: float | None, high: float | None) -> Sheet:
    first = plan.stations[0] if low is None else low
    last = plan.stations[-1] if high is None else high
    return spar_web(plan, chord, first, last)[0]


def _rib_part(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    station = plan.stations[0] if spec.station is None else spec.station
    with at_key(spec):
        sheets = _rib(plan, station, spec.from_chord, spec.to_chord, spec.lightening_hole)
    yield from (PartSheet(replace(sheet, name="web")) for sheet in sheets)


def _spar_part(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    with at_key(spec):
        sheet = _web(plan, spec.chord or 0.0, spec.from_station, spec.to_station)
    yield PartSheet(sheet, None, spec.lightening_hole)


def form_ring(
    form: str,
    *,
    diameter: float | None,
    length: float | None,
    width: float | None,
    corner_radius: float,
    corners: tuple[tuple[float, float], ...],
) -> Array:
    """(K, 2) ring (outboard, aft) mm of a form about its centre; of a polygon its corners."""
    if form == "round":
        return round_ring(diameter or 0.0)
    if form == "oval":
        return oval_ring(length or 0.0, width or 0.0)
    if form == "rectangle":
        return rectangle_ring(length or 0.0, width or 0.0, corner_radius)
    return np.array(corners, dtype=np.float64)


def _flat_part(spec: PartSpec, name: str) -> Iterator[PartSheet]:
    with at_key(spec):
        ring = form_ring(
            spec.form,
            diameter=spec.diameter,
            length=spec.length,
            width=spec.width,
            corner_radius=spec.corner_radius,
            corners=spec.corners,
        )
        (sheet,) = plate(ring, name=name, datum=spec.datum)
    yield PartSheet(sheet)


def _plate_part(spec: PartSpec) -> Iterator[PartSheet]:
    yield from _flat_part(spec, "plate")


def _tube_part(spec: PartSpec) -> Iterator[PartSheet]:
    first = spec.diameter or 0.0
    last = float(spec.own.get("end_diameter", first))
    with at_key(spec):
        (sheet,) = tube(first, last, spec.length or 0.0, datum=spec.datum)
    yield PartSheet(sheet)


def _flat_cover(spec: PartSpec) -> Iterator[PartSheet]:
    yield from _flat_part(spec, "cover")


def _skin_cover(spec: PartSpec, plan: LoftPlan) -> Iterator[PartSheet]:
    low = plan.stations[0] if spec.from_station is None else spec.from_station
    high = plan.stations[-1] if spec.to_station is None else spec.to_station
    upper = spec.on_side == "upper"
    with at_key(spec):
        (sheet,) = skin_cover(plan, low, high, spec.from_chord, spec.to_chord, upper=upper)
    yield PartSheet(sheet)


_LOFTED = {
    "loft": _loft,
    "rib": _rib_part,
    "spar web": _spar_part,
    "access cover": _skin_cover,
    **dict.fromkeys(CONTROL_SURFACES, _control_surface),
    **dict.fromkeys(CURVED, _curved),
}
_FLAT = {
    "plate": _plate_part,
    "tube": _tube_part,
    "access cover": _flat_cover,
    **dict.fromkeys(BODIES, body_sheets),
    **dict.fromkeys(TURNED, turned_sheets),
    CAP: cap_sheets,
    **dict.fromkeys(ENTERED, entered_sheets),
    "bracket": bracket_sheets,
    "bell crank": bracket_sheets,
    "fork end": fork_part,
    "push-pull tube": push_pull_part,
}
