"""What a first day at the wing asks for: a tap that does one thing, a map that stands still, days
to defer to, places to confirm, numbers with units.
"""

from __future__ import annotations

import calendar
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.viewer.conftest import soon
from tests.viewer.page.states import button, form, here, open_part, rest, tap, tool

pytest_plugins = ("tests.viewer.page.stage",)
pytestmark = pytest.mark.picture
Opened = Callable[..., Page]


def kept(page: Page) -> list[dict[str, Any]]:
    """All actions that were given to the device."""
    found: list[dict[str, Any]] = page.evaluate("() => stage.device.kept")
    return found


def finding(page: Page) -> None:
    """Open the sheet of the finding of the open part."""
    page.locator("[data-key='sheet entries']").click()
    page.locator(".entries .row-button", has_text="corrosion").click()
    page.locator(".entry-sheet h2").wait_for()


def month_on(day: date) -> date:
    """The same day of the next month, its last one where it is shorter."""
    year, month = (day.year, day.month + 1) if day.month < 12 else (day.year + 1, 1)
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def test_an_entry_is_deferred_to_a_day_from_its_own_sheet(act: Opened) -> None:
    page = act()
    open_part(page)
    finding(page)
    page.locator(".entry-sheet").get_by_role("radio", name="deferred").check()
    rest(page)
    assert kept(page) == []  # without its day nobody would know when to look again
    before = date.today()
    button(page, "in a month")
    soon(lambda: len(kept(page)) == 1)
    entry = kept(page)[0]["steps"][0]["entry"]
    assert entry["state"] == "deferred"
    days = {month_on(day).isoformat() for day in (before, date.today())}
    assert entry["deferred_to"] in days


DOUBT = """(off) => {
  const app = stage.app;
  const entry = app.book.entries.find((e) => e.kind === 'finding' && e.outline);
  entry.unconfirmed = true;
  entry.doubt = 'moved 3.1 mm when the shape was corrected';
  if (off) entry.outline = { ...entry.outline, shape: 'f'.repeat(64) };
  app.tell('book');
}"""


def test_a_place_in_doubt_is_found_and_confirmed(act: Opened) -> None:
    page = act()
    open_part(page)
    page.evaluate(DOUBT, False)
    page.locator("[data-key='sheet entries']").click()
    button(page, "Place to confirm (1)")
    page.locator(".entries .row-button").click()
    assert "moved 3.1 mm" in page.locator(".doubt").inner_text()
    button(page, "It lies here")
    soon(lambda: len(kept(page)) == 1)
    (step,) = kept(page)[0]["steps"]
    assert (step["op"], step["entry"]["confirmed"]) == ("change", True)
    assert step["entry"]["where"] is None
    page.get_by_text("No other place on this part is in doubt").wait_for()


def test_what_lies_off_the_corrected_sheet_is_drawn_again_not_confirmed(act: Opened) -> None:
    page = act()
    open_part(page)
    page.evaluate(DOUBT, True)
    finding(page)
    page.locator(".doubt").wait_for()
    assert page.locator("[data-key='confirm']").count() == 0
    button(page, "Draw it again")
    page.locator(".form").wait_for()
    # Of an outline on another shape nothing can be kept.
    assert page.evaluate("() => stage.app.draft.entry.where") is None


CLICKS = """() => {
  window.came = window.landed = 0;
  addEventListener('click', () => { window.came += 1; }, true);
  document.addEventListener('click', () => { window.landed += 1; });
}"""


