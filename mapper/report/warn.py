"""Which cautions stand on which page: those of the work that is recorded or advised there."""

from __future__ import annotations

from collections.abc import Iterable

from mapper.estimate.advice import advise
from mapper.estimate.cautions import Caution, cautions_for
from mapper.job.entry import Entry
from mapper.report.lookup import Sheet
from mapper.report.model import Warnings
from mapper.surface.geometry import Geometry


def warnings(groups: Iterable[tuple[Caution, ...]]) -> Warnings:
    """Several lists of cautions as one, each caution once, in order."""
    seen = {c.key: c for group in groups for c in group}
    return Warnings(tuple((c.text, c.source) for c in seen.values()))


def is_control_surface(geometry: Geometry) -> bool:
    """A part that hangs on a hinge has a balance."""
    return any(line.kind == "hinge line" for line in geometry.lines)


def cover() -> Warnings:
    """What everybody should have read first."""
    return warnings(
        (
            cautions_for(kind="coat zone"),
            cautions_for(method="chemical"),
            cautions_for(kind="finding"),
        )
    )


def of_part(geometry: Geometry | None, entries: Iterable[Entry]) -> Warnings:
    """Cautions of a whole part: of the kinds of work on it, its bearings and its balance."""
    groups = [cautions_for(kind=kind) for kind in dict.fromkeys(e.kind for e in entries)]
    if geometry is not None:
        hinged = is_control_surface(geometry)
        bearings = geometry.bearings_inside
        groups.append(cautions_for(bearings_inside=bearings, control_surface=hinged))
    return warnings(groups)


def of_sheet(sheet: Sheet, entries: Iterable[Entry], to_strip: bool) -> Warnings:
    """Cautions of one panel: of the sheet, of what is recorded on it, and of the advised method
    where there is something to strip."""
    here = (p for p in sheet.geometry.panels if p.skin == sheet.skin.name and p.name == sheet.panel)
    panel = next(here, None)
    groups = [
        cautions_for(
            method=advise(panel).method if to_strip else "",
            panel=panel,
            bearings_inside=sheet.geometry.bearings_inside,
            control_surface=is_control_surface(sheet.geometry),
        )
    ]
    groups += [cautions_for(kind=kind) for kind in dict.fromkeys(e.kind for e in entries)]
    return warnings(groups)
