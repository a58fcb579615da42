"""The aeroplane: its assemblies, and every part with its tag code and part file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

PARTS = Path(__file__).parent / "parts"
ASSEMBLIES = (
    "fuselage", "engine", "right wing", "left wing", "tailplane", "fin and rudder",
)  # fmt: skip


@dataclass(frozen=True)
class Made:
    """One part: tag code, which the story calls it by; assembly; part file; left: mirrored."""

    code: str
    assembly: str
    file: str
    left: bool = False
    note: str = ""


MIRRORED = "Taken as the mirror image of the right one; {}."

PARTS_MADE: tuple[Made, ...] = (
    Made("FU-10", "fuselage", "forward_fuselage"),
    Made("FU-11", "fuselage", "floor_cover"),
    Made("FU-12", "fuselage", "right_pedal"),
    Made("FU-13", "fuselage", "right_pedal", True, MIRRORED.format("same casting number")),
    Made("FU-20", "fuselage", "rear_fuselage"),
    Made("FU-21", "fuselage", "baggage_door"),
    Made("FU-22", "fuselage", "battery_cover"),
    Made("FU-30", "fuselage", "tail_cone"),
    Made("FU-31", "fuselage", "tail_inspection_cover"),
    Made("FU-41", "fuselage", "right_fillet"),
    Made("FU-42", "fuselage", "right_fillet", True, MIRRORED.format("held against it, 4 mm off")),
    Made("FU-51", "fuselage", "right_gear_fairing"),
    Made("FU-52", "fuselage", "right_gear_fairing", True, MIRRORED.format("not measured itself")),
    Made("EN-01", "engine", "spinner"),
    Made("EN-10", "engine", "nose_cowl"),
    Made("EN-20", "engine", "engine_cowl"),
    Made("EN-21", "engine", "oil_door"),
    Made("EN-30", "engine", "scoop"),
    Made("EN-40", "engine", "heat_shroud"),
    Made("EN-51", "engine", "right_mount_tube"),
    Made("EN-52", "engine", "right_mount_tube", True, MIRRORED.format("length checked")),
    Made("RW-00", "right wing", "right_wing"),
    Made("RW-01", "right wing", "right_pulley_cover"),
    Made("RW-02", "right wing", "right_tank_cover"),
    Made("RW-03", "right wing", "right_aileron_tube"),
    Made("RW-04", "right wing", "rib_4"),
    Made("RW-05", "right wing", "right_flap"),
    Made("RW-06", "right wing", "right_aileron"),
    Made("RW-07", "right wing", "right_wing_tip"),
    Made("RW-08", "right wing", "rear_spar_web"),
    Made("RW-09", "right wing", "right_aileron_crank"),
    Made("RW-10", "right wing", "right_hinge_bracket"),
    Made("RW-11", "right wing", "right_nose_rib"),
    Made("RW-13", "right wing", "fork_end"),
    Made("RW-14", "right wing", "flap_end_doubler"),
    Made("LW-00", "left wing", "right_wing", True,
         MIRRORED.format("checked with a tape at ribs 1, 6 and 11")),
    Made("LW-01", "left wing", "right_pulley_cover", True, MIRRORED.format("laid on it")),
    Made("LW-02", "left wing", "right_tank_cover", True, MIRRORED.format("laid on it")),
    Made("LW-03", "left wing", "right_aileron_tube", True, MIRRORED.format("length checked")),
    Made("LW-05", "left wing", "right_flap", True, MIRRORED.format("chords checked at both ends")),
    Made("LW-06", "left wing", "right_aileron", True,
         MIRRORED.format("though it comes off another aeroplane: chords checked")),
    Made("LW-07", "left wing", "right_wing_tip", True, MIRRORED.format("not measured itself")),
    Made("LW-10", "left wing", "right_hinge_bracket", True, MIRRORED.format("laid on it")),
    Made("LW-11", "left wing", "right_nose_rib", True, MIRRORED.format("laid on it")),
    Made("LW-12", "left wing", "lamp_cover"),
    Made("TP-00", "tailplane", "right_tailplane"),
    Made("TP-01", "tailplane", "right_elevator"),
    Made("TP-02", "tailplane", "elevator_tab"),
    Made("TP-03", "tailplane", "right_tail_tip"),
    Made("TP-04", "tailplane", "elevator_tube"),
    Made("TP-05", "tailplane", "elevator_crank"),
    Made("TP-06", "tailplane", "tail_bullet"),
    Made("TP-10", "tailplane", "right_tailplane", True, MIRRORED.format("chords checked")),
    Made("TP-11", "tailplane", "right_elevator", True, MIRRORED.format("chords checked")),
    Made("FN-00", "fin and rudder", "fin"),
    Made("FN-01", "fin and rudder", "rudder"),
    Made("FN-02", "fin and rudder", "rudder_tab"),
    Made("FN-03", "fin and rudder", "fin_tip"),
    Made("FN-04", "fin and rudder", "rudder_bracket"),
)  # fmt: skip


def part_file(made: Made) -> str:
    """The part file's text; a left part is the right one's with its hand, and its name, changed."""
    text = (PARTS / f"{made.file}.toml").read_text("utf-8")
    if not made.left:
        return text
    first, _, rest = re.sub(r"\bright\b", "left", text).partition("\n")
    return f"{first}\n# Described as the mirror image of the right one.\n{rest}"
