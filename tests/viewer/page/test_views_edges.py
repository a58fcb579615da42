"""Chart edges that are one line on the part: paint, ring and areas go on beyond them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from mapper.surface.edges import glued_edges
from mapper.surface.measure import area
from mapper.surface.region import openings_of
from mapper.surface.skin import Skin
from mapper.surface.stroke import stroke
from tests.viewer.page.conftest import Views
from tests.viewer.page.viewpage import geometry

Array = NDArray[np.float64]

COVER = """f => bench.views.stage.live.colourAt(...bench.views.flat.camera.toScreen(...f))[3]"""

DRAW = """([f, shape]) => {
  bench.views.flat.turnTo(f);
  bench.views.flat.camera.scale = 2;
  bench.draft = [shape];
  bench.draw();
  bench.views.flush();
}"""


def edge_of(skin: Skin, number: int) -> tuple[Array, Array, Array, Array]:
    """The middle of a glued edge on either chart, and from there the ways into either chart."""
    edge = glued_edges(skin)[number]
    k = len(edge.here) // 2
    found = []
    for line, chart in ((edge.here, edge.chart_here), (edge.there, edge.chart_there)):
        along = line[k + 1] - line[k - 1]
        across = np.array([-along[1], along[0]]) / np.hypot(*along)
        outline = skin.charts[chart].outline
        into = across if outline.covers(shapely.Point(line[k] + 2 * across)) else -across
        found += [line[k], into]
    here, into_here, there, into_there = found
    return here, there, into_here, into_there


@pytest.mark.parametrize(
    "name, number, radius", [("fuselage", 0, 60.0), ("cowling", 1, 40.0), ("tube", 0, 20.0)]
)
def test_a_stroke_beside_an_edge_is_that_of_the_geometry(
    views: Views, name: str, number: int, radius: float
) -> None:
    views.load(name)
    skin = geometry(name).skins[0]
    here, there, into, beyond = edge_of(skin, number)
    way = [here + 0.4 * radius * into, here + 1.2 * radius * into]
    points = [p.tolist() for p in way]
    shape = {"op": "add", "type": "stroke", "points": points, "radius": radius}
    # From outside the page: the brush of the geometry, which follows the surface itself.
    covered = stroke(skin, np.array(way), radius, openings_of(geometry(name), skin.name))
    exact = area(skin, covered)
    assert covered.covers(shapely.Point(there + 0.3 * radius * beyond))
    about = views.run("shapes => bench.views.aboutArea(shapes)", [shape])
    assert abs(about / exact - 1) < 0.02
    views.run(DRAW, [there.tolist(), shape])
    for share in (0.1, 0.3, 0.5, 0.75, 0.95):
        place = there + share * radius * beyond
        seen = views.run(COVER, place.tolist()) > 0
        assert seen == covered.covers(shapely.Point(place)), share
    views.run("bench.clear()")


def test_paint_shows_beyond_the_edge_while_it_is_painted(views: Views) -> None:
    views.load("fuselage")
    skin = geometry("fuselage").skins[0]
    radius = 80.0
    here, there, into, beyond = edge_of(skin, 0)
    views.run("f => bench.views.turnTo(f)", (here + 60 * into).tolist())
    views.settled()
    views.tool(type="brush", radius=radius, wipe=False)
    target = views.screen(there + 30 * beyond, "3d")
    begin = views.screen(here + 250 * into, "3d")
    end = views.screen(here + 20 * into, "3d")
    assert target is not None and begin is not None and end is not None
    bare: list[int] = views.run("at => bench.pixel(...at)", list(target))
    views.page.mouse.move(*begin)
    views.page.mouse.down()
    views.page.mouse.move(*end, steps=6)
    views.run("bench.views.flush()")
    # The button is still held.
    wet: list[int] = views.run("at => bench.pixel(...at)", list(target))
    assert views.drawn() == []
    assert wet[2] - wet[0] > bare[2] - bare[0] + 30  # bluer than the metal
    on_map: Any = views.run(
        "f => { bench.views.flat.fit(); bench.views.flush(); return (" + COVER + ")(f); }",
        (there + 30 * beyond).tolist(),
    )
    views.page.mouse.up()
    assert on_map > 0
    assert len(views.drawn()) == 1
    views.run("bench.clear()")


def test_the_ring_goes_on_beyond_the_edge(views: Views) -> None:
    views.load("tube")
    skin = geometry("tube").skins[0]
    radius = 30.0
    here, _, into, _ = edge_of(skin, 0)
    at = here + 0.5 * radius * into
    parts = views.run("([f, r]) => bench.ringsBeyond(f, r)", [[float(v) for v in at], radius])
    assert len(parts) == 1
    # A tube unrolls without stretch: a circle about its middle, one turn further round.
    round_it = np.ptp(skin.flat[:, 1])
    turn = np.array([0.0, round_it if at[1] < 0 else -round_it])
    distance = np.hypot(*(np.array(parts[0]) - at - turn).T)
    assert np.abs(distance - radius).max() < 0.01


def test_paint_does_not_go_over_an_edge_that_is_none(views: Views) -> None:
    views.load("loft")
    skin = geometry("loft").skins[0]
    assert not glued_edges(skin)
    x0, y0, x1, y1 = skin.charts[0].outline.bounds
    # At the trailing edge upper and lower skin lie on each other, and are two sheets.
    x = x0 + 0.2 * (x1 - x0)
    column = shapely.LineString([(x, y0 - 1), (x, y1 + 1)]).intersection(skin.charts[0].outline)
    _, y0, _, y1 = column.bounds
    near = [x, y1 - 10.0]
    shape = {"op": "add", "type": "stroke", "points": [near], "radius": 30.0}
    views.run(DRAW, [near, shape])
    assert views.run(COVER, near) > 0
    lower = [x, y0 + 3.0]
    views.run(DRAW, [lower, shape])
    assert views.run(COVER, lower) == 0
    views.run("bench.clear()")
