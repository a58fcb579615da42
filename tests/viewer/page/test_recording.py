"""Recording at the real server, with taps and keys alone; what the shop then holds is read by the
command line.
"""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.viewer.conftest import PERSON, Looker, Served, mapper, soon
from tests.viewer.page.states import button, take_photo, tap

pytestmark = pytest.mark.picture


def at_part(look: Looker, served: Served, **settings: Any) -> Page:
    """A first visit: say who records, open the right wing, wait for its shape."""
    page = look.page(served.address, **settings)
    page.get_by_role("button", name=PERSON).click()
    page.locator(".part-list .row-button", has_text="right wing").click()
    page.locator(".instead").wait_for(state="hidden")
    return page


def stored(served: Served, kind: str) -> list[dict[str, Any]]:
    """Entries of a kind, as the shop's own file has them."""
    with sqlite3.connect(f"file:{served.folder / 'shop.sqlite'}?mode=ro", uri=True) as shop:
        rows = shop.execute("select body from entry").fetchall()
    return [body for body in (json.loads(row) for (row,) in rows) if body["kind"] == kind]


def all_sent(page: Page) -> None:
    """Nothing waits on this device any more."""
    soon(lambda: page.get_by_text("All sent", exact=True).count() > 0)


def test_a_finding_with_a_photo_by_three_taps_is_in_the_shop(served: Served, look: Looker) -> None:
    page = at_part(look, served)
    tap(page)
    page.locator(".kind", has_text="Finding").click()
    take_photo(page)
    soon(lambda: len(stored(served, "finding")) == 2)
    all_sent(page)
    [made] = [entry for entry in stored(served, "finding") if entry["photos"]]
    assert made["version"] == 1
    # It is open still: what is said now changes it, and is kept by Done.
    page.locator("[data-name='what']").get_by_role("radio", name="dent").check()
    page.locator("[data-name='depth_found'] input").first.fill("0.4")
    button(page, "Done")
    soon(lambda: any(e["version"] == 2 for e in stored(served, "finding")))
    listed = mapper("list", "entries", "--csv", shop=served.folder)
    assert "dent" in listed
    soon(lambda: "0.4 mm" in page.locator(".entry-sheet .told").inner_text())


# Every size that the form has shown, as it was shown.
LISTEN = """() => {
  window.sizes = [];
  new MutationObserver(() => {
    const words = document.querySelector('.form .size')?.textContent;
    if (words && window.sizes.at(-1) !== words) window.sizes.push(words);
  }).observe(document.body, { childList: true, characterData: true, subtree: true });
}"""


def test_a_typed_box_has_the_area_of_the_command_line(
    served: Served, look: Looker, tmp_path: Path
) -> None:
    page = at_part(look, served)
    page.locator(".tool", has_text="Typed").click()
    page.get_by_label("from station (mm)").fill("1300")
    page.get_by_label("to station (mm)").fill("1700")
    page.get_by_label("from % chord").fill("30")
    page.get_by_label("to % chord").fill("50")
    page.get_by_label("side").select_option("upper")
    page.evaluate(LISTEN)
    button(page, "Take this box")
    size = page.locator(".form .size")
    soon(lambda: re.match(r"[\d.]+ (cm|m)²", size.inner_text()))
    # What the page itself had said until the server answered.
    assert page.evaluate("() => window.sizes.some((words) => words.startsWith('about '))")
    page.locator(".kind", has_text="Masking").click()
    button(page, "Done")
    soon(lambda: len(stored(served, "masking")) == 2)
    [box] = [e for e in stored(served, "masking") if e["outline"]["drawn_area"] > 0]
    # The same box by the command line, from a part file of the same words.
    part = tmp_path / "wing.toml"
    part.write_text(mapper("example", "loft"))
    words = ("--stations", "1300", "1700", "--chord", "30", "50", "--side", "upper", "--json")
    judge = json.loads(mapper("area", str(part), *words))
    assert box["outline"]["drawn_area"] == pytest.approx(judge["area_mm2"], rel=1e-5)


def test_two_people_change_one_entry_and_the_second_chooses(served: Served, look: Looker) -> None:
    first, second = at_part(look, served), at_part(look, served)
    for page in (first, second):
        page.locator("[data-key='sheet entries']").click()
        page.locator(".entries .row-button", has_text="corrosion").click()
        button(page, "Change")
        page.locator(".form [data-name='technique']").wait_for()
    second.context.set_offline(True)
    first.locator("[data-name='technique']").get_by_role("radio", name="glass").check()
    button(first, "Done")
    soon(lambda: stored(served, "finding")[0]["version"] == 2)
    second.locator("[data-name='technique']").get_by_role("radio", name="eye").check()
    second.get_by_label("note").fill("lamp from the side")
    button(second, "Done")
    second.context.set_offline(False)
    second.get_by_text("1 refused").first.wait_for()
    second.locator("[data-key='unsent']").click()
    button(second, "See both versions")
    assert "technique" in second.locator(".versions").inner_text()
    button(second, "All of mine")
    second.locator(".versions fieldset", has_text="technique").get_by_role("radio").nth(1).check()
    button(second, "Keep it as chosen")
    soon(lambda: stored(served, "finding")[0]["version"] == 3)
    [kept] = stored(served, "finding")
    assert kept["note"] == "lamp from the side"
    assert kept["values"]["technique"] == "glass"
