"""The paper copy: the document as JSON, laid out by the typesetter into a tagged archive PDF."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from PIL import Image

from mapper.errors import MapperError
from mapper.report.fonts import copy_fonts
from mapper.report.model import (
    SIGN_HEADS,
    Beside,
    Block,
    Bullets,
    Document,
    Facts,
    Figure,
    Gallery,
    Table,
    ToSign,
    Warnings,
    Words,
)

TEXT_WIDTH = 174.0  # mm between the margins of page.typ
VIEW_BOX = re.compile(r"<svg\b[^>]*\bviewBox=[\"']([^\"']*)[\"']")
HEAD = 4096  # letters of a drawing in which its size stands
MOST_CONTENTS = 42  # lines of the contents list that go on one page
TEMPLATE = Path(__file__).with_name("page.typ")


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


def write_pdf(document: Document, target: Path, now: datetime) -> None:
    """Typesets `document` into `target`, which appears whole or not at all.

    now: timezone-aware; printed by nobody, stored in the file as its time stamp. MapperError when
    the typesetter refuses something, with its words.
    """
    with tempfile.TemporaryDirectory(prefix="report-") as name:
        folder = Path(name)
        copy_fonts(folder / "fonts")
        shutil.copyfile(TEMPLATE, folder / "page.typ")
        data = _Data(folder).document(document)
        (folder / "data.json").write_text(json.dumps(data), "utf-8")
        made = folder / "report.pdf"
        _run(folder, made, int(now.timestamp()))
        shutil.copyfile(made, target)


def _run(folder: Path, made: Path, seconds: int) -> None:
    command = [sys.executable, "-m", "mapper.report.typeset", str(folder), str(made), str(seconds)]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    try:
        _, errors = child.communicate()
    except BaseException:
        child.kill()
        child.wait()
        raise
    if child.returncode:
        raise MapperError(
            "The report could not be typeset.",
            errors.decode("utf-8", "replace").strip() or f"(exit code {child.returncode})",
        )


class _Data:
    """Turns the document into JSON values; pictures are copied beside the template, once each."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.copied: dict[Path, str] = {}

    def document(self, document: Document) -> dict[str, Any]:
        return {
            "title": document.title,
            "subtitle": document.subtitle,
            "author": document.author,
            "footer": document.footer,
            "depth": depth_of(document),
            "cover": [self.block(b) for b in document.cover],
            "sections": [
                {
                    "title": s.title,
                    "level": s.level,
                    "new_page": s.new_page,
                    "together": s.together,
                    "joins": s.joins,
                    "blocks": [self.block(b) for b in s.blocks],
                    "tight": [self.block(b) for b in s.tight],
                }
                for s in document.sections
            ],
        }

    def block(self, block: Block) -> dict[str, Any]:
        match block:
            case Words():
                return {"is": "words", "text": block.text, "tone": block.tone}
            case Facts():
                return {"is": "facts", "rows": block.rows}
            case Table():
                return {
                    "is": "table",
                    "caption": block.caption,
                    "columns": [
                        {"head": c.head, "number": c.number, "share": c.share}
                        for c in block.columns
                    ],
                    "rows": block.rows,
                    "total": block.total,
                    "foot": block.foot,
                    "empty": block.empty,
                    "details": block.details,
                    "small": block.small,
                }
            case Bullets():
                return {"is": "bullets", "items": block.items, "empty": block.empty}
            case Warnings():
                return {"is": "warnings", "items": block.items}
            case Figure():
                return {"is": "figure"} | self.figure(block)
            case Gallery():
                return {"is": "gallery", "figures": [self.figure(f) for f in block.figures]}
            case Beside():
                blocks = [self.block(b) for b in block.blocks]
                return {"is": "beside", "figure": self.figure(block.figure), "blocks": blocks}
            case ToSign():
                return {"is": "to-sign", "heads": SIGN_HEADS, "lines": block.lines}

    def figure(self, figure: Figure) -> dict[str, Any]:
        width, height = size_of(figure.file)
        wide = min(TEXT_WIDTH * figure.width, figure.height_mm * width / height)
        if figure.file.suffix == ".svg":  # drawings are in mm
            wide = min(wide, width)
        return {
            "file": self.copy(figure.file),
            "alt": figure.alt,
            "caption": figure.caption,
            "wide": wide,
        }

    def copy(self, path: Path) -> str:
        if path not in self.copied:
            name = f"figure-{len(self.copied)}{path.suffix}"
            shutil.copyfile(path, self.folder / name)
            self.copied[path] = name
        return self.copied[path]
