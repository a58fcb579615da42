"""What is near a place, line or region: over glued edges, round openings, by kind."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, MultiLineString, MultiPolygon, Point

from mapper.errors import MapperError
from mapper.surface.geometry import Geometry, MapLine, Opening, Placement, Tolerance
from mapper.surface.near import nearest_kinds, nearest_lines
from tests.surface.examples import pipe, sheet, two_charts

SEAM = 20 * np.pi


def _geometry(skin, lines=(), openings=()):
    made = tuple(
        MapLine(name, kind, skin.name, MultiLineString([points])) for name, kind, points in lines
    )
    holes = tuple(Opening(name, skin.name, MultiPolygon([flat])) for name, flat in openings)
    return Geometry(
        "part", "tube", (skin,), Tolerance("tape", 1.0), Placement(np.zeros(3), np.eye(3)),
        lines=made, openings=holes,
    )  # fmt: skip


PIPE = _geometry(
    pipe(),
    [
        ("line 1", "rivet row", [(100, -SEAM + 12), (900, -SEAM + 12)]),
        ("line 2", "rivet row", [(100, 0), (900, 0)]),
        ("ring", "rib", [(700, -SEAM), (700, SEAM)]),
    ],
)


@pytest.mark.parametrize(
    ("shape", "row", "ring"),
    [
        (Point(500, SEAM - 5), 17.0, 200.0),
        (LineString([(500, SEAM - 9), (600, SEAM - 4)]), 16.0, 100.0),
        (Point(500, SEAM - 20).buffer(10, quad_segs=90), 22.0, 190.0),
        (Point(500, 5).buffer(10), 0.0, 190.0),
        (Point(700, SEAM - 20).buffer(10, quad_segs=90), 22.0, 0.0),
    ],
)
def test_a_tube(shape, row, ring):
    """By arithmetic, over the closing seam: points, lines and regions alike."""
    found = nearest_kinds(PIPE, "tube", shape)
    assert found["rivet row"] == pytest.approx(row, abs=1e-3)
    assert found["rib"] == pytest.approx(ring, abs=1e-3)
    near = {(n.kind, n.name): n.distance for n in nearest_lines(PIPE, "tube", shape)}
    assert near["rivet row", "line 1"] == pytest.approx(row, abs=1e-3) or row == 0.0
    assert near["rib", "ring"] == pytest.approx(ring, abs=1e-3)


def test_lines_and_regions_look_across_a_section():
    """From a region next to a section to a line on the next chart: no farther than any of its
    points, and as near as the nearest of them."""
    skin = two_charts()
    edge = skin.charts[1].rim[:, 0].min()
    line = [(edge + 60.0, 200.0), (edge + 60.0, 400.0)]
    geometry = _geometry(skin, [("row", "rivet row", line)])
    spot = Point(2960.0, 300.0).buffer(15.0)
    found = nearest_kinds(geometry, skin.name, spot)["rivet row"]
    from_points = [
        nearest_kinds(geometry, skin.name, Point(p))["rivet row"] for p in spot.exterior.coords
    ]
    assert found == pytest.approx(min(from_points), abs=0.02)
    assert 40.0 < found < 110.0


def test_an_opening_is_an_edge_and_is_gone_round():
    """Closed form: two tangents and the arc between them; the opening's own edge is nearer."""
    geometry = _geometry(
        sheet(),
        [("post", "spar", [(400, 200), (400, 200.001)])],
        [("hole", Point(300, 200).buffer(50, quad_segs=90))],
    )
    found = nearest_kinds(geometry, "plate", Point(200, 200))
    way = 2 * np.sqrt(100**2 - 50**2) + 50 * (np.pi - 2 * np.arccos(0.5))
    assert found["spar"] == pytest.approx(way, abs=0.02)
    assert found["edge"] == pytest.approx(50.0, abs=0.02)
    assert {n.kind for n in nearest_lines(geometry, "plate", (200, 200))} == {
        "spar", "edge", "opening",
    }  # fmt: skip


def test_off_the_skin_is_refused():
    with pytest.raises(MapperError, match="off the skin"):
        nearest_lines(PIPE, "tube", (-50.0, 0.0))
    with pytest.raises(MapperError, match="nowhere on the sheet"):
        nearest_kinds(PIPE, "tube", Point(-50, SEAM + 50))
