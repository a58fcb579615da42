"""After a change only what shows it is drawn again: counted, not timed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from shapely import affinity

from mapper.drawing.camera import Camera, in_sight
from mapper.drawing.mesh import placed
from mapper.drawing.shot import PictureJob
from mapper.estimate.estimate import estimate
from mapper.job.book import Book
from mapper.job.outlines import outline_of
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read
from mapper.report import ahead
from mapper.report.build import report
from mapper.report.cache import Cache
from mapper.report.lookup import Lookup
from mapper.report.pictures import SHEET_SIZE, wanted
from mapper.report.worth import _lines, worth_of
from mapper.surface.place import flat_of, normal_of, space_of
from mapper.surface.region import disc
from mapper.units import Units
from tests.report import books
from tests.report.books import WHEN, shaped


class Drawer:
    """Stands for the renderer: keeps what was asked of it, gives blank pictures."""

    def __init__(self) -> None:
        self.jobs: list[PictureJob] = []

    def __call__(
        self, jobs: Sequence[PictureJob], *, on_done: Callable[[int, Path], None]
    ) -> tuple[Path, ...]:
        for number, job in enumerate(jobs):
            self.jobs.append(job)
            Image.new("RGB", (40, 30), "white").save(job.out)
            on_done(number, job.out)
        return tuple(job.out for job in jobs)


@pytest.fixture
def drawer(monkeypatch: pytest.MonkeyPatch) -> Drawer:
    """The renderer's stand-in, and no helper, so that all is done where it is counted."""
    made = Drawer()
    monkeypatch.setattr("mapper.drawing.scene.pictures", made)
    monkeypatch.setattr(ahead, "can_split", lambda: False)
    return made


def files(folder: Path, suffix: str) -> set[str]:
    return {p.name for p in folder.iterdir() if p.suffix == suffix}


def write(book: Book, folder: Path) -> tuple[set[str], set[str], set[str]]:
    """A report with its cache; the maps, pictures and values that were made for it."""
    cache = folder / "cache"
    cache.mkdir(exist_ok=True)
    before = [files(cache, suffix) for suffix in (".svg", ".jpg", ".json")]
    report(book, folder / "out", now=WHEN, cache=cache)
    maps, pictures, values = (
        files(cache, suffix) - old for suffix, old in zip((".svg", ".jpg", ".json"), before)
    )
    return maps, pictures, values


def changed(book: Book, entry_id: str, **more: object) -> Book:
    return replace(
        book, entries=tuple(replace(e, **more) if e.id == entry_id else e for e in book.entries)
    )


def moved(book: Book, entry_id: str, aft: float) -> Book:
    """The outline of an entry that far aft, as drawing it again would leave it."""
    entry = book.entry(entry_id)
    assert entry.outline is not None
    geometry = book.geometry_of(entry.part_id)
    assert geometry is not None
    shape = affinity.translate(entry.outline.shape, aft, 0.0)
    outline = outline_of(geometry, entry.outline.skin, entry.outline.face, shape)
    pieces = tuple(replace(p, shape=affinity.translate(p.shape, aft, 0.0)) for p in entry.pieces)
    return changed(book, entry_id, outline=outline, pieces=pieces)


def test_a_changed_note_draws_nothing_again(tmp_path: Path, drawer: Drawer) -> None:
    book = shaped()
    first = write(book, tmp_path)
    assert len(first[0]) == 3 and len(drawer.jobs) == len(first[1]) == 3
    drawer.jobs.clear()
    after = write(changed(book, "w4", note="Looked at again."), tmp_path)
    assert after == (set(), set(), set())
    assert drawer.jobs == []
    assert "Looked at again." in next((tmp_path / "out").glob("*.html")).read_text("utf-8")


@pytest.fixture
def long_wing(monkeypatch: pytest.MonkeyPatch) -> Book:
    """A wing of 16 m with its seam in the middle, and a finding at 12 m besides those at .6 m."""
    text = books.WING.replace("station = 1800", "station = 16000")
    text = text.replace("station = 900", "station = 8000").replace(
        "station = 1400", "station = 12000"
    )
    monkeypatch.setattr(books, "wing", lambda: build(read(text), triangles=3000))
    book = shaped()
    near = book.entry("w4")
    assert near.outline is not None
    geometry = book.geometry_of("wing")
    assert geometry is not None
    skin = geometry.skin(near.outline.skin)
    spot = disc(skin, flat_of(skin, [12000.0], [30.0], [True])[0], 40.0)
    outline = outline_of(geometry, skin.name, near.outline.face, spot)
    return replace(
        book, entries=(*book.entries, replace(near, id="w6", outline=outline, pieces=()))
    )


