"""Depth and remaining thickness of each finding, beside the limit entered for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import shapely

from mapper.corrosion.defects import Defect, Home, defects_of, homes_of, values_of
from mapper.corrosion.settings import counting_of
from mapper.corrosion.thickness import against, distance_in_sd, grade, remaining
from mapper.estimate.regions import regions_of
from mapper.job.book import Book
from mapper.job.entry import Entry
from mapper.job.fields import Measured
from mapper.late import Late

if TYPE_CHECKING:
    import pandas as pd
else:
    pd = Late("pandas")

DEPTHS = (
    "finding",  # id of its first entry
    "entry",  # id of its latest
    "skin",
    "panel",
    "face",
    "what",
    "corrosion",  # kind of corrosion, "" where it is none or not stated
    "depth_mm",  # the latest valid one, which governs; None where nobody measured
    "depth_plus_minus_mm",  # 95 % half-width, None where not stated
    "depth_is",  # "as found", "after an attempt", "after cleaning", "of the blend"
    "worst_mm",  # the deepest ever measured there
    "grade",  # by depth_mm: "none", "light", "moderate", "severe"; "" without a depth
    "other_face_mm",  # depth of what lies over it on the other face, 0 for nothing
    "gauge_mm",
    "gauge_plus_minus_mm",
    "gauge_is",  # "measured", "nominal", "not known"
    "remaining_mm",
    "remaining_sd_mm",  # one standard deviation, None where a +/- is missing
    "limit_mm",
    "limit_from",  # document, page, revision
    "answer",  # one of four, "" without a limit or a thickness
    "lacks",  # whose +/- is missing: "gauge", "depth" or "other face"; "" for none
    "sd_from_limit",
    "note",
)
_LACKING = ("gauge", "depth", "other face")  # as `Remaining.lacks` counts them
_THINS = ("corrosion", "wear", "scratch")  # a dent moves the sheet and takes nothing off it


def depth_table(book: Book, part_id: str) -> pd.DataFrame:
    """A row per finding of a part that takes metal off, with the columns DEPTHS; none: no rows.

    The latest valid depth governs and the worst stays visible. Outer and inner depths that lie over
    each other on the flat map are both taken off (the deepest of each). MapperError for an unknown
    part or a refused setting.
    """
    factor = counting_of(book.shop.settings).factor
    homes = {h.defect.id: h for h in homes_of(regions_of(book, part_id))}
    defects = [
        d for d in defects_of(book, part_id) if d.what in _THINS or _values(d, "blend_depth")
    ]
    rows = [_row(d, homes, defects, factor) for d in defects]
    frame = pd.DataFrame(rows, columns=list(DEPTHS), dtype=object)
    return frame.where(frame.notna(), None)


def _row(
    defect: Defect, homes: dict[str, Home], defects: Sequence[Defect], factor: float
) -> tuple[Any, ...]:
    home = homes.get(defect.id)
    depth, how = governing(defect)
    over = _over(defect, homes, defects)
    gauge, gauge_is = _gauge(defect, home)
    limit = _last(defect, "limit")
    left = None
    if gauge is not None and depth is not None:
        depths = [depth, over] if over is not None else [depth]
        left = remaining(gauge, depths, nominal=gauge_is != "measured")
    notes = []
    if how == "as found":
        notes.append("Depth before cleaning only.")
    attempts = [a for e in defect.seen for a in values_of(e).get("attempts", ())]
    if len(attempts) >= 2 and attempts[-1].get("black_left"):
        notes.append("Corrosion left after the second attempt: ask the inspector.")
    compared = left is not None and limit is not None
    return (
        defect.id,
        defect.latest.id,
        *(home.face.where if home else ("", "", "")),
        defect.what,
        _last(defect, "corrosion") or "",
        depth.value if depth else None,
        depth.plus_minus if depth else None,
        how,
        max((m.value for e in defect.seen for m, _ in _depths(e)), default=None),
        grade(depth.value) if depth else "",
        over.value if over else 0.0,
        gauge.value if gauge else None,
        gauge.plus_minus if gauge else None,
        gauge_is,
        left.thickness if left else None,
        left.sd if left else None,
        limit,
        _limit_words(defect),
        against(left, limit, factor) if left is not None and compared else "",
        "" if left is None or left.lacks is None else _LACKING[left.lacks],
        distance_in_sd(left, limit) if left is not None and compared else None,
        " ".join(notes),
    )


def governing(defect: Defect) -> tuple[Measured | None, str]:
    """The latest valid depth (mm) of a defect and what it is; (None, "") where nobody measured."""
    for entry in reversed(defect.seen):
        depths = _depths(entry)
        if depths:
            return depths[-1]
    return None, ""


def _depths(entry: Entry) -> list[tuple[Measured, str]]:
    """The depths of one entry in the order they come about on the job."""
    values = values_of(entry)
    after = [a["depth_after"] for a in values.get("attempts", ()) if "depth_after" in a]
    named = [
        (values.get("depth_found"), "as found"),
        *((d, "after an attempt") for d in after),
        (values.get("depth_cleaned"), "after cleaning"),
        (values.get("blend_depth"), "of the blend"),
    ]
    return [(d, words) for d, words in named if d is not None]


def _over(defect: Defect, homes: dict[str, Home], defects: Sequence[Defect]) -> Measured | None:
    """The deepest finding on another face of the same skin that lies over this one, or None."""
    home = homes.get(defect.id)
    if home is None:
        return None
    found = []
    for other in defects:
        there = homes.get(other.id)
        if there is None or there.face.skin is not home.face.skin:
            continue
        if there.face.face == home.face.face or not shapely.intersects(home.shape, there.shape):
            continue
        depth, _ = governing(other)
        if depth is not None:
            found.append(depth)
    return max(found, key=lambda d: d.value) if found else None


def _gauge(defect: Defect, home: Home | None) -> tuple[Measured | None, str]:
    """Gauge as last entered, else the sheet's nominal one from the part file (without a +/-)."""
    for entry in reversed(defect.seen):
        values = values_of(entry)
        if "gauge" in values:
            return values["gauge"], values.get("gauge_basis", "nominal")
    sheet = home.face.sheet if home else None
    if sheet is not None and sheet.gauge is not None:
        return Measured(sheet.gauge), "nominal"
    return None, "not known"


def _values(defect: Defect, name: str) -> list[Any]:
    return [values_of(e)[name] for e in defect.seen if name in values_of(e)]


def _last(defect: Defect, name: str) -> Any:
    values = _values(defect, name)
    return values[-1] if values else None


def _limit_words(defect: Defect) -> str:
    words = [_last(defect, f"limit_{n}") for n in ("document", "page", "revision")]
    return ", ".join(str(w) for w in words if w)
