"""What one key of a part file is, and the table of shapes: the rows the keys are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

FORMS = ("round", "oval", "rectangle", "polygon")
SIDES = ("upper", "lower", "both")


@dataclass(frozen=True)
class Key:
    """One key of a part file.

    type: "text", "texts", "choice", "yes/no", "date", "number", "length", "angle", "percent",
    "point" (two lengths), "points" (a list of them), "space point" (three lengths), "angles"
    (three), "table" or "tables". least, most: allowed range, `above` a bound that is itself
    refused; lengths in mm. count: how many texts, or the least number of points. of: the keys
    inside a table. shapes: where it belongs, empty for every shape that has its table. default: in
    words.
    """

    name: str
    type: str
    help: str
    required: bool = False
    choices: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    above: float | None = None
    count: int = 0
    default: str = ""
    of: tuple[Key, ...] = ()
    shapes: tuple[str, ...] = ()

    def fits(self, shape: str) -> bool:
        """Whether a part of this shape may have the key; an unknown shape ("") may have any."""
        return not self.shapes or not shape or shape in self.shapes


@dataclass(frozen=True)
class Shape:
    """One shape of a part file.

    words: what it is. counted: the sentence that says what its areas count. sections: the least
    number of [[section]] it is made from, 0 for none (an access cover has them only as a piece of
    skin). axis: what its stations run along, "" where the file says. keys: top keys that no other
    shape has; a part's own values of them are `PartSpec.own`.
    """

    words: str
    counted: str
    sections: int = 0
    axis: str = ""
    keys: tuple[Key, ...] = ()


_WEB = "The web alone is counted, on each of its two faces; flanges are not."
_FLAT = "One area is given for each of the two faces; edges are not counted."

SHAPES: Mapping[str, Shape] = MappingProxyType(
    {
        "loft": Shape(
            "a wing, slat, flap or control surface: sections joined by straight lines",
            "Areas are those of the surface the sizes describe, one area for both faces",
            sections=2,
        ),
        "rib": Shape("one rib: a flat web with the outline of a section", _WEB, sections=1),
        "spar web": Shape(
            "the flat web of one spar, between the upper and lower skin of a loft",
            _WEB,
            sections=2,
        ),
        "plate": Shape("one flat piece: end plate, gusset, doubler", _FLAT),
        "tube": Shape(
            "a round tube or cone: push-pull tube, torque tube, duct",
            "The round surface alone is counted; ends and end fittings are not.",
            axis="length",
            keys=(
                Key(
                    "end_diameter",
                    "length",
                    "outside, at the far end of a cone",
                    above=0.0,
                    default="diameter",
                ),
            ),
        ),
        "access cover": Shape("a cover: flat, or cut from the skin of a loft", _FLAT, sections=2),
    }
)
