"""Maps, 3D pictures and photos as files: made once, found again by what they were made from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from mapper.job.book import Book
from mapper.job.entry import Entry
from mapper.job.plain import to_plain
from mapper.report.cache import Cache, key_of

PHOTO_PIXELS = 1100
LARGEST_PHOTO = 120_000_000  # pixels; more is refused before it is unpacked


def entries_key(entries: Iterable[Entry]) -> list[object]:
    """What drawings depend on, of entries: all of it but who changed it when."""
    return [to_plain(e) for e in entries]


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
            key = key_of("photo", known[photo_id].digest, PHOTO_PIXELS)
            files[photo_id] = cache.file(key, ".jpg", lambda out, s=source: shrink(Path(s), out))
        except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
            word = "cannot be read" if isinstance(error, UnidentifiedImageError) else "is missing"
            lost.append(f"Photo {photo_id[:8]} {word}: it is not in this report.")
        step()
    return files, tuple(lost)


def shrink(source: Path, out: Path) -> None:
    """A copy of a photo for print, as JPEG on white; UnidentifiedImageError for what is none."""
    with Image.open(source) as opened:
        if opened.width * opened.height > LARGEST_PHOTO:
            raise UnidentifiedImageError(f"{opened.width} x {opened.height} pixels")
        picture = ImageOps.exif_transpose(opened)
        picture.thumbnail((PHOTO_PIXELS, PHOTO_PIXELS))
        if picture.mode in ("RGBA", "LA", "PA", "P"):
            picture = picture.convert("RGBA")
            white = Image.new("RGBA", picture.size, "white")
            picture = Image.alpha_composite(white, picture)
        picture.convert("RGB").save(out, "JPEG", quality=85, optimize=True)
