"""What one key of a part file is, and what one shape is: the rows the tables are made of."""

from __future__ import annotations

from dataclasses import dataclass

FORMS = ("round", "oval", "rectangle", "polygon")
SIDES = ("upper", "lower", "both")


@dataclass(frozen=True)
class Key:
    """One key of a part file.

    type: "text", "texts", "choice", "yes/no", "date", "number", "length", "angle", "percent",
    "point" (two lengths), "points" (a list of them), "space point" (three lengths), "angles"
    (three), "numbers" (three, as they are), "table" or "tables". least, most: allowed range,
    `above` a bound that is itself refused; lengths in mm. count: how many texts, or the least
    number of points. of: the keys inside a table. shapes: where it belongs, empty for every shape
    that has its table. default: in words.
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
    shape has; a part's own values of them are `PartSpec.own`. whole: its first skin is a wing's or
    control surface's, with ribs, spars and seams on it.
    """

    words: str
    counted: str
    sections: int = 0
    axis: str = ""
    keys: tuple[Key, ...] = ()
    whole: bool = False
