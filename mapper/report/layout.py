"""The document as plain data for the typesetter: groups of sections, with all that is laid out."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from PIL import Image

from mapper.errors import MapperError
from mapper.report.cache import Cache, key_of
from mapper.report.model import (
    SIGN_HEADS,
    Beside,
    Block,
    Bullets,
    Document,
    Facts,
    Figure,
    Gallery,
    Section,
    Table,
    ToSign,
    Warnings,
    Words,
)

TEXT_WIDTH = 174.0  # mm between the margins of page.typ
# mm wide at most, of a figure of a gallery: a photo alone would else be larger than the map above.
BY_THREE, BY_TWO = 54, 84
VIEW_BOX = re.compile(r"<svg\b[^>]*\bviewBox=[\"']([^\"']*)[\"']")
HEAD = 4096  # letters of a drawing in which its size stands
LABEL = 26  # letters of a label that leaves room for its value beside a picture
MOST_CONTENTS = 42  # lines of the contents list that go on one page
PLAN = ".plan"  # ending of a file that says how a group of sections was put on pages
MOST = 24  # letters of a word after which it may be broken
TEMPLATE = Path(__file__).with_name("page.typ")
Text = str | list[str]


def size_of(path: Path) -> tuple[float, float]:
    """Width and height of an SVG (its view box) or of a picture (pixels): only the ratio matters.

    MapperError for a file that is neither.
    """
    try:
        if path.suffix == ".svg":
            with path.open(encoding="utf-8") as file:  # the first lines: a map is long to parse
                found = VIEW_BOX.search(file.read(HEAD))
            box = found[1].replace(",", " ").split() if found else []
            width, height = float(box[2]), float(box[3])
        else:
            with Image.open(path) as picture:
                width, height = (float(n) for n in picture.size)
    except (OSError, ValueError, IndexError) as error:
        raise MapperError(
            f"{path.name} cannot be read as a picture.", "Allowed: SVG with a view box, PNG, JPEG."
        ) from error
    if not (width > 0 and height > 0):
        raise MapperError(f"{path.name} is {width} by {height}.", "A size is above zero.")
    return width, height


def depth_of(document: Document) -> int:
    """How many levels the contents list has, so that it stays on one page: parts where they fit."""
    return 2 if sum(s.level <= 2 for s in document.sections) <= MOST_CONTENTS else 1


@cache
def _long(most: int) -> re.Pattern[str]:
    return re.compile(rf"[^\s\u200b]{{{most}}}")


def text_of(text: str, most: int = MOST) -> Text:
    """The text, or its lines where it has several; a word may be broken after every `most` letters
    (a zero-width space stands there)."""
    if len(text) > most:
        text = _long(most).sub(lambda found: found[0] + "\u200b", text)
    return text.split("\n") if "\n" in text else text


def grouped(sections: Sequence[Section]) -> Iterator[tuple[Section, ...]]:
    """Sections that are put on pages as one: those kept together with all that join them, and each
    of the others alone. Nothing for no sections."""
    group: list[Section] = []
    for section in sections:
        joins = section.together and section.joins and not section.new_page
        if group and not (joins and group[-1].together):
            yield tuple(group)
            group = []
        group.append(section)
    if group:
        yield tuple(group)


def kept_plan(cache: Cache, key: str) -> Any:
    """How a group was put on pages before; None where it is new, or its file is damaged."""
    if not cache.has(key, PLAN):
        return None
    try:
        return json.loads(cache.path(key, PLAN).read_text("utf-8"))
    except ValueError:
        cache.path(key, PLAN).unlink(missing_ok=True)
        return None


class Layout:
    """Turns the document into JSON values; pictures are copied beside the template, once each."""

    def __init__(self, folder: Path, cache: Cache | None = None) -> None:
        self.folder = folder
        self.cache = cache
        self.copied: dict[Path, str] = {}

    def document(self, document: Document) -> dict[str, Any]:
        return {
            "title": document.title,
            "subtitle": text_of(document.subtitle),
            "author": document.author,
            "footer": document.footer,
            "depth": depth_of(document),
            "cover": [self.block(b) for b in document.cover],
            "groups": [self.group(g) for g in grouped(document.sections)],
        }

    def group(self, sections: tuple[Section, ...]) -> dict[str, Any]:
        """A group with the plan by which it was put on pages before, None where it is new."""
        made: dict[str, Any] = {
            "new_page": sections[0].new_page,
            "together": sections[0].together,
            "key": "",
            "plan": None,
            "sections": [
                {
                    "title": text_of(s.title, 40),
                    "level": s.level,
                    "blocks": [self.block(b) for b in s.blocks],
                    "tight": [self.block(b) for b in s.tight],
                }
                for s in sections
            ],
        }
        if made["together"]:
            made["key"] = key_of("plan", TEMPLATE.read_text("utf-8"), _unnamed(made["sections"]))
            if self.cache is not None:
                made["plan"] = kept_plan(self.cache, made["key"])
        return made

    def block(self, block: Block) -> dict[str, Any]:
        match block:
            case Words():
                return {"is": "words", "text": text_of(block.text), "tone": block.tone}
            case Facts():
                return {
                    "is": "facts",
                    "rows": [[text_of(t) for t in row] for row in block.rows],
                    "long": any(len(label) > LABEL for label, _ in block.rows),
                }
            case Table():
                return {
                    "is": "table",
                    "caption": text_of(block.caption),
                    "columns": [
                        {"head": text_of(c.head, 14), "number": c.number, "share": c.share}
                        for c in block.columns
                    ],
                    "rows": [[text_of(t, 16) for t in row] for row in block.rows],
                    "total": block.total,
                    "foot": [text_of(t) for t in block.foot],
                    "empty": text_of(block.empty),
                    "details": [text_of(t) for t in block.details],
                    "small": block.small,
                }
            case Bullets():
                return {
                    "is": "bullets",
                    "items": [text_of(t) for t in block.items],
                    "empty": text_of(block.empty),
                }
            case Warnings():
                return {"is": "warnings", "items": [_caution(*item) for item in block.items]}
            case Figure():
                return {"is": "figure"} | self.figure(block)
            case Gallery():
                photos = any(f.kind == "photo" for f in block.figures)
                most = BY_THREE if photos or len(block.figures) > 2 else BY_TWO
                figures = [self.figure(f) for f in block.figures]
                return {"is": "gallery", "most": most, "figures": figures}
            case Beside():
                blocks = [self.block(b) for b in block.blocks]
                return {"is": "beside", "figure": self.figure(block.figure), "blocks": blocks}
            case ToSign():
                return {
                    "is": "to-sign",
                    "heads": SIGN_HEADS,
                    "lines": [
                        [text_of(t, most) for t, most in zip(line, (18, 16, 12), strict=True)]
                        for line in block.lines
                    ],
                }

    def figure(self, figure: Figure) -> dict[str, Any]:
        width, height = size_of(figure.file)
        wide = min(TEXT_WIDTH * figure.width, figure.height_mm * width / height)
        if figure.file.suffix == ".svg":  # drawings are in mm
            wide = min(wide, width)
        return {
            "file": self.copy(figure.file),
            "alt": figure.alt,
            "caption": text_of(figure.caption),
            "wide": wide,
            "high": wide * height / width,
        }

    def copy(self, path: Path) -> str:
        if path not in self.copied:
            name = f"figure-{len(self.copied)}{path.suffix}"
            shutil.copyfile(path, self.folder / name)
            self.copied[path] = name
        return self.copied[path]


def _caution(text: str, source: str) -> list[Text]:
    return [text_of(text), text_of(f" ({source})") if source else ""]


def _unnamed(value: Any) -> Any:
    """The same values without the names of files: how large a figure is decides where it goes."""
    if isinstance(value, dict):
        return {key: _unnamed(v) for key, v in value.items() if key != "file"}
    return [_unnamed(v) for v in value] if isinstance(value, list) else value
