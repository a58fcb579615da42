"""Several pictures on one sheet with a caption under each."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from mapper.drawing.text import font_file, wrap
from mapper.errors import MapperError

EDGE = 24
INK, PAPER = "#111111", "#ffffff"


def sheet(
    pictures: Sequence[Path],
    captions: Sequence[str],
    out: Path,
    *,
    columns: int = 2,
    width: int = 1600,
    text: int = 26,
) -> Path:
    """Lay pictures out in rows with captions below, and write one PNG `width` pixels wide.

    Each keeps its proportions; rows are as high as their highest picture. text: height of the
    captions' letters in pixels. MapperError where there are no pictures, or not one caption each.
    """
    if not pictures or len(pictures) != len(captions):
        raise MapperError(
            f"{len(pictures)} pictures and {len(captions)} captions.",
            "At least one picture, and one caption each.",
        )
    columns = max(1, min(columns, len(pictures)))
    cell = (width - EDGE * (columns + 1)) // columns
    if cell < 60:
        raise MapperError(
            f"{columns} columns on {width} pixels.", "Each column needs 60 pixels or more."
        )
    font = ImageFont.truetype(str(font_file()), text)
    images = []
    for path in pictures:
        with Image.open(path) as image:
            high = max(1, round(image.height * cell / image.width))
            images.append(image.convert("RGB").resize((cell, high), Image.Resampling.LANCZOS))
    lines = [wrap(caption, text, cell) for caption in captions]
    step = round(text * 1.35)
    rows = range(0, len(images), columns)
    heights = [
        max(image.height for image in images[i : i + columns])
        + step * max(len(words) for words in lines[i : i + columns])
        for i in rows
    ]
    whole = Image.new("RGB", (width, sum(heights) + EDGE * (2 * len(heights) + 1)), PAPER)
    draw = ImageDraw.Draw(whole)
    y = EDGE
    for i, height in zip(rows, heights, strict=True):
        tallest = max(image.height for image in images[i : i + columns])
        for k, image in enumerate(images[i : i + columns]):
            x = EDGE + k * (cell + EDGE)
            whole.paste(image, (x, y + (tallest - image.height) // 2))
            for n, line in enumerate(lines[i + k]):
                draw.text((x, y + tallest + EDGE // 3 + n * step), line, fill=INK, font=font)
        y += height + 2 * EDGE
    out.parent.mkdir(parents=True, exist_ok=True)
    whole.save(out)
    return out
