"""Fork ends: a strap bent to a U with a bolt hole in each lug, on a round barrel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from meshes.check import positive
from meshes.curves import Circle
from meshes.errors import ShapeError
from meshes.folded import NEUTRAL, Flange, allowance, folded
from meshes.outline import round_ring
from meshes.patch import Array
from meshes.ruled import RuledPatch
from meshes.shape import Join, Sheet
from meshes.tube import tube


@dataclass(frozen=True)
class Fork:
    """Sizes of a fork end, mm; ShapeError naming the one that cannot be.

    width: of the lugs, whose ends are half circles. gap: clear, between the lugs. reach: from the
    strap's outside at the barrel to the bolt's centre. thickness: of the strap. bend_radius:
    inside. bolt_diameter: of the hole. barrel_diameter, barrel_length: of the round piece between
    strap and tube.
    """

    width: float
    gap: float
    reach: float
    thickness: float
    bolt_diameter: float
    barrel_diameter: float
    barrel_length: float
    bend_radius: float = 0.0

    def __post_init__(self) -> None:
        for name in ("width", "gap", "reach", "thickness", "bolt_diameter", "barrel_diameter",
                     "barrel_length"):  # fmt: skip
            positive(name, getattr(self, name))
        if not 0.0 <= self.bend_radius < 0.5 * self.gap:
            raise ShapeError(
                "bend_radius",
                f"{self.bend_radius:g} mm was given with a gap of {self.gap:g} mm.",
                "0 or more and less than half the gap is allowed.",
            )
        if self.bolt_diameter >= self.width:
            raise ShapeError(
                "bolt_diameter",
                f"A hole of {self.bolt_diameter:g} mm was given in a lug {self.width:g} mm wide.",
                "Less than the width is allowed.",
            )
        least = self.thickness + self.bend_radius + 0.5 * self.bolt_diameter
        if self.reach <= least:
            raise ShapeError(
                "reach",
                f"{self.reach:g} mm was given.",
                f"More than {least:g} mm is allowed: the hole lies in the flat of the lug.",
            )


def fork_sheets(fork: Fork, start: float, *, ahead: bool, name: str) -> tuple[Sheet, Sheet]:
    """The sheets "NAME strap" and "NAME barrel" of a fork on the y axis.

    start: y (mm) where the tube ends and the barrel begins. ahead: the fork points to growing y,
    else the other way. The strap's flat map is its flat pattern with both bolt holes; its edges are
    not counted. Faces: outer and inner.
    """
    way = 1.0 if ahead else -1.0
    low = start if ahead else start - fork.barrel_length
    barrel = RuledPatch(
        Circle(0.5 * fork.barrel_diameter, low),
        Circle(0.5 * fork.barrel_diameter, low + fork.barrel_length),
        chorded=False,
    )
    half = 0.5 * fork.gap - fork.bend_radius
    wide = 0.5 * fork.width
    # A neutral line lies NEUTRAL of the thickness above the inside.
    origin = start + way * (fork.barrel_length + (1.0 - NEUTRAL) * fork.thickness)
    flat = fork.reach - fork.thickness - fork.bend_radius
    run = allowance(90.0, fork.bend_radius, fork.thickness)
    lug = Flange(0, flat + wide, 90.0, fork.bend_radius, round_end=True)
    corners = [[-wide, -half], [wide, -half], [wide, half], [-wide, half]]
    across: Array = np.array([0.0, 0.0, way])
    (strap,) = folded(
        corners,
        [lug, Flange(2, lug.length, 90.0, fork.bend_radius, round_end=True)],
        fork.thickness,
        name=f"{name} strap",
        frame=(np.array([0.0, origin, 0.0]), across, np.array([1.0, 0.0, 0.0])),
        holes=[
            round_ring(fork.bolt_diameter, (0.0, side * (half + run + flat)))
            for side in (-1.0, 1.0)
        ],
    )
    return strap, Sheet(f"{name} barrel", ("outer", "inner"), (barrel,), (Join(0, "s0", 0, "s1"),))


def push_pull_tube(
    diameter: float, length: float, fork: Fork, ends: str = "both", *, datum: float = 0.0
) -> tuple[Sheet, ...]:
    """A round tube along y from 0 to length with fork ends at "both", the "near" or the "far" end.

    The sheet "tube" first, then strap and barrel of each fork. ShapeError naming the parameter.
    """
    if ends not in ("both", "near", "far"):
        raise ShapeError("ends", f"{ends!r} was given.", "both, near or far is allowed.")
    sheets = list(tube(diameter, diameter, length, datum=datum))
    if ends in ("both", "near"):
        sheets += fork_sheets(fork, 0.0, ahead=False, name="near fork")
    if ends in ("both", "far"):
        sheets += fork_sheets(fork, length, ahead=True, name="far fork")
    return tuple(sheets)
