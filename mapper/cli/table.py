"""Tables that stay readable on 80 columns."""

from __future__ import annotations

import shutil
import sys
import textwrap
import unicodedata
from typing import Any

GAP = 2
LEAST = 8  # columns of text are never made narrower than this


def print_table(frame: Any, *, empty: str, csv: bool = False) -> None:
    """Print a DataFrame: numbers to the right, long texts on several lines, nothing cut off.

    empty: the sentence for no rows. csv: as comma-separated values instead, heads included.
    """
    if csv:
        from mapper.job.csvtext import to_csv

        sys.stdout.write(to_csv(frame))
        return
    print(to_text(frame, shutil.get_terminal_size((80, 24)).columns) if len(frame) else empty)


def width_of(text: str) -> int:
    """Columns that a text takes on a terminal: wide letters take two, marks over letters none."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def to_text(frame: Any, width: int) -> str:
    """A DataFrame of texts and numbers as lines of at most `width` columns where that can be."""
    heads = [str(c) for c in frame.columns]
    right = [frame[c].map(lambda v: not isinstance(v, str)).all() for c in frame.columns]
    rows = [[_cell(v) for v in row] for row in frame.itertuples(index=False)]
    need = [
        max(width_of(line) for cell in column for line in cell.split("\n") or [""])
        for column in zip(heads, *rows, strict=True)
    ]
    least = [
        n if number else max(LEAST, *(width_of(w) for cell in column for w in cell.split() or [""]))
        for n, number, column in zip(need, right, zip(heads, *rows, strict=True), strict=True)
    ]
    # The widest column gives way first, down to its longest word; words are broken only then.
    for floor in (least, [n if number else LEAST for n, number in zip(need, right, strict=True)]):
        while sum(need) + GAP * (len(need) - 1) > width:
            slack = [(n, i) for i, n in enumerate(need) if n > floor[i]]
            if not slack:
                break
            need[max(slack)[1]] -= 1
    lines = _lines(heads, need, right)
    lines.append((" " * GAP).join("-" * n for n in need))
    for row in rows:
        lines += _lines(row, need, right)
    return "\n".join(line.rstrip() for line in lines)


def _cell(value: Any) -> str:
    if value is None or value != value:
        return ""
    # A control character in a note must not reach the terminal.
    text = str(value).replace("\t", " ")
    return "".join(c if c == "\n" or unicodedata.category(c)[0] != "C" else "·" for c in text)


def _lines(cells: list[str], need: list[int], right: list[bool]) -> list[str]:
    columns = [folded(cell, n) for cell, n in zip(cells, need, strict=True)]
    lines = []
    for i in range(max(map(len, columns))):
        texts = [c[i] if i < len(c) else "" for c in columns]
        lines.append((" " * GAP).join(map(_padded, texts, need, right)))
    return lines


def folded(text: str, width: int) -> list[str]:
    """A text as lines of at most so many columns; [""] for ""."""
    lines = []
    for line in text.split("\n"):
        # By letters, then by columns where wide letters make a line too long.
        for piece in textwrap.wrap(line, width, break_on_hyphens=False) or [""]:
            while width_of(piece) > width:
                fit = next(i for i in range(len(piece), 0, -1) if width_of(piece[:i]) <= width)
                lines.append(piece[:fit])
                piece = piece[fit:]
            lines.append(piece)
    return lines


def _padded(text: str, width: int, right: bool) -> str:
    fill = " " * max(0, width - width_of(text))
    return fill + text if right else text + fill
