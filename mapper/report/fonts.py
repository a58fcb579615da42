"""The one family of letters that goes into a report, and which characters it has.

It is the DejaVu family that comes with matplotlib. Only its files are handed to the typesetter:
the folder they lie in also holds a last-resort font that turns unknown characters into boxes
without a word.
"""

from __future__ import annotations

import shutil
import unicodedata
from functools import cache
from pathlib import Path

import matplotlib
from matplotlib.ft2font import FT2Font

FAMILY = "DejaVu Sans"
FACES = (
    "DejaVuSans.ttf",
    "DejaVuSans-Bold.ttf",
    "DejaVuSans-Oblique.ttf",
    "DejaVuSans-BoldOblique.ttf",
)
# Set upright and bold only; the slanted faces have fewer letters and are used for our own words.
SET_IN = FACES[:2]
# Letters, marks, digits, punctuation, symbols and spaces. Everything else (controls, direction
# marks, joiners, private use, unassigned, surrogates, separators) is shown by number.
SHOWN = ("L", "M", "N", "P", "S", "Zs")
# Fonts disagree about pictographs, and drawings spell them out too.
FIRST_PICTOGRAPH = 0x1F000


def font_files() -> tuple[Path, ...]:
    """The font files, where matplotlib keeps them."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return tuple(folder / name for name in FACES)


def copy_fonts(folder: Path) -> Path:
    """Puts the family alone into `folder` (made when missing) and gives it back."""
    folder.mkdir(parents=True, exist_ok=True)
    for path in font_files():
        shutil.copyfile(path, folder / path.name)
    return folder


@cache
def printable() -> frozenset[str]:
    """The characters that can be printed: in every face that user text is set in, and visible."""
    folder = font_files()[0].parent
    maps = [set(FT2Font(str(folder / name)).get_charmap()) for name in SET_IN]
    points = {p for p in set.intersection(*maps) if p < FIRST_PICTOGRAPH}
    return frozenset(chr(p) for p in points if unicodedata.category(chr(p)).startswith(SHOWN))
