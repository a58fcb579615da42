"""What one key of a part file is: the type of the rows of the table of keys."""

from __future__ import annotations

from dataclasses import dataclass

SHAPES = {
    "loft": "a wing, slat, flap or control surface: sections joined by straight lines",
    "rib": "one rib: a flat web with the outline of a section",
    "spar web": "the flat web of one spar, between the upper and lower skin of a loft",
    "plate": "one flat piece: end plate, gusset, doubler",
    "tube": "a round tube or cone: push-pull tube, torque tube, duct",
    "access cover": "a cover: flat, or cut from the skin of a loft",
}
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
