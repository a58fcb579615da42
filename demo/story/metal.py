"""October 2025 to November 2026: what was under the paint, and what was done about it."""

from __future__ import annotations

from datetime import date

from demo.story.arrival import RW
from demo.story.row import (
    Box,
    Corners,
    Disc,
    Ref,
    Row,
    Spots,
    Trace,
    Where,
    Whole,
    at,
    look,
)
from mapper.job.fields import Measured

GAUGE = {"technique": "gauge", "tool": "depth gauge 2", "calibrated": date(2025, 7, 14)}


def pit(
    day: str,
    clock: str,
    part: str,
    where: Where,
    corrosion: str,
    found: float,
    cleaned: float | None = None,
    *,
    sheet: float | None = None,
    size: tuple[float, float] = (0, 0),
    key: str = "",
    note: str = "",
    state: str = "open",
    who: str = "mirl",
    face: str = "outer",
    attempts: tuple[tuple[str, str, float, bool], ...] = (),
    **more: object,
) -> Row:
    """One corrosion finding on bare metal; depths in mm, +/- 0.02."""
    values: dict[str, object] = {
        "what": "corrosion",
        "corrosion": corrosion,
        "depth_found": Measured(found, 0.02),
        **GAUGE,
        **more,
    }
    if cleaned is not None:
        values["depth_cleaned"] = Measured(cleaned, 0.02)
    if sheet is not None:
        values["gauge"], values["gauge_basis"] = Measured(sheet, 0.03), "measured"
    if size[0]:
        values["length"], values["width"] = size
    if attempts:
        values["attempts"] = tuple(
            {
                "date": date.fromisoformat(d),
                "done": done,
                "depth_after": Measured(depth, 0.02),
                "black_left": black,
            }
            for d, done, depth, black in attempts
        )
    return Row(
        at(day, clock), who, part, "finding", where, values, note, state=state, key=key, face=face
    )


ROWS: tuple[Row, ...] = (
    # Right wing, upper, inboard: the leak path.
    pit(
        "2025-10-13",
        "10:00",
        RW,
        Corners(((1100, 33), (1160, 33), (1172, 57), (1088, 57))),
        "filiform",
        0.06,
        0.09,
        sheet=0.61,
        size=(380, 70),
        key="leak path",
        continues=Ref("entry", "bubbles"),
        state="waiting for the inspector",
        note="Under the bubbles, from the filler cap aft to the stringer and past it.",
        attempts=(
            ("2025-10-13", "abrasive pad, wet", 0.07, True),
            ("2025-10-14", "brightener, then pad", 0.09, False),
        ),
    ),
    pit(
        "2025-10-13",
        "10:40",
        RW,
        Disc(1122, 43, 9),
        "pitting",
        0.14,
        0.19,
        sheet=0.61,
        size=(14, 11),
        key="deep pit",
        state="waiting for the inspector",
        note="Deepest of the leak path, 60 mm from the rivets of rib 2.",
    ),
    pit(
        "2025-10-13",
        "11:00",
        RW,
        Spots(((1135, 48), (1141, 51), (1150, 50), (1118, 55))),
        "pitting",
        0.08,
        0.10,
        sheet=0.61,
        key="leak pits",
    ),
    pit(
        "2025-10-13",
        "11:30",
        RW,
        Trace(((640, 64.8), (1290, 64.8))),
        "crevice or faying surface",
        0.05,
        sheet=0.60,
        note="White bloom out of the rear spar lap, more when tapped.",
        key="rear spar bloom",
    ),
    look(
        "2025-10-16",
        RW,
        Whole("upper, inboard"),
        findings=("leak path", "deep pit", "leak pits", "rear spar bloom"),
        note="Bare, with a glass.",
    ),
    # Right wing, lower, inboard: the exhaust side.
    pit(
        "2025-10-17",
        "09:20",
        RW,
        Corners(((640, 24), (1010, 22), (990, 40), (640, 44)), "lower"),
        "surface",
        0.03,
        0.04,
        sheet=0.60,
        size=(360, 310),
        key="exhaust stain",
        note="Grey, soft, right under the exhaust trail.",
    ),
    pit(
        "2025-10-17",
        "09:50",
        RW,
        Spots(
            ((700, 30), (742, 28), (760, 33), (815, 31), (850, 27), (905, 35), (940, 30)), "lower"
        ),
        "pitting",
        0.10,
        0.13,
        sheet=0.60,
        limit=0.45,
        limit_document="Tavrel repair sheets",
        limit_page="12",
        limit_revision="B",
        key="exhaust pits",
    ),
    pit(
        "2025-10-17",
        "10:30",
        RW,
        Disc(744, 31, 14, "lower"),
        "exfoliation",
        0.18,
        0.24,
        sheet=0.60,
        size=(24, 16),
        key="exhaust blister",
        state="waiting for the inspector",
        note="Lifts in flakes. Not blended: for the inspector.",
        attempts=(("2025-10-17", "scraper, by hand", 0.24, True),),
    ),
    pit(
        "2025-10-17",
        "11:10",
        RW,
        Trace(((1660, 18), (1660, 50)), "lower"),
        "galvanic",
        0.07,
        sheet=0.60,
        key="rib 4 line",
        note="Along the rivets of rib 4, round the steel pulls an earlier repairer left in.",
    ),
    look(
        "2025-10-22",
        RW,
        Whole("lower, inboard"),
        findings=("exhaust stain", "exhaust pits", "exhaust blister", "rib 4 line"),
    ),
    look("2025-11-11", RW, Whole("nose, inboard")),
    pit(
        "2025-11-12",
        "10:00",
        RW,
        Spots(((900, 71), (905, 80), (1212, 77))),
        "pitting",
        0.04,
        0.05,
        sheet=0.41,
        key="trailing pits",
        who="ysane",
    ),
    look("2025-11-12", RW, Box((620, 1700), (66, 100), "upper"), findings=("trailing pits",)),
    look(
        "2026-01-27",
        RW,
        Box((2380, 3000), (16, 66), "upper"),
        technique="eye",
        note="Cream lacquer still on in patches; looked where it is bare.",
    ),
    # Inside the right wing, through the tank bay.
    pit(
        "2025-11-18",
        "14:00",
        RW,
        Box((1090, 1170), (36, 47), "upper"),
        "microbial",
        0.05,
        face="inner",
        key="tank bay stain",
        who="ilvo",
        note="Brown slime line where the tank strap lay.",
    ),
    look(
        "2025-11-18",
        RW,
        Box((970, 1290), (18, 46), "upper"),
        face="inner",
        technique="eye",
        findings=("tank bay stain",),
        note="Through the tank bay, with a mirror.",
    ),
)
