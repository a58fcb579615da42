"""Entries listed and on the map: what Show hides, what is to complete, what one entry can do."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.viewer.conftest import soon
from tests.viewer.page.states import button, entry, sheet

pytest_plugins = ("tests.viewer.page.stage",)
pytestmark = pytest.mark.picture
Opened = Callable[..., Page]
SHOWN = "() => stage.app.entries().filter(e => stage.app.shows(e)).map(e => e.id)"


def shown(page: Page) -> list[str]:
    """Ids of what the map and the lists show."""
    ids: list[str] = page.evaluate(SHOWN)
    return ids


def steps(page: Page) -> list[dict[str, Any]]:
    """Steps of the newest action."""
    found: list[dict[str, Any]] = page.evaluate("() => stage.device.kept.at(-1)?.steps ?? []")
    return found


def test_kinds_states_and_people_are_hidden_and_brought_back(act: Opened) -> None:
    page = act()
    sheet("show")(page)
    page.get_by_label("Findings").uncheck()
    assert shown(page) == ["entry-2", "entry-3", "entry-4"]
    page.get_by_label("Closed").uncheck()
    assert shown(page) == ["entry-3", "entry-4"]
    page.get_by_label("Oden Haraldsen").uncheck()
    assert shown(page) == ["entry-4"]
    assert page.locator(".show-sheet .help").first.inner_text() == "1 of 4 entries are shown"
    button(page, "Show everything")
    assert len(shown(page)) == 4


def test_the_slider_goes_through_time(act: Opened) -> None:
    page = act()
    sheet("show")(page)
    slider = page.locator("#until")
    # From 4 May to 12 May: eight days.
    assert slider.get_attribute("max") == "8"
    slider.focus()
    page.keyboard.press("Home")
    assert shown(page) == ["entry-1"]
    assert page.evaluate("() => document.activeElement.id") == "until"
    assert "4 May 2026" in (slider.get_attribute("aria-valuetext") or "")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert shown(page) == ["entry-1", "entry-2"]
    page.keyboard.press("End")
    assert len(shown(page)) == 4


def test_a_coat_hides_what_names_other_coats_only(act: Opened) -> None:
    page = act()
    page.evaluate(
        """() => {
          const made = (id, coats) => ({...stage.app.book.entries[2], id, kind: 'application',
            typed: {coats}});
          stage.app.book.entries.push(made('outer', 'number=1; kind=enamel'),
            made('both', 'number=1 | number=2'));
          stage.app.tell('book');
        }"""
    )
    sheet("show")(page)
    page.locator("#coat").select_option("2")
    assert "both" in shown(page)
    assert "outer" not in shown(page)
    assert "entry-1" in shown(page)


def test_the_list_to_complete(act: Opened) -> None:
    page = act()
    sheet("entries")(page)
    rows = page.locator(".entries .row-button")
    assert rows.count() == 4
    button(page, "To complete")
    assert rows.count() == 3
    page.get_by_label("Search", exact=True).fill("tape")
    assert rows.count() == 1


def test_the_entries_of_the_whole_job_beside_the_airframe(act: Opened) -> None:
    page = act()
    button(page, "Entries")
    assert page.locator(".finder .entries .row-button").count() == 4
    assert not page.locator("#find").is_visible()
    page.locator(".finder .row-button", has_text="pitting").click()
    page.locator(".entry-sheet h2").wait_for()
    assert "right outer wing" in page.locator("h1").inner_text()


def test_gloves_are_remembered_for_whoever_wears_them(act: Opened) -> None:
    page = act()
    sheet("show")(page)
    page.get_by_label("thick gloves").check()
    soon(lambda: page.evaluate("() => stage.device.lastValues.get('hands')?.gloves") == "yes")
    page.locator("[data-key='home']").click()
    sheet("show")(page)
    assert page.get_by_label("thick gloves").is_checked()


def test_a_state_is_changed_by_one_tap(act: Opened) -> None:
    page = act()
    entry(page)
    page.get_by_role("radio", name="waiting for the inspector").check()
    soon(lambda: steps(page))
    [step] = steps(page)
    assert (step["op"], step["entry"]["state"]) == ("change", "waiting for the inspector")
    assert (step["entry"]["version"], step["entry"]["where"]) == (1, None)
    soon(lambda: page.get_by_text("not sent yet").count() > 0)


def test_removing_takes_two_taps(act: Opened) -> None:
    page = act()
    entry(page)
    button(page, "Remove this entry")
    assert steps(page) == []
    button(page, "Tap again to remove it")
    soon(lambda: steps(page))
    assert steps(page)[0]["op"] == "remove"
    assert "entry-1" not in shown(page)


def test_an_outline_is_drawn_on_from_what_it_was(act: Opened) -> None:
    page = act()
    entry(page)
    button(page, "Change the outline")
    page.locator(".form h2").wait_for()
    assert page.evaluate("() => stage.app.tool.type") == "brush"
    where = page.evaluate("() => stage.app.draft.entry.where")
    assert where["shapes"] == [{"op": "add", "type": "kept", "entry": "entry-1"}]
    # Only looked at, it is no change.
    button(page, "Done")
    page.locator(".entry-sheet h2").wait_for()
    assert steps(page) == []


def test_a_copy_at_the_mirror_place_leaves_what_was_measured(act: Opened) -> None:
    page = act()
    entry(page)
    button(page, "Copy to left outer wing")
    soon(lambda: "left outer wing" in page.locator("h1").inner_text())
    draft = page.evaluate("() => stage.app.draft.entry")
    assert draft["part_id"] == "part-2"
    assert draft["where"]["shapes"] == [{"op": "add", "type": "mirror", "entry": "entry-1"}]
    assert draft["values"] == {"what": "corrosion", "corrosion": "pitting"}
