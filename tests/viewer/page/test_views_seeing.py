"""What the views show: widths of lines, hidden lines, the brush's ring, places in words, areas."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from playwright.sync_api import Browser

from mapper.surface.limits import box
from mapper.surface.measure import area
from mapper.surface.place import place_of, space_of
from mapper.surface.region import polygon
from mapper.surface.tape import by_tape
from tests.viewer.conftest import soon
from tests.viewer.page.conftest import Views, open_views
from tests.viewer.page.viewpage import geometry

# Coverage of one colour in a square of the vectors' canvas, over the length of a straight line
# through its middle: the line's width, whatever its angle and however it is smoothed.
WIDTH = """([x, y, half, channel]) => {
  const { vectors, ratio } = bench.views.stage;
  const size = Math.round(2 * half * ratio);
  const left = Math.round(x * ratio - size / 2), top = Math.round(y * ratio - size / 2);
  const { data } = vectors.getImageData(left, top, size, size);
  let cover = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, syy = 0;
  for (let i = 0; i < data.length; i += 4) {
    const others = (data[i] + data[i + 1] + data[i + 2] - data[i + channel]) / 2;
    const part = Math.max(0, data[i + channel] - others) / 255 * data[i + 3] / 255;
    const k = i / 4, px = k % size, py = Math.floor(k / size);
    cover += part; sx += part * px; sy += part * py;
    sxx += part * px * px; sxy += part * px * py; syy += part * py * py;
  }
  const a = sxx / cover - (sx / cover) ** 2, c = syy / cover - (sy / cover) ** 2;
  const b = sxy / cover - (sx / cover) * (sy / cover);
  const turn = Math.atan2(2 * b, a - c) / 2;
  const long = size / Math.max(Math.abs(Math.cos(turn)), Math.abs(Math.sin(turn)));
  return cover / long / ratio;
}"""
RED, GREEN = 0, 1
PLAIN_STYLE = """() => bench.views.setStyle({ text: {}, tokens: {
  finding: { line: '#ff0000', width: 0.1, hatch: [{ angle: 45, gap: 1.7, width: 0.2, dash: [] }] },
  grid: { line: '#00ff00', width: 0.1 },
  sheet: { line: '#0000ff', width: 0.1 },
  'not looked at': {
    line: '#ff0000', width: 0.1, hatch: [{ angle: 135, gap: 5, width: 0.1, dash: [] }],
  },
} })"""


def item(region: str, polygons: Any, **more: Any) -> dict[str, Any]:
    """An entry on the outer face of the loft's skin."""
    outline = {
        "skin": "skin", "face": "outer", "region": region, "shape": "", "polygons": polygons,
        "area_mm2": 0, "area_words": "",
    }  # fmt: skip
    given = {"id": "one", "style": "finding", "title": "", "shapes": None, "outline": outline}
    return {**given, "unsent": False, "selected": False, **more}


def put(views: Views, *items: dict[str, Any]) -> None:
    views.run("items => { bench.items = items; bench.draw(); }", list(items))


