"""Maps, 3D pictures and photos as files: made once, found again by what they were made from."""

from __future__ import annotations

import hashlib
import json
import warnings
from collections.abc import Callable, Iterable, Mapping
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, ImageOps, UnidentifiedImageError
from shapely import box, to_wkb

from mapper.drawing.display import DisplayList, Stroke
from mapper.job.book import Book
from mapper.job.entry import Entry, Outline
from mapper.job.plain import to_plain
from mapper.late import Late
from mapper.report.cache import Cache, key_of
from mapper.report.lookup import Sheet
from mapper.report.piles import Pile, labels_of, piles_on

# Drawing brings matplotlib, which most reports of a job already drawn do without.
if TYPE_CHECKING:
    from mapper.drawing import flatmap, svg
else:
    flatmap, svg = Late("mapper.drawing.flatmap"), Late("mapper.drawing.svg")

TEXT_WIDTH = 174.0  # mm on paper
MAP_HEIGHT = 56.0  # mm on paper of a panel, its furniture not counted
WHOLE_HEIGHT = 80.0
NOT_COUNTED = ("note", "photos", "version", "server_time")
LEGEND = "legend"  # the layer of a drawing that holds its legend
TALL = (100.0, 125.0)  # width of the map and height of its sheet, where that is taller than wide
MARGIN = 0.07  # of a panel's longer side, round it, where its map shows its neighbours
PHOTO_PIXELS = 1100
LARGEST_PHOTO = 120_000_000  # pixels; more is refused before it is unpacked


@dataclass(frozen=True)
class Drawn:
    """A drawing in a file, and what it shows in words."""

    file: Path
    words: str


def numbers_key(entries: Iterable[Entry]) -> list[str]:
    """What numbers and drawings depend on, of entries: all but free words, photos and versions."""
    return [_digest(e, counted=True) for e in entries]


@lru_cache(maxsize=4096)
def _digest(entry: Entry, counted: bool = False) -> str:
    # An entry stands in the keys of many drawings; it is frozen, and known by its identity.
    bare = copy(entry)
    for name, nothing in (("outline", None), ("pieces", ())):
        object.__setattr__(bare, name, nothing)
    plain = to_plain(bare)
    if counted:
        plain = {name: value for name, value in plain.items() if name not in NOT_COUNTED}
    text = json.dumps(plain, sort_keys=True, default=str)
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass"))
    # Shapes go in as bytes: written out they would take ten times as long as all the rest.
    for one in (*((entry.outline,) if entry.outline is not None else ()), *entry.pieces):
        size = one.drawn_area if isinstance(one, Outline) else one.area
        item = "" if isinstance(one, Outline) else one.item_id
        digest.update(json.dumps([one.skin, one.face, size, item]).encode() + b"\0")
        digest.update(to_wkb(one.shape, output_dimension=2, byte_order=1))
        if isinstance(one, Outline) and one.anchors is not None:
            digest.update(one.anchors.astype("<f8").tobytes())
    return digest.hexdigest()


def photo_files(
    book: Book, wanted: Iterable[str], cache: Cache, step: Callable[[], None]
) -> tuple[Mapping[str, Path], tuple[str, ...]]:
    """Photos ready to print (photo id -> JPEG), and a sentence for each that could not be read.

    Turned upright, at most PHOTO_PIXELS a side, without the camera's own remarks (place, owner).
    step is called after each.
    """
    known = {photo.id: photo for photo in book.photos}
    files: dict[str, Path] = {}
    lost = []
    for photo_id in dict.fromkeys(wanted):
        source = book.photo_files.get(photo_id)
        try:
            if source is None or photo_id not in known:
                raise FileNotFoundError(photo_id)
            if not _is_as_taken_in(Path(source), known[photo_id].digest):
                lost.append(
                    f"Photo {photo_id[:8]} is damaged: its file is not the one that was recorded, "
                    "and it is not in this report."
                )
                continue
            key = key_of("photo", known[photo_id].digest, PHOTO_PIXELS)
            files[photo_id] = cache.file(key, ".jpg", lambda out, s=source: shrink(Path(s), out))
        except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
            word = "cannot be read" if isinstance(error, UnidentifiedImageError) else "is missing"
            lost.append(f"Photo {photo_id[:8]} {word}: it is not in this report.")
        finally:
            step()
    return files, tuple(lost)


def _is_as_taken_in(source: Path, digest: str) -> bool:
    """Whether the file is the one of that SHA-256: another picture would be false evidence."""
    if not source.is_file():
        raise FileNotFoundError(source)  # missing; or a pipe, which would be waited at for ever
    return hashlib.sha256(source.read_bytes()).hexdigest() == digest


def shrink(source: Path, out: Path) -> None:
    """A copy of a photo for print, as JPEG on white; UnidentifiedImageError for what is none."""
    with warnings.catch_warnings():
        # Our own limit follows; the library's warning at half of its own is for nobody here.
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        opened = Image.open(source)
    with opened:
        if opened.width * opened.height > LARGEST_PHOTO:
            raise UnidentifiedImageError(f"{opened.width} x {opened.height} pixels")
        picture = ImageOps.exif_transpose(opened)
        picture.thumbnail((PHOTO_PIXELS, PHOTO_PIXELS))
        if picture.mode in ("RGBA", "LA", "PA", "P"):
            picture = picture.convert("RGBA")
            white = Image.new("RGBA", picture.size, "white")
            picture = Image.alpha_composite(white, picture)
        picture.convert("RGB").save(out, "JPEG", quality=85, optimize=True)


