"""Every state of the page: nothing cut off, targets for gloves, and no violation that axe-core can
find, in light and dark, on a lying tablet and at 320 px.

Judges from outside: axe-core's rules for WCAG 2.2 A and AA (with its best practices); reflow at
320 CSS px (WCAG 2.2, 1.4.10); targets of 48 CSS px, twice what 2.5.8 asks, because of gloves
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

from mapper.viewer.build_page import PAGE
from tests.viewer.page.states import STATES, rest

pytest_plugins = ("tests.viewer.page.stage",)
pytestmark = pytest.mark.picture

AXE = """() => axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa',
  'best-practice']}).then(found => found.violations.map(v =>
  v.id + ': ' + v.nodes.map(n => n.target.join(' ') + ' ' + (n.any[0]?.message ?? '')).join()))"""
# Wider than the screen, without a part round it that scrolls by itself.
CUT = """() => [...document.querySelectorAll('body *')].filter(e => {
  const box = e.getBoundingClientRect();
  if (box.width === 0 || box.right <= innerWidth + 1 || e.closest('svg')) return false;
  for (let a = e.parentElement; a; a = a.parentElement)
    if (getComputedStyle(a).overflowX !== 'visible') return false;
  return true;
}).map(e => e.tagName + '.' + e.className)"""
SMALL = """() => [...document.querySelectorAll('button, select, input, summary, textarea')]
 .filter(e => {
  const target = ['radio', 'checkbox'].includes(e.type) ? e.closest('label') : e;
  const box = target.getBoundingClientRect();
  return box.width > 1 && box.height > 1 && (box.width < 47.5 || box.height < 47.5);
}).map(e => e.outerHTML.slice(0, 90))"""


@pytest.mark.parametrize("state", STATES)
def test_state(act: Callable[..., Page], state: str) -> None:
    address, taps = STATES[state]
    page = act(address)
    taps(page)
    rest(page)
    page.evaluate((PAGE / "node_modules" / "axe-core" / "axe.min.js").read_text())
    looks: list[tuple[str, dict[str, Any]]] = [
        # Without motion: half-way through a change of colour nothing is told.
        ("lying", {"reduced_motion": "reduce"}),
        ("dark", {"color_scheme": "dark", "reduced_motion": "reduce"}),
    ]
    for look, media in looks:
        page.emulate_media(**media)
        assert page.evaluate(AXE) == [], look
    page.emulate_media(color_scheme="light")
    assert page.evaluate(CUT) == []
    assert page.evaluate(SMALL) == []
    page.set_viewport_size({"width": 320, "height": 640})
    rest(page)
    assert page.evaluate(CUT) == []
    assert page.evaluate(SMALL) == []
    assert page.evaluate(AXE) == []


def test_a_stroke_does_not_move_the_map_when_the_network_goes(act: Callable[..., Page]) -> None:
    page = act()
    STATES["part"][1](page)
    before = page.locator(".views").bounding_box()
    page.evaluate("() => { stage.app.reached = false; stage.app.tell('net'); }")
    page.get_by_text("No answer from the server").wait_for()
    assert page.locator("[data-key='unsent']").inner_text().count("no network") == 1
    page.evaluate("() => stage.app.tell('newer')")
    page.get_by_text("A newer page is there").wait_for()
    assert page.locator(".views").bounding_box() == before


def test_large_screens_have_large_words(act: Callable[..., Page]) -> None:
    page = act(viewport={"width": 3840, "height": 2160})
    size = page.evaluate("() => parseFloat(getComputedStyle(document.documentElement).fontSize)")
    assert size > 20
    assert page.evaluate(CUT) == []


def test_forced_colours_keep_what_is_chosen_apart(act: Callable[..., Page]) -> None:
    page = act(forced_colors="active")
    STATES["form"][1](page)
    radio = page.get_by_role("radio", name="dent")
    radio.check()
    rest(page)
    width = "e => getComputedStyle(e.nextElementSibling).borderTopWidth"
    assert radio.evaluate(width) == "4px"
    assert page.get_by_role("radio", name="hole").evaluate(width) != "4px"
