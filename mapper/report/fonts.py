"""The one family of letters that goes into a report, and which characters it has.

It is the DejaVu family that comes with matplotlib. Only its files are handed to the typesetter:
the folder they lie in also holds a last-resort font that turns unknown characters into boxes
without a word.
"""

from __future__ import annotations

import shutil
import unicodedata
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from struct import unpack_from

from mapper.errors import MapperError

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
    found = find_spec("matplotlib")  # where it lies; loading it would take a third of a second
    if found is None or found.origin is None:
        raise MapperError(
            "The letters of a report cannot be found.",
            "They come with matplotlib.",
            "Install the program again with all that it needs.",
        )
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    return tuple(folder / name for name in FACES)


def copy_fonts(folder: Path) -> Path:
    """Puts the family alone into `folder` (made when missing) and gives it back."""
    folder.mkdir(parents=True, exist_ok=True)
    for path in font_files():
        shutil.copyfile(path, folder / path.name)
    return folder


def characters(font: bytes) -> frozenset[int]:
    """The code points a TrueType font has letters for: its "cmap" table, format 12 (platform 3,
    encoding 10), as the OpenType specification lays it out; none where it has no such table."""
    tables = (
        unpack_from(">4s4xII", font, 12 + 16 * i) for i in range(unpack_from(">H", font, 4)[0])
    )
    start = next((at for tag, at, _ in tables if tag == b"cmap"), None)
    if start is None:
        return frozenset()
    records = (
        unpack_from(">HHI", font, start + 4 + 8 * i)
        for i in range(unpack_from(">H", font, start + 2)[0])
    )
    found: set[int] = set()
    for platform, encoding, offset in records:
        at = start + offset
        if (platform, encoding) == (3, 10) and unpack_from(">H", font, at)[0] == 12:
            for i in range(unpack_from(">I", font, at + 12)[0]):
                first, last, glyph = unpack_from(">III", font, at + 16 + 12 * i)
                # Glyph 0 is the box for what is missing.
                found.update(range(first + (glyph == 0), last + 1))
    return frozenset(found)


@cache
def printable() -> frozenset[str]:
    """The characters that can be printed: in every face that user text is set in, and visible."""
    folder = font_files()[0].parent
    maps = [characters((folder / name).read_bytes()) for name in SET_IN]
    points = {p for p in frozenset.intersection(*maps) if p < FIRST_PICTOGRAPH}
    return frozenset(chr(p) for p in points if unicodedata.category(chr(p)).startswith(SHOWN))
