"""The rows and keys of fittings: brackets, bell cranks, fork ends, push-pull tubes."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mapper.job.partfile.onekey import Key, Shape

_PATTERN = (
    "The flat pattern is counted, bends by their allowance, one area for each of the two faces;"
    " edges are not counted."
)
_FLANGE = (
    Key("edge", "number", "number of the edge it stands on: 1 runs from corner 1 to 2", True,
        least=1.0, most=200.0),
    Key("length", "length", "of its flat, beyond the bend", True, above=0.0),
    Key("angle", "angle", "of the bend, towards the inner face; negative towards the outer one",
        least=-175.0, most=175.0, default="90"),
    Key("bend_radius", "length", "inside radius of the bend", least=0.0, default="0"),
    Key("round_end", "yes/no", "true: it ends in a half circle", default="false"),
)  # fmt: skip
_BASE = (
    Key("corners", "points", "of the flat base: [outboard, aft] of each corner", True, count=3),
    Key("thickness", "length", "of the sheet", True, above=0.0),
    Key("flange", "tables", "a flange bent up along an edge of the base", of=_FLANGE),
)
FORK = (
    Key("width", "length", "of its lugs, whose ends are half circles", True, above=0.0),
    Key("gap", "length", "clear, between the lugs", True, above=0.0),
    Key("reach", "length", "from the strap's outside at the barrel to the bolt's centre", True,
        above=0.0),
    Key("thickness", "length", "of its strap", True, above=0.0),
    Key("bend_radius", "length", "of the strap, inside", least=0.0, default="0"),
    Key("bolt_diameter", "length", "of the holes", True, above=0.0),
    Key("barrel_diameter", "length", "of the round piece behind the strap", True, above=0.0),
    Key("barrel_length", "length", "of it", True, above=0.0),
)  # fmt: skip
_FORK_COUNTED = (
    "The strap is counted by its flat pattern, bolt holes taken off, and the barrel by its round"
    " surface; edges and ends are not counted."
)

FITTINGS: Mapping[str, Shape] = MappingProxyType(
    {
        "bracket": Shape("a bracket bent from a flat pattern, with flanges", _PATTERN, keys=_BASE),
        "bell crank": Shape("a bell crank bent from a flat pattern", _PATTERN, keys=_BASE),
        "fork end": Shape("a fork end: a strap bent to a U, on a barrel", _FORK_COUNTED, keys=FORK),
        "push-pull tube": Shape(
            "a round tube with fork ends",
            f"The tube is counted by its round surface. {_FORK_COUNTED}",
            axis="length",
            keys=(
                Key("diameter", "length", "of the tube, outside", True, above=0.0),
                Key("length", "length", "of the tube, without its fork ends", True, above=0.0),
                Key("fork_ends", "choice", "at which of its ends", choices=("both", "near", "far"),
                    default="both"),
                Key("fork_end", "table", "the fork ends, both alike", True, of=FORK),
            ),
        ),
    }
)  # fmt: skip
