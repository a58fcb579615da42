"""Text for drawings: hostile characters made visible, widths and outlines of one packaged font.

Only matplotlib's packaged DejaVu Sans is used, so that a drawing looks the same on every machine
and a character the font does not have never becomes a silent box.
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.font_manager import FontProperties
from matplotlib.ft2font import FT2Font
from matplotlib.path import Path as MplPath
from matplotlib.textpath import TextToPath
from numpy.typing import NDArray

from mapper.drawing.style import style

# Pictographs start here; fonts differ over them, so they are spelled out even where DejaVu has one.
FIRST_PICTOGRAPH = 0x1F000


def font_file(bold: bool = False) -> Path:
    """The packaged font file."""
    name = style().bold if bold else style().regular
    return Path(matplotlib.get_data_path(), "fonts", "ttf", name)


@cache
def _font(bold: bool) -> FT2Font:
    return FT2Font(str(font_file(bold)))


@cache
def _properties(bold: bool) -> FontProperties:
    return FontProperties(fname=str(font_file(bold)))


@cache
def _known() -> frozenset[int]:
    return frozenset(_font(False).get_charmap()) & frozenset(_font(True).get_charmap())


@lru_cache(maxsize=4096)
def visible(text: str) -> str:
    """The text with every character that cannot be drawn replaced by a visible [U+XXXX].

    White space becomes a plain space; control and format characters, pictographs, lone surrogates
    and characters the font does not have are spelled out. Empty text stays empty.
    """
    out = []
    for char in unicodedata.normalize("NFC", text):
        code = ord(char)
        if char.isspace():
            out.append(" ")
        elif unicodedata.category(char)[0] == "C" or code >= FIRST_PICTOGRAPH:
            out.append(f"[U+{code:04X}]")
        elif code in _known():
            out.append(char)
        else:
            out.append(f"[U+{code:04X}]")
    return "".join(out)


_TO_PATH = TextToPath()
# The glyph outlines are made at this size and scaled: the font's own units, so nothing is rounded.
_EM = 100.0


@lru_cache(maxsize=4096)
def _outline(text: str, bold: bool) -> tuple[NDArray[np.float64], NDArray[np.uint8], float]:
    if not text.strip():
        return np.zeros((0, 2)), np.zeros(0, dtype=np.uint8), _width(text, bold)
    vertices, codes = _TO_PATH.get_text_path(_properties(bold), text, ismath=False)
    size = _TO_PATH.FONT_SCALE
    return np.asarray(vertices) / size, np.asarray(codes, dtype=np.uint8), _width(text, bold)


@lru_cache(maxsize=4096)
def _width(text: str, bold: bool) -> float:
    if not text:
        return 0.0
    width, _, _ = _TO_PATH.get_text_width_height_descent(text, _properties(bold), False)
    return float(width) / _properties(bold).get_size_in_points()


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Advance width of cleaned text at a font size, in the size's unit; 0 for empty text."""
    return _width(visible(text), bold) * size


# Half the height of capitals over the font size (DejaVu Sans: 0.729 em); centres text in height.
HALF_CAP = 0.3645


def outline_of(text: str, size: float, *, anchor: str = "middle", bold: bool = False) -> MplPath:
    """Glyph outlines of cleaned text about its anchor at (0, 0), y up; an empty path for none."""
    vertices, codes, width = _outline(visible(text), bold)
    shift = {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    if not len(vertices):
        return MplPath(np.zeros((0, 2)))
    return MplPath((vertices - [shift, HALF_CAP]) * size, codes)


def fit(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """The text, cut and ended by an ellipsis where it is wider than `width`; "" if nothing fits."""
    text = visible(text)
    if width_of(text, size, bold=bold) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(text[:middle].rstrip() + "…", size, bold=bold) <= width:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…" if low else ""


def wrap(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """The text broken at spaces into lines no wider than `width`; one word too long is cut."""
    lines: list[str] = []
    for word in visible(text).split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(joined, size, bold=bold) <= width:
            lines[-1] = joined
        else:
            lines.append(fit(word, size, width, bold=bold))
    return lines
