"""What waits on this device: refused ones, two versions, room, drafts after a crash."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.viewer.conftest import soon
from tests.viewer.page.states import button, waiting

pytest_plugins = ("tests.viewer.page.stage",)
pytestmark = pytest.mark.picture
Opened = Callable[..., Page]


def outbox(page: Page) -> list[dict[str, Any]]:
    """What waits, in order."""
    items: list[dict[str, Any]] = page.evaluate("() => stage.app.outbox")
    return items


def test_the_count_is_always_in_sight(act: Opened) -> None:
    page = act("?outbox=waiting&net=off", viewport={"width": 320, "height": 640})
    assert page.locator("[data-key='unsent'] .count").inner_text() == "1"
    page.locator(".part-list .row-button").first.click()
    page.locator(".part-screen").wait_for()
    assert page.locator("[data-key='unsent'] .count").is_visible()


def test_a_refused_one_says_why_and_is_sent_again(act: Opened) -> None:
    page = act("?outbox=refused")
    waiting()(page)
    assert "'-1' was given" in page.locator(".refused .why").inner_text()
    button(page, "Send again")
    soon(lambda: all(item["state"] == "waiting" for item in outbox(page)))
    assert page.locator(".refused").count() == 0


def test_a_refused_one_is_dropped_by_the_second_tap_only(act: Opened) -> None:
    page = act("?outbox=refused")
    waiting("Drop it")(page)
    assert len(outbox(page)) == 2
    button(page, "Tap again")
    soon(lambda: len(outbox(page)) == 1)


def test_a_refused_one_is_mended_in_its_form(act: Opened) -> None:
    page = act("?outbox=refused")
    refused = outbox(page)[0]
    waiting("Change it")(page)
    value = page.locator("[data-name='depth_found'] input").first
    assert value.input_value() == "-1"
    value.fill("0.1")
    button(page, "Done")
    soon(lambda: refused["id"] not in [item["id"] for item in outbox(page)])
    mended = outbox(page)[-1]["action"]
    assert mended["steps"][0]["entry"]["values"]["depth_found"] == "0.1"
    assert mended["steps"][0]["op"] == "add"


def test_two_versions_are_joined_field_by_field(act: Opened) -> None:
    page = act("?outbox=stale")
    waiting("See both versions")(page)
    assert [words.lower() for words in page.locator(".versions legend").all_inner_texts()] == [
        "depth as found",
        "technique",
        "note",
    ]
    button(page, "Keep it as chosen")
    assert "Choose first: depth as found" in page.locator("dialog .slip").inner_text()
    button(page, "All of mine")
    depth = page.locator(".versions fieldset", has_text="depth as found")
    depth.get_by_role("radio").nth(1).check()
    page.locator(".versions fieldset", has_text="note").get_by_role("radio").nth(1).check()
    button(page, "Keep it as chosen")
    soon(lambda: outbox(page)[-1]["state"] == "waiting" and len(outbox(page)) == 1)
    step = outbox(page)[-1]["action"]["steps"][0]
    assert step["op"] == "change"
    assert step["entry"]["version"] == 2
    assert step["entry"]["note"] == "looked at again with a lamp"
    assert step["entry"]["values"] == {
        "what": "corrosion",
        "corrosion": "pitting",
        "depth_found": "0.15 ± 0.02 mm",
        "technique": "glass",
    }


def test_one_that_was_removed_meanwhile_is_left_so(act: Opened) -> None:
    page = act("?outbox=gone")
    waiting("See both versions")(page)
    page.get_by_text("Another person removed this finding").wait_for()
    button(page, "Leave it removed")
    button(page, "Tap again")
    soon(lambda: outbox(page) == [])


def test_one_drawn_on_an_older_shape_is_looked_at_again(act: Opened) -> None:
    page = act("?outbox=shape")
    waiting()(page)
    assert page.get_by_role("button", name="See both versions").count() == 0
    assert "was corrected" in page.locator(".refused .why").inner_text()
    button(page, "Change it")
    page.locator(".form h2").wait_for()


def test_room_and_what_the_browser_promises(act: Opened) -> None:
    page = act("?kept=no")
    waiting()(page)
    body = page.locator("dialog")
    assert "48.0 MB used of 2.10 GB" in body.inner_text()
    assert "may throw it away" in body.inner_text()
    button(page, "Ask the browser to keep it")
    soon(lambda: "has promised to keep it" in body.inner_text())
    button(page, "Take the job along")
    soon(lambda: "it works without a network" in body.inner_text())


def test_what_waits_is_saved_to_a_file(act: Opened) -> None:
    page = act("?outbox=waiting")
    waiting()(page)
    with page.expect_download() as download:
        button(page, "Save what waits to a file")
    assert download.value.suggested_filename.startswith("unsent-")
    assert len(outbox(page)) == 1


def test_a_file_of_another_device_is_read_and_what_was_refused_is_listed(act: Opened) -> None:
    page = act()
    waiting()(page)
    pick = page.locator("dialog input[type=file]")
    name, kind = "unsent.json", "application/json"
    pick.set_input_files({"name": name, "mimeType": kind, "buffer": b"recipe"})
    page.get_by_text("This is no file of unsent entries.").wait_for()
    pick.set_input_files({"name": name, "mimeType": kind, "buffer": b"saved"})
    page.get_by_text("1 stored, 1 there already, 1 refused.").wait_for()
    assert "There is no kind of entry 'ghost'." in page.locator(".refused").inner_text()


def test_a_draft_found_again_is_offered_and_not_sent(act: Opened) -> None:
    page = act("?drafts=one")
    page.locator("dialog").wait_for()
    assert outbox(page) == []
    button(page, "Go on with it")
    page.locator(".form h2").wait_for()
    assert page.get_by_role("radio", name="crack").is_checked()
    button(page, "Done")
    soon(lambda: len(outbox(page)) == 1)
    assert page.evaluate("() => stage.device.draftsKept.size") == 0


def test_a_draft_is_thrown_away_by_the_second_tap_only(act: Opened) -> None:
    page = act("?drafts=one")
    button(page, "Throw it away")
    assert page.evaluate("() => stage.device.draftsKept.size") == 1
    button(page, "Tap again")
    soon(lambda: page.evaluate("() => stage.device.draftsKept.size") == 0)
    page.locator("dialog").wait_for(state="detached")


def test_a_newer_page_waits_until_it_is_asked_for(act: Opened) -> None:
    page = act("?newer=1")
    assert page.title() != "newer"
    button(page, "Load it")
    soon(lambda: page.title() == "newer")
