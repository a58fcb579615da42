"""The error of this room: it names the parameter, so that a part file can name its line and key."""

from __future__ import annotations


class ShapeError(ValueError):
    """A parameter of a shape that cannot be used.

    field: name of the parameter as the constructor spells it, with an index where it is one of a
    list ("sections[2].chord"); given, allowed, to_do: the three parts of the message.
    """

    def __init__(self, field: str, given: str, allowed: str, to_do: str = "") -> None:
        self.field = field
        self.given = given
        self.allowed = allowed
        self.to_do = to_do
        super().__init__(" ".join(p for p in (f"{field}: {given}", allowed, to_do) if p))
