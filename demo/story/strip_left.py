"""February to April 2026: paint off the left wing, one coat more than on the right."""

from __future__ import annotations

from demo.story.hands import Go as go
from demo.story.hands import goes
from demo.story.row import Drawn, Row, Whole

OUT_L = Drawn(
    ((2394, 16.5), (4070, 16.5), (4081, 36), (4062, 52), (4074, 65.5), (2394, 65.5)), "lower",
    panel="lower, outboard", shake=9,
)  # fmt: skip
OUT_U = Drawn(
    ((2394, 16.5), (3890, 16.5), (3802, 31), (3866, 47), (3790, 65.5), (2394, 65.5)),
    panel="upper, outboard", shake=14,
)  # fmt: skip


# fmt: off
ROWS: tuple[Row, ...] = (
    *goes("LW-00", Whole("upper, inboard"), "left",
         go("2026-02-03 08:55", 1, 1.35, 55, 5, 76, "mirl", warm=14),
         go("2026-02-03 10:36", 2, 1.27, 57, 8, 95, "mirl", warm=12,
            note="The letters went with it."),
         go("2026-02-03 13:08", 3, 1.39, 82, 55, 98, "mirl"),
         go("2026-02-03 14:58", 3, 0.74, 43, 29, 92, "ysane", warm=14),
         go("2026-02-04 08:44", 4, 1.05, 57, 5, 66, "mirl", warm=12)),
    *goes("LW-00", Whole("lower, inboard"), "left",
         go("2026-02-18 08:42", 1, 1.26, 49, 3, 80, "mirl"),
         go("2026-02-18 10:27", 2, 1.33, 63, 11, 99, "mirl"),
         go("2026-02-18 13:14", 2, 0.16, 12, 2, 77, "mirl", warm=13),
         go("2026-02-18 14:49", 3, 1.61, 80, 53, 100, "mirl"),
         go("2026-02-19 08:15", 3, 0.89, 39, 27, 85, "ysane", warm=14)),
    *goes("LW-00", Whole("nose, inboard"), "left",
         go("2026-03-02 08:38", 1, 0.91, 38, 8, 71, "mirl", warm=16),
         go("2026-03-02 10:14", 2, 0.99, 44, 12, 75, "mirl", warm=15),
         go("2026-03-02 13:14", 3, 0.97, 54, 46, 101, "mirl", warm=12)),
    *goes("LW-00", OUT_L, "left",
         go("2026-03-10 13:05", 1, 1.09, 44, 5, 75, "mirl", warm=16,
            note="Round the old patch by hand, nothing under its edge."),
         go("2026-03-10 15:01", 2, 1.15, 56, 13, 82, "mirl", warm=15)),
    *goes("LW-00", OUT_U, "left",
         go("2026-03-16 08:35", 1, 1.03, 40, 3, 82, "mirl", warm=14,
            note="White only, to see how far the blue goes.")),
    *goes("LW-05", Whole("flap, upper"), "left",
         go("2026-03-23 09:10", 1, 0.70, 31, 6, 70, "mirl", warm=15),
         go("2026-03-23 10:53", 2, 0.73, 33, 13, 79, "ysane", warm=15),
         go("2026-03-23 13:08", 3, 0.82, 46, 53, 100, "mirl"),
         go("2026-03-23 15:29", 3, 0.44, 23, 24, 78, "mirl", warm=15)),
    *goes("LW-05", Whole("flap, lower"), "left",
         go("2026-03-26 08:45", 1, 0.66, 30, 4, 72, "mirl")),
    *goes("LW-06", Whole("upper and nose"), "left aileron",
         go("2026-04-14 08:40", 1, 0.85, 32, 7, 72, "mirl",
            note="Weighed before: 3.86 kg with hinges."),
         go("2026-04-14 10:04", 2, 0.97, 46, 36, 94, "mirl",
            note="Yellow comes in flakes, stays round every rivet."),
         go("2026-04-14 13:05", 2, 0.36, 22, 12, 90, "mirl"),
         go("2026-04-14 15:00", 3, 0.50, 40, 18, 82, "mirl",
            note="Grey is an epoxy: hardly touched.")),
    *goes("LW-06", Whole("lower"), "left aileron",
         go("2026-04-17 08:30", 1, 0.50, 24, 4, 59, "mirl", warm=14),
         go("2026-04-17 09:54", 2, 0.46, 31, 42, 109, "mirl")),
    *goes("LW-01", Whole(), "left",
         go("2026-03-25 13:15", 1, 0.05, 7, 9, 56, "mirl", warm=13),
         go("2026-03-25 14:52", 2, 0.05, 7, 12, 69, "ysane", warm=16)),
    *goes("LW-02", Whole(), "left",
         go("2026-03-26 08:40", 1, 0.12, 10, 9, 57, "ysane"),
         go("2026-03-26 10:02", 2, 0.13, 11, 8, 66, "ysane", warm=13),
         go("2026-03-26 13:08", 3, 0.12, 12, 56, 75, "ysane", warm=12),
         go("2026-03-26 14:48", 3, 0.08, 9, 26, 91, "ysane", warm=12)),
    *goes("LW-12", Whole(), "left",
         go("2026-03-27 13:10", 1, 0.04, 7, 3, 66, "ysane")),
)