def near(sheet: Sheet, entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """The entries that a map of that panel may show: on it, or in the margin round it."""
    mine = [e for e in entries if e.outline is not None and _on_face(sheet, e.outline)]
    if sheet.region.is_empty:
        return tuple(mine)
    x0, y0, x1, y1 = sheet.region.bounds
    edge = MARGIN * max(x1 - x0, y1 - y0)
    window = box(x0 - edge, y0 - edge, x1 + edge, y1 + edge)
    return tuple(e for e in mine if e.outline is not None and window.intersects(e.outline.shape))


def _on_face(sheet: Sheet, outline: Outline) -> bool:
    return outline.skin == sheet.skin.name and outline.face == sheet.face


def is_tall(sheet: Sheet) -> bool:
    """Whether a panel is clearly higher than wide on its flat map."""
    region = sheet.region.bounds if not sheet.region.is_empty else _extent(sheet)
    x0, y0, x1, y1 = region
    return y1 - y0 > 0.9 * (x1 - x0)


def _extent(sheet: Sheet) -> tuple[float, float, float, float]:
    low, high = sheet.skin.flat.min(axis=0), sheet.skin.flat.max(axis=0)
    return (*low.tolist(), *high.tolist())


def without_legend(drawing: DisplayList) -> DisplayList:
    """A map cut off above its legend; the same map where it has none."""
    tops = [
        drawing.view.turn(item.points)[:, 1].max()
        for item in drawing.items
        if isinstance(item, Stroke) and item.layer == LEGEND
    ]
    if not tops:
        return drawing
    x0, y0, x1, y1 = drawing.bounds
    edge = drawing.view.y * float(max(tops))  # the same call turns back
    cut = (x0, edge, x1, y1) if drawing.view.y > 0 else (x0, y0, x1, edge)
    items = tuple(item for item in drawing.items if item.layer != LEGEND)
    return replace(drawing, items=items, bounds=cut, legend=())


@dataclass(frozen=True, eq=False)
class MapWish:
    """The flat map of one panel on one face, asked for and perhaps not drawn yet.

    legend: False leaves the legend out, for a panel whose part has a whole map with one.
    numbered: the entries that get their number, None for all; those of the panels beside it are
    drawn and not named.
    """

    sheet: Sheet
    entries: tuple[Entry, ...]
    numbers: Mapping[str, str]
    units: str
    legend: bool = True
    numbered: tuple[Entry, ...] | None = None

    @cached_property
    def labels(self) -> dict[str, str]:
        """The text at each outline that has one, by the id of its first entry."""
        named = {e.id for e in (self.entries if self.numbered is None else self.numbered)}
        return labels_of(self._piles, {i: n for i, n in self.numbers.items() if i in named})

    @cached_property
    def _piles(self) -> tuple[Pile, ...]:
        return piles_on(self.sheet, near(self.sheet, self.entries))

    @cached_property
    def key(self) -> str:
        """What it is found again by: all that it shows."""
        sheet = self.sheet
        return key_of(
            "map", sheet.part.geometry, sheet.part.name, sheet.skin.name, sheet.title, sheet.face,
            self.units, self.legend, self.labels, numbers_key(pile[0] for pile in self._piles),
        )  # fmt: skip

    @cached_property
    def drawing(self) -> DisplayList:
        """What is drawn, kept until the wish goes."""
        sheet = self.sheet
        whole = sheet.region.is_empty
        high = WHOLE_HEIGHT if whole else MAP_HEIGHT
        width, height = TALL if is_tall(sheet) else (TEXT_WIDTH, high)
        drawn = flatmap.draw_map(
            sheet.geometry,
            sheet.skin.name,
            sheet.face,
            tuple(pile[0] for pile in self._piles),
            units=self.units,
            title=f"{sheet.part.name}: {sheet.title}",
            width=width,
            height=height,
            numbers=self.labels,
            region=None if whole else sheet.region,
            counts={pile[0].id: len(pile) for pile in self._piles},
        )
        return drawn if self.legend else without_legend(drawn)

    def is_kept(self, cache: Cache) -> bool:
        """Whether it is drawn already."""
        return cache.has(self.key, ".svg") and cache.has(self.key, ".json")

    def drawn(self, cache: Cache) -> Drawn:
        """The map as a file, with its description in words."""
        file = cache.file(
            self.key, ".svg", lambda out: out.write_text(svg.to_svg(self.drawing), "utf-8")
        )
        return Drawn(file, cache.value(self.key, lambda: self.drawing.description))


def map_of(
    sheet: Sheet,
    entries: Iterable[Entry],
    numbers: Mapping[str, str],
    units: str,
    cache: Cache,
    legend: bool = True,
    numbered: Iterable[Entry] | None = None,
) -> Drawn:
    """The flat map of one panel on one face; see MapWish."""
    named = None if numbered is None else tuple(numbered)
    return MapWish(sheet, tuple(entries), numbers, units, legend, named).drawn(cache)
