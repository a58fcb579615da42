"""The report as plain data, made once and written twice: the PDF and the page show the same text.

Everything a reader sees is text already, numbers with their units; the writers lay out and never
compute, round or leave out. A new sort of content is one small type here and one function in each
writer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any

from mapper.errors import MapperError

TONES = ("plain", "lead", "label", "quiet", "gap")
SIGN_HEADS = ("What the signature stands for", "Name", "Licence number", "Date", "Signature")
KINDS_OF_FIGURE = ("map", "picture", "photo")


@dataclass(frozen=True)
class Words:
    """A paragraph. tone: "plain"; "lead" (the sentence to read first); "label" (names what
    follows); "quiet" (small print); "gap" (something is not known: a bar beside it, never colour
    alone)."""

    text: str
    tone: str = "plain"

    def __post_init__(self) -> None:
        if self.tone not in TONES:
            raise MapperError(f"tone is {self.tone!r}.", f"It is one of {', '.join(TONES)}.")


@dataclass(frozen=True)
class Facts:
    """Pairs of a label and its value, in reading order."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """One column: head as printed; number: right-aligned; share: its part of the width."""

    head: str
    number: bool = False
    share: float = 1.0


@dataclass(frozen=True)
class Table:
    """Rows of text. total: the last row is a sum. foot: sentences below, what it counts.

    details: a line in small type under each row, as wide as the table ("" for none; () for no such
    lines). small: all of it in small type, for what is looked up and not read through.
    Without rows the writers print `empty` instead of an empty frame.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    total: bool = False
    foot: tuple[str, ...] = ()
    empty: str = "Nothing is recorded."
    details: tuple[str, ...] = ()
    small: bool = False

    def __post_init__(self) -> None:
        if self.details and len(self.details) != len(self.rows):
            raise MapperError(
                f"Table {self.caption!r} has {len(self.details)} lines of detail.",
                f"It has {len(self.rows)} rows: one line each, or none at all.",
            )
        for row in self.rows:
            if len(row) != len(self.columns):
                raise MapperError(
                    f"Table {self.caption!r}: a row has {len(row)} cells.",
                    f"It has {len(self.columns)} columns.",
                )


@dataclass(frozen=True)
class Bullets:
    """A list of sentences; `empty` is printed when there are none."""

    items: tuple[str, ...]
    empty: str = ""


@dataclass(frozen=True)
class Warnings:
    """Cautions shown where they apply: each a text with where it comes from ("" for none)."""

    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Figure:
    """A map, a 3D picture or a photo. alt says in words what a person who cannot see it misses.

    file: an SVG, PNG or JPEG. On paper a drawing keeps its own size where there is room, so that
    its writing stays readable. width: most of the text width it may take, 0 to 1; height_mm: most
    of the height.
    """

    file: Path
    alt: str
    caption: str
    kind: str = "map"
    width: float = 1.0
    height_mm: float = 95.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS_OF_FIGURE:
            raise MapperError(f"A figure of kind {self.kind!r}.", f"Allowed: {KINDS_OF_FIGURE}.")
        if not self.alt.strip():
            raise MapperError(
                f"The figure {self.caption!r} has no alternative text.",
                "Every figure says in words what it shows.",
            )


@dataclass(frozen=True)
class Gallery:
    """Figures side by side, small."""

    figures: tuple[Figure, ...]


@dataclass(frozen=True)
class ToSign:
    """Lines to be filled in and signed by hand, under SIGN_HEADS: (what it stands for, name,
    licence number) each.

    Name and licence are printed where the record knows them; the rest stays blank.
    """

    lines: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Beside:
    """A narrow figure with other blocks beside it; one below the other where there is no room."""

    figure: Figure
    blocks: tuple[Block, ...]


Block = Words | Facts | Table | Bullets | Warnings | Figure | Gallery | ToSign | Beside


@dataclass(frozen=True)
class Section:
    """A heading and what stands below it. level 1 to 4, never more than one below the section
    before it; new_page: starts on a fresh page on paper; together: kept on one page of paper where
    it fits, its maps made a little smaller if that is all it takes; joins: shares that page with
    the section before it where both fit (both are `together`); tight: the same content closer
    together, printed where only that keeps it on one page; () for no such layout."""

    title: str
    level: int
    blocks: tuple[Block, ...] = ()
    new_page: bool = False
    together: bool = False
    joins: bool = False
    tight: tuple[Block, ...] = ()


@dataclass(frozen=True)
class Document:
    """A whole report. cover: the blocks of the first page; footer: the line at the foot of each."""

    title: str
    subtitle: str
    cover: tuple[Block, ...]
    sections: tuple[Section, ...]
    footer: str
    author: str = ""

    def __post_init__(self) -> None:
        level = 0
        for section in self.sections:
            if not 1 <= section.level <= min(level + 1, 4):
                raise MapperError(
                    f"Section {section.title!r} is at level {section.level}.",
                    f"After level {level} a level from 1 to {min(level + 1, 4)} may follow.",
                )
            if not section.title.strip():
                raise MapperError("A section has no title.", "Every heading has words.")
            level = section.level


def figures(document: Document) -> Iterator[Figure]:
    """Every figure of a document in reading order; none in a document without pictures."""
    for blocks in (document.cover, *(s.blocks for s in document.sections)):
        yield from _figures(blocks)


def _figures(blocks: tuple[Block, ...]) -> Iterator[Figure]:
    for block in blocks:
        if isinstance(block, Figure):
            yield block
        elif isinstance(block, Gallery):
            yield from block.figures
        elif isinstance(block, Beside):
            yield block.figure
            yield from _figures(block.blocks)


def with_text(value: Any, change: Callable[[str], str]) -> Any:
    """A copy of a document (or any part of it) with every text changed; file paths stay."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, tuple):
        return tuple(with_text(v, change) for v in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value,
            **{
                f.name: with_text(getattr(value, f.name), change)
                for f in fields(value)
                if f.name not in ("kind", "tone", "file")
            },
        )
    return value
