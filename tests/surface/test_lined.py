"""Openings as lines of the mesh: clean triangles, and every number as it was without the lines."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, box

from mapper.surface import brush
from mapper.surface.build import mirror
from mapper.surface.clip import clean
from mapper.surface.distance import between
from mapper.surface.geometry import Geometry, Opening, Placement, Tolerance
from mapper.surface.ground import ground_of
from mapper.surface.intrinsic import net_of
from mapper.surface.lined import open_triangles, with_lines
from mapper.surface.measure import area, whole_area
from mapper.surface.opened import ROUGH
from mapper.surface.perimeter import perimeter
from mapper.surface.place import space_of
from mapper.surface.refine import angles
from mapper.surface.region import disc
from mapper.surface.skin import Skin
from mapper.surface.stretch import worst_stretch
from mapper.surface.version import from_bytes, to_bytes
from tests.surface.examples import pipe, sheet, tapered, twisted, two_charts

MOST = 24_000
BASES = {
    "flat": lambda: sheet(),
    "cone": lambda: tapered(6000),
    "stretched": lambda: twisted(6000),
    "tube": lambda: pipe(200.0, 200.0, 900.0),
    "left": lambda: twisted(6000, True),
}


@cache
def base(name: str) -> Skin:
    return BASES[name]()


@cache
def openings(name: str) -> MultiPolygon:
    """A round hole and a rounded rectangle, apart, and a small hole near the first."""
    skin = base(name)
    x0, y0, x1, y1 = (
        skin.charts[0].rim.min(axis=0).tolist() + skin.charts[0].rim.max(axis=0).tolist()
    )
    long, tall = x1 - x0, y1 - y0
    unit = min(48.0, 0.12 * min(long, tall))
    at = np.array([x0 + 0.35 * long, y0 + 0.62 * tall])
    oblong = box(-1.5 * unit, -unit, 1.2 * unit, unit).buffer(0.4 * unit, quad_segs=40)
    return clean(
        shapely.union_all(
            [
                disc(skin, at, unit),
                disc(skin, at + unit * np.array([1.4, 0.2]), 0.2 * unit),
                shapely.transform(oblong, lambda p: p + at + [0.3 * long, -0.14 * tall]),
            ]
        )
    )


@cache
def lined(name: str) -> Skin:
    return with_lines(base(name), openings(name), MOST)


each = pytest.mark.parametrize("name", list(BASES))


@each
def test_no_triangle_lies_on_both_sides_of_an_outline(name):
    skin, holes = lined(name), openings(name)
    outlines = shapely.polygons(skin.flat[skin.triangles])
    common = shapely.area(shapely.intersection(outlines, holes))
    beside = np.minimum(common, shapely.area(outlines) - common)
    sides = np.linalg.norm(
        np.roll(skin.flat[skin.triangles], 1, axis=1) - skin.flat[skin.triangles], axis=2
    )
    # As much as lies between an arc and its chord, ROUGH mm apart at most.
    assert (beside <= ROUGH[0] * sides.max(axis=1) + 1e-9).all()
    inside = open_triangles(skin, holes)
    assert shapely.area(outlines[inside]).sum() == pytest.approx(
        holes.area, abs=ROUGH[0] * holes.length
    )
    # Every outline is there, and its corners are the opening's own.
    assert not open_triangles(base(name), holes).any()


@each
def test_triangles_about_an_opening_are_clean(name):
    """Measured: 24 degrees at the outlines, as aimed at; the rest of a mesh has those it had."""
    skin, holes = lined(name), openings(name)
    inside = open_triangles(skin, holes)
    on = shapely.dwithin(shapely.points(skin.flat), holes.boundary, ROUGH[0])
    touching = on[skin.triangles].any(axis=1) & ~inside
    angle = angles(skin.flat, skin.triangles.astype(np.int64)).min(axis=1)
    assert touching.sum() > 100
    assert angle[touching].min() >= 20.0
    before = angles(base(name).flat, base(name).triangles.astype(np.int64)).min()
    assert angle[~inside].min() >= min(20.0, 0.999 * before)
    assert len(skin.triangles) <= MOST


@each
def test_the_mesh_is_the_sheet_and_nothing_else(name):
    """Identities: triangles one way round that add up to the chart; corners on the exact surface,
    where the flat map says; the area as before, to rounding."""
    skin, old = lined(name), base(name)
    corner = skin.flat[skin.triangles]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    was = old.flat[old.triangles]
    p, q = was[:, 1] - was[:, 0], was[:, 2] - was[:, 0]
    assert (double > 0.0).all() and (skin.patch_area > 0.0).all()
    assert double.sum() == pytest.approx((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), rel=1e-12)
    assert whole_area(skin) == pytest.approx(whole_area(old), rel=1e-12)
    chart = skin.charts[0]
    s, t = skin.param.T
    assert np.abs(chart.flat_map.to_flat(skin.param) - skin.flat).max() < 1e-6
    assert np.abs(chart.patch.at(s, t) - skin.points).max() < 1e-9
    assert len(np.unique(skin.triangles)) == len(skin.points)
    net = net_of(skin)
    assert np.isfinite(net.lay).all()


@each
def test_areas_are_those_without_the_lines(name):
    """The goals are 1e-6 and 1e-5; the lines change nothing at all but rounding."""
    skin, old, holes = lined(name), base(name), openings(name)
    x0, y0, x1, y1 = holes.bounds
    regions = [
        box(x0 - 20, y0 - 20, x1 + 20, y1 + 20),
        box(x0, y0, 0.5 * (x0 + x1), y1),
        holes,
        shapely.difference(box(x0 - 50, y0 - 50, x1 + 50, y1 + 50), holes),
        shapely.get_parts(holes)[0].buffer(7.3),
    ]
    for region in map(clean, regions):
        assert area(skin, region) == pytest.approx(area(old, region), rel=1e-12, abs=1e-6)
        assert perimeter(skin, region) == pytest.approx(perimeter(old, region), rel=1e-9)
    assert worst_stretch(skin) == worst_stretch(old)
    spots = skin.flat[skin.triangles[::41]].mean(axis=1)
    assert np.array_equal(space_of(skin, spots), space_of(old, spots))


def test_the_triangles_of_the_map_are_kept():
    skin, old = lined("stretched"), base("stretched")
    ground = ground_of(skin)
    for name in ("flat", "param", "triangles", "patch_area"):
        assert np.array_equal(getattr(ground, name), getattr(old, name)), name
    assert ground_of(old) is old and ground_of(lined("cone")) is lined("cone")
    assert ground_of(skin) is ground


def test_a_left_skin_is_the_mirror_image():
    flipped = shapely.transform(openings("left"), lambda p: p * [1.0, -1.0])
    again = mirror(with_lines(mirror(base("left")), flipped, MOST))
    for name in ("points", "flat", "param", "triangles", "patch_area"):
        assert np.array_equal(getattr(again, name), getattr(lined("left"), name)), name
    assert np.array_equal(ground_of(lined("left")).triangles, base("left").triangles)


@pytest.mark.parametrize("name", ["stretched", "left", "cone"])
def test_stored_and_read_again(name):
    skin, holes = lined(name), openings(name)
    part = Geometry(
        "part",
        "loft",
        (skin,),
        Tolerance("tape", 2.0),
        Placement(np.zeros(3), np.eye(3)),
        openings=(Opening("hole", skin.name, holes),),
    )
    data = to_bytes(part)
    back = from_bytes(data)
    assert to_bytes(back) == data
    assert area(back.skins[0], holes) == area(skin, holes)
    assert open_triangles(back.skins[0], holes).sum() == open_triangles(skin, holes).sum()
    # A release before there were lines would measure on the wrong triangles: it refuses.
    assert (b'"mesh map/2"' in data) == (name != "cone")


@pytest.mark.parametrize("name", ["flat", "stretched"])
def test_ways_and_discs_go_round_them_as_round_cut_ones(name):
    """Cut out of the mesh without lines, openings lie within .02 mm of the same outlines; a
    stretched sheet's sides are arcs, whose lengths differ by less than 1e-5 between meshes."""
    skin, old, holes = lined(name), base(name), openings(name)
    hole = max(shapely.get_parts(holes), key=lambda g: g.area)
    x0, y0, x1, y1 = hole.bounds
    one, other = np.array([x0 - 15, 0.5 * (y0 + y1)]), np.array([x1 + 15, 0.5 * (y0 + y1)])
    round_it, cut = between(skin, one, other, holes), between(old, one, other, holes)
    assert round_it == pytest.approx(cut, rel=3e-5, abs=0.05)
    assert round_it > 1.02 * (x1 - x0 + 30)
    with_it, without = (
        area(s, brush.fan_disc(s, one, 1.2 * (x1 - x0), holes)) for s in (skin, old)
    )
    assert with_it == pytest.approx(without, rel=1e-4)


