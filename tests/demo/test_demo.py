"""The invented restoration: whole, the same on every run, and sound by the store's own check."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from demo.build import build_shop
from demo.cast import JOB, PARTS_MADE
from demo.story.story import ROWS
from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.kinds import KINDS
from mapper.store.shop import open_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "shop"
    build_shop(folder)
    return folder


@pytest.fixture(scope="module")
def book(shop: Path) -> Book:
    with open_shop(shop) as store:
        return store.book(JOB.id)


def test_the_story_is_long_and_of_every_kind(book: Book) -> None:
    assert len(book.entries) == len(ROWS) >= 80
    assert {entry.kind for entry in book.entries} == set(KINDS)
    times = [row.when for row in ROWS]
    assert max(times) - min(times) >= timedelta(days=365)
    assert len({row.when.date().replace(day=1) for row in ROWS}) >= 9
    assert {made.key for made in PARTS_MADE} == {row.part for row in ROWS}


def test_the_left_wing_is_the_right_one_mirrored(book: Book) -> None:
    right, left = (book.geometries[book.parts[i].geometry] for i in _wings(book))
    assert left.mirrored and not right.mirrored
    areas = [float(g.skins[0].patch_area.sum()) for g in (right, left)]
    assert areas[0] == pytest.approx(areas[1], rel=1e-12)


def _wings(book: Book) -> tuple[int, int]:
    names = [part.name for part in book.parts]
    return names.index("right outer wing"), names.index("left outer wing")


def test_every_outline_lies_on_sheets_of_the_day(book: Book) -> None:
    for entry in book.entries:
        if entry.outline is not None and entry.outline.region == "area":
            pieces = sum(piece.area for piece in entry.pieces)
            assert pieces == pytest.approx(entry.outline.drawn_area, rel=1e-5, abs=1.0)


def test_it_is_sound_and_the_same_every_time(shop: Path, tmp_path: Path) -> None:
    build_shop(tmp_path / "again")
    with open_shop(shop) as one, open_shop(tmp_path / "again") as two:
        assert one.verify().sound
        assert one.head() == two.head()


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", "utf-8")
    with pytest.raises(MapperError, match="holds something"):
        build_shop(tmp_path)
    assert (tmp_path / "mine.txt").read_text("utf-8") == "mine"
