"""The whole airframe, and shapes that are no shapes."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.viewer.conftest import soon
from tests.viewer.page.conftest import Views, open_views

BEGIN = """() => {
  document.getElementById('host').style.visibility = 'hidden';
  const host = document.createElement('div');
  host.id = 'air';
  const place = { position: 'absolute', left: '0', top: '0', width: '600px', height: '420px' };
  Object.assign(host.style, place);
  document.body.append(host);
  return bench.showAirframe(['loft', 'aileron', 'spar-web'], host);
}"""


@pytest.fixture(scope="module")
def airframe(chromium: Browser, address: str) -> Iterator[Views]:
    context, views = open_views(chromium, address, viewport={"width": 640, "height": 440})
    views.run(BEGIN)
    views.settled()
    yield views
    assert not views.wrong
    context.close()


# Every pixel's part, as a tap there would find it.
PARTS = """() => {
  const found = {};
  const view = bench.airframe;
  for (let y = 2; y < 420; y += 3) for (let x = 2; x < 600; x += 3) {
    const part = view.partAt(x, y);
    if (part) (found[part.id] ??= []).push([x, y]);
  }
  return found;
}"""


def test_a_tap_opens_the_part_under_it(airframe: Views) -> None:
    parts = airframe.run(PARTS)
    assert {"loft", "aileron"} <= set(parts)
    for name in ("loft", "aileron"):
        airframe.run("bench.parts = []")
        where = parts[name][len(parts[name]) // 2]
        airframe.page.mouse.click(*where)
        assert airframe.run("bench.parts") == [name]
    airframe.run("bench.parts = []")
    airframe.page.mouse.click(590, 10)
    assert airframe.run("bench.parts") == []


def test_inner_parts_are_reached_by_hiding_skins(airframe: Views) -> None:
    before = airframe.run(PARTS)
    airframe.run("bench.airframe.hide(['loft'])")
    airframe.settled()
    after = airframe.run(PARTS)
    assert "loft" not in after
    assert len(after["spar-web"]) > len(before.get("spar-web", []))
    airframe.run("bench.airframe.hide([])")
    airframe.settled()
    assert airframe.run(PARTS).keys() == before.keys()


def test_dragging_turns_and_does_not_open(airframe: Views) -> None:
    airframe.run("bench.parts = []")
    key = airframe.run("bench.airframe.picture.camera.key()")
    airframe.drag([(300, 200), (340, 215), (380, 230)])
    airframe.settled()
    assert airframe.run("bench.parts") == []
    assert airframe.run("bench.airframe.picture.camera.key()") != key


def test_keys_turn_and_open_the_part_in_the_middle(airframe: Views) -> None:
    airframe.run("bench.parts = []; bench.airframe.fit()")
    airframe.settled()
    airframe.run("document.querySelector('.view-airframe').focus()")
    azimuth = airframe.run("bench.airframe.picture.camera.azimuth")
    airframe.page.keyboard.press("ArrowLeft")
    assert airframe.run("bench.airframe.picture.camera.azimuth") != azimuth
    airframe.page.keyboard.press("ArrowRight")
    airframe.settled()
    middle = airframe.run("bench.airframe.partAt(300, 210)?.id")
    airframe.page.keyboard.press("Enter")
    assert airframe.run("bench.parts") == ([middle] if middle else [])


def test_a_lost_picture_of_the_airframe_comes_back(airframe: Views) -> None:
    airframe.settled()
    before = {name: len(places) for name, places in airframe.run(PARTS).items()}
    assert before
    airframe.run(
        "() => { window.gone = document.querySelector('#air canvas').getContext('webgl2')"
        ".getExtension('WEBGL_lose_context'); gone.loseContext(); }"
    )
    works = "bench.airframe.picture.works"
    soon(lambda: not airframe.run(works))
    airframe.run("gone.restoreContext()")
    soon(lambda: airframe.run(works))
    airframe.settled()
    assert {name: len(places) for name, places in airframe.run(PARTS).items()} == before


@pytest.mark.parametrize(
    "harm, words",
    [
        ("data => data.slice(0, 6)", "This is no shape"),
        ("data => data.slice(0, 4000)", "cut short"),
        ("data => data.slice(0, data.byteLength - 8)", "cut short"),
        (
            "data => { const other = data.slice(0); new Uint8Array(other)[0] = 88; return other; }",
            "begins with",
        ),
    ],
)
def test_a_shape_that_is_none_is_refused_with_a_word(
    airframe: Views, harm: str, words: str
) -> None:
    said = airframe.run(
        f"""async () => {{
          const data = await (await fetch('/shapes/plate')).arrayBuffer();
          try {{
            bench.parse(({harm})(data));
          }} catch (error) {{
            return error.message;
          }}
        }}"""
    )
    assert words in said
