"""Shortest ways along the sheet: closed forms, pygeodesic, and what any distance obeys."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, MultiPolygon, Point

from mapper.errors import MapperError
from mapper.surface.brush import from_point
from mapper.surface.distance import between, from_shape, pieces_of, to_lines
from mapper.surface.edges import glued_edges
from mapper.surface.hub import hub_inside
from mapper.surface.imported.build import skins_of
from mapper.surface.imported.mend import mend
from mapper.surface.intrinsic import net_of
from mapper.surface.near import free_edges
from mapper.surface.place import flat_of
from tests.surface.examples import pipe, sheet, tapered, twisted, two_charts
from tests.surface.imported.test_read import raw
from tests.surface.round_skins import at_place, exact_judge, great_circle, sphere

HOLE = MultiPolygon([Point(300, 200).buffer(50, quad_segs=90)])


@settings(max_examples=60, deadline=None)
@given(
    x=st.tuples(st.floats(1, 999), st.floats(1, 999)),
    a=st.tuples(st.floats(-np.pi, np.pi), st.floats(-np.pi, np.pi)),
)
def test_cylinder(x, a):
    """Closed form: sqrt((R theta)2 + z2), the shorter way round."""
    turn = abs(a[0] - a[1])
    turn = min(turn, 2 * np.pi - turn)
    wanted = np.hypot(20 * turn, x[0] - x[1])
    found = between(pipe(), (x[0], 20 * a[0]), (x[1], 20 * a[1]))
    assert found == pytest.approx(wanted, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    t=st.tuples(st.floats(0.01, 0.99), st.floats(0.01, 0.99)),
    s=st.tuples(st.floats(-0.99, 0.99), st.floats(-0.99, 0.99)),
)
def test_cone(t, s):
    """Closed form: a right cone unrolls to a sector whose angle is that of the turn times the sine
    of the half angle; on it the law of cosines, the shorter way round."""
    skin = pipe(200.0, 80.0, 600.0)
    slant = np.hypot(60.0, 600.0)
    sine = 60.0 / slant
    far = np.array([100.0 / sine - slant * u for u in t])
    turn = abs(s[0] - s[1]) * np.pi
    angle = min(turn, 2 * np.pi - turn) * sine
    wanted = np.sqrt(far[0] ** 2 + far[1] ** 2 - 2 * far[0] * far[1] * np.cos(angle))
    flat = skin.charts[0].flat_map.to_flat(np.stack([s, t], axis=-1))
    # Where the closing seam is cut the rim is an arc, and the triangles end at its chord.
    inner = [tuple(p) for p in flat]
    assert between(skin, *inner) == pytest.approx(wanted, abs=2e-4)


def test_sphere_and_the_rate():
    """Closed form: great circles; the error falls with the square of the triangles' size."""
    places = [((0, 0), (1, 0.5)), ((3, 0.1), (-3, 0.6)), ((0.5, -1), (1.5, 1))]
    miss = []
    for along in (24, 48, 96):
        skin = sphere(around=2 * along, along=along)
        off = [
            between(skin, at_place(skin, *a), at_place(skin, *b)) / great_circle(1000, a, b) - 1
            for a, b in places
        ]
        miss.append(np.abs(off).max())
    assert miss[-1] < 1.5e-4
    assert np.all(np.log2(np.array(miss[:-1]) / miss[1:]) > 1.6), miss


def test_round_an_opening():
    """Closed form: two tangents and the arc between them."""
    start, end, r, off = (200.0, 200.0), (400.0, 200.0), 50.0, 100.0
    wanted = 2 * np.sqrt(off**2 - r**2) + r * (np.pi - 2 * np.arccos(r / off))
    assert between(sheet(), start, end, HOLE) == pytest.approx(wanted, abs=0.02)
    assert between(sheet(), start, end) == pytest.approx(200.0, abs=1e-6)
    beside = to_lines(sheet(), start, [LineString([(420, 0), (420, 400)]), HOLE], HOLE)
    assert beside[0] > 220.0
    assert beside[1] == pytest.approx(50.0, abs=0.02)


def test_the_way_round_the_nose_and_never_over_the_trailing_edge():
    """On an untwisted wing the flat map is exact: a straight line there is the shortest way."""
    skin = tapered()
    upper, lower = (flat_of(skin, 2500.0, 97.0, side)[0] for side in (True, False))
    round_nose = float(np.hypot(*(upper - lower)))
    assert round_nose > 2000.0
    assert between(skin, upper, lower) == pytest.approx(round_nose, rel=1e-6)


