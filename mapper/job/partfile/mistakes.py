"""What is wrong in a part file, said so that the person who wrote it can put it right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from mapper.errors import MapperError
from mapper.job.check import visible


@dataclass(frozen=True)
class Mistake:
    """One mistake in a part file.

    line: counted from 1, 0 where it is about the whole file. key: as a person would write it,
    with the number of the table where there are several ("section 2: chord"). given, allowed,
    to_do: the three parts of the message.
    """

    line: int
    key: str
    given: str
    allowed: str = ""
    to_do: str = ""

    def text(self) -> str:
        """The mistake as one line of words, with line and key in front."""
        where = f"line {self.line}" if self.line else "the file"
        head = f"{where}, {self.key}: " if self.key else f"{where}: "
        words = " ".join(part for part in (self.given, self.allowed, self.to_do) if part)
        return visible(head + words)


class PartFileError(MapperError):
    """A part file that cannot be used; `mistakes` holds every mistake found, in order of lines.

    Raises ValueError when made without a mistake: an error must say something.
    """

    def __init__(self, mistakes: Sequence[Mistake], source: str = "") -> None:
        if not mistakes:
            raise ValueError("a part file error needs at least one mistake")
        self.mistakes = tuple(sorted(mistakes, key=lambda m: m.line))
        self.source = source
        first = self.mistakes[0]
        super().__init__(first.given, first.allowed, first.to_do)

    def text(self) -> str:
        """Every mistake on a line of its own, under a line that counts them."""
        name = self.source or "the part file"
        count = len(self.mistakes)
        head = f"{count} mistake{'' if count == 1 else 's'} in {name}:"
        return "\n".join([visible(head), *("  " + m.text() for m in self.mistakes)])
