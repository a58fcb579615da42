"""The smoothed map as drawn: readable without colour, nothing shown where nobody looked."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, box

from mapper.corrosion.bands import MOST
from mapper.corrosion.mapwords import UNSEEN
from mapper.corrosion.smoothed import smoothed_findings
from mapper.drawing.display import Dot, Fill, Hatch
from mapper.drawing.smoothed import draw_smoothed, dress_smoothed
from mapper.drawing.style import style
from mapper.drawing.svg import to_svg
from mapper.errors import MapperError
from tests.estimate.books import DIGEST, Writer, book_of, plate_geometry


@pytest.fixture(scope="module")
def made():
    """A geometry and the map of its outer face: a cluster, lone findings, a part not looked at."""
    rng = np.random.default_rng(0)
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 1700, 1000), technique="eye")
    for x, y in np.clip(rng.normal((300, 300), 100, (40, 2)), 5, 990):
        w.points("finding", "outer", [(x, y)], what="corrosion")
    w.points("finding", "outer", [(1400, 800)], what="dent")
    book = book_of(w.made)
    return book.geometries[DIGEST], smoothed_findings(book, "p1", "plate", "outer")


def test_steps_differ_without_colour():
    """Each step above the lowest has a hatch, and from step to step more ink lies on the paper."""
    ink = []
    for rank in range(MOST):
        families = style().token(f"rate-{rank}").hatch
        assert all(family.angle % 90 == 45 for family in families)
        ink.append(sum(family.width / family.gap for family in families))
    assert ink[0] == 0.0
    assert np.all(np.diff(ink) > 0.02)
    unseen = style().token("not looked at").hatch
    assert not any(style().token(f"rate-{rank}").hatch == unseen for rank in range(MOST))


def test_fills_are_the_steps_and_nothing_covers_what_nobody_saw(made):
    geometry, smoothed = made
    drawing = draw_smoothed(geometry, smoothed)
    fills = {}
    for item in drawing.items:
        if isinstance(item, Fill) and item.layer in ("regions", "unseen"):
            fills.setdefault(item.style, []).append(item.shape)
    assert len(smoothed.bands) >= 3
    assert set(fills) == {"not looked at", *(f"rate-{b.rank}" for b in smoothed.bands)}
    united = {name: shapely.union_all(shapes) for name, shapes in fills.items()}
    for band in smoothed.bands:
        assert united[f"rate-{band.rank}"].area == pytest.approx(band.region.area, rel=1e-6)
    blank = box(1701, 1, 1999, 999)
    assert united["not looked at"].covers(blank)
    steps = shapely.union_all([u for name, u in united.items() if name != "not looked at"])
    assert not steps.intersects(blank)
    hatched = {item.style for item in drawing.items if isinstance(item, Hatch)}
    assert {f"rate-{b.rank}" for b in smoothed.bands[1:]} <= hatched
    dots = [item for item in drawing.items if isinstance(item, Dot) and item.layer == "points"]
    assert len(dots) == smoothed.findings == 41


def test_legend_and_words(made):
    geometry, smoothed = made
    drawing = draw_smoothed(geometry, smoothed, title="left wing")
    rows = [row.text for row in drawing.legend]
    assert rows[0].startswith("below ") and rows[0].endswith("/m²")
    assert UNSEEN in rows and "finding" in rows
    for words in ("left wing", "spread over 150 mm", "In the mean 24.3 /m²", "15 % of the flat"):
        assert words in drawing.description, words
    svg = to_svg(drawing)
    assert svg.startswith(("<svg", "<?xml"))
    inch = draw_smoothed(geometry, smoothed, units="inch")
    assert "5.91 in" in inch.description and "/ft²" in inch.legend[0].text


def test_a_panel_alone_and_a_face_nobody_saw(made):
    geometry, smoothed = made
    part = draw_smoothed(geometry, smoothed, region=MultiPolygon([box(1200, 0, 2000, 1000)]))
    assert part.sheet_bounds[0] > 1100
    assert sum(isinstance(i, Dot) and i.layer == "points" for i in part.items) == 1
    book = book_of(())
    bare = smoothed_findings(book, "p1", "plate", "outer")
    drawing = draw_smoothed(book.geometries[DIGEST], bare)
    assert "Nobody has looked at it. Not looked at: 100 %" in drawing.description
    assert not any(item.style.startswith("rate") for item in drawing.items)


def test_a_picture_wears_it(made):
    """The texture of the face has the step's colour at the cluster and none where nobody looked."""
    geometry, smoothed = made
    part = dress_smoothed(geometry, [smoothed], side=800)
    assert set(part.textures) == {("plate", "outer")}
    texture = part.textures["plate", "outer"]
    at = texture.coordinates(np.array([[1500.0, 500.0], [1850.0, 500.0], [380.0, 520.0]]))
    high, wide = texture.pixels.shape[:2]

    def colour(x, y):
        row, column = int((1 - y) * high), int(x * wide)
        patch = texture.pixels[row - 6 : row + 7, column - 6 : column + 7, :3].reshape(-1, 3)
        return np.median(patch.astype(float), axis=0)

    low, blank, close = (colour(*xy) for xy in at)
    assert close[2] < low[2] - 40, "a higher step is darker"
    assert np.ptp(blank) < 12, "not looked at is grey"
    assert not dress_smoothed(geometry, []).textures


def test_mistakes_are_told(made):
    geometry, smoothed = made
    with pytest.raises(MapperError, match="another version"):
        draw_smoothed(plate_geometry(), smoothed)
    with pytest.raises(MapperError, match="60 mm wide"):
        draw_smoothed(geometry, smoothed, width=10.0)
    with pytest.raises(MapperError, match="off the sheet"):
        draw_smoothed(geometry, smoothed, region=MultiPolygon([box(9000, 0, 9900, 10)]))