@pytest.mark.parametrize(("entry_id", "panel"), [("w4", "inboard sheet"), ("w6", "outboard sheet")])
def test_a_moved_outline_draws_only_what_shows_it(
    tmp_path: Path, drawer: Drawer, long_wing: Book, entry_id: str, panel: str
) -> None:
    """The part's picture and its panel's, the map of the skin and its panel's, and the map of where
    findings lie close, which rests on all of them."""
    write(long_wing, tmp_path)
    assert len(drawer.jobs) == 3
    drawer.jobs.clear()
    maps, pictures, _ = write(moved(long_wing, entry_id, 20.0), tmp_path)
    wishes = wanted(Lookup(long_wing))
    showing = [w for w in wishes if any(e.id == entry_id for e in w.seen())]
    assert [w.sheet.panel if w.sheet else "" for w in showing] == ["", panel]
    assert [job.camera for job in drawer.jobs] == [w.camera for w in showing]
    assert len(pictures) == 2
    assert len(maps) <= 3


def test_a_change_on_one_part_leaves_the_numbers_of_others(tmp_path: Path, drawer: Drawer) -> None:
    """The bellcrank has no shape; its entry changes in what counts."""
    book = shaped()
    write(book, tmp_path)
    drawer.jobs.clear()
    entry = next(e for e in book.entries if e.part_id == "part")
    after = replace(entry, values={**entry.values, "what": "dent"})
    maps, pictures, values = write(changed(book, entry.id, **vars_of(after)), tmp_path)
    assert (maps, pictures, drawer.jobs) == (set(), set(), [])
    # The estimate of that part, and the sums of the job.
    assert len(values) == 2


def vars_of(entry: object) -> dict[str, object]:
    return {"values": entry.values}  # type: ignore[attr-defined]


def test_the_kept_parts_add_up_to_the_estimate_of_the_job(tmp_path: Path) -> None:
    """To the last digit what the command line prints, from the cache too."""
    book, units, cache = shaped(), Units("metric"), Cache(tmp_path)
    whole, left = estimate(book), estimate(book, scope="remaining")
    for _ in range(2):
        found = worth_of(book, units, cache).data
        assert found["lines"] == _lines(whole.lines, left.lines, units)
        assert found["basis"] == list(whole.basis)
        assert found["cautions"] == [[c.text, c.source] for c in whole.cautions]
        assert list(found["parts"]) == [p.part_id for p in whole.parts]
        for path in tmp_path.iterdir():  # the job's sums again, from what is kept of its parts
            if '"how"' in path.read_text("utf-8"):
                path.unlink()


def test_what_is_in_a_picture_is_in_sight(long_wing: Book) -> None:
    """Points of the skin put through the camera by hand, against the boxes."""
    for wish in wanted(Lookup(long_wing)):
        if wish.sheet is None:
            continue
        camera, geometry = wish.camera, wish.geometry
        assert isinstance(camera, Camera) and camera.look_at and camera.across
        skin = geometry.skins[0]
        boxes = np.array(in_sight(geometry, skin, camera, SHEET_SIZE))
        flat = skin.flat[skin.triangles].mean(axis=1)
        right, up, back = camera.axes()
        points = placed(geometry, space_of(skin, flat)) - np.asarray(camera.look_at)
        turned = normal_of(skin, flat) @ geometry.placement.rotation.T @ back > 0.05
        wide = camera.across / 2  # less than what is shown, on which the part itself stands
        shown = (np.abs(points @ right) < wide) & (np.abs(points @ up) < 0.6 * wide) & turned
        inside = (
            (flat[:, None] >= boxes[None, :, :2]) & (flat[:, None] <= boxes[None, :, 2:])
        ).all(axis=2)
        assert shown.any() and inside.any(axis=1)[shown].all()
        # And it is no more than some neighbours: far along the wing nothing is in sight.
        assert not inside.any(axis=1).all()