def test_openings_without_lines():
    """At the edge of a chart, where there is no room for more triangles, and smaller than any."""
    skin = base("cone")
    edge = box(*skin.charts[0].outline.bounds).buffer(-30)
    assert with_lines(skin, MultiPolygon(), MOST) is skin
    notch = clean(skin.charts[0].outline.difference(edge).intersection(box(-1e4, 0, 60, 200)))
    assert with_lines(skin, notch, MOST).triangles.shape == skin.triangles.shape
    full = with_lines(skin, openings("cone"), len(skin.triangles) + 10)
    assert full.triangles.shape == skin.triangles.shape
    assert not open_triangles(skin, disc(skin, skin.flat.mean(axis=0), 1.0)).any()
    # Cut out as ever: the net has the sheet without them.
    net = net_of(skin, notch)
    flat = net.flat
    u, v = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    left = 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]).sum()
    mesh = shapely.union_all(shapely.polygons(skin.flat[skin.triangles]))
    assert left == pytest.approx(mesh.difference(notch).area, rel=1e-5)


def test_charts_stay_apart():
    skin = two_charts()
    rim = skin.charts[1].outline
    at = np.array(rim.representative_point().coords[0])
    hole = disc(skin, at, 40.0)
    new = with_lines(skin, hole, 22_000)
    assert new.charts[0].last == skin.charts[0].last
    assert open_triangles(new, hole).any()
    net_of(new, hole)  # the charts meet corner to corner still
    assert area(new, hole) == pytest.approx(area(skin, hole), rel=1e-12)
    # Both charts at once, the first without stretch.
    both = clean(shapely.union_all([hole, disc(skin, [1500.0, 300.0], 40.0)]))
    assert area(with_lines(skin, both, 24_000), both) == pytest.approx(area(skin, both), rel=1e-12)


def test_a_geometry_keeps_its_lines_when_a_skin_is_replaced():
    """The flat map knows the areas of its own triangles: a skin without them is refused."""
    chart = lined("stretched").charts[0]
    assert chart.flat_map.areas.shape == (len(chart.flat_map.s) - 1, len(chart.flat_map.t) - 1, 2)
    with pytest.raises(Exception, match="Two areas for each cell"):
        replace(chart.flat_map, areas=chart.flat_map.areas[1:])
