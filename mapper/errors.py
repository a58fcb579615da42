"""The one base class of everything this program refuses to do, so that a caller can print it."""

from __future__ import annotations


class MapperError(Exception):
    """Something a person can put right.

    The text says three things: what was given, what is allowed, what to do. Nothing else in the
    program prints a traceback for a mistake of the user's; a traceback is a mistake of ours.
    """

    def __init__(self, given: str, allowed: str = "", to_do: str = "") -> None:
        self.given = given
        self.allowed = allowed
        self.to_do = to_do
        super().__init__(self.text())

    def text(self) -> str:
        """The message as one line: given, allowed, what to do."""
        return " ".join(part for part in (self.given, self.allowed, self.to_do) if part)

    def __str__(self) -> str:
        return self.text()
