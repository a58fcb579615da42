"""The ledger of areas: what each face of each panel is covered with, and what was done to it.

Four frames, areas in mm2 on the true surface, clipped to the panel with its openings off, each
the area of a union, so that nothing counts twice. A part without a shape, or without entries, gives
frames with the same columns (and no rows, or zeros).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shapely import MultiPolygon

from mapper.estimate.coats import GOES, coat_states, left_area, steps_on, zones_on
from mapper.estimate.methods import method_of
from mapper.estimate.regions import Drawn, PanelFace, PartRegions, regions_of, rest_of, together
from mapper.job.book import Book
from mapper.late import Late
from mapper.surface import measure
from mapper.surface.region import union

if TYPE_CHECKING:
    import pandas as pd
else:
    pd = Late("pandas")

WHERE = ("skin", "panel", "face")

LEDGER = (
    *WHERE,
    "area_mm2",  # the face of the panel, openings off
    "area_low_mm2",  # with the shape's tolerance taken off
    "area_high_mm2",  # and put on
    "painted_mm2",  # coat zones whose coats are known
    "unknown_mm2",  # coat zones where nobody knows the coats
    "bare_mm2",  # recorded as having no coats
    "no_record_mm2",  # no coat zone at all: nobody has said what is on it
    "stripped_mm2",  # of painted and unknown: every coat is off
    "remaining_mm2",  # of painted and unknown: at least one coat is left
    "worked_mm2",  # applications and blasting rounds, however often
    "applications",
    "blasting_rounds",
    "masked_mm2",  # masking that is on
    "masking_mm",  # length of masking lines that are on
    "inspected_mm2",  # looked at by any technique
    "not_looked_at_mm2",
    "treated_mm2",
    "primed_mm2",
    "topcoated_mm2",
)

COATS = (
    *WHERE,
    "finish",  # name of the stack, "unknown"
    "coat",  # 1 outermost; <NA>: the whole of an unknown stack
    "kind",
    "colour",
    "thickness_um",  # as measured, NaN where it was not
    "area_mm2",  # of the zone
    "applications",
    "blasting_rounds",
    "stripped_mm2",
    "remaining_mm2",
    "not_stated",  # goes that do not say what they left: taken to have taken nothing off
)

METHODS = (
    *WHERE,
    "method",  # "chemical", a media, "media not stated"
    "goes",
    "worked_mm2",  # the union of its goes
    "stripped_mm2",  # every coat off by it; the methods of a face sum to the ledger's stripped_mm2
)

INSPECTION = (*WHERE, "technique", "inspected_mm2", "first", "last", "by")


def ledger(book: Book, part_id: str) -> pd.DataFrame:
    """A row per skin, panel and face with the columns LEDGER; areas mm2, lengths mm.

    MapperError for a part that is not in the book; a part without a shape: no rows.
    """
    part = regions_of(book, part_id)
    return pd.DataFrame([_row(part, face) for face in part.panels], columns=list(LEDGER))


def coat_ledger(book: Book, part_id: str) -> pd.DataFrame:
    """A row per skin, panel, face, finish and coat with the columns COATS.

    No coat zones: no rows. MapperError for a part that is not in the book.
    """
    part = regions_of(book, part_id)
    rows: list[tuple[Any, ...]] = []
    for face in part.panels:
        for zone in zones_on(part, face):
            area = part.area(face.skin, zone.region)
            for state in coat_states(part, face, zone):
                left = min(area, left_area(part, face, state))
                coat = state.coat
                rows.append(
                    (
                        *face.where,
                        zone.finish,
                        coat.number or pd.NA,
                        coat.kind,
                        coat.colour,
                        float("nan") if coat.thickness is None else coat.thickness,
                        area,
                        state.applications,
                        state.blastings,
                        area - left,
                        left,
                        state.not_stated,
                    )
                )
    frame = pd.DataFrame(rows, columns=list(COATS))
    return frame.astype({"coat": "Int64", "thickness_um": float})


def method_ledger(book: Book, part_id: str) -> pd.DataFrame:
    """A row per skin, panel, face and method that was used there, with the columns METHODS.

    A go counts as having stripped what had a coat left before it and none after it. No goes: no
    rows. MapperError for a part that is not in the book.
    """
    part = regions_of(book, part_id)
    rows: list[tuple[Any, ...]] = []
    for face in part.panels:
        by_method: dict[str, list[Drawn]] = {}
        for drawn in (d for kind in GOES for d in part.on(kind, face)):
            by_method.setdefault(method_of(drawn.entry), []).append(drawn)
        stripped = dict.fromkeys(by_method, 0.0)
        for zone in zones_on(part, face) if by_method else ():
            left = 0.0
            for entry, states in steps_on(part, face, zone):
                now = max((left_area(part, face, s) for s in states.values()), default=0.0)
                if entry is not None:
                    stripped[method_of(entry)] += left - now
                left = now
        for method, goes in by_method.items():
            worked = part.area(face.skin, together(goes))
            rows.append((*face.where, method, len(goes), worked, stripped[method]))
    return pd.DataFrame(rows, columns=list(METHODS))


def inspection_ledger(book: Book, part_id: str) -> pd.DataFrame:
    """A row per skin, panel, face and technique with the columns INSPECTION.

    first, last: dates, None where not recorded; by: names. Nobody looked: no rows.
    """
    part = regions_of(book, part_id)
    rows: list[tuple[Any, ...]] = []
    for face in part.panels:
        by_technique: dict[str, list[Drawn]] = {}
        for drawn in part.on("inspected area", face):
            technique = drawn.value("technique", "not stated")
            by_technique.setdefault(technique, []).append(drawn)
        for technique, looked in by_technique.items():
            days = sorted(d for e in looked if (d := e.value("date")) is not None)
            names = {book.person_name(e.value("inspector", e.entry.by)) for e in looked}
            rows.append(
                (
                    *face.where,
                    technique,
                    part.area(face.skin, together(looked)),
                    days[0] if days else None,
                    days[-1] if days else None,
                    ", ".join(sorted(n for n in names if n)),
                )
            )
    return pd.DataFrame(rows, columns=list(INSPECTION))


def _row(part: PartRegions, face: PanelFace) -> tuple[Any, ...]:
    def area(region: MultiPolygon) -> float:
        return part.area(face.skin, region)

    def all_of(*kinds: str) -> MultiPolygon:
        return together(d for kind in kinds for d in part.on(kind, face))

    total = area(face.region)
    tolerance = part.geometry.tolerance.percent / 100.0 if part.geometry else 0.0
    known = unknown = uncoated = stripped = 0.0
    covered = []
    for zone in zones_on(part, face):
        size = area(zone.region)
        covered.append(zone.region)
        if not zone.coats:
            uncoated += size
            continue
        if zone.unknown:
            unknown += size
        else:
            known += size
        # A coat can come off only where those above it are off: the least stripped coat tells.
        left = [left_area(part, face, state) for state in coat_states(part, face, zone)]
        stripped += size - min(size, max(left, default=0.0))
    bare = rest_of(face.region, union(*covered)) if covered else face.region
    masks = [d for d in part.on("masking", face) if d.value("off") is None]
    looked = all_of("inspected area")
    paint = part.on("paint application", face)
    return (
        *face.where,
        total,
        total * (1.0 - tolerance),
        total * (1.0 + tolerance),
        known,
        unknown,
        uncoated,
        area(bare),
        stripped,
        known + unknown - stripped,
        area(all_of("application", "blasting round")),
        len(part.on("application", face)),
        len(part.on("blasting round", face)),
        area(together(masks)),
        sum(measure.length(face.skin, d.shape) for d in masks if d.region == "line"),
        area(looked),
        area(rest_of(face.region, looked)),
        area(all_of("treatment")),
        area(together(d for d in paint if d.value("coat") == "primer")),
        area(together(d for d in paint if d.value("coat") == "topcoat")),
    )
