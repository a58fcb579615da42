"""Recording with forms: what is asked, what is kept, and in how many taps.

What a form gives is read by `mapper.job.values.parse_pairs`, as the command line and the server
read it: that is the judge of every control.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from playwright.sync_api import Page

from mapper.job.fields import Measured
from mapper.job.kinds import KINDS
from mapper.job.values import parse_pairs
from tests.viewer.conftest import soon
from tests.viewer.page.states import button, done, form, here, open_part, take_photo, tap, tool
from tests.viewer.page.states import photo as with_photo

pytest_plugins = ("tests.viewer.page.stage",)
pytestmark = pytest.mark.picture
Opened = Callable[..., Page]


def kept(page: Page) -> list[dict[str, Any]]:
    """All actions that were given to the device."""
    found: list[dict[str, Any]] = page.evaluate("() => stage.device.kept")
    return found


def finish(page: Page) -> dict[str, Any]:
    """Tap Done; the entry that was kept by it."""
    before = len(kept(page))
    button(page, "Done")
    soon(lambda: len(kept(page)) > before)
    entry: dict[str, Any] = kept(page)[-1]["steps"][0]["entry"]
    return entry


def read(entry: dict[str, Any]) -> dict[str, Any]:
    """The values as the command line would read them."""
    return parse_pairs(KINDS[entry["kind"]], [f"{k}={v}" for k, v in entry["values"].items()])


def test_a_finding_with_a_photo_takes_three_taps(act: Opened) -> None:
    page = act()
    open_part(page)
    tap(page)  # 1: the place
    page.locator(".kind", has_text="Finding").click()  # 2: what it is
    page.locator(".form .fields").first.wait_for()
    take_photo(page)  # 3: photo; the camera's own taps are not counted
    soon(lambda: kept(page))
    [action] = kept(page)
    entry = action["steps"][0]["entry"]
    assert (entry["kind"], entry["version"], len(entry["photos"])) == ("finding", 0, 1)
    [shape] = entry["where"]["shapes"]
    assert shape["type"] == "point"
    photos = page.evaluate("() => stage.app.outbox.map(item => item.type)")
    assert photos == ["photo", "action"]


def test_what_follows_a_photo_is_a_change_of_what_was_kept(act: Opened) -> None:
    page = act()
    with_photo(page)
    soon(lambda: kept(page))
    page.get_by_role("radio", name="dent").check()
    entry = finish(page)
    assert kept(page)[-1]["steps"][0]["op"] == "change"
    # The store numbers versions from 1: what was just kept will be 1 when the change arrives.
    assert entry["version"] == 1
    assert read(entry) == {"what": "dent"}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_asks_for_what_it_expects(act: Opened, kind: str) -> None:
    page = act()
    form(page, kind[0].upper() + kind[1:])
    main = page.locator(".form .fields").first
    fields = main.locator("> .field")
    asked = {node.get_attribute("data-name") for node in fields.all() if node.is_visible()}
    expected = {f.name for f in KINDS[kind].fields if f.expected and not f.only_if}
    assert expected <= asked
    leaning = {f.name for f in KINDS[kind].fields if f.only_if}
    assert not leaning & asked
    shown = page.locator(".form [data-name]").all()
    computed = {f.name for f in KINDS[kind].fields if f.computed}
    assert not computed & {node.get_attribute("data-name") for node in shown}


def test_fields_come_and_go_with_what_was_said(act: Opened) -> None:
    page = act()
    form(page)
    field = page.locator(".form [data-name='corrosion']")
    assert not field.is_visible()
    page.get_by_role("radio", name="corrosion", exact=True).check()
    assert field.is_visible()
    main = page.locator(".form .fields").first
    assert main.locator("[data-name='depth_cleaned']").is_visible()
    page.get_by_role("radio", name="crack").check()
    # Said otherwise it is of little use, but nobody is kept from it.
    assert not main.locator("[data-name='depth_cleaned']").is_visible()
    page.locator("summary", has_text="More").click()
    assert page.locator(".form [data-name='depth_cleaned']").is_visible()
    assert not page.locator(".form [data-name='gauge_basis']").is_visible()
    page.locator("[data-name='gauge'] input").first.fill("0.8")
    assert page.locator(".form [data-name='gauge_basis']").is_visible()


def test_values_are_told_as_the_command_line_reads_them(act: Opened) -> None:
    page = act()
    form(page)
    page.get_by_role("radio", name="corrosion", exact=True).check()
    found = page.locator("[data-name='depth_found'] input")
    found.nth(0).fill("0.12")
    found.nth(1).fill("0.02")
    page.locator("[data-name='technique']").get_by_role("radio", name="other").check()
    page.get_by_label("technique: other, in words").fill("thumb nail")
    page.locator("summary", has_text="More").click()
    page.locator("[data-name='calibrated'] input").fill("2026-03-01")
    page.locator("[data-name='attempts'] .add").click()
    page.locator("[data-name='done'] textarea").fill(r"pad; then | paste \ rinse")
    page.locator("[data-name='black_left']").get_by_role("radio", name="yes").check()
    page.locator("[data-name='disposed_by']").wait_for(state="hidden")
    page.get_by_label("note").fill("beside the drain hole")
    entry = finish(page)
    assert entry["note"] == "beside the drain hole"
    assert read(entry) == {
        "what": "corrosion",
        "depth_found": Measured(0.12, 0.02),
        "technique": "other: thumb nail",
        "calibrated": date(2026, 3, 1),
        "attempts": ({"done": r"pad; then | paste \ rinse", "black_left": True},),
    }


def test_times_keep_the_offset_of_this_device(act: Opened) -> None:
    page = act(timezone_id="Europe/Oslo")
    form(page, "Masking")
    page.locator("[data-name='on'] input").fill("2026-07-01T09:30")
    page.get_by_label("where, in words").fill("rib 7, aft face")
    value = read(finish(page))["on"]
    assert value.isoformat() == "2026-07-01T09:30:00+02:00"


def test_inches_are_typed_and_kept_as_typed(stage_inch: str, look: Any) -> None:
    page = look.page(stage_inch)
    form(page)
    page.get_by_role("radio", name="dent").check()
    field = page.locator("[data-name='depth_found']")
    assert field.locator("legend").inner_text().startswith("depth as found (in)")
    field.locator("input").first.fill("0.02")
    assert finish(page)["values"]["depth_found"] == "0.02"


def test_a_comma_is_told_beside_its_field(act: Opened) -> None:
    page = act()
    form(page)
    page.get_by_role("radio", name="dent").check()
    value = page.locator("[data-name='depth_found'] input").first
    value.fill("0,5")
    value.blur()
    slip = page.locator("[data-name='depth_found'] .slip")
    assert "decimal sign as a point" in slip.inner_text()
    assert value.get_attribute("aria-invalid") == "true"
    value.fill("-1")
    value.blur()
    assert slip.inner_text() == "0 mm or more."
    value.fill("0.5")
    value.blur()
    assert slip.inner_text() == ""


def test_last_values_are_offered_and_never_what_was_measured(act: Opened) -> None:
    page = act()
    page.evaluate("() => stage.device.remember('finding', {technique: 'glass', depth_found: '9'})")
    form(page)
    offer = page.locator(".offer")
    assert "glass" in offer.inner_text()
    assert "9" not in offer.inner_text()
    button(page, "As last time")
    assert page.locator("[data-name='technique']").get_by_role("radio", name="glass").is_checked()
    assert read(finish(page)) == {"technique": "glass"}


def test_it_is_a_draft_from_the_first_tap_and_away_with_the_second(act: Opened) -> None:
    page = act()
    form(page)
    soon(lambda: page.evaluate("() => stage.device.draftsKept.size") == 1)
    button(page, "Throw it away")
    assert page.evaluate("() => stage.device.draftsKept.size") == 1
    button(page, "Tap again")
    soon(lambda: page.evaluate("() => stage.device.draftsKept.size") == 0)
    assert kept(page) == []


def test_going_back_to_the_airframe_keeps_what_was_begun(act: Opened) -> None:
    page = act()
    form(page)
    page.get_by_role("radio", name="hole").check()
    page.locator("[data-key='home']").click()
    page.locator(".part-list").wait_for()
    soon(lambda: kept(page))
    assert read(kept(page)[-1]["steps"][0]["entry"]) == {"what": "hole"}


def test_without_a_place_it_stays_a_draft(act: Opened) -> None:
    page = act()
    form(page, "Application")
    button(page, "Done")
    page.get_by_text(re.compile("It has no place yet.*stays as a draft")).wait_for()
    assert kept(page) == []
    page.get_by_label("where, in words").fill("rib 7, aft face")
    assert finish(page)["place"] == "rib 7, aft face"


def test_a_stroke_comes_before_its_kind_and_wiping_takes_off(act: Opened) -> None:
    # So wide that the views lie side by side with the sheet open too.
    page = act(viewport={"width": 1700, "height": 800})
    open_part(page)
    tool(page, "Brush")
    tap(page)
    page.locator(".form .kind", has_text="Masking").click()
    page.locator(".form .fields").first.wait_for()
    page.locator("[data-key='wipe']").click()
    tap(page, 0.5)
    soon(lambda: page.evaluate("() => stage.app.draft.entry.where.shapes.length") > 1)
    shapes = finish(page)["where"]["shapes"]
    assert [shape["op"] for shape in shapes[:2]] == ["add", "wipe"]


def test_undo_takes_back_the_last_stroke_first(act: Opened) -> None:
    page = act()
    open_part(page)
    tool(page, "Brush")
    tap(page)
    page.locator(".form .kind").first.wait_for()
    undo = page.locator("[data-key='undo']")
    assert "what was drawn last" in undo.inner_text()
    undo.click()
    soon(lambda: page.evaluate("() => stage.app.draft.entry.where") is None)
    assert page.evaluate("() => stage.app.outbox.length") == 0


def test_undo_and_redo_say_what_they_would_do(act: Opened) -> None:
    page = act(viewport={"width": 1280, "height": 800})
    done(page)
    undo, redo = page.locator("[data-key='undo']"), page.locator("[data-key='redo']")
    assert "finding on RW-00" in undo.inner_text()
    undo.click()
    soon(lambda: "finding on RW-00" in redo.inner_text())


def test_typed_numbers_make_a_box_and_a_place_by_tape(act: Opened) -> None:
    page = act()
    open_part(page)
    tool(page, "Typed")
    page.get_by_label("from station (mm)").fill("100")
    page.get_by_label("to station (mm)").fill("250")
    page.get_by_label("from % chord").fill("0")
    button(page, "Take this box")
    assert "both, or neither" in page.locator(".numbers .slip").inner_text()
    page.get_by_label("to % chord").fill("30")
    button(page, "Take this box")
    page.locator(".form .kind").first.wait_for()
    tool(page, "Typed")
    button(page, "Rib and tape")
    page.get_by_label("outboard of the rib (mm)").fill("120")
    page.get_by_label("aft of the spar (mm)").fill("-60")
    page.get_by_label(re.compile("radius of a disc")).fill("10")
    button(page, "Take this place")
    box, tape = page.evaluate("() => stage.app.draft.entry.where.shapes")
    assert (box["stations"], box["chord"], box["side"]) == ([100, 250], [0, 30], "both")
    assert (tape["rib"], tape["outboard"], tape["aft"]) == ("rib 1", 120, -60)
    assert tape["radius"] == 10


def test_the_keyboard_alone_records(act: Opened) -> None:
    page = act()
    here(page)
    page.locator(".kind").first.focus()
    page.keyboard.press("Enter")
    page.locator(".form .fields").first.wait_for()
    soon(lambda: page.evaluate("() => document.activeElement.id") == "form-title")
    radios = page.locator("[data-name='what'] input[type=radio]")
    for _ in range(12):
        if page.evaluate("() => document.activeElement.type") == "radio":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    assert radios.nth(1).is_checked()
    entry = finish(page)
    assert read(entry) == {"what": KINDS["finding"].fields[0].choices[1]}
