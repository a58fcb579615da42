"""`python -m demo.pictures`: the pictures of README, made by the program from the demo's shop."""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

from demo.airframe import PARTS_MADE
from demo.cast import JOB, made_id
from mapper.drawing.contact import sheet
from mapper.drawing.flatmap import draw_map
from mapper.drawing.raster import to_pixels
from mapper.drawing.scene import dress, pictures
from mapper.drawing.shot import PictureJob
from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.store.shop import open_shop

HERE = Path(__file__).parent / "pictures"
PAGES = {"report_page": "right outer wing: upper, inboard"}


def main() -> int:
    """Write the pictures into demo/pictures; exit code 2 with a word where one cannot be made."""
    parser = argparse.ArgumentParser(prog="demo.pictures", description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("demo/out"), help="where the demo went")
    asked = parser.parse_args()
    HERE.mkdir(exist_ok=True)
    try:
        with open_shop(asked.out / "shop") as store:
            book = store.book(JOB.id)
        _map(book)
        _parts(book)
        _page(asked.out / "report")
    except MapperError as error:
        print(f"demo.pictures: {error}", file=sys.stderr)
        return 2
    for path in sorted(HERE.glob("*.png")):
        print(f"{path.stat().st_size // 1024:5d} KiB  {path}")
    return 0


def _map(book: Book) -> None:
    """The flat map of the right wing's outer face."""
    part = book.part(made_id("part", "RW-00"))
    geometry, skin = book.geometries[part.geometry], book.geometries[part.geometry].skins[0]
    drawn = draw_map(
        geometry,
        skin.name,
        skin.face_names[0],
        book.entries_of(part.id),
        title=part.name,
        width=260,
        height=180,
    )
    _save(Image.fromarray(to_pixels(drawn, width=1500)), HERE / "flat_map.png")


def _parts(book: Book) -> None:
    """The right wing by itself, and a sheet of all parts."""
    with tempfile.TemporaryDirectory(prefix="demo-pictures-") as work:
        jobs: list[PictureJob] = []
        captions: list[str] = []
        for made_part in PARTS_MADE:
            part = book.part(made_id("part", made_part.code))
            dressed = dress(book.geometries[part.geometry], book.entries_of(part.id))
            size = (1500, 900) if made_part.code == "RW-00" else (640, 440)
            jobs.append(PictureJob([dressed], Path(work) / f"{len(jobs)}.png", size=size))
            captions.append(f"{part.code}  {part.name}")
        made = pictures(jobs)
        _save(Image.open(made[_number("RW-00")]), HERE / "right_wing.png")
        together = sheet(made, captions, Path(work) / "sheet.png", columns=6, width=1800, text=19)
        _save(Image.open(together), HERE / "all_parts.png")


def _number(code: str) -> int:
    return [made.code for made in PARTS_MADE].index(code)


def _page(report: Path) -> None:
    """One page of the report as an image, where Poppler's pdftoppm is installed."""
    found = sorted(report.glob("*.pdf"))
    if not found or not shutil.which("pdftoppm") or not shutil.which("pdftotext"):
        print("report_page.png left out: it needs the report and Poppler's tools", file=sys.stderr)
        return
    text = subprocess.run(
        ["pdftotext", "-layout", str(found[0]), "-"], capture_output=True, check=True
    ).stdout.decode("utf-8", "replace")
    for name, words in PAGES.items():
        numbers = [i for i, page in enumerate(text.split("\f"), 1) if words in page]
        if not numbers:
            print(f"{name}.png left out: no page says {words!r}", file=sys.stderr)
            continue
        subprocess.run(
            [
                "pdftoppm",
                "-r",
                "100",
                "-png",
                "-singlefile",
                "-f",
                str(numbers[0]),
                "-l",
                str(numbers[0]),
                str(found[0]),
                str(HERE / name),
            ],
            check=True,
        )
        _save(Image.open(HERE / f"{name}.png"), HERE / f"{name}.png")


def _save(picture: Image.Image, path: Path) -> None:
    """As a palette of 128 colours: a few hundred kilobytes at most, enough for a page."""
    picture.convert("RGB").quantize(128, dither=Image.Dither.NONE).save(path, optimize=True)


if __name__ == "__main__":
    sys.exit(main())