def test_a_tap_that_opens_a_sheet_presses_nothing_in_it(act: Opened) -> None:
    page = act(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    open_part(page)
    rest(page)
    box = page.locator(".views").bounding_box()
    assert box is not None
    page.evaluate(CLICKS)
    # Low on the map: there the sheet comes to lie under the finger, with buttons in it.
    page.touchscreen.tap(box["x"] + 0.3 * box["width"], box["y"] + 0.8 * box["height"])
    page.locator(".here .kind").first.wait_for()
    # The browser's click after the touch has come, and went no further than the window.
    soon(lambda: page.evaluate("() => window.came") == 1)
    assert page.evaluate("() => window.landed") == 0
    assert page.evaluate("() => stage.app.draft") is None
    # The next touch is the person's own.
    page.locator(".here .kind").first.tap()
    page.locator(".form").wait_for()


def test_the_map_stands_still_under_words_of_any_length(act: Opened) -> None:
    page = act()
    open_part(page)
    tool(page, "Corners")
    sizes = set()
    for words in ("", "station", "station 1 500 mm, 30 % chord, upper, " * 5):
        page.evaluate("words => document.querySelector('.under').textContent = words", words)
        sizes.add(str(page.locator(".views").bounding_box()))
    assert len(sizes) == 1


def test_a_unit_of_another_sort_is_told_at_once_and_another_length_is_worked_out(
    act: Opened,
) -> None:
    page = act()
    form(page)
    page.locator("[data-name='what']").get_by_role("radio", name="corrosion").check()
    field = page.locator("[data-name='depth_found']")
    depth = field.locator("input").first
    for typed, words in (
        ("12 %", "no unit of length"),
        ("0.65 kg", "no unit of length"),
        ("-0.01 in", "0 mm or more"),
        ("99 ft", "1000 mm or less"),
    ):
        depth.fill(typed)
        depth.blur()
        assert words in field.locator(".slip").inner_text(), typed
    # 1 in is 25.4 mm by definition (ISO 31-1).
    for typed, words in (
        ("0.5 in", "= 12.7 mm"),
        ("1/2 in", "= 12.7 mm"),
        ("10 thou", "= 0.254 mm"),
    ):
        depth.fill(typed)
        depth.blur()
        assert field.locator(".slip").inner_text() == ""
        assert field.locator(".means").first.inner_text() == words
    depth.fill("0.5")
    depth.blur()
    assert not field.locator(".means").first.is_visible()


def test_a_typed_place_that_is_refused_is_told_beside_its_numbers(act: Opened) -> None:
    page = act()
    open_part(page)
    tool(page, "Typed")
    page.evaluate(
        "() => { stage.device.measure = () => Promise.reject(new Error('lies off the skin')); }"
    )
    page.get_by_label("from station (mm)").fill("0")
    page.get_by_label("to station (mm)").fill("250")
    button(page, "Take this box")
    soon(lambda: page.locator(".numbers .slip").count() > 0)
    soon(lambda: "lies off the skin" in page.locator(".numbers .slip").inner_text())
    assert page.get_by_label("to station (mm)").input_value() == "250"
    assert page.evaluate("() => stage.app.draft.entry.where") is None
    page.get_by_label("to station (mm)").fill("1e9")
    button(page, "Take this box")
    assert "No aircraft" in page.locator(".numbers .slip").inner_text()


def test_wiping_ends_with_the_entry_it_belongs_to(act: Opened) -> None:
    page = act()
    open_part(page)
    tool(page, "Brush")
    tap(page)
    page.locator(".form .kind", has_text="Masking").click()
    button(page, "Wipe out")
    assert page.evaluate("() => stage.app.tool.wipe") is True
    button(page, "Done")
    soon(lambda: page.evaluate("() => stage.app.draft") is None)
    soon(lambda: page.evaluate("() => stage.app.tool.wipe") is False)


def test_a_warning_goes_when_it_is_met(act: Opened) -> None:
    page = act()
    open_part(page)
    tool(page, "Brush")
    tap(page)
    button(page, "Done")
    word = page.locator(".said .word", has_text="choose a kind first")
    word.wait_for()
    page.locator(".form .kind", has_text="Finding").click()
    soon(lambda: word.count() == 0)


def test_where_something_lies_a_finding_is_still_the_next_tap(act: Opened) -> None:
    page = act()
    here(page)
    page.locator(".here .row-button").first.wait_for()
    assert page.locator(".here .kind:visible").all_inner_texts() == ["Finding"]
    page.locator(".here summary").click()
    page.locator(".here .kind", has_text="Reading").click()
    page.locator(".form h2", has_text="New reading").wait_for()
