"""What is in sight, and names: when a view changes its shape, and where there is little room."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.viewer.page.conftest import Views, open_views

# Every corner of the skin on the screen of the 3D view: the box round them, CSS px, and the view.
BOX = """() => {
  const { picture, port } = bench.views.space;
  const { points } = bench.shape.skins[0];
  const out = [0, 0, 0];
  let [l, t, r, b] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; i += 3) {
    picture.camera.project(points[i], points[i + 1], points[i + 2], out);
    l = Math.min(l, out[0]); r = Math.max(r, out[0]);
    t = Math.min(t, out[1]); b = Math.max(b, out[1]);
  }
  return { box: [l, t, r, b], size: [port.width, port.height] };
}"""
SIZES = [(900, 520), (390, 560), (700, 300), (320, 420), (900, 520)]


@pytest.fixture(scope="module")
def own(chromium: Browser, address: str) -> Iterator[Views]:
    """A page whose window these tests make larger and smaller."""
    context, views = open_views(chromium, address)
    yield views
    context.close()
    assert not views.wrong


def reshape(views: Views, width: int, height: int) -> None:
    views.page.set_viewport_size({"width": width, "height": height})
    size = "() => [bench.views.stage.width, bench.views.stage.height]"
    from_page: Any = None
    while from_page != [width, height]:  # the observer of sizes comes with a frame
        views.settled()
        from_page = views.run(size)
    views.settled()


def test_all_of_the_part_stays_in_sight_when_the_view_changes_its_shape(own: Views) -> None:
    own.load("loft")
    for size in SIZES:
        reshape(own, *size)
        seen = own.run(BOX)
        (left, top, right, bottom), (width, height) = seen["box"], seen["size"]
        assert left >= 0 and top >= 0 and right <= width and bottom <= height, size
        # As large as it may be, but for the room of scale and arrows.
        assert (right - left) / width > 0.75 or (bottom - top) / height > 0.6, size
        assert own.run("bench.views.stage.spaceAll.hidden && bench.views.stage.flatAll.hidden")


def test_what_somebody_zoomed_to_stays_in_sight(own: Views) -> None:
    own.load("loft")
    reshape(own, 900, 520)
    place = (1200, 600)
    own.run("f => { bench.views.turnTo(f); }", list(place))
    for view in ("space", "flat"):
        own.run(
            "v => { const { port } = bench.views[v];"
            " bench.views[v].zoom(4, port.width / 2, port.height / 2); }",
            view,
        )
    own.settled()
    ring = [(1150, 600), (1250, 600), (1200, 650), (1200, 550)]
    for size in SIZES[1:]:
        reshape(own, *size)
        for where in ("3d", "flat"):
            for flat in ring:
                at = own.screen(flat, where)
                assert at is not None
                assert own.run("([x, y]) => document.elementFromPoint(x, y) !== null", list(at))
    # The buttons that bring all of it back are there, and do it.
    for name in ("spaceAll", "flatAll"):
        assert not own.run(f"bench.views.stage.{name}.hidden")
        own.run(f"bench.views.stage.{name}.click()")
        own.settled()
        assert own.run(f"bench.views.stage.{name}.hidden")


def test_views_lie_as_shows_the_part_larger(own: Views) -> None:
    reshape(own, 900, 520)
    for name, stacked in (("tube", True), ("loft", False), ("rib", True), ("bell-crank", False)):
        own.load(name)
        assert own.run("bench.views.stage.stacked") == stacked, name


def crowded(names: list[dict[str, Any]]) -> bool:
    """Whether any two names lie on each other."""
    for i, one in enumerate(names):
        for other in names[:i]:
            a, b = one["rect"], other["rect"]
            if not (a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]):
                return True
    return False


def test_names_of_parts_do_not_crowd(own: Views) -> None:
    reshape(own, 900, 520)
    own.run("""() => {
      const host = document.createElement('div');
      host.id = 'air';
      Object.assign(host.style, { position: 'absolute', inset: '0', background: '#fff' });
      document.body.append(host);
      return bench.showAirframe(['loft', 'aileron', 'spar-web', 'bell-crank', 'tube'], host);
    }""")
    own.settled()
    names = "() => bench.airframe.names"
    shown = own.run(names)
    assert "loft" in {name["words"] for name in shown}
    # Inside the wing, or far too small: nothing is seen of it, so it has no name.
    assert "bell-crank" not in {name["words"] for name in shown}
    assert not crowded(shown)
    # From afar too; and what is chosen in the list has its name before all others.
    own.run("bench.airframe.orbit.zoom(0.4, 450, 260); bench.airframe.highlight('aileron')")
    own.settled()
    shown = own.run(names)
    assert shown[0]["words"] == "aileron" and not crowded(shown)
    own.run("bench.airframe.dispose(); document.getElementById('air').remove()")