def test_over_a_section_agrees_with_the_nearest_crossing():
    """Two charts, flat and nearly flat: least of all broken lines over their common edge."""
    skin = two_charts()
    edge = glued_edges(skin)[0]
    a, b = np.array([2800.0, 100.0]), edge.there[len(edge.there) // 2] + [150.0, 40.0]
    broken = np.hypot(*(edge.here - a).T) + np.hypot(*(edge.there - b).T)
    found = between(skin, a, b)
    assert found == pytest.approx(broken.min(), abs=0.05)
    assert found <= broken.min() + 1e-3


@pytest.mark.parametrize("shape", ["ball", "box", "tube"])
def test_meshes_from_outside_against_pygeodesic(shape):
    made = {
        "ball": trimesh.creation.icosphere(subdivisions=3, radius=200.0),
        "box": trimesh.creation.box((200.0, 300.0, 400.0)),
        "tube": trimesh.creation.cylinder(50.0, 400.0, sections=32),
    }[shape]
    skin = skins_of(mend(raw(made))).skins[0]
    judge, net = exact_judge(skin)
    assert np.all(net.opp >= 0)
    used = np.unique(net.vertex)
    m, k = divmod(int(net.corner[used[3]]), 3)
    ours = from_point(net, hub_inside(net, m, np.eye(3)[k]), np.inf)
    assert ours[used] == pytest.approx(judge(used[3])[used], abs=2e-6)


@settings(max_examples=25, deadline=None)
@given(
    places=st.lists(
        st.tuples(st.floats(600, 3900), st.floats(1, 99), st.booleans()), min_size=3, max_size=3
    )
)
def test_what_any_distance_obeys(places):
    """The same both ways, no longer over a third place, and no shorter than straight through."""
    skin = twisted(triangles=3000)
    a, b, c = (flat_of(skin, *place)[0] for place in places)
    ab, bc, ac = between(skin, a, b), between(skin, b, c), between(skin, a, c)
    assert between(skin, b, a) == pytest.approx(ab, abs=1e-6)
    assert ac <= ab + bc + 1e-6
    assert between(skin, a, a) == pytest.approx(0.0, abs=1e-6)


def test_to_lines_on_a_level_sheet():
    """By arithmetic: feet of perpendiculars, ends, points, and what lies on the rim itself."""
    lines = [
        LineString([(500, 0), (500, 400)]),
        LineString([(350, 300), (450, 300)]),
        Point(200, 240),
        MultiLineString([[(0, 0), (10, 0)], [(590, 400), (600, 400)]]),
        LineString([(0, 0), (0, 400)]),
        LineString(),
        LineString([(900, 0), (900, 400)]),
    ]
    found = to_lines(sheet(), (200.0, 200.0), lines)
    wanted = [300, np.hypot(150, 100), 40, np.hypot(190, 200), 200]
    assert found[:5] == pytest.approx(wanted, abs=1e-6)
    assert np.isinf(found[5:]).all()


def test_to_lines_over_the_closing_seam():
    skin, seam = pipe(), 20 * np.pi
    line = LineString([(100, -seam + 12), (900, -seam + 12)])
    found = to_lines(skin, (300.0, seam - 5.0), [line, free_edges(skin)["edge"]])
    assert found == pytest.approx([17.0, 300.0], abs=1e-6)


def test_to_an_edge_that_is_an_arc_on_the_map():
    """On a cone the flat map is exact; its root is an arc there, a little off the triangles."""
    skin = tapered(triangles=2000)
    root = free_edges(skin)["root"]
    for y in (2.0, 8.0, 40.0, 300.0):
        at = (30.0, y)
        assert to_lines(skin, at, [root]) == pytest.approx([root.distance(Point(at))], abs=2e-3)


def test_known_ways_are_kept_unless_there_is_a_shorter_one():
    lines = [LineString([(500, 0), (500, 400)]), LineString([(500, 0), (500, 10)])]
    found = to_lines(sheet(), (200.0, 200.0), lines, known=np.array([310.0, 100.0]))
    assert found == pytest.approx([300.0, 100.0], abs=1e-6)


def test_from_shapes():
    """By arithmetic, over the seam of a tube, and from the outline of a region."""
    skin, seam = pipe(), 20 * np.pi
    line = LineString([(100, -seam + 12), (900, -seam + 12)])
    spot = Point(500, seam - 20).buffer(10, quad_segs=90)
    run = LineString([(150, seam - 9), (200, seam - 4)])
    assert from_shape(skin, spot, [line]) == pytest.approx([22.0], abs=1e-3)
    assert from_shape(skin, run, [line]) == pytest.approx([16.0], abs=1e-6)
    assert from_shape(skin, Point(150, seam - 9), [line]) == pytest.approx([21.0], abs=1e-6)
    gap = from_shape(sheet(), shapely.box(100, 100, 150, 150), [LineString([(390, 0), (390, 90)])])
    assert gap == pytest.approx([np.hypot(240, 10)], abs=1e-6)


def test_lines_are_cut_up_without_loss():
    """The pieces of a line in the triangles are as long as the line, where lengths are exact."""
    skin = tapered(triangles=2000)
    net = net_of(skin)
    line = LineString([(500.0, 300.0), (3000.0, -250.0), (4000.0, 100.0)])
    pieces = pieces_of(net, [line])
    long = np.hypot(*(pieces.segment[:, 2:] - pieces.segment[:, :2]).T)
    assert long.sum() == pytest.approx(line.length, rel=1e-7)
    assert pieces.face_start[-1] == len(pieces.owner)


def test_no_way_at_all():
    wall = MultiPolygon([shapely.box(290, -10, 310, 410)])
    assert np.isinf(between(sheet(), (100.0, 200.0), (500.0, 200.0), wall))
    assert np.isinf(to_lines(sheet(), (100.0, 200.0), [Point(500, 200)], wall)[0])


@pytest.mark.parametrize(
    ("point", "words"),
    [((np.nan, 0.0), "point"), ((1, 2, 3), "point"), ((9e3, 0), "off skin"), ((300, 200), "sheet")],
)
def test_refusals(point, words):
    with pytest.raises(MapperError, match=words):
        between(sheet(), (10.0, 10.0), point, HOLE)
    with pytest.raises(MapperError, match=words):
        to_lines(sheet(), point, [LineString([(0, 0), (1, 1)])], HOLE)
    with pytest.raises(MapperError, match="nowhere on the sheet"):
        from_shape(sheet(), Point(9e3, 0), [LineString([(0, 0), (1, 1)])], HOLE)
