"""On which line of a TOML text each key stands; the standard library's reader does not say.

The text is known to be valid TOML when it comes here, so the scanner only follows the structure:
headers, arrays of tables, dotted and quoted keys, inline tables and values over several lines.
"""

from __future__ import annotations

import tomllib
from bisect import bisect_right

Path = tuple[str | int, ...]

_BARE_END = frozenset(" \t\n=.]#,}")


class Lines:
    """Line numbers from 1 by path: ("section", 2, "chord"); a table has its header's line."""

    def __init__(self, lines: dict[Path, int]) -> None:
        self._lines = lines

    def of(self, path: Path) -> int:
        """Line of the path, or of the nearest table or value around it; 1 when there is none."""
        for end in range(len(path), 0, -1):
            line = self._lines.get(path[:end])
            if line is not None:
                return line
        return 1

    def exact(self, path: Path) -> int | None:
        """Line of exactly this path; None when the file does not hold it."""
        return self._lines.get(path)


def key_lines(text: str) -> Lines:
    """The lines of every key, table and array element of a valid TOML text."""
    return Lines(_Scanner(text).run())


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text + "\n"
        self.at = 0
        self.found: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.starts = [0, *(i + 1 for i, c in enumerate(self.text) if c == "\n")]

    def run(self) -> dict[Path, int]:
        here: Path = ()
        while self.skip(" \t\n"):
            if self.text[self.at] == "[":
                here = self.header()
            else:
                self.pair(here)
        return self.found

    def line(self) -> int:
        return bisect_right(self.starts, self.at)

    def note(self, path: Path, line: int) -> None:
        self.found.setdefault(path, line)

    def skip(self, blanks: str) -> bool:
        """Pass blanks and, where line ends are blanks, comments; False at the end of the text."""
        while self.at < len(self.text):
            if self.text[self.at] in blanks:
                self.at += 1
            elif self.text[self.at] == "#":
                self.at = self.text.index("\n", self.at)
                if "\n" not in blanks:
                    return True
            else:
                return True
        return False

    def header(self) -> Path:
        line = self.line()
        several = self.text.startswith("[[", self.at)
        self.at += 2 if several else 1
        keys = self.dotted()
        self.at += 2 if several else 1
        path: Path = ()
        for key in keys[:-1]:
            path = self.inside((*path, key))
        path = (*path, keys[-1])
        self.note(path, line)
        if several:
            number = self.counts.get(path, 0)
            self.counts[path] = number + 1
            path = (*path, number)
            self.note(path, line)
        return path

    def inside(self, path: Path) -> Path:
        """A header under an array of tables means the newest table of it."""
        count = self.counts.get(path)
        return path if count is None else (*path, count - 1)

    def pair(self, here: Path) -> None:
        line = self.line()
        path = here
        for key in self.dotted():
            path = (*path, key)
            self.note(path, line)
        self.at = self.text.index("=", self.at) + 1
        self.skip(" \t")
        self.value(path)

    def dotted(self) -> list[str]:
        keys = []
        while True:
            self.skip(" \t")
            keys.append(self.key())
            self.skip(" \t")
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def key(self) -> str:
        start = self.at
        if self.text[self.at] in "\"'":
            inner = self.string()
            if "\\" in inner and self.text[start] == '"':
                return str(tomllib.loads(f'key = "{inner}"')["key"])
            return inner
        while self.text[self.at] not in _BARE_END:
            self.at += 1
        return self.text[start : self.at]

    def string(self) -> str:
        quote = self.text[self.at]
        mark = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.at += len(mark)
        start = self.at
        while not self.text.startswith(mark, self.at):
            self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
        inner = self.text[start : self.at]
        self.at += len(mark)
        while len(mark) == 3 and self.text[self.at] == quote:  # up to two quotes may end the text
            self.at += 1
        return inner

    def value(self, path: Path) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.array(path)
        elif first == "{":
            self.inline(path)
        else:
            while self.text[self.at] not in ",]}#\n":
                self.at += 1

    def array(self, path: Path) -> None:
        self.at += 1
        number = 0
        while self.skip(" \t\n,") and self.text[self.at] != "]":
            self.note((*path, number), self.line())
            self.value((*path, number))
            number += 1
        self.at += 1

    def inline(self, path: Path) -> None:
        self.at += 1
        while self.skip(" \t\n,") and self.text[self.at] != "}":
            self.pair(path)
        self.at += 1