def test_a_grid_line_and_a_crack_are_two_pixels_wide_at_five_distances(views: Views) -> None:
    views.load("loft")
    views.run(PLAIN_STYLE)
    views.run("bench.views.setLines({ grid: true, structure: false })")
    # A crack .2 mm wide, away from other lines: far less than a pixel from every distance.
    ends = np.array([(950.0, 600.0), (1250.0, 640.0)])
    across = 0.1 * np.array([-40.0, 300.0]) / math.hypot(40, 300)
    crack = [*(ends + across).tolist(), *(ends[::-1] - across).tolist()]
    put(views, item("area", [[[*crack, crack[0]]]]))
    line = views.run(
        """() => {
          const paths = bench.shape.skins[0].header.grid.stations.flatMap(g => g.paths);
          let best = null;
          for (const path of paths) for (const p of path) {
            const d = Math.hypot(p[0] - 1100, p[1] - 600);
            if (!best || d < best.d) best = { d, p };
          }
          return best.p;
        }"""
    )
    widths: dict[str, list[float]] = {"crack": [], "grid": [], "crack on the map": []}
    middle = ends.mean(axis=0)
    for mm in (9000, 4000, 1800, 900, 500):
        for place, name, channel in ((middle, "crack", RED), (line, "grid", GREEN)):
            views.run(
                "([f, mm]) => { bench.views.turnTo(f);"
                " bench.views.space.picture.camera.distance = mm; bench.views.space.turn(0, 0);"
                " bench.views.flat.camera.scale = 250 / mm; }",
                [[float(v) for v in place], mm],
            )
            views.settled()
            at = views.screen(place, "3d")
            assert at is not None
            long = 300 * 520 / (2 * math.tan(math.radians(14)) * mm)
            half = min(8.0, long * 0.3) if name == "crack" else 5.0
            widths[name].append(views.run(WIDTH, [*at, half, channel]))
            if name == "crack":
                on_map = views.screen(place, "flat")
                assert on_map is not None
                widths["crack on the map"].append(
                    views.run(WIDTH, [*on_map, min(8.0, 300 * 250 / mm * 0.3), channel])
                )
    for name, found in widths.items():
        assert len(found) == 5, name
        # From the nearest place .2 mm are almost half a pixel more.
        assert np.abs(np.array(found) - 2.0).max() < 0.45, (name, found)
    views.run("bench.views.setLines({ grid: true, structure: true })")


COUNT = """channel => {
  const { vectors, ratio } = bench.views.stage;
  const { width, height } = bench.views.space.port;
  const [wide, high] = [Math.round(width * ratio), Math.round(height * ratio)];
  const { data } = vectors.getImageData(0, 0, wide, high);
  let count = 0;
  for (let i = 0; i < data.length; i += 4)
    if (data[i + channel] > 150 && data[i + (channel + 1) % 3] < 90 && data[i + 3] > 100) count++;
  return count;
}"""


def test_lines_and_hatches_do_not_show_through_the_part(views: Views) -> None:
    views.load("loft")
    views.run(PLAIN_STYLE)
    square = [[(1000, -700), (1300, -700), (1300, -500), (1000, -500), (1000, -700)]]  # lower side
    put(views, item("area", [square]))
    views.settled()
    assert views.run(COUNT, RED) == 0
    views.run("bench.views.turnTo([1150, -600])")
    views.run("bench.views.space.picture.camera.distance = 1500; bench.views.space.turn(0, 0)")
    views.settled()
    seen = views.run(COUNT, RED)
    assert seen > 500
    # Its hatch is drawn in it, not only its edge.
    edge = 2 * sum(math.hypot(*np.subtract(a, b)) for a, b in zip(square[0], square[0][1:]))
    per_pixel = views.run("(c => c.perPixel(c.distance))(bench.views.space.picture.camera)")
    assert seen > 1.3 * edge / per_pixel


def test_what_nobody_looked_at_is_hatched(views: Views) -> None:
    views.load("loft")
    views.run(PLAIN_STYLE)
    views.settled()
    assert views.run(COUNT, RED) == 0
    views.run("bench.views.setUnseen([])")
    views.settled()
    everywhere = views.run(COUNT, RED)
    assert everywhere > 500
    x0, y0, x1, y1 = geometry("loft").skins[0].charts[0].outline.bounds
    rest = [
        [[x0, y0], [x1, y0], [x1, 0], [x0, 0]],
        [[x0, 0], [x0 + 1900, 0], [x0 + 1900, y1], [x0, y1]],
    ]
    views.run("looked => bench.views.setUnseen(looked)", [[ring] for ring in rest])
    views.settled()
    assert 0.2 < views.run(COUNT, RED) / everywhere < 0.75
    views.run("bench.views.setUnseen(null)")


