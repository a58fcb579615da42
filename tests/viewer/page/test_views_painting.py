"""Painting in 3D and on the flat map: mouse, fingers, pen, keyboard; what a stroke never does."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, Point

from mapper.surface.clip import whole
from mapper.surface.region import on_sheet
from tests.viewer.page.conftest import Views, along, apart
from tests.viewer.page.viewpage import geometry

BRUSH = {"type": "brush", "radius": 25, "wipe": False}


def paint(views: Views, flats: list[tuple[float, float]], where: str) -> list[dict]:
    """Drag over the places of the map in one of the views; the shapes that came of it."""
    views.run("bench.clear()")
    way = [views.screen(flat, where) for flat in flats]
    assert None not in way
    views.drag([at for at in way if at is not None])
    return views.drawn()


def live_cover(views: Views, flat: tuple[float, float]) -> float:
    """Alpha of the paint on the flat map at a place, 0 to 255."""
    return views.run(
        "f => bench.views.stage.live.colourAt(...bench.views.flat.camera.toScreen(...f))[3]",
        list(flat),
    )


def test_a_stroke_in_3d_is_the_stroke_on_the_map(views: Views) -> None:
    views.load("loft")
    views.tool(**BRUSH)
    flats = along((500, 500), (1900, 700), 24)
    in_space = paint(views, flats, "3d")
    on_map = paint(views, flats, "flat")
    assert [s["type"] for s in in_space] == ["stroke"] == [s["type"] for s in on_map]
    assert in_space[0]["radius"] == on_map[0]["radius"] == 25
    x, y = views.screen((1200, 600), "3d") or (0, 0)
    pixel = views.run("([x, y]) => bench.views.space.hit(x, y).perPixel", [x, y])
    on_pixel = views.run("1 / bench.views.flat.camera.scale")
    # A pointer stands on whole pixels in either view: each may be off by half of one.
    assert apart(in_space[0]["points"], flats) <= pixel
    assert apart(on_map[0]["points"], flats) <= on_pixel
    assert apart(in_space[0]["points"], on_map[0]["points"]) <= max(pixel, on_pixel)
    ends = [in_space[0]["points"][0], in_space[0]["points"][-1]]
    assert np.abs(np.array(ends) - np.array([flats[0], flats[-1]])).max() <= pixel


def test_paint_shows_in_both_views(views: Views) -> None:
    views.load("loft")
    at = views.screen((1200, 600), "3d")
    assert at is not None
    bare = views.run("([x, y]) => bench.pixel(x, y)", list(at))
    views.tool(type="brush", radius=120, wipe=False)
    paint(views, along((1000, 600), (1400, 600), 6), "flat")
    views.settled()
    painted = views.run("([x, y]) => bench.pixel(x, y)", list(at))
    assert painted[2] - painted[0] > bare[2] - bare[0] + 30  # bluer than the metal
    assert live_cover(views, (1200, 600)) == 255
    assert live_cover(views, (1200, 900)) == 0


def test_wiping_takes_paint_off(views: Views) -> None:
    views.load("loft")
    views.tool(type="brush", radius=60, wipe=False)
    paint(views, along((800, 600), (1600, 600), 10), "flat")
    before = views.run("bench.views.aboutArea(bench.draft)")
    views.tool(type="brush", radius=60, wipe=True)
    views.drag([views.screen((1200, y), "flat") for y in (450, 600, 750)])  # type: ignore[misc]
    assert [s["op"] for s in views.drawn()] == ["add", "wipe"]
    assert live_cover(views, (1200, 600)) == 0
    assert live_cover(views, (900, 600)) == 255
    after = views.run("bench.views.aboutArea(bench.draft)")
    band = LineString([(800, 600), (1600, 600)]).buffer(60)
    off = band.difference(LineString([(1200, 450), (1200, 750)]).buffer(60))
    assert before == np.float64(before) and abs(before / band.area - 1) < 0.02
    assert abs(after / off.area - 1) < 0.03  # the pointer stood on whole pixels


def test_a_stroke_never_bridges_an_opening(views: Views) -> None:
    views.load("loft")
    skin = geometry("loft").skin("skin")
    metal = on_sheet(geometry("loft"), "skin", whole(skin))
    hole = max((o.flat for o in geometry("loft").openings), key=lambda o: o.area)
    middle = np.array(hole.centroid.coords[0])
    half = (hole.bounds[2] - hole.bounds[0]) / 2
    way = np.array([3 * half, 0.0])
    views.tool(type="brush", radius=5, wipe=False)
    for where, eye in (("flat", None), ("3d", middle + 0.5 * way)):
        if eye is not None:
            views.run("f => bench.views.turnTo(f)", eye.tolist())
            views.settled()
        ends = [middle - way, middle + way]
        views.run("bench.clear()")
        views.drag([views.screen(end, where) for end in ends])  # type: ignore[misc]
        shapes = views.drawn()
        assert len(shapes) == 2, where
        step = views.run("1 / bench.views.flat.camera.scale")
        for shape in shapes:
            assert len(shape["points"]) > 1
            assert metal.buffer(1.5 * step).covers(LineString(shape["points"]))
            assert LineString(shape["points"]).distance(Point(middle)) > 0.7 * half


def test_a_stroke_is_split_at_silhouettes_and_chart_edges(views: Views) -> None:
    views.load("fuselage")
    views.tool(type="brush", radius=10, wipe=False)
    charts = shapely.get_parts(whole(geometry("fuselage").skins[0]))
    # Along the top, over the chart edges, and from the body over its edge into the air and back.
    views.run("bench.clear()")
    port = views.run("bench.views.space.port")
    hits = views.run(
        """port => {
          const found = [];
          for (let x = 4; x < port.width; x += 4) for (let y = 4; y < port.height; y += 4)
            if (bench.views.space.hit(x, y)) found.push([x, y]);
          return found;
        }""",
        port,
    )
    xy = np.array(hits, dtype=float)
    left, right = xy[xy[:, 0].argmin()] + [6, 0], xy[xy[:, 0].argmax()] - [6, 0]
    views.drag([tuple(left), tuple(right)])
    top = [port["width"] / 2, 3]
    views.drag([tuple(xy.mean(axis=0)), tuple(top), tuple(xy.mean(axis=0) + np.array([12, 0]))])
    shapes = views.drawn()
    assert len(shapes) >= 4
    for shape in shapes:
        points = np.array(shape["points"])
        if len(points) < 2:
            continue
        line = LineString(points)
        near = [chart for chart in charts if chart.distance(line) < 1e-6]
        assert len(near) == 1, "a stroke runs over two charts"
        space = np.array(views.run("ps => ps.map(p => bench.views.spaceOf(p))", points.tolist()))
        flat_steps = np.hypot(*np.diff(points, axis=0).T)
        # What is near on the map is near in space; a bridge over the air would not be.
        inside = [near[0].buffer(3).covers(LineString(pair)) for pair in pairwise(points)]
        assert all(inside)
        assert (np.linalg.norm(np.diff(space, axis=0), axis=1) <= 1.2 * flat_steps + 1).all()


def test_polygon_line_and_point(views: Views) -> None:
    views.load("loft")
    corners = [(600, 500), (1200, 500), (1200, 900), (600, 900)]
    views.tool(type="polygon", wipe=False)
    for where in ("flat", "3d"):
        views.run("bench.clear()")
        spots = [views.screen(c, where) for c in corners]
        for at in spots:
            views.page.mouse.click(*at)  # type: ignore[misc]
            views.page.wait_for_timeout(30)
        views.page.mouse.click(*spots[0])  # type: ignore[misc]
        (shape,) = views.drawn()
        pixel = 8.0  # mm, of the coarser view
        assert shape["type"] == "polygon" and shape["op"] == "add"
        assert np.abs(np.array(shape["ring"]) - corners).max() < pixel
        (area,) = views.run("bench.areas")
        assert abs(area / shapely.Polygon(shape["ring"]).area - 1) < 0.02
    views.run("bench.clear()")
    views.tool(type="line", width=None)
    for at in corners[:3]:
        views.page.mouse.click(*views.screen(at, "flat"))  # type: ignore[misc]
    views.page.keyboard.press("Backspace")
    views.page.keyboard.press("Enter")
    (shape,) = views.drawn()
    assert shape["type"] == "line" and shape["width"] is None and len(shape["points"]) == 2
    assert views.run("bench.areas") == [0]
    views.run("bench.clear()")
    views.tool(type="point")
    views.page.mouse.click(*views.screen((900, 700), "3d"))  # type: ignore[misc]
    (shape,) = views.drawn()
    assert shape["type"] == "point" and np.hypot(*np.subtract(shape["at"], (900, 700))) < 8


def test_escape_forgets_and_a_place_off_the_metal_is_told(views: Views) -> None:
    views.load("loft")
    views.tool(type="polygon", wipe=False)
    views.page.mouse.click(*views.screen((600, 500), "flat"))  # type: ignore[misc]
    views.page.keyboard.press("Escape")
    assert views.run("bench.views.tools.corners.length") == 0
    flat = views.run("bench.views.flat.port")
    views.page.mouse.click(flat["left"] + 5, flat["top"] + 5)
    assert views.run("bench.notes") == ["There is no metal of this face."]
    assert views.drawn() == []


class Fingers:
    """Fingers through the browser itself, as a screen gives them; by number, so that one can go."""

    def __init__(self, views: Views) -> None:
        self.way = views.page.context.new_cdp_session(views.page)

    def send(self, kind: str, points: dict[int, tuple[float, float]]) -> None:
        """kind: "touchStart", "touchMove" or "touchEnd"; points: those on the screen now."""
        found = [{"x": x, "y": y, "id": i} for i, (x, y) in points.items()]
        self.way.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": found})


def test_one_finger_paints_and_two_turn(views: Views) -> None:
    views.load("loft")
    views.tool(**BRUSH)
    a = views.screen((800, 600), "3d") or (0, 0)
    before = views.run("bench.views.space.picture.camera.key()")
    fingers = Fingers(views)
    # The first finger paints a stub, then the second lands: the stub is taken back.
    fingers.send("touchStart", {0: a})
    fingers.send("touchMove", {0: (a[0] + 6, a[1])})
    assert views.run("bench.views.tools.busy")
    fingers.send("touchStart", {0: (a[0] + 6, a[1]), 1: (a[0] + 80, a[1])})
    assert not views.run("bench.views.tools.busy")
    assert live_cover(views, (800, 600)) == 0
    fingers.send("touchMove", {0: (a[0] - 20, a[1] + 20), 1: (a[0] + 120, a[1] + 20)})
    # The finger that stays when the other has gone does not begin to paint.
    fingers.send("touchMove", {0: (a[0] - 30, a[1] + 60)})
    fingers.send("touchMove", {0: (a[0] - 40, a[1] + 90)})
    fingers.send("touchEnd", {})
    views.settled()
    assert views.drawn() == []
    assert views.run("bench.views.space.picture.camera.key()") != before
    views.run("bench.views.fit()")
    views.settled()
    a, b = views.screen((800, 600), "3d"), views.screen((1000, 600), "3d")
    assert a is not None and b is not None
    fingers.send("touchStart", {0: a})
    fingers.send("touchMove", {0: ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)})
    fingers.send("touchMove", {0: b})
    fingers.send("touchEnd", {})
    (shape,) = views.drawn()
    assert shape["type"] == "stroke" and len(shape["points"]) > 1


POINTER = """([kind, x, y, more]) => {
  const pane = document.querySelector('.view-flat');
  const box = pane.getBoundingClientRect();
  const event = new PointerEvent(kind, {
    pointerId: 7, pointerType: 'pen', clientX: box.left + x, clientY: box.top + y, bubbles: true,
    cancelable: true, buttons: kind === 'pointerup' ? 0 : 1, width: 1, height: 1, ...more,
  });
  // When it happens is told, not measured: the driver may be slow. (Long ago for other tests.)
  Object.defineProperty(event, 'timeStamp', { value: more.when ?? -1e6 });
  pane.dispatchEvent(event);
}"""


def test_a_pen_paints_and_the_palm_beside_it_does_not(views: Views) -> None:
    views.load("loft")
    views.tool(**BRUSH)
    way = [
        views.run("f => bench.views.flat.camera.toScreen(...f)", [x, 600]) for x in (800, 900, 1000)
    ]
    views.run(POINTER, ["pointerdown", *way[0], {}])
    palm = {"pointerId": 8, "pointerType": "touch", "width": 30, "height": 30}
    views.run(POINTER, ["pointerdown", way[1][0], way[1][1] + 60, palm])
    views.run(POINTER, ["pointermove", *way[1], {}])
    views.run(POINTER, ["pointermove", way[1][0], way[1][1] + 90, palm])
    views.run(POINTER, ["pointermove", *way[2], {}])
    views.run(POINTER, ["pointercancel", way[1][0], way[1][1] + 90, palm])
    views.run(POINTER, ["pointerup", *way[2], {}])
    (shape,) = views.drawn()
    assert shape["type"] == "stroke" and shape["op"] == "add"
    assert apart(shape["points"], [(800, 600), (1000, 600)]) < 1
    views.run("bench.clear()")
    # The pen's other end wipes, whatever is in hand.
    views.run(POINTER, ["pointerdown", *way[0], {"buttons": 32}])
    views.run(POINTER, ["pointermove", *way[2], {"buttons": 32}])
    views.run(POINTER, ["pointerup", *way[2], {}])
    assert [s["op"] for s in views.drawn()] == ["wipe"]
    # A wide contact alone is a palm too; how wide is a setting, for gloves.
    # (All this is at one moment, and here 800 ms later: the pen is no longer near.)
    views.run("bench.clear()")
    glove = {"pointerId": 9, "pointerType": "touch", "width": 80, "height": 70, "when": -1e6 + 800}
    for limit, count in ((60, 0), (120, 1)):
        views.run("w => bench.views.setPalm(w)", limit)
        views.run(POINTER, ["pointerdown", *way[0], glove])
        views.run(POINTER, ["pointermove", *way[2], glove])
        views.run(POINTER, ["pointerup", *way[2], glove])
        assert len(views.drawn()) == count
    views.run("bench.views.setPalm(60)")


def test_everything_by_keyboard(views: Views) -> None:
    views.load("loft")
    views.tool(**BRUSH)
    views.run("document.querySelector('.view-flat').focus()")
    press = views.page.keyboard.press
    middle = views.run("bench.views.flat.camera.middle")
    press(" ")
    (dab,) = views.drawn()
    assert np.allclose(dab["points"], [middle], atol=1e-6)
    press("ArrowRight")
    press("ArrowUp")
    moved = views.run("bench.views.flat.camera.middle")
    assert moved != middle
    press("Shift+ ")
    joined = views.drawn()[1]
    assert np.allclose(joined["points"], [middle, moved], atol=1e-6)
    views.run("bench.clear()")
    views.tool(type="polygon", wipe=False)
    for way in ("ArrowRight", "ArrowUp", "ArrowLeft"):
        press(way)
        press(" ")
    press("Enter")
    (shape,) = views.drawn()
    assert shape["type"] == "polygon" and len(shape["ring"]) == 3
    scale = views.run("bench.views.flat.camera.scale")
    press("+")
    assert views.run("bench.views.flat.camera.scale") > scale
    press("f")
    assert views.run("bench.faces") == ["inner"]
    # Tab goes on to the other view and out of them: no trap.
    views.run("document.querySelector('.view-3d').focus()")
    press("ArrowLeft")
    press("Tab")
    assert views.run("document.activeElement.className").endswith("view-flat")
    press("Tab")
    assert not views.run("document.activeElement.className").startswith("view-pane")
