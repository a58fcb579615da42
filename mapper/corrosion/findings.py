"""Findings per m2 and % affected per panel and face, with the inspected area as denominator.

Where nobody looked there is no number: None, never zero. Findings per m2 carry the exact Poisson
interval of their count. The affected share of the inspected area is measured, not sampled, so it
has no sampling interval; what is exact about the whole face is its bounds: nothing, or everything,
of what nobody looked at may be affected. The share of equal, wholly inspected cells that are
affected carries the exact (Clopper-Pearson) interval, which takes cells as independent.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import shapely
from shapely import MultiPolygon

from mapper.corrosion.cells import count_cells
from mapper.corrosion.defects import Home, homes_of
from mapper.corrosion.intervals import dispersion, per_area, share_interval
from mapper.corrosion.settings import Counting, counting_of
from mapper.estimate.regions import NOTHING, PanelFace, PartRegions, regions_of, rest_of, together
from mapper.job.book import Book
from mapper.late import Late
from mapper.surface.region import clean, difference, intersection

if TYPE_CHECKING:
    import pandas as pd
else:
    pd = Late("pandas")

MM2 = 1e6  # mm2 in a m2

FINDINGS = (
    "skin",
    "panel",
    "face",
    "area_mm2",  # the face of the panel, openings off
    "inspected_mm2",  # union, by any technique (or by the one asked for)
    "not_looked_at_mm2",
    "techniques",  # words
    "findings",  # at home here and reached by the inspected area, each once however often seen
    "points",
    "lines",
    "areas",
    "corrosion",  # those of them that are corrosion
    "findings_outside",  # at home here, outside every inspected area: not in any rate
    "per_m2",  # None where nobody looked
    "per_m2_low",
    "per_m2_high",
    "interval",  # words: level, exact, two-sided or one-sided upper
    "affected_mm2",  # union of outlined findings on the whole face
    "affected_percent",  # of the inspected area; None where nobody looked
    "affected_percent_low",  # of the whole face, if nothing is wrong where nobody looked
    "affected_percent_high",  # of the whole face, if everything is
    "cells",  # equal cells wholly inspected
    "cells_affected",
    "cells_percent",  # None without cells
    "cells_percent_low",  # exact, Clopper-Pearson
    "cells_percent_high",
    "variance_to_mean",  # None under eight cells or with fewer than two findings in them
    "clumped",
    "warning",  # words to print with the row, "" for none
)
_MAY_BE_NONE = (
    "per_m2",
    "per_m2_low",
    "per_m2_high",
    "affected_percent",
    "affected_percent_low",
    "affected_percent_high",
    "cells_percent",
    "cells_percent_low",
    "cells_percent_high",
    "variance_to_mean",
)


def findings_table(
    book: Book, part_id: str, *, what: str | None = None, technique: str | None = None
) -> pd.DataFrame:
    """A row per skin, panel and face with the columns FINDINGS; units in the column names.

    what: count only findings of that sort ("corrosion"); None: all. technique: only areas inspected
    by it, and findings made by it. A finding across a seam is counted where most of it lies; its
    area counts on each panel. A part without a shape: no rows. MapperError for an unknown part or a
    refused setting.
    """
    part = regions_of(book, part_id)
    counting = counting_of(book.shop.settings)
    homes = [
        h
        for h in homes_of(part)
        if (what is None or h.defect.what == what)
        and (technique is None or any(_by(e.values, technique) for e in h.defect.seen))
    ]
    entries = {e.id for h in homes for e in h.defect.seen}
    rows = [
        _row(part, face, [h for h in homes if h.face is face], entries, technique, counting)
        for face in part.panels
    ]
    frame = pd.DataFrame(rows, columns=list(FINDINGS))
    for column in _MAY_BE_NONE:  # pandas would turn None into a number that is not one
        values = frame[column].astype(object)
        frame[column] = values.where(values.notna(), None)
    return frame


def _by(values: Any, technique: str) -> bool:
    return bool(values.get("technique") == technique)


def _row(
    part: PartRegions,
    face: PanelFace,
    homes: list[Home],
    entries: set[str],
    technique: str | None,
    counting: Counting,
) -> tuple[Any, ...]:
    looked = [
        d
        for d in part.on("inspected area", face)
        if technique is None or d.value("technique") == technique
    ]
    inspected = together(looked)
    total = part.area(face.skin, face.region)
    seen = part.area(face.skin, inspected)
    unseen = rest_of(face.region, inspected)
    inside = [h for h in homes if seen > 0.0 and shapely.intersects(inspected, h.shape)]
    affected = _affected(part, face, homes, entries)
    affected_total = part.area(face.skin, affected)
    rate: tuple[Any, ...] = (None, None, None, "nobody looked")
    share: tuple[Any, ...] = (None, None, None)
    if seen > 0.0:
        interval = per_area(len(inside), seen / MM2, counting.level)
        rate = (len(inside) / (seen / MM2), interval.low, interval.high, interval.words)
        open_area = part.area(face.skin, difference(unseen, affected))
        share = (
            _percent(part.area(face.skin, intersection(affected, inspected)), seen),
            _percent(affected_total, total),
            _percent(affected_total + open_area, total),
        )
    cells, words = _cells(face, inspected, inside, counting)
    flat = sum(shapely.area(h.shape) == 0.0 for h in inside)
    if flat:
        words.append(f"{_counted(flat)} drawn as points or lines: no affected area is known.")
    outside = len(homes) - len(inside)
    if outside and seen > 0.0:
        words.append(f"{_counted(outside)} outside the inspected area: in no rate.")
    elif outside:
        words.append("Findings are recorded, but no inspected area: no rate can be given.")
    return (
        *face.where,
        total,
        seen,
        part.area(face.skin, unseen),
        ", ".join(sorted({d.value("technique", "not stated") for d in looked})),
        len(inside),
        *(sum(h.region == r for h in inside) for r in ("point", "line", "area")),
        sum(h.defect.what == "corrosion" for h in inside),
        outside,
        *rate,
        affected_total,
        *share,
        *cells,
        " ".join(words),
    )


def _affected(
    part: PartRegions, face: PanelFace, homes: list[Home], entries: set[str]
) -> MultiPolygon:
    """Everything outlined as affected on a face, whichever panel the finding is at home on."""
    shapes = [d.shape for d in part.on("finding", face) if d.entry.id in entries]
    shapes += [h.shape for h in homes]
    areas = [a for s in shapes for a in shapely.get_parts(s) if shapely.get_dimensions(a) == 2]
    if not areas:
        return NOTHING
    return intersection(clean(shapely.union_all(areas)), face.region)


def _counted(n: int) -> str:
    return f"{n} finding" if n == 1 else f"{n} findings"


def _percent(part: float, whole: float) -> float:
    return min(100.0, 100.0 * part / whole) if whole > 0.0 else 0.0


def _cells(
    face: PanelFace, inspected: MultiPolygon, inside: list[Home], counting: Counting
) -> tuple[tuple[Any, ...], list[str]]:
    """The columns from `cells` to `clumped`, and what to warn of."""
    found = count_cells(face.region, inspected, [h.shape for h in inside], counting.cell)
    spread = dispersion(found.findings)
    share: tuple[Any, ...] = (None, None, None)
    if found.cells:
        interval = share_interval(found.affected, found.cells, counting.level)
        share = (
            100.0 * found.affected / found.cells,
            100.0 * interval.low,
            100.0 * interval.high,
        )
    words = [spread.words] if spread.clumped else []
    return (found.cells, found.affected, *share, spread.ratio, spread.clumped), words