@pytest.mark.parametrize("name, place", [("loft", (1100, 600)), ("cowling", None)])
def test_the_ring_has_the_brush_s_true_size(views: Views, name: str, place: Any) -> None:
    views.load(name)
    skin = geometry(name).skins[0]
    if place is None:
        chart = max(
            shapely.get_parts(shapely.union_all([c.outline for c in skin.charts])),
            key=lambda c: c.area,
        )
        place = chart.representative_point().coords[0]
    radius = 40.0
    ring = np.array(
        views.run("([f, r]) => bench.views.ringAt(f, r)", [list(map(float, place)), radius])
    )
    there = space_of(skin, np.vstack([[place], ring]))
    distance = np.linalg.norm(there[1:] - there[0], axis=1)
    # Straight through space instead of along the sheet: shorter by less than a hundredth here; and
    # where the map is stretched the ring keeps the true area, not each true radius.
    isometric = all(chart.flat_map.isometric for chart in skin.charts)
    assert abs(math.sqrt(float(np.mean(distance**2))) / radius - 1) < 0.01
    assert np.abs(distance / radius - 1).max() < (0.01 if isometric else 0.06)
    # As drawn: on the flat map it is as wide as two radii, and the line's own width.
    views.tool(type="brush", radius=radius, wipe=False)
    views.run(
        "f => { bench.views.turnTo(f); bench.views.flat.camera.scale = 1; }",
        list(map(float, place)),
    )
    at = views.screen(place, "flat")
    assert at is not None
    views.page.mouse.move(*at)
    views.run("bench.views.flush()")
    wide = views.run(
        """y => {
          const { flatTop } = bench.views.stage;
          const { width } = bench.views.flat.port;
          let first = -1, last = -1;
          for (let x = 0; x < width; x++) {
            const [red, , , cover] = flatTop.colourAt(x, y);
            if (cover > 60 && red < 100) {
              if (first < 0) first = x;
              last = x;
            }
          }
          return last - first + 1;
        }""",
        at[1],
    )
    scale = views.run("bench.views.flat.camera.scale")
    flat_radius = np.hypot(*(ring[0] - place))
    assert abs(wide - (2 * flat_radius * scale + 2)) < 2


def test_the_place_under_the_pointer_is_that_of_the_geometry(views: Views) -> None:
    views.load("loft")
    made = geometry("loft")
    skin = made.skins[0]
    for flat in ((1100, 600), (2500, 300), (900, -500)):
        for where in ("3d", "flat"):
            at = views.screen(flat, where)
            if at is None:
                continue  # on the side that is turned away
            views.page.mouse.move(*at)
            views.run("bench.views.flush()")
            under = views.run("bench.unders.at(-1)")
            true = place_of(skin, [under["flat"]])
            assert abs(under["station"] - true.station[0]) < 0.5
            assert abs(under["chord"] - true.chord[0]) < 0.1
            assert under["upper"] == bool(true.upper[0])
            point = shapely.Point(under["flat"])
            assert [p.name for p in made.panels if p.flat.covers(point)] == [under["panel"]]
            ribs = {x.name: x.flat.distance(point) for x in made.lines if x.kind == "rib"}
            assert under["rib"]["name"] == min(ribs, key=lambda n: ribs[n])
            assert abs(under["rib"]["distance"] - min(ribs.values())) < 0.1
    views.page.mouse.move(3, 3)
    views.run("bench.views.flush()")
    assert views.run("bench.unders.at(-1)") is None


@pytest.mark.parametrize("name", ["loft", "cowling", "spinner"])
def test_about_areas_are_near_the_exact_ones(views: Views, name: str) -> None:
    views.load(name)
    skin = geometry(name).skins[0]
    chart = max(skin.charts, key=lambda c: c.outline.area).outline
    middle = np.array(chart.representative_point().coords[0])
    size = math.sqrt(chart.area) / 5
    for ring in (
        middle + size * np.array([[-1, -1], [1, -0.8], [0.9, 1], [-0.7, 1.1]]),
        middle + 0.2 * size * np.array([[-1, -1], [1, -1], [0, 1.4]]),
    ):
        shape = {"op": "add", "type": "polygon", "ring": ring.tolist()}
        about = views.run("shapes => bench.views.aboutArea(shapes)", [shape])
        drawn = polygon(skin, ring.tolist())
        exact = area(skin, drawn.intersection(chart))
        assert abs(about / exact - 1) < 0.02
    stroke = {"op": "add", "type": "stroke", "points": [middle.tolist()], "radius": 6.0}
    about = views.run("shapes => bench.views.aboutArea(shapes)", [stroke])
    assert abs(about / (math.pi * 36) - 1) < 0.02


