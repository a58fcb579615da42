"""What went through the cabinet, or under the open nozzle: steel, and aluminium that bears it."""

from __future__ import annotations

from datetime import date

from demo.story.hands import blast, find, look
from demo.story.row import Blob, Box, Drawn, Row, Spots, Whole, Words

BEAD, PLASTIC, SAND = "glass bead", "plastic media", "sand"

# fmt: off
ROWS: tuple[Row, ...] = (
    # Steel, with bead: the cabinet keeps one drum of bead that never sees aluminium.
    blast("2025-10-21 10:00", "RW-03", Box((150, 790)), BEAD, "100/170", 2.8, 8, 15, 0.6, 0,
          "Ends plugged. No bead in the bore."),
    blast("2025-10-21 10:35", "RW-03", Box((790, 1485)), BEAD, "100/170", 2.8, 9, 16, 0.7, 0),
    blast("2025-10-21 13:10", "LW-03", Box((0, 730)), BEAD, "100/170", 2.8, 12, 19, 0.9, 3,
          "Red under the black on this one, sticks."),
    blast("2025-10-21 13:45", "LW-03", Box((730, 1485)), BEAD, "100/170", 3.0, 13, 22, 1.0, 2),
    blast("2026-02-05 14:20", "RW-10", Whole(), BEAD, "100/170", 2.5, 6, 14, 0.4, 0,
          "Bearing pressed out first, bore plugged."),
    blast("2026-02-05 14:52", "LW-10", Whole(), BEAD, "100/170", 2.5, 9, 17, 0.6, 0,
          "Lead in the primer: own filter bag, drum marked."),
    blast("2026-02-26 09:30", "FN-04", Whole(), BEAD, "100/170", 2.5, 5, 12, 0.3, 0),
    # Sturdy aluminium, with plastic media.
    blast("2026-04-16 10:15", "RW-09", Whole(), PLASTIC, "type II, 30/40", 2.0, 5, 13, 0.5, 0,
          "Pivot and arm holes plugged."),
    blast("2026-03-27 10:20", "TP-05", Whole(), PLASTIC, "type II, 30/40", 2.0, 6, 15, 0.6, 0),
    blast("2026-03-03 09:40", "RW-14", Whole(), PLASTIC, "type II, 30/40", 2.1, 6, 12, 0.5, 5,
          "After the steel rivets were out."),
    blast("2026-05-07 09:25", "EN-10", Whole("upper ring"), PLASTIC, "type II, 30/40", 2.0, 21, 38,
          2.9, 4, "Intake edges from the back, nozzle moving.", open_air=True),
    blast("2026-05-07 10:50", "EN-10", Drawn(((340, 96), (340, 150), (605, 160), (605, 95)),
          panel="lower ring"), PLASTIC, "type II, 30/40", 2.0, 8, 17, 1.1, 6,
          "Stopped at the filler.", open_air=True),
    blast("2026-05-07 11:25", "EN-10", Drawn(((340, 210), (600, 215), (604, 264), (338, 262)),
          panel="lower ring"), PLASTIC, "type II, 30/40", 2.0, 9, 19, 1.2, 5, open_air=True),
    blast("2026-05-07 13:40", "EN-01", Whole("nose cap"), PLASTIC, "type II, 30/40", 1.8, 7, 16,
          0.8, 15, "Filler stays; red off.", open_air=True),
    blast("2026-05-08 09:05", "RW-08", Drawn(((2, -60), (2, 60), (702, 61), (700, -60)), "flat"),
          PLASTIC, "type II, 30/40", 1.6, 6, 18, 0.7, 10,
          "Clamped to ply all round so that it cannot drum."),
    blast("2026-05-08 09:50", "RW-08", Drawn(((2, -60), (2, 60), (702, 61), (700, -60)), "flat",
          shake=2), PLASTIC, "type II, 30/40", 1.6, 3, 9, 0.3, 0),
    # Steel tube, with sand, outside under the roof; nothing of it comes indoors.
    blast("2026-04-10 09:15", "EN-51", Box((0, 540)), SAND, "quartz-free, 0.2 to 0.5", 4.5, 7, 15,
          7.5, 0, "", open_air=True),
    blast("2026-04-10 09:40", "EN-52", Box((0, 690)), SAND, "quartz-free, 0.2 to 0.5", 4.5, 9, 17,
          9.0, 0, "Rust bloomed again by noon: oiled.", open_air=True),
    # The plated fork is not blasted here: it goes out.
    find("2026-03-26 10:30", "RW-13", Words("all over, under the grey"), "wear",
         "Cadmium plated: not beaded, not brushed. To the plater, to be stripped there.",
         who="ysane", depth=(0.01, 0.01), by="glass", state="deferred", until=date(2027, 1, 29),
         key="fork out"),
    # What bare steel showed.
    find("2025-10-22 09:10", "RW-03", Spots(((702, -12), (741, 4), (766, 17)), "flat"), "corrosion",
         "Under the chipped paint.", who="ysane", corrosion="rust", depth=(0.06, 0.03), by="gauge",
         tool="depth gauge 2", sheet=0.9, key="tube rust"),
    look("2025-10-22 10:40", "RW-03", Whole(), "glass", ("tube rust",)),
    look("2025-10-22 11:05", "LW-03", Whole(), "glass", (), "Clean. Clamp marks only stain."),
    find("2026-02-06 09:35", "LW-10", Blob(52, 12, 26, 15, "flat"), "corrosion",
         "Under the red primer, along the bend.", who="ilvo", corrosion="rust", depth=(0.21, 0.03),
         by="gauge", tool="depth gauge 2", sheet=1.6, state="waiting for the inspector",
         key="bracket rust"),
    look("2026-02-06 10:05", "LW-10", Whole(), "penetrant", ("bracket rust",),
         kit="red dye, non-water wash", light="daylight lamp, 1000 lx"),
    look("2026-02-06 10:22", "RW-10", Whole(), "penetrant", (), "", kit="red dye, non-water wash",
         light="daylight lamp, 1000 lx"),
    find("2026-04-13 15:40", "EN-51", Blob(641, -8, 44, 27, "flat"), "corrosion",
         "Round the lower cluster, where water stood.", corrosion="rust", depth=(0.34, 0.04),
         by="gauge", tool="depth gauge 2", sheet=1.2, state="waiting for the inspector",
         key="mount rust"),
    look("2026-04-14 08:45", "EN-51", Whole(), "penetrant", ("mount rust",),
         kit="red dye, non-water wash", light="daylight lamp, 1000 lx"),
    find("2026-05-11 14:15", "EN-10", Drawn(((470, 184), (505, 181.5), (560, 182), (580, 199), (512,
         203)), panel="lower ring", shake=2), "hole",
         "Under the filler: worn through, a piece let in with pop rivets.", size=(118, 60),
         state="waiting for the inspector", key="ring hole"),
    look("2026-05-11 14:50", "EN-10", Whole("upper ring"), "glass"),
    look("2026-05-11 15:05", "EN-10", Whole("lower ring"), "glass", ("ring hole",)),
    look("2026-05-12 08:50", "EN-01", Whole("nose cap"), "penetrant", (), "As far as it is bare.",
         kit="red dye, non-water wash", light="daylight lamp, 1000 lx"),
)
