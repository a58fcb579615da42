"""Finding a part: by name, tag code, what is open on it, and by a scanned tag."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.viewer.conftest import soon
from tests.viewer.page.states import button, open_part

pytest_plugins = ("tests.viewer.page.stage",)
pytestmark = pytest.mark.picture
Opened = Callable[..., Page]


def listed(page: Page) -> list[str]:
    """The names that the list has now."""
    return [row.split("\n")[0] for row in page.locator(".part-list .row-button").all_inner_texts()]


def test_search_by_any_words_in_any_order(act: Opened) -> None:
    page = act()
    assert len(listed(page)) == 5
    page.locator("#find").fill("wing outer")
    assert listed(page) == ["right outer wing RW-00", "left outer wing LW-00"]
    page.locator("#find").fill("rw-r07")
    assert listed(page) == ["rib 7 RW-R07"]
    page.locator("#find").press("Enter")
    page.locator(".part-screen").wait_for()
    assert "rib 7" in page.locator("h1").inner_text()
    # What had the focus is gone with the list: the next tab goes on in the part.
    assert page.evaluate("() => document.activeElement.id") == "main"


def test_parts_taken_off_are_found_with_where_they_are_kept(act: Opened) -> None:
    page = act()
    page.locator("#find").fill("rack 2")
    assert listed(page) == ["right aileron RA-01"]
    assert "rack 2, shelf B" in page.locator(".part-list").inner_text()
    page.locator("#find").fill("hook 12")
    assert listed(page) == ["Removed part: landing light"]
    page.locator("#find").fill("")
    page.locator("#which").select_option("off")
    assert listed(page) == ["right aileron RA-01", "Removed part: landing light"]


def test_parts_by_what_is_open_on_them(act: Opened) -> None:
    page = act()
    page.locator("#which").select_option("kind masking")
    assert listed(page) == ["right outer wing RW-00"]
    page.locator("#which").select_option("kind inspected area")
    # Its only one is closed.
    assert listed(page) == []
    page.locator("#which").select_option("findings")
    assert listed(page) == ["right outer wing RW-00"]
    page.locator("#which").select_option("inner")
    assert listed(page) == ["rib 7 RW-R07"]


def test_the_state_at_a_glance_is_in_words(act: Opened) -> None:
    page = act()
    words = page.locator(".part-list .row-button", has_text="right outer wing").inner_text()
    # 190 000 and 90 000 of 480 000 mm2.
    assert "stripped 40 %" in words
    assert "inspected 19 %" in words
    assert "1 finding open" in words
    assert (
        "nobody has looked yet"
        in page.locator(".part-list .row-button", has_text="LW-00").inner_text()
    )


def test_back_and_reload_come_to_the_same_part(act: Opened) -> None:
    page = act()
    open_part(page)
    page.go_back()
    page.locator(".part-list").wait_for()
    page.go_forward()
    page.locator(".part-screen").wait_for()
    page.reload()
    page.locator(".part-screen").wait_for()
    assert "right outer wing" in page.locator("h1").inner_text()


def test_a_part_without_a_shape_is_recorded_by_words(act: Opened) -> None:
    page = act()
    page.locator(".part-list .row-button", has_text="pitot").click()
    page.get_by_text("This part has no shape").wait_for()
    page.locator("[data-key='sheet here']").click()
    page.locator(".kind", has_text="Finding").click()
    page.get_by_label("where, in words").fill("forward lug")
    button(page, "Done")
    soon(lambda: page.evaluate("() => stage.device.kept.length"))
    assert page.evaluate("() => stage.device.kept[0].steps[0].entry.place") == "forward lug"


def test_a_scanned_tag_opens_its_bag(act: Opened) -> None:
    page = act()
    # A stand-in for the browser's own reader of codes, which this Chromium does not have.
    page.evaluate(
        """() => {
          globalThis.BarcodeDetector = class { async detect() { return [{rawValue: 'B-017'}]; } };
          const canvas = document.createElement('canvas');
          const pen = canvas.getContext('2d');
          setInterval(() => pen.fillRect(0, 0, Math.random() * 200, 100), 40);
          navigator.mediaDevices.getUserMedia = async () => canvas.captureStream();
        }"""
    )
    open_part(page)
    page.locator("[data-key='home']").click()
    button(page, "Scan a tag")
    page.locator(".entry-sheet h2").wait_for()
    assert "landing light" in page.locator(".entry-sheet h2").inner_text()


def test_without_a_reader_of_codes_nothing_is_promised(act: Opened) -> None:
    page = act()
    assert page.evaluate("() => 'BarcodeDetector' in globalThis") is False
    assert not page.locator("[data-key='scan']").is_visible()


def test_skins_are_hidden_to_reach_what_is_inside(act: Opened) -> None:
    page = act()
    button(page, "Hide skins")
    soon(lambda: page.evaluate("() => stage.app.show.inside"))
    assert page.locator("[data-key='inside']").get_attribute("aria-pressed") == "true"


def test_a_name_is_asked_first_and_may_be_a_new_one(act: Opened) -> None:
    page = act("?who=")
    assert page.locator(".part-list").count() == 0
    button(page, "Someone else")
    page.get_by_label("Your name").fill("Ingunn Vale")
    button(page, "Record under this name")
    page.locator(".part-list").wait_for()
    assert "Ingunn Vale" in page.locator("[data-key='who']").inner_text()
    people = page.evaluate("() => stage.app.start.people.map(p => p.name)")
    assert people[-1] == "Ingunn Vale"
