"""The raster pen: what is in the list is seen in the pixels, at the right place and share."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from mapper.drawing.display import TEXTURE_LAYERS, DisplayList, Fill, Label, Stroke, View
from mapper.drawing.flatmap import draw_map
from mapper.drawing.mesh import texture_of
from mapper.drawing.raster import to_pixels
from mapper.drawing.style import style
from mapper.errors import MapperError
from mapper.surface.place import flat_of
from tests.drawing.hand import SKIN, entry, multi

BOUNDS = (0.0, 0.0, 100.0, 50.0)


def one(*items, view=None):
    return DisplayList(items, BOUNDS, BOUNDS, 1.0, view or View())


def test_a_fill_covers_its_share():
    shape = box(10, 10, 60, 30).difference(box(20, 15, 30, 25))
    pixels = to_pixels(one(Fill(multi(shape), "bar", "bar")), 4.0)
    assert pixels.shape == (200, 400, 4)
    dark = (255 - pixels[..., 0].astype(float)).sum() / (255 - 0x1A)
    assert dark / 16 == pytest.approx(shape.area, rel=2e-3)
    assert pixels[200 - 4 * 20, 4 * 15, 0] < 60  # inside, y upward
    assert pixels[200 - 4 * 20, 4 * 25, 0] == 255  # in the hole


@pytest.mark.parametrize("x", [1, -1])
@pytest.mark.parametrize("y", [1, -1])
def test_the_view_turns_shapes(x, y):
    corner = multi(box(0, 0, 20, 10))
    pixels = to_pixels(one(Fill(corner, "bar", "bar"), view=View(x, y)), 2.0)
    dark = np.argwhere(pixels[..., 0] < 128).mean(axis=0)
    assert (dark[1] < 100) == (x == 1)
    assert (dark[0] > 50) == (y == 1)


def test_the_view_never_turns_text():
    """The letter L has its foot to the right below, however the sheet lies."""
    for x in (1, -1):
        for y in (1, -1):
            label = Label("L", (50.0, 25.0), 40.0, "title", "names")
            pixels = to_pixels(one(label, view=View(x, y)), 4.0)[..., 0] < 128
            rows, columns = np.where(pixels)
            foot = pixels[rows.max() - 4 : rows.max(), :].sum()
            head = pixels[rows.min() : rows.min() + 4, :].sum()
            left = pixels[:, columns.min() : columns.min() + 4].sum()
            right = pixels[:, columns.max() - 4 : columns.max()].sum()
            assert foot > 2 * head and left > 2 * right, (x, y)


def test_maths_is_not_read():
    label = Label("$x^2$", (50.0, 25.0), 12.0, "title", "names")
    plain = Label("x2", (50.0, 25.0), 12.0, "title", "names")
    wide = [np.ptp(np.where(to_pixels(one(i), 4.0)[..., 0] < 128)[1]) for i in (label, plain)]
    assert wide[0] > 1.8 * wide[1]


def test_thin_lines_do_not_fade():
    stroke = Stroke(np.array([[0.0, 25.0], [100.0, 25.0]]), "grid", "grid")
    pixels = to_pixels(one(stroke), 2.0)
    assert pixels[..., 0].min() < 190


def test_every_kind_shows_its_colour(right):
    skin = right.skins[0]
    kinds = ["finding", "coat zone", "application", "treatment", "trial patch", "masking"]
    shapes = []
    for i, kind in enumerate(kinds):
        at = flat_of(skin, [500 + 500 * i, 800 + 500 * i], [30, 60], True)
        shapes.append(entry(i, kind, multi(box(*at.min(axis=0), *at.max(axis=0)))))
    drawing = draw_map(right, SKIN, "outer", shapes)
    pixels = to_pixels(drawing, width=1500)[..., :3].reshape(-1, 3).astype(int)
    for e in shapes:
        line = style().token(e.kind.replace(" ", "-")).line
        colour = np.array([int(line[k : k + 2], 16) for k in (1, 3, 5)])
        near = (np.abs(pixels - colour).max(axis=1) < 24).sum()
        assert near > 300, e.kind


def test_a_texture_leaves_the_furniture_out(drawing):
    texture = texture_of(drawing, 800)
    x0, y0, x1, y1 = drawing.sheet_bounds
    high, wide = texture.pixels.shape[:2]
    assert wide / high == pytest.approx((x1 - x0) / (y1 - y0), rel=0.01)
    assert max(wide, high) == 800
    full = to_pixels(drawing, 800 / (x1 - x0), bounds=drawing.sheet_bounds)
    assert (full != texture.pixels).any()
    assert not TEXTURE_LAYERS & {"legend", "bar", "labels", "title"}


def test_texture_coordinates_are_flat_coordinates(right):
    """A region's colour is found in the texture at the coordinates of its middle."""
    at = flat_of(right.skins[0], 3000.0, 40.0, True)
    ring = at + 60 * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    for face in ("outer", "inner"):
        region = entry(1, "application", multi(Polygon(ring)), face=face)
        texture = texture_of(draw_map(right, SKIN, face, [region], numbers={}), 1200)
        u, v = texture.coordinates(at)[0]
        high, wide = texture.pixels.shape[:2]
        row, column = int((1 - v) * high), int(u * wide)
        patch = texture.pixels[row - 3 : row + 4, column - 3 : column + 4, :3].astype(int)
        assert (patch[..., 0] - patch[..., 2]).mean() > 20, face  # orange, not grey


@pytest.mark.parametrize(
    "wrong", [{"width": 20_000}, {"pixels_per_mm": 0.0}, {}, {"width": 5, "pixels_per_mm": 1.0}]
)
def test_sizes_are_checked(wrong):
    with pytest.raises(MapperError):
        to_pixels(one(), **wrong)


def test_a_clear_background():
    assert to_pixels(one(), 1.0, background=None)[..., 3].max() == 0
    assert to_pixels(one(), 1.0)[..., :].min() == 255
