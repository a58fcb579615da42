"""Characters that no packaged font has: replaced where they stand, visibly, and listed.

One such character is an error in a tagged archive PDF, so an emoji in a note would otherwise stop
the whole report. The page shows the same replacement, so that both copies read alike.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from dataclasses import dataclass, field

from mapper.report.fonts import printable


@dataclass
class Letters:
    """Makes text printable and remembers what it replaced.

    count: character -> how often it was replaced, in order of first sight.
    """

    count: Counter[str] = field(default_factory=Counter)

    def __call__(self, text: str) -> str:
        """The text with unprintable characters as [U+XXXX]; tab becomes a space, line breaks stay.

        Empty text stays empty.
        """
        text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
        # Accents typed apart often exist as one letter, which the font has.
        text = unicodedata.normalize("NFC", text)
        allowed = printable()
        if all(c in allowed or c == "\n" for c in text):
            return text
        return "".join(c if c in allowed or c == "\n" else self._replaced(c) for c in text)

    def _replaced(self, char: str) -> str:
        self.count[char] += 1
        return f"[U+{ord(char):04X}]"

    def rows(self) -> tuple[tuple[str, str, str], ...]:
        """(code, name, how often) of every replaced character; empty when there were none."""
        return tuple(
            (f"U+{ord(c):04X}", unicodedata.name(c, "no name").lower(), str(n))
            for c, n in self.count.items()
        )
