"""Which pictures a report asks for, from where, and what stands at its entries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from mapper.drawing import flatmap, scene
from mapper.drawing.camera import Camera
from mapper.drawing.display import DisplayList
from mapper.drawing.shot import PictureJob
from mapper.report import ahead
from mapper.report.build import report
from mapper.report.lookup import Lookup
from mapper.report.pictures import from_above, is_bent, labels_in_pictures, wanted
from tests.report.books import WHEN, shaped
from tests.report.test_piles import BOOK, go, on_wing


def test_every_panel_with_entries_has_a_picture_those_round_the_nose_too() -> None:
    """The wing's panels run from the lower to the upper trailing edge, round the nose."""
    lookup = Lookup(shaped())
    sheets = [w for w in wanted(lookup) if w.sheet is not None]
    assert {w.sheet.panel for w in sheets if w.sheet} == {"inboard sheet", "outboard sheet"}
    for wish in sheets:
        assert wish.sheet is not None
        assert wish.bent is is_bent(wish.sheet) is True
        assert "runs round an edge" in wish.words
        straight = replace(wish, bent=False)
        assert straight.key(lookup.number, "metric") != wish.key(lookup.number, "metric")


@pytest.mark.parametrize(
    ("towards", "rises"),
    [((-1.0, 0, 0), 1), ((0, 1.0, -0.1), 1), ((0, 0.3, -1.0), -1), ((0, 0, 2.0), 1)],
)
def test_a_bent_panel_is_seen_from_above_and_one_below_from_below(
    towards: tuple[float, float, float], rises: int
) -> None:
    """The writing stays as on the map: up is kept, and the view turns in the plane with it."""
    before = Camera(towards, (0.3, 0.2, 0.1), (1.0, 2.0, 3.0), 500.0)
    after = from_above(before)
    unit = np.asarray(towards) / np.linalg.norm(towards)
    assert np.allclose(np.cross(after.towards - unit, [0, 0, 1]), 0)
    assert np.sign(after.towards[2] - unit[2]) == rises
    assert (after.up, after.look_at, after.across) == (before.up, before.look_at, before.across)


def test_work_over_one_place_is_drawn_once_with_all_its_numbers() -> None:
    entries = (go(1, 60.0), go(2, 10.0), on_wing(3, "finding"))
    lookup = Lookup(replace(BOOK, entries=entries))
    assert labels_in_pictures(lookup) == {"n1": "1, 2", "n2": "2", "n3": "3"}
    (whole,) = (w for w in wanted(lookup) if w.sheet is None)
    assert [e.id for e in whole.entries] == ["n1", "n3"]


@pytest.mark.parametrize("panels", [1, 2])
def test_a_part_of_one_panel_wears_the_map_of_its_page(
    panels: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its picture draws nothing of its own; that of a part of several panels wears all of them."""
    drawn: list[str] = []
    real = flatmap.draw_map

    def counted(*given: Any, **more: Any) -> DisplayList:
        drawn.append("map" if more.get("title") else "worn")
        return real(*given, **more)

    def rendered(jobs: Sequence[PictureJob], *, on_done: Callable[[int, Path], None]) -> None:
        for number, job in enumerate(jobs):
            assert [t.pixels.shape[2] for t in job.parts[0].textures.values()] == [4]
            Image.new("RGB", (40, 30), "white").save(job.out)
            on_done(number, job.out)

    monkeypatch.setattr(flatmap, "draw_map", counted)
    monkeypatch.setattr(scene, "draw_map", counted)
    monkeypatch.setattr(scene, "pictures", rendered)
    monkeypatch.setattr(ahead, "can_split", lambda: False)
    ((digest, geometry),) = BOOK.geometries.items()
    one = replace(geometry, panels=geometry.panels[:panels])
    book = replace(BOOK, geometries={digest: one}, entries=(on_wing(1, "finding"),))
    report(book, tmp_path, now=WHEN, cache=tmp_path / "cache")
    assert ("worn" in drawn) is (panels > 1)
    assert drawn.count("map") == (1 if panels == 1 else 2)