def test_typed_places_are_drawn_where_the_geometry_has_them(views: Views) -> None:
    views.load("loft")
    made = geometry("loft")
    skin = made.skins[0]
    typed = {
        "type": "box",
        "op": "add",
        "stations": [1500, 2200],
        "chord": [10, 60],
        "angles": None,
    }
    for side in ("upper", "lower", "both"):
        about = views.run(
            "shapes => bench.views.aboutArea(shapes)", [{**typed, "angles": None, "side": side}]
        )
        exact = area(skin, box(skin, stations=(1500, 2200), chord=(10, 60), side=side))
        assert abs(about / exact - 1) < 0.02
    panel = made.panels[0]
    shape = {"type": "panel", "op": "add", "name": panel.name}
    about = views.run("shapes => bench.views.aboutArea(shapes)", [shape])
    assert abs(about / area(skin, panel.flat) - 1) < 0.02
    # By rib and tape: the crossing, then along and across, roughly.
    tape = {"rib": "rib 3", "outboard": 120.0, "spar": "front spar", "aft": 60.0, "upper": True}
    views.run("shape => { bench.draft = [shape]; bench.draw(); }", {
        **tape, "type": "tape", "op": "add", "radius": None,
    })  # fmt: skip
    place = views.run("bench.views.extra.places[0]")
    true = by_tape(made, skin.name, **tape)
    assert np.hypot(*np.subtract(place, true)) < 8.0
    views.run("bench.clear()")


def test_faces(views: Views) -> None:
    views.load("loft")
    outside = views.run("bench.views.flat.camera.flips")
    views.load("loft", face=1)
    assert views.run("bench.views.flat.camera.flips") == [outside[0], -outside[1]]
    views.tool(type="brush", radius=20, wipe=False)
    # From above one looks through the upper skin onto the inside of the lower one.
    under = views.run(
        """() => {
          const { width, height } = bench.views.space.port;
          for (let y = 5; y < height; y += 5) for (let x = 5; x < width; x += 5) {
            const found = bench.views.space.any(x, y);
            if (found) return found;
          }
        }"""
    )
    assert under["face"] == 1


def test_a_lost_picture_comes_back(views: Views) -> None:
    views.load("loft")
    views.tool(type="brush", radius=80, wipe=False)
    views.drag([views.screen((1000 + 50 * i, 600), "flat") for i in range(6)])  # type: ignore[misc]
    views.settled()
    at = views.screen((1100, 600), "3d")
    assert at is not None
    before = views.run("at => bench.pixel(...at)", list(at))
    views.run(
        "() => { window.loss = bench.views.stage.glCanvas.getContext('webgl2')"
        ".getExtension('WEBGL_lose_context'); loss.loseContext(); }"
    )
    soon(lambda: not views.run("bench.views.space.picture.works"))
    views.settled()
    # Meanwhile the flat map goes on.
    views.drag([views.screen((1000 + 50 * i, 800), "flat") for i in range(6)])  # type: ignore[misc]
    assert len(views.drawn()) == 2
    views.run("loss.restoreContext()")
    soon(lambda: views.run("bench.views.space.picture.works"))
    views.settled()
    after = views.run("at => bench.pixel(...at)", list(at))
    assert np.abs(np.subtract(before, after)).max() <= 3
    both = views.run("([x, y]) => bench.pixel(x, y)", list(views.screen((1100, 800), "3d") or ()))
    assert both[2] > both[0] + 20
    assert len(views.run("bench.notes")) == 2


def test_picks_are_right_at_other_pixel_ratios(chromium: Browser, address: str) -> None:
    context, views = open_views(chromium, address, device_scale_factor=1.5)
    views.load("loft")
    for place, aside in (((700, 500), 0.0), ((1200, 620), 0.7), ((1900, 700), -1.6)):
        at = views.screen(place, "3d")
        assert at is not None
        x, y = at[0] + aside, at[1] + 0.3
        hit = views.run("([x, y]) => bench.views.space.hit(x, y)", [x, y])
        assert hit is not None
        again = views.screen(hit["flat"], "3d")
        assert again is not None and math.hypot(again[0] - x, again[1] - y) < 0.1
    assert not views.wrong
    context.close()
